//! Capture and profile -> assessment.

use super::{
    applied, diagnosis, direction, exchanged, foot, parted, plug, reference, rests, trials,
};
use crate::capture::{BoardMeta, Capture, LooksTaken, Metadata, Opened};
use crate::diagnose::Case;
use crate::outlet::Shown;
use crate::profile::Profile;
use crate::record::{Assessment, CaptureFacts, ChannelPart, PairFacts, UnitFacts, WornOn};
use measure::figure::{Figure, FigureName, Figures, Noise, Unit, numbers};
use measure::judge::sequential::Look;
use measure::judge::{self, Conditions, Finding, Limit, Outcome, Verdict};
use measure::statistics::ROUNDING_RMS;
use measure::units::maths;
use measure::units::{ScaleError, Track};
use measure::{self, DividerModel, Jobs, Measured, MeasuredChannel};
use std::collections::BTreeMap;
use std::num::NonZero;
use std::path::Path;
use std::sync::{Mutex, PoisonError};
use std::thread;

/// Share of lines that may be lost before the stream leaves a verdict open: 1 %. A lost line can hide a dropout of
/// one sample; a hundredth of them cannot shift any mean or noise that the interval does not cover.
const LOST_SHARE_MAX: f64 = 0.01;

/// Assesses a capture that was read from a file; the assessment names it without its folders, which differ from one machine
/// to the next. Of a control with two tracks, signals whose metadata states no track get theirs here.
pub fn assess_file(
    opened: &mut Opened,
    file: &Path,
    profile: Option<&Profile>,
) -> Result<Assessment, ScaleError> {
    if profile.is_some_and(|profile| profile.tracks.contains_key(&Track::Two)) {
        opened.capture.meta.give_tracks();
    }
    let mut assessment = assess(&opened.capture, profile)?;
    let name = file.file_name().unwrap_or(file.as_os_str());
    assessment.capture.file = Some(Path::new(name).shown().into_owned());
    assessment.capture.sha256 = Some(opened.sha256.clone());
    Ok(assessment)
}

/// Assesses what has been taken so far, with the interval of the look that the capture says it has come to.
pub fn assess(capture: &Capture, profile: Option<&Profile>) -> Result<Assessment, ScaleError> {
    let dividers: Vec<DividerModel> = profile.map_or_else(Vec::new, |profile| {
        profile
            .rheostats()
            .map(|(track, bare)| DividerModel {
                track,
                rest_position: bare.rest_position,
                full_position: bare.full_position,
                nominal_ratio: bare.pull_share,
            })
            .collect()
    });
    let mut recording = capture.recording()?;
    recording.rests_at_a_stop = profile.is_none_or(Profile::rests_at_a_stop);
    let mut measured = measure::figures_by(&recording, &dividers, &in_threads);
    if let Some(profile) = profile {
        applied::tell(&mut measured, profile, &capture.meta.board);
    }
    applied::tell_of_board(&mut measured, &capture.meta);
    let mut findings = Vec::new();
    if let Some(profile) = profile {
        findings = findings_of(&measured, profile, look_of(capture), &capture.meta.board);
        plug::tell_of_bounces(&measured, &mut findings);
        plug::tell_of_silence(&measured, &mut findings);
        plug::tell_of_no_shake(capture, profile, &mut findings);
        foot::tell_of_a_foot(&measured, &mut findings);
        reference::tell_of_another(profile, &capture.meta.board, &measured, &mut findings);
        parted::tell_of_parted_tracks(&recording, &measured, &mut findings);
        exchanged::tell_of_exchanged_ends(&recording, profile, &mut findings);
        rests::tell_of_an_odd_rest(&recording, capture.meta.board.bits, &mut findings);
        findings.extend(stream_finding(&capture.meta));
    }
    let tracks = measured.channels.iter();
    let measured_on: Vec<Track> = tracks.map(|channel| channel.track).collect();
    let verdict = judge::verdict(&findings);
    let passages = trials::passages(capture);
    let known = (dividers.as_slice(), recording.rests_at_a_stop);
    let trials = trials::seen(capture, &passages, known, &in_threads)?;
    let diagnosis = diagnosis::of(
        capture,
        &Case {
            trials: &trials,
            recording: &recording,
            measured: &measured,
            findings: &findings,
            verdict,
            profile,
            recorded_as: capture.meta.unit.profile.as_deref(),
        },
    );
    let mut assessment = Assessment {
        verdict,
        capture: facts(capture),
        unit: UnitFacts {
            tag: capture.meta.unit.tag.clone(),
            profile: profile.map(|p| p.name.clone()),
        },
        channels: measured
            .channels
            .into_iter()
            .map(|c| {
                (
                    c.name,
                    ChannelPart {
                        figures: c.figures,
                        worn_zones: c.worn_zones,
                        dropouts: c.dropouts,
                        map: c.map,
                        curve: c.curve,
                    },
                )
            })
            .collect(),
        pairs: measured
            .pairs
            .into_iter()
            .map(|p| (format!("{}/{}", p.a, p.b), PairFacts { figures: p.figures }))
            .collect(),
        findings,
        diagnosis,
    };
    advise_on_shared_wear(&mut assessment);
    plug::advise_on_plug(&mut assessment, capture);
    if let Some(profile) = profile {
        direction::advise_wrong_way(&mut assessment, &measured_on, profile);
    }
    if assessment.verdict == Some(Verdict::Fail) {
        ask_for_nothing(&mut assessment.findings);
    }
    Ok(assessment)
}

