//! A recording made with something else, its steps recognised as a run would have: by the card, sample by sample.
//!
//! Nobody was led when it was made, so a step of the card may be absent: the card is gone through without it where that finds more.

use super::channels;
use super::events::{Batch, LinkState, RunEvent, StreamHealth, StreamInfo};
use super::labels::Labels;
use super::setup::{Asking, Plan};
use super::{EVENTS, Run};
use crate::bench::card::{EvidencePlan, Presence, StepProgress, StepState};
use crate::bench::{assess_file, write_capture};
use crate::capture::{
    self, BoardMeta, Capture, Clock, ImportedFrom, Metadata, StreamCounts, UnitMeta,
};
use crate::link::Cause;
use crate::profile::Profile;
use measure::units::{Code, Passage, Role, Scale, Step, missing_in};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{SyncSender, channel, sync_channel};
use std::thread;

/// Seconds at an end that are enough for its level; what more there is is taken, too, in such steps.
const SHORTEST_HOLD_S: f64 = 0.5;
/// Tries to find more of a step, one after the other in vain, before it is taken to be all.
const VAIN: u32 = 2;

/// Samples of a file, as a board would have given them.
pub struct Recorded {
    /// Never decreasing.
    pub t_us: Vec<u64>,
    pub channels: Vec<String>,
    /// A column for each channel.
    pub codes: Vec<Vec<Code>>,
    pub scale: Scale,
    pub rate_hz: f64,
    /// Whether the file says when each sample was taken.
    pub has_time: bool,
    /// Lines of it that are no sample.
    pub left_out: u64,
    pub tag: Option<String>,
    pub from: ImportedFrom,
    /// What was guessed, in words.
    pub note: Option<String>,
}

/// What was found of one step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepFound {
    pub step: Step,
    pub have: f64,
    pub want: f64,
    pub unit: &'static str,
}

/// Of the shake: no sample tells whether somebody moved the cable.
const NOT_SHAKEN: &str = "cannot be seen in a file; plug and cable were not tested";

/// Samples told of at a time.
const AT_A_TIME: usize = 10_000;

/// A run of such a recording: its steps are recognised, its capture is written, and it ends with the assessment. It hears no command.
pub fn start_imported(
    read: impl FnOnce() -> Result<Recorded, String> + Send + 'static,
    profile: Option<Arc<Profile>>,
    out: PathBuf,
) -> Run {
    let (sender, events) = sync_channel(EVENTS);
    let (commands, _) = channel();
    let thread = thread::spawn(move || {
        let ended =
            read().and_then(|recorded| send_events(recorded, profile.as_deref(), &out, &sender));
        let _ = sender.send(ended.unwrap_or_else(RunEvent::Failed));
    });
    Run {
        events,
        commands,
        thread,
    }
}

/// What a run tells, up to its last word, which is given.
fn send_events(
    recorded: Recorded,
    profile: Option<&Profile>,
    out: &Path,
    events: &SyncSender<RunEvent>,
) -> Result<RunEvent, String> {
    let (capture, found) = labelled(recorded, profile);
    write_capture(&capture, out).map_err(|e| format!("{e:#}"))?;
    let steps = found.iter().map(StepFound::progress).collect();
    let health = StreamHealth {
        counts: capture.meta.stream.clone(),
        rate_hz: None,
        not_shown: 0,
        link: LinkState::Ended,
        advice: None,
    };
    let batches = batches(&capture).map(RunEvent::Samples);
    let all = std::iter::once(RunEvent::Stream(stream(&capture.meta)))
        .chain(batches)
        .chain([RunEvent::Progress(steps), RunEvent::Health(health)]);
    for event in all {
        if events.send(event).is_err() {
            break; // the screen has gone
        }
    }
    let mut opened = capture::open(out).map_err(|e| e.to_string())?;
    let assessment = assess_file(&mut opened, out, profile).map_err(|e| e.to_string())?;
    Ok(RunEvent::Finished {
        assessment: Some(Arc::new(assessment)),
        capture: Some(out.to_owned()),
    })
}

fn stream(meta: &Metadata) -> StreamInfo {
    let channels = meta.channels.iter();
    let track = |c: &capture::ChannelMeta| c.track.filter(|_| c.role == Role::Signal);
    StreamInfo {
        channels: channels.map(|(name, c)| (name.clone(), track(c))).collect(),
        bits: meta.board.bits,
        vref_mv: meta.board.vref_mv,
        rate_hz: meta.board.rate_hz,
        board_time: meta.board.clock.is_none(),
        source: meta.board.name.clone(),
        tag: meta.unit.tag.clone(),
    }
}

