//! Invented runs of the scenario (DESIGN 6): trolley T2's foot pedal, two tracks. Numbers are chosen, not measured.

use crate::bench::{Batch, LinkState, RunEvent, StepProgress, StepState, StreamHealth, StreamInfo};
use crate::capture::StreamCounts;
use crate::diagnose::{ActsTowards, Cause, CauseWord, Confidence, Diagnosis};
use crate::profile::Profile;
use crate::record::{Assessment, CaptureFacts, ChannelPart, PairFacts, UnitFacts};
use crate::tui::screens::{Bench, Blend, Page, ProveAsk, Screen, Sources, Unit};
use crate::tui::{Charset, Colour, Effect, Message, State, Theme, update, view};
use crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use measure::figure::{Figure, FigureName, Figures, Scope};
use measure::judge::{Finding, Outcome, Verdict};
use measure::statistics::Line;
use measure::units::{Code, Step, Track};
use measure::{
    BinNoise, CurvePoint, DeviationCurve, Dropout, Towards, TravelBin, TravelMap, TravelMode,
    WornZone,
};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::buffer::Buffer;
use std::cmp::Ordering;
use std::sync::Arc;
use std::time::Duration;

/// A fixed one, so that the screens do not change with the profiles that ship.
pub fn profile() -> Profile {
    Profile::from_json(include_str!("profile.json")).unwrap()
}

pub fn state() -> State {
    let mut state = State::at_run(
        Theme {
            charset: Charset::Unicode,
            colour: Colour::True,
        },
        Some(profile()),
        "simulated pedal".to_owned(),
        Some("T2".to_owned()),
    );
    tell(&mut state, RunEvent::Progress(card(0, 0.0, None)));
    state
}

macro_rules! of_the_stack {
    ($($kind:ident as $get:ident;)*) => { $(
        /// The screen of this kind on the stack.
        pub fn $get<'a>(state: &'a mut State) -> &'a mut $kind {
            let one = |screen: &'a mut Screen| match screen {
                Screen::$kind(screen) => Some(screen),
                _ => None,
            };
            state.screens.iter_mut().find_map(one).unwrap()
        }
    )* };
}

of_the_stack! {
    Bench as bench;
    Blend as blend;
    Page as page;
    ProveAsk as prove_ask;
    Sources as sources;
    Unit as unit;
}

pub fn press(state: &mut State, code: KeyCode) -> Vec<Effect> {
    update(state, Message::Key(KeyEvent::new(code, KeyModifiers::NONE)))
}

pub fn letter(state: &mut State, letter: char) -> Vec<Effect> {
    press(state, KeyCode::Char(letter))
}

/// Presses keys that are letters.
pub fn letters(state: &mut State, letters: &str) -> Vec<Effect> {
    letters.chars().flat_map(|one| letter(state, one)).collect()
}

pub fn tell(state: &mut State, event: RunEvent) -> Vec<Effect> {
    update(state, Message::Run(event))
}

/// The last word of a run without an assessment.
pub fn ended(capture: Option<&str>) -> RunEvent {
    RunEvent::Finished {
        assessment: None,
        capture: capture.map(Into::into),
    }
}

pub fn tick(state: &mut State, seconds: u64) {
    update(state, Message::Tick(Duration::from_secs(seconds)));
}

pub fn taking() -> StreamInfo {
    StreamInfo {
        channels: vec![
            ("pedal_a".to_owned(), Some(Track::One)),
            ("pedal_b".to_owned(), Some(Track::Two)),
            ("supply".to_owned(), None),
        ],
        bits: 10,
        vref_mv: 5000.0,
        rate_hz: 1000.0,
        board_time: true,
        source: "simulated pedal".to_owned(),
        tag: Some("T2".to_owned()),
    }
}

const STEPS: [(Step, f64, &str, &str); 5] = [
    (
        Step::Rest,
        2.0,
        "s",
        "Take your foot off and leave the pedal alone.",
    ),
    (
        Step::Full,
        2.0,
        "s",
        "Press the pedal right down and hold it.",
    ),
    (
        Step::Strokes,
        10.0,
        "strokes",
        "Press and let up slowly, end to end, again and again.",
    ),
    (
        Step::Release,
        5.0,
        "returns",
        "Press right down, then take your foot away at once.",
    ),
    (
        Step::Shake,
        5.0,
        "s",
        "Foot off; wiggle the cable and the plug.",
    ),
];