/// A part that has failed asks for no more evidence: nothing that is still open could make it good.
fn ask_for_nothing(findings: &mut [Finding]) {
    let open = |finding: &&mut Finding| {
        matches!(finding.outcome, Outcome::Undecided | Outcome::NotMeasured)
    };
    for finding in findings.iter_mut().filter(open) {
        finding.advice = None;
    }
}

/// The look that a capture is judged at: the only one, unless it says otherwise.
fn look_of(capture: &Capture) -> Look {
    let stated = |looks: LooksTaken| Look::new(looks.taken as usize, looks.planned as usize);
    capture.meta.looks.and_then(stated).unwrap_or(Look::ONLY)
}

/// Does the jobs on as many threads as the machine has cores, this one among them.
fn in_threads(jobs: Jobs<'_>) {
    let threads = thread::available_parallelism()
        .map_or(1, NonZero::get)
        .min(jobs.len());
    let waiting = Mutex::new(jobs.into_iter());
    let next = || {
        waiting
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .next()
    };
    let work = || {
        while let Some(job) = next() {
            job();
        }
    };
    thread::scope(|scope| {
        for _ in 1..threads {
            scope.spawn(work);
        }
        work();
    });
}

/// A recording's facts, but for its file.
pub(super) fn facts(capture: &Capture) -> CaptureFacts {
    let stream = &capture.meta.stream;
    CaptureFacts {
        file: None,
        sha256: None,
        started: None,
        samples: capture.t_us.len() as u64,
        duration_s: capture.duration_s(),
        rejected: stream.rejected.clone(),
        missing: stream.missing,
        simulated: capture.meta.simulated,
    }
}