fn batches(capture: &Capture) -> impl Iterator<Item = Batch> {
    let steps: Vec<Step> = capture
        .passages
        .iter()
        .flat_map(|passage| passage.range.clone().map(|_| passage.step))
        .collect();
    let n = capture.t_us.len();
    (0..n).step_by(AT_A_TIME).map(move |from| {
        let range = from..(from + AT_A_TIME).min(n);
        Batch {
            t_us: capture.t_us[range.clone()].to_vec(),
            step: steps[range.clone()].to_vec(),
            codes: capture
                .codes
                .iter()
                .map(|column| column[range.clone()].to_vec())
                .collect(),
        }
    })
}

impl StepFound {
    /// What is said of one that was not found.
    pub fn absent(&self) -> &'static str {
        if self.step == Step::Shake {
            NOT_SHAKEN
        } else {
            "not found in the file"
        }
    }

    fn progress(&self) -> StepProgress {
        let there = self.have > 0.0;
        StepProgress {
            state: if there {
                StepState::Done
            } else {
                StepState::Skipped
            },
            have: self.have,
            remark: (!there).then(|| self.absent().to_owned()),
            ..StepProgress::waiting(self.step, self.want, self.unit, "")
        }
    }
}

/// The capture of a recording, and what of the card was found in it.
pub fn labelled(mut recorded: Recorded, profile: Option<&Profile>) -> (Capture, Vec<StepFound>) {
    let two_tracks = profile.is_none_or(|p| p.tracks.len() > 1);
    let channels = channels::assign(&recorded.channels, &[], two_tracks);
    let mut evidence = profile.map_or_else(EvidencePlan::default, EvidencePlan::at_first);
    // Nobody said how long to hold.
    (evidence.rest.first, evidence.full.first) = (SHORTEST_HOLD_S, SHORTEST_HOLD_S);
    let card = |steps: &[Step], evidence: EvidencePlan| {
        let mut labels = Labels::Pending {
            asking: Asking {
                presence: Presence::Past,
                ..Asking::default()
            },
            plan: Plan::Card(steps.to_vec(), evidence),
            stations: None,
            sequential: false,
        };
        labels.begin(&channels, profile, recorded.scale);
        labels
    };
    let asked: Vec<Step> = match profile {
        Some(profile) => profile.card.clone(),
        None => vec![Step::Rest, Step::Full, Step::Strokes, Step::Release],
    };
    // Nobody stated positions, nor tied an input, while it was made; and a quiet end is no cable that was moved.
    let shakes = asked.contains(&Step::Shake);
    let led = |step: &Step| {
        matches!(
            step,
            Step::Rest | Step::Full | Step::Strokes | Step::Release
        )
    };
    let mut steps: Vec<Step> = asked.into_iter().filter(led).collect();
    let mut all = steps.clone();
    all.extend(shakes.then_some(Step::Shake));
    let mut best = gone_through(card(&steps, evidence), &recorded);
    let mut now = best.1.clone();
    // Where the card came to stand, it may be that the step is not in the recording.
    while let Some(stuck) = now
        .iter()
        .find(|found| found.have + 1e-9 < found.want)
        .map(|found| found.step)
    {
        steps.retain(|step| *step != stuck);
        if steps.is_empty() {
            break;
        }
        let without = gone_through(card(&steps, evidence), &recorded);
        now.clone_from(&without.1);
        if share(&without.1) > share(&best.1) + 1e-9 {
            best = without;
        }
    }
    let steps: Vec<Step> = best.1.iter().map(|found| found.step).collect();
    let best = with_more(best, evidence, |evidence| {
        gone_through(card(&steps, evidence), &recorded)
    });
    let (passages, mut found) = best;
    for step in all {
        if !found.iter().any(|found| found.step == step) {
            found.push(StepFound {
                step,
                have: 0.0,
                want: 0.0,
                unit: "",
            });
        }
    }
    if shakes {
        let note = recorded.note.get_or_insert_default();
        let apart = if note.is_empty() { "" } else { " " };
        *note = format!("{note}{apart}shake: {NOT_SHAKEN}.");
    }
    (capture(recorded, channels, passages, profile), found)
}

type Found = (Vec<Passage>, Vec<StepFound>);