/// The card with step `current` under way; past the end, all are done.
pub fn card(current: usize, have: f64, remark: Option<&str>) -> Vec<StepProgress> {
    STEPS
        .iter()
        .enumerate()
        .map(|(at, (step, want, unit, instruction))| {
            let (state, have) = match at.cmp(&current) {
                Ordering::Less => (StepState::Done, *want),
                Ordering::Equal => (StepState::Current, have),
                Ordering::Greater => (StepState::Waiting, 0.0),
            };
            StepProgress {
                step: *step,
                state,
                have,
                want: *want,
                unit,
                uncounted: 0,
                instruction: (*instruction).into(),
                asked: None,
                cue: None,
                remark: remark.filter(|_| at == current).map(str::to_owned),
                ends_in_s: None,
                trial: None,
            }
        })
        .collect()
}

pub fn health(samples: u64, link: LinkState) -> RunEvent {
    RunEvent::Health(StreamHealth {
        counts: StreamCounts {
            lines: samples + 3,
            samples,
            rejected: [("bad sum".to_owned(), 2)].into(),
            missing: 1,
            restarts: 0,
            away: 0,
        },
        rate_hz: (link == LinkState::Connected).then_some(999.8),
        not_shown: 0,
        link,
        advice: None,
    })
}

/// Travel of an invented hand, 0 ..= 1, at a time in seconds.
fn travel(step: Step, t: f64) -> f64 {
    match step {
        Step::Full => 1.0,
        Step::Strokes | Step::Release => 0.5 - 0.5 * (t * 2.5).cos(),
        _ => 0.0,
    }
}

/// Samples `from ..` at 1 kHz in one step; a one-sample dropout to ground in every 4000th.
#[allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss
)]
pub fn samples(from: u64, count: u64, step: Step) -> RunEvent {
    let mut batch = Batch {
        codes: vec![Vec::new(); 3],
        ..Batch::default()
    };
    for i in from..from + count {
        let x = travel(step, i as f64 / 1000.0);
        let wobble = i * 7919 % 3;
        let dropped = step == Step::Strokes && i % 4000 == 3999;
        let a = if dropped {
            0
        } else {
            (164.0 + 696.0 * x) as u32 + wobble as u32
        };
        let b = (82.0 + 348.0 * x) as u32 + (wobble as u32 + 1) % 3;
        batch.t_us.push(5_000_000 + i * 1000);
        batch.step.push(step);
        batch.codes[0].push(Code(a));
        batch.codes[1].push(Code(b));
        batch.codes[2].push(Code(1023));
    }
    RunEvent::Samples(batch)
}