/// A channel that fails for worn zones is told which of them the other track shares: then supply or wiring may be at
/// fault and not the track.
fn advise_on_shared_wear(assessment: &mut Assessment) {
    let advice = |channel: &str| {
        let part = &assessment.channels.iter().find(|(n, _)| n == channel)?.1;
        let (mut shared, mut alone, mut other) = (0, 0, None);
        for zone in &part.worn_zones {
            match assessment.worn_on(channel, zone) {
                WornOn::OnlyTrack => {}
                WornOn::Alone(name) => {
                    alone += 1;
                    other = Some(name);
                }
                WornOn::Both(name) => {
                    shared += 1;
                    other = Some(name);
                }
            }
        }
        let other = other?;
        Some(match (shared, alone) {
            (0, _) => format!("{other} is quiet there: a fault of this track"),
            (_, 0) => format!(
                "{other} is as loud at the same travel: look at supply and wiring before the track"
            ),
            _ => format!(
                "{shared} of these zones are on {other} as well, where supply and wiring come first; {alone} on this track alone"
            ),
        })
    };
    let advice: Vec<Option<String>> = assessment
        .findings
        .iter()
        .map(|finding| {
            let worn =
                finding.figure == FigureName::WornZonesCount && finding.outcome == Outcome::Fail;
            worn.then(|| advice(&finding.channel)).flatten()
        })
        .collect();
    for (finding, advice) in assessment.findings.iter_mut().zip(advice) {
        finding.advice = advice.or(finding.advice.take());
    }
}

/// Every limit of the profile against the figure it names, as it applies on a board of so many bits. A track without a channel
/// is not measured.
fn findings_of(
    measured: &Measured,
    profile: &Profile,
    look: Look,
    board: &BoardMeta,
) -> Vec<Finding> {
    let bits = board.bits;
    let mut findings = Vec::new();
    let decided = |channel: &str, limits: &BTreeMap<FigureName, Limit>, figures| {
        let one = |(name, limit): (&FigureName, &Limit)| {
            let applied = profile.on_board(*name, *limit, bits);
            let coarser = bits < profile.code_bits;
            let mut finding = decided(channel, *name, applied, figures, look, (board, coarser));
            if coarser && hidden_by_rounding(*name, figures) && finding.outcome == Outcome::Fail {
                finding.outcome = Outcome::Undecided;
            }
            finding.reason += &*on_this_board(*name, *limit, profile.code_bits, bits);
            if coarser && finding.outcome == Outcome::Undecided && !name.unit().on_any_board() {
                finding.reason += ": too coarse a board to tell";
            }
            finding
        };
        limits.iter().map(one).collect::<Vec<_>>()
    };
    for (track, part) in &profile.tracks {
        let mut channels = measured
            .channels
            .iter()
            .filter(|c| c.track == *track)
            .peekable();
        if channels.peek().is_none() {
            findings.extend(part.limits.iter().map(|(name, limit)| {
                no_channel(*track, *name, profile.on_board(*name, *limit, bits))
            }));
        }
        for channel in channels {
            let own = decided(&channel.name, &part.limits, Some(&channel.figures));
            findings.extend(
                own.into_iter()
                    .map(|finding| without_room(finding, channel)),
            );
        }
    }
    let Some(limits) = profile.pair.as_ref().map(|pair| &pair.limits) else {
        return findings;
    };
    if measured.pairs.is_empty() {
        findings.extend(decided("track 1/track 2", limits, None));
    }
    for pair in &measured.pairs {
        let name = format!("{}/{}", pair.a, pair.b);
        findings.extend(decided(&name, limits, Some(&pair.figures)));
    }
    findings
}

/// What comes from the room leaves a finding open.
fn without_room(finding: Finding, channel: &MeasuredChannel) -> Finding {
    let Ok(limit) = Limit::new(finding.min, finding.max) else {
        return finding;
    };
    let figure = channel.figures.get(finding.figure);
    judge::without_room(finding, limit, figure, &channel.rooms)
}

fn decided(
    channel: &str,
    name: FigureName,
    limit: Limit,
    figures: Option<&Figures>,
    look: Look,
    (board, coarser): (&BoardMeta, bool),
) -> Finding {
    let figure = figures.and_then(|figures| figures.get(name));
    let without_rounding = figure
        .filter(|_| coarser && name.facts().noise == Noise::Own)
        .map(less_rounding);
    let conditions = Conditions {
        look,
        share: figures.and_then(|figures| judge::board_share(figures, name)),
        top_code: maths::exp2(f64::from(board.bits)) - 1.0,
        unstated_inl: unstated_inl(name, board),
    };
    judge::decide_on(
        channel,
        name,
        limit,
        without_rounding.as_ref().or(figure),
        conditions,
    )
}