/// More than the card begins with, as long as that takes nothing from the other steps.
fn with_more(
    mut best: Found,
    mut evidence: EvidencePlan,
    through: impl Fn(EvidencePlan) -> Found,
) -> Found {
    for step in [Step::Rest, Step::Full, Step::Strokes, Step::Release] {
        let (mut more, mut vain) = (evidence, 0);
        while vain < VAIN {
            let (amount, by) = match step {
                Step::Rest => (&mut more.rest, SHORTEST_HOLD_S),
                Step::Full => (&mut more.full, SHORTEST_HOLD_S),
                Step::Strokes => (&mut more.strokes, 1.0),
                _ => (&mut more.returns, 1.0),
            };
            amount.first += by;
            if amount.first > amount.most {
                break;
            }
            let found = through(more);
            if is_more(&found.1, &best.1) {
                (best, evidence, vain) = (found, more, 0);
            } else {
                vain += 1;
            }
        }
    }
    best
}

/// Whether there is more of a step, and no less of any.
fn is_more(found: &[StepFound], before: &[StepFound]) -> bool {
    let pairs = || found.iter().zip(before);
    let no_less = pairs().all(|(now, before)| now.have + 1e-9 >= before.have);
    no_less && pairs().any(|(now, before)| now.have > before.have + 0.05)
}

/// How much of the steps there is; what was left out counts for nothing.
fn share(found: &[StepFound]) -> f64 {
    found
        .iter()
        .map(|found| found.have / found.want.max(f64::MIN_POSITIVE))
        .sum()
}

/// Every sample with its step, and what of each step was found.
fn gone_through(mut labels: Labels, recorded: &Recorded) -> (Vec<Passage>, Vec<StepFound>) {
    let mut passages: Vec<Passage> = Vec::new();
    let mut row = Vec::with_capacity(recorded.codes.len());
    let mut aside = Vec::new();
    for (at, t_us) in recorded.t_us.iter().enumerate() {
        row.clear();
        row.extend(recorded.codes.iter().filter_map(|column| column.get(at)));
        let step = labels.label(*t_us, &row).step;
        aside.extend(labels.take_aside());
        extend(&mut passages, step, at..at + 1);
    }
    for stretch in aside {
        stretch.apply(&mut passages, &recorded.t_us);
    }
    let found = labels.progress().into_iter().map(|progress| StepFound {
        step: progress.step,
        have: progress.have,
        want: progress.want,
        unit: progress.unit,
    });
    (passages, found.collect())
}

fn extend(passages: &mut Vec<Passage>, step: Step, range: Range<usize>) {
    match passages.last_mut() {
        Some(last) if last.step == step => last.range.end = range.end,
        _ => passages.push(Passage { step, range }),
    }
}

fn capture(
    recorded: Recorded,
    channels: Vec<(String, crate::capture::ChannelMeta)>,
    passages: Vec<Passage>,
    profile: Option<&Profile>,
) -> Capture {
    let samples = recorded.t_us.len() as u64;
    let cause = Cause::NotANumber.describe().to_owned();
    let left_out = (recorded.left_out > 0).then_some((cause, recorded.left_out));
    // A row without a value is a gap as well, and one sample.
    let missing = missing(&recorded.t_us, recorded.rate_hz).saturating_sub(recorded.left_out);
    let board = BoardMeta {
        clock: (!recorded.has_time).then_some(Clock::Host),
        ..BoardMeta::new(
            format!("imported from {}", recorded.from.file),
            u32::from(recorded.scale.bits()),
            recorded.scale.vref_mv(),
            recorded.rate_hz,
        )
    };
    Capture {
        meta: Metadata {
            unit: UnitMeta {
                tag: recorded.tag,
                profile: profile.map(|profile| profile.name.clone()),
            },
            stream: StreamCounts {
                lines: samples.saturating_add(recorded.left_out),
                samples,
                rejected: left_out.into_iter().collect(),
                missing,
                ..StreamCounts::default()
            },
            imported: Some(recorded.from),
            note: recorded.note,
            ..Metadata::new(board, channels)
        },
        t_us: recorded.t_us,
        passages,
        codes: recorded.codes,
        reference: None,
        lost: None,
    }
}

/// Samples missing in its gaps.
#[allow(clippy::cast_precision_loss)] // microseconds between two samples
fn missing(t_us: &[u64], rate_hz: f64) -> u64 {
    let periods = |pair: &[u64]| (pair[1] - pair[0]) as f64 * 1e-6 * rate_hz;
    t_us.windows(2).map(|pair| missing_in(periods(pair))).sum()
}
