//! Every single fault of the wiring table on the simulated board: what is wired, what is expected, what happened.
//!
//! `controls` wires the controls up and chooses a block; `cases` says which fault is tried where and what must come of it;
//! this file runs them; `table` counts and writes down.

pub mod cases;
pub mod controls;
pub mod table;

use super::bench::{self, Bench, Part, Report};
use super::blocks;
use cases::{Case, Expect, Held};
use controls::{FULL_DAC, PERSISTENCE, Rig, START_SAMPLES, STOP_WITHIN_MS, ZERO_DAC};
use std::fmt::Write as _;

pub const RUNNING: u8 = 1;
pub const STOPPED: u8 = 2;
/// Stopped and waiting: code 0.
const OFF: u16 = 0;

/// Departure of the output from what the wiring table says of a fault that is not caught, as a share of full output:
/// dead bands of 2 % at both ends of travel, and the chords of the block's curve.
const AS_LISTED: f64 = 0.04;

/// What one case came to.
pub struct Outcome {
    pub fault: Report,
    /// What is wrong with it.
    pub surprise: Option<String>,
}

/// Steps that a control's movement takes until filters and limits are done.
const SETTLED: u32 = 90;

/// Brings the board, just powered, to where the case begins.
fn arm(script: &mut String, part: Part, held: Held, good: &[u16], rest: &[u16], broken: &[u16]) {
    let hold = |script: &mut String, row: &[u16], steps: u32| {
        bench::codes(script, part, row);
        let _ = writeln!(script, "quiet {steps}");
    };
    if held == Held::Waiting {
        return hold(script, good, START_SAMPLES / 5);
    }
    hold(script, rest, START_SAMPLES + 5);
    match held {
        Held::Rising => hold(script, good, 12),
        Held::Running => hold(script, good, SETTLED),
        Held::Waiting | Held::Stopped => {
            hold(script, good, SETTLED);
            hold(script, broken, PERSISTENCE + 2);
            hold(script, good, 5);
        }
    }
}

fn write_case(script: &mut String, part: Part, case: &Case, good: &[u16], rest: &[u16]) {
    script.push_str("begin\n");
    for row in &case.before {
        bench::codes(script, part, row);
        script.push_str("quiet 1\n");
    }
    script.push_str("mark\n");
    bench::codes(script, part, &case.codes);
    let stops = case.expect.stops();
    // The pump takes its time.
    let steps = if stops { PERSISTENCE + 30 } else { SETTLED };
    let _ = writeln!(script, "quiet {steps}\nreport");
    if stops {
        script.push_str("mark\n");
        for (row, steps) in [(rest, START_SAMPLES + 5), (good, 10)] {
            bench::codes(script, part, row);
            let _ = writeln!(script, "quiet {steps}");
        }
        script.push_str("report\n");
    }
    script.push_str("end\n");
}

/// Runs all cases of a rig on a part, in the order given. Cases that begin alike are armed once.
pub fn run(bench: &Bench, rig: &Rig<'_>, cases: &[Case]) -> Vec<Outcome> {
    let rest = rig.row(&vec![0.0; rig.hookups.len()]);
    let mut broken = rest.clone();
    broken[0] = 0; // outside every window of these controls
    let mut script = format!("zero {ZERO_DAC}\n");
    for alike in cases.chunk_by(|a, b| (a.held, &a.travels) == (b.held, &b.travels)) {
        let good = rig.row(&alike[0].travels);
        script.push_str("begin\n");
        arm(
            &mut script,
            bench.part,
            alike[0].held,
            &good,
            &rest,
            &broken,
        );
        for case in alike {
            write_case(&mut script, bench.part, case, &good, &rest);
        }
        script.push_str("end\n");
    }
    let mut reports = bench
        .run(Some(&blocks::block(rig.draft())), &script)
        .reports
        .into_iter();
    let outcomes: Vec<Outcome> = cases
        .iter()
        .map(|case| {
            let fault = reports.next().unwrap();
            let after = case.expect.stops().then(|| reports.next().unwrap());
            let surprise = surprise(case, fault, after);
            Outcome { fault, surprise }
        })
        .collect();
    assert!(reports.next().is_none());
    outcomes
}

/// What is not as it was foretold.
pub fn surprise(case: &Case, is: Report, after: Option<Report>) -> Option<String> {
    let wrong = match case.expect {
        Expect::Stop(cause) => not_stopped(case, is, after, cause),
        Expect::Listed { output, safe } => not_as_listed(case, is, output, safe),
    };
    wrong.map(|wrong| format!("{wrong}: {case:?} {is:?} {after:?}"))
}

fn not_stopped(case: &Case, is: Report, after: Option<Report>, cause: u8) -> Option<&'static str> {
    let after = after?;
    let in_time = |us: Option<u64>| {
        us.is_some_and(|us| us <= u64::from((PERSISTENCE + 1).min(STOP_WITHIN_MS)) * 1000)
    };
    if is.state != STOPPED || after.state != STOPPED {
        Some("did not stop for good")
    } else if case.held != Held::Stopped && is.cause != cause {
        Some("stopped for another cause")
    } else if !in_time(is.zero_us) || !in_time(is.latch_us) {
        Some("too late")
    } else if is.peak > is.was {
        Some("the output rose after the fault")
    } else if is.dac != OFF || after.peak != OFF {
        Some("output after the stop")
    } else if is
        .off_us
        .is_none_or(|us| us > u64::from(STOP_WITHIN_MS) * 1000)
        || after.enabled
    {
        Some("the drive stayed enabled")
    } else {
        None
    }
}

fn not_as_listed(case: &Case, is: Report, output: f64, safe: bool) -> Option<&'static str> {
    let span = f64::from(FULL_DAC - ZERO_DAC);
    let near = AS_LISTED * span;
    if case.held == Held::Stopped {
        return (is.state != STOPPED || is.peak != OFF || is.enabled).then_some("a stop ended");
    }
    if is.state == STOPPED {
        return Some("stopped, and the table says that it is missed");
    }
    if case.held == Held::Waiting && is.state != RUNNING {
        return (is.peak != OFF || is.enabled).then_some("output while waiting");
    }
    // A pedal that reads as let go meets the start condition.
    if case.held == Held::Waiting && output * span > near {
        return Some("it started with the pedal pressed");
    }
    if !is.enabled {
        return Some("it runs and the drive is not enabled");
    }
    let expected = f64::from(ZERO_DAC) + span * output;
    if (f64::from(is.dac) - expected).abs() > near {
        Some("not the output that the table says")
    } else if safe && f64::from(is.peak) > f64::from(is.was).max(expected) + near {
        Some("called safe, and the output rose")
    } else {
        None
    }
}