/// What nobody stated of the board, in a level's unit; `None` where it was stated, and for what is no level.
fn unstated_inl(name: FigureName, board: &BoardMeta) -> Option<f64> {
    let usual = board.inl_code.is_none().then(|| board.usual_inl_code())?;
    Some(match name {
        FigureName::RestCode | FigureName::FullCode => usual,
        FigureName::RestRatio | FigureName::FullRatio => usual / maths::exp2(f64::from(board.bits)),
        FigureName::SpanCode => usual * std::f64::consts::SQRT_2,
        _ => return None,
    })
}

/// Noise as it may be without the rounding of a board that is coarser than the limit's: 1/12 code squared less at its lower end.
/// A limit of a finer board allows for that board's rounding only.
fn less_rounding(figure: &Figure) -> Figure {
    let less = |low: f64| (low * low - ROUNDING_RMS * ROUNDING_RMS).max(0.0).sqrt();
    Figure {
        low: figure.low.map(less),
        ..figure.clone()
    }
}

/// Noise within this of the rounding's own is hidden by it, as a factor.
const HIDDEN: f64 = 2.0;

/// Whether the bits that are free of noise are those that the board's rounding leaves.
fn hidden_by_rounding(name: FigureName, figures: Option<&Figures>) -> bool {
    let value = |name| figures.and_then(|figures| figures.value(name));
    let (FigureName::NoiseFreeBits, Some(bits), Some(span)) =
        (name, value(name), value(FigureName::SpanCode))
    else {
        return false;
    };
    // As it is defined: log2 of the span over 6.6 times the noise.
    span.abs() / (6.6 * maths::exp2(bits)) < HIDDEN * ROUNDING_RMS
}

/// What to add where a limit in codes was scaled: `; the limit is 2 codes of 10 bits`.
fn on_this_board(name: FigureName, limit: Limit, code_bits: u32, bits: u32) -> String {
    if name.unit().on_any_board() || code_bits == bits || name.unit() == Unit::Bit {
        return String::new();
    }
    let stated = name
        .unit()
        .behind(&numbers::limit(limit.min(), limit.max()));
    format!("; the profile states {stated} of {code_bits} bits, this board has {bits}")
}

fn no_channel(track: Track, name: FigureName, limit: Limit) -> Finding {
    let mut finding = judge::decide(&format!("track {track}"), name, limit, None);
    finding.reason = format!("the recording has no signal channel for track {track}");
    finding.advice = Some(format!(
        "record with the channel of track {track} connected, and name it in the metadata"
    ));
    finding
}

/// When too many lines were lost the recording itself is not to be trusted: the verdict stays open.
fn stream_finding(meta: &Metadata) -> Option<Finding> {
    let stream = &meta.stream;
    let (gone, advice) = match meta.imported {
        None => (
            "were lost on the way",
            "use a shorter cable, a higher baud rate or a slower board, and record again",
        ),
        Some(_) => (
            "have no value in the file",
            "record it again with something that keeps every sample",
        ),
    };
    let lost = stream.lost();
    let all = stream.samples.saturating_add(lost); // a file may state any counts
    #[allow(clippy::cast_precision_loss)] // counts of lines
    let share = lost as f64 / (all as f64).max(1.0);
    (share > LOST_SHARE_MAX).then(|| Finding {
        channel: "stream".to_owned(),
        figure: FigureName::LostShare,
        min: None,
        max: Some(LOST_SHARE_MAX * 100.0),
        outcome: Outcome::Undecided,
        reason: format!(
            "{lost} of {all} samples {gone} ({:.1} %): what they showed is not known",
            share * 100.0
        ),
        advice: Some(advice.to_owned()),
    })
}