/// What an invented unit shows. `noise` is track 1's noise at rest with its standard uncertainty.
pub fn assessment(noise: (f64, f64), returns: Option<f64>) -> Arc<Assessment> {
    let f = |value: f64, u: f64, n: usize| {
        Figure::symmetric(value, u, 2.0, n, "mean of holds, Student t")
    };
    let mut a = Figures::new(Scope::Channel);
    a.set(FigureName::RestCode, f(164.9, 0.2, 3));
    a.set(FigureName::FullCode, f(860.2, 0.3, 1));
    a.set(FigureName::RestRatio, f(0.161, 0.0002, 3));
    a.set(FigureName::FullRatio, f(0.84, 0.0003, 1));
    a.set(FigureName::SpanCode, f(695.3, 0.36, 3));
    a.set(FigureName::NoiseRestRms, f(noise.0, noise.1, 2000));
    a.set(FigureName::NoiseFullRms, f(0.91, 0.02, 2000));
    a.set(FigureName::NoiseFreeBits, f(6.8, 0.05, 2000));
    a.set(FigureName::ReturnScatter, returns.map(|r| f(r, 0.2, 5)));
    let mut b = Figures::new(Scope::Channel);
    b.set(FigureName::RestRatio, f(0.0815, 0.0002, 3));
    b.set(FigureName::FullRatio, f(0.4205, 0.0002, 1));
    b.set(FigureName::NoiseRestRms, f(0.84, 0.02, 2000));
    let mut pair = Figures::new(Scope::Pair);
    pair.set(FigureName::TrackGain, f(0.5003, 0.0004, 10));
    let profile = profile();
    let mut findings: Vec<Finding> = Vec::new();
    for (channel, track, figures) in [("pedal_a", Track::One, &a), ("pedal_b", Track::Two, &b)] {
        for name in profile.tracks[&track].limits.keys() {
            let figure = figures.get(*name);
            findings.push(finding(channel, *name, figure));
        }
    }
    let part = |figures| ChannelPart {
        figures,
        worn_zones: Vec::new(),
        map: None,
        curve: None,
        dropouts: Vec::new(),
    };
    let (mut first, mut second) = (part(a), part(b));
    let worn = findings.iter().any(|f| f.outcome == Outcome::Fail);
    first.map = Some(map(0.9, worn, 10));
    second.map = Some(map(0.8, false, 10));
    if worn {
        first.dropouts = vec![Dropout {
            t_s: 11.999,
            duration_ms: 1.0,
            depth_pct: 96.2,
            travel_pct: Some(41.0),
            towards: Towards::Ground,
        }];
        first.worn_zones = vec![WornZone {
            from_pct: 38.0,
            to_pct: 44.0,
            noise_ratio: 6.1,
            strokes_seen: 9,
            strokes: 10,
        }];
    }
    let any = |outcome| findings.iter().any(|f: &Finding| f.outcome == outcome);
    let verdict = if any(Outcome::Fail) {
        Verdict::Fail
    } else if any(Outcome::Undecided) || any(Outcome::NotMeasured) {
        Verdict::Undecided
    } else {
        Verdict::Pass
    };
    Arc::new(Assessment {
        verdict: Some(verdict),
        capture: CaptureFacts {
            samples: 40_000,
            duration_s: 40.0,
            ..CaptureFacts::default()
        },
        unit: UnitFacts {
            tag: Some("T2".to_owned()),
            profile: Some(profile.name.clone()),
        },
        channels: vec![
            ("pedal_a".to_owned(), first),
            ("pedal_b".to_owned(), second),
        ],
        pairs: vec![("pedal_a/pedal_b".to_owned(), PairFacts { figures: pair })],
        findings,
        diagnosis: diagnosis(verdict),
    })
}

/// What is said of it, in the words that a diagnosis has.
fn diagnosis(verdict: Verdict) -> Diagnosis {
    let headline = match verdict {
        Verdict::Pass => "FIT IT: all 8 checks passed",
        Verdict::Fail => "DO NOT FIT: track 1 (pedal_a) is worn at 38-44 % of travel",
        Verdict::Undecided => "MEASURE MORE: record full as well (full ratio is missing)",
    };
    let worn = || Cause {
        cause: CauseWord::WornTrack,
        confidence: Confidence::Certain,
        channel: Some("pedal_a".to_owned()),
        pin: Some("A0".to_owned()),
        from_pct: Some(38.0),
        to_pct: Some(44.0),
        acts_towards: ActsTowards::Zero,
        because: vec!["6.1 times the noise at 38-44 % of travel, in 9 of 10 strokes".to_owned()],
        remedies: vec!["Do not drive with it: a worn track never heals.".to_owned()],
        tell_apart: None,
        findings: Vec::new(),
        clause: "track 1 (pedal_a) is worn at 38-44 % of travel".to_owned(),
    };
    Diagnosis {
        headline: headline.to_owned(),
        causes: (verdict == Verdict::Fail).then(worn).into_iter().collect(),
        wiring_dangers: Vec::new(),
        trial: None,
        hum: Vec::new(),
        other_profile: None,
    }
}

/// Noise along the travel after so many strokes; five times the usual from 38 to 44 % where it is worn.
pub fn map(usual: f64, worn: bool, strokes: usize) -> TravelMap {
    let bin = |at: u32| {
        let loud = worn && (38..44).contains(&at);
        let quiet = 0.9 + f64::from(at * 7 % 5) * 0.05;
        let times = if loud { 5.0 } else { quiet };
        let noise = BinNoise {
            count: 40,
            strokes,
            rms: Some(usual),
            median: Some(usual * times),
        };
        TravelBin {
            from_pct: f64::from(at),
            to_pct: f64::from(at + 1),
            both: noise,
            up: noise,
            down: noise,
        }
    };
    TravelMap {
        bins: (0..100).map(bin).collect(),
        overall: usual,
        strokes,
    }
}

/// A bow of so many percent over eleven stations, coming down a little lower.
pub fn curve(bow: f64) -> DeviationCurve {
    let point = |k: u32| {
        let x = f64::from(k) / 10.0;
        let deviation_pct = bow * (8.0 * x * (1.0 - x) - 1.0);
        CurvePoint {
            travel_pct: x * 100.0,
            code: 164.0 + 696.0 * x,
            deviation_pct,
            u_pct: 0.02,
            up_pct: Some(deviation_pct + 0.15),
            down_pct: Some(deviation_pct - 0.15),
        }
    };
    DeviationCurve {
        points: (0..=10).map(point).collect(),
        line: Line {
            x0: 0.0,
            y0: 164.0,
            slope: 6.96,
        },
        span_code: 696.0,
        mode: TravelMode::Stations,
    }
}

/// The same, measured at stations as well.
pub fn with_curve(assessment: &Assessment, bow: f64) -> Arc<Assessment> {
    let mut assessment = assessment.clone();
    for (_, part) in &mut assessment.channels {
        part.curve = Some(curve(bow));
    }
    Arc::new(assessment)
}

/// A finding as the profile's limits make it; outcomes and words are made up here, not judged.
fn finding(channel: &str, name: FigureName, figure: Option<&Figure>) -> Finding {
    let track = if channel == "pedal_a" {
        Track::One
    } else {
        Track::Two
    };
    let limit = profile().tracks[&track].limits[&name];
    let most = limit.max().unwrap();
    // A figure of numbers that are none has open ends.
    let interval = figure.map(|figure| {
        let low = figure.low.unwrap_or(f64::NEG_INFINITY);
        (low, figure.high.unwrap_or(f64::INFINITY))
    });
    let (outcome, reason, advice) = match interval {
        None => {
            let reason = "not measured in this recording".to_owned();
            (
                Outcome::NotMeasured,
                reason,
                Some("record a step of: release"),
            )
        }
        Some((low, high)) => {
            let (outcome, lies, advice) = if low > most {
                let above = format!("lies above the most allowed, {most}");
                (Outcome::Fail, above, None)
            } else if high > most {
                let advice = "record more, so that the interval shrinks";
                (
                    Outcome::Undecided,
                    "straddles the limit".to_owned(),
                    Some(advice),
                )
            } else {
                (Outcome::Pass, "lies inside the limit".to_owned(), None)
            };
            (outcome, format!("{low:.4} to {high:.4} {lies}"), advice)
        }
    };
    Finding {
        channel: channel.to_owned(),
        figure: name,
        min: limit.min(),
        max: limit.max(),
        outcome,
        reason,
        advice: advice.map(str::to_owned),
    }
}

pub fn resting() -> State {
    let mut state = state();
    tell(&mut state, RunEvent::Stream(taking()));
    tell(&mut state, samples(0, 1400, Step::Rest));
    tell(&mut state, RunEvent::Progress(card(0, 1.4, None)));
    tell(&mut state, health(1400, LinkState::Connected));
    state
}

pub fn stroking() -> State {
    let mut state = resting();
    tell(&mut state, samples(1400, 600, Step::Rest));
    tell(&mut state, samples(2000, 2500, Step::Full));
    tell(&mut state, samples(4500, 14_500, Step::Strokes));
    let remark = Some("That one stopped half-way; it does not count.");
    tell(&mut state, RunEvent::Progress(card(2, 4.0, remark)));
    tell(&mut state, health(19_000, LinkState::Connected));
    tell(
        &mut state,
        RunEvent::Assessed(assessment((1.95, 0.04), None)),
    );
    state
}

pub fn finished(noise: (f64, f64), returns: Option<f64>) -> State {
    let mut state = stroking();
    tell(&mut state, samples(19_000, 20_000, Step::Release));
    tell(&mut state, RunEvent::Progress(card(9, 0.0, None)));
    tell(&mut state, health(39_000, LinkState::Ended));
    tell(
        &mut state,
        RunEvent::Finished {
            assessment: Some(assessment(noise, returns)),
            capture: Some("T2-2026-05-02.csv".into()),
        },
    );
    state
}

pub fn draw(state: &State, width: u16, height: u16) -> Buffer {
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    terminal.draw(|frame| view(state, frame)).unwrap();
    terminal.backend().buffer().clone()
}

pub fn text(buffer: &Buffer) -> String {
    let width = usize::from(buffer.area.width.max(1));
    let rows = buffer.content.chunks(width).map(|row| {
        let row: String = row.iter().map(ratatui::buffer::Cell::symbol).collect();
        row.trim_end().to_owned()
    });
    rows.collect::<Vec<_>>().join("\n")
}
