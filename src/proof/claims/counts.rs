//! What is counted in samples: how long it waits to start, how many bad ones stop it.

use super::evidence::{Evidence, contradicted, not_exercised, shown};
use crate::proof::marks::Fault;
use crate::proof::plausibility::{at_rest, start_travel};
use crate::proof::result::Claim;
use crate::proof::setup::ProofSetup;
use crate::proof::trials::{Asked, trials};

/// A count is shown when the numbers that would look the same are no further from it, as a share of it.
const COUNT_SHARE: f64 = 0.07;
/// How far the blending board's clock may be off, as in the envelope.
const CLOCK: f64 = 0.03;
/// So long after power has come back the firmware reads its inputs: supplies settle a tenth of a second, the DAC's memory is
/// written in a sixteenth, fuses add 65 ms (`src/firmware/boards`).
const BOOT_US: u64 = 300_000;

/// Whole numbers that a time leaves open.
struct Span {
    least: f64,
    most: f64,
}

impl Span {
    /// One step before the first and one after the last are not seen.
    fn of(low_steps: f64, high_steps: f64) -> Self {
        Self {
            least: (low_steps * (1.0 - CLOCK) - 1.0).max(1.0).ceil(),
            most: (high_steps * (1.0 + CLOCK) + 1.0).floor(),
        }
    }

    fn both(&self, other: &Self) -> Self {
        Self {
            least: self.least.max(other.least),
            most: self.most.min(other.most),
        }
    }

    fn claim(&self, name: &str, is: u16, what: &str) -> Claim {
        let is = f64::from(is);
        if self.least > self.most {
            let words = "the times differ so much that no one number fits them: another one is to blame, and hides this";
            return not_exercised(name, words);
        }
        let words = format!("{what} {} to {} samples take", self.least, self.most);
        if is < self.least || is > self.most {
            contradicted(name, words)
        } else if (self.most - is).max(is - self.least) <= COUNT_SHARE * is {
            shown(name, words)
        } else {
            not_exercised(
                name,
                format!("{words}: any number of these would look the same"),
            )
        }
    }
}

/// From the times to zero.
pub fn persistence(of: &Evidence<'_, '_>) -> Claim {
    let name = "persistence";
    let step_ms = 1000.0 / f64::from(of.numbers().board.rate_hz);
    let rounds = of.rounds.iter().filter(|round| round.seen);
    let spans = rounds.filter_map(|round| {
        let mut rows = round.figures.iter();
        let (_, row) = rows.find(|(name, _)| *name == "time_to_zero")?;
        let figure = &row.as_ref()?.figure;
        Some(Span::of(figure.low? / step_ms, figure.high? / step_ms))
    });
    match spans.reduce(|all, one| all.both(&one)) {
        Some(span) => span.claim(name, of.numbers().persistence, "the stops took what"),
        None => not_exercised(name, "no fault was made while the board ran"),
    }
}

/// From letting go after power has come back with the control pressed, to the zero command: where that is no zero output.
pub fn start(asked: &ProofSetup<'_>, of: &Evidence<'_, '_>) -> Claim {
    let name = "start.samples";
    let output = of.numbers().output;
    let numbers = of.numbers();
    if output.waits_at_zero || numbers.output.zero_dac == 0 {
        return not_exercised(
            name,
            "waiting and running look the same while the control rests",
        );
    }
    let trials = trials(asked);
    let dips = trials
        .iter()
        .filter(|trial| trial.fault == Fault::PowerDip && !trial.skipped);
    let spans = dips.filter_map(|trial| started(of, trial));
    match spans.reduce(|all, one| all.both(&one)) {
        Some(span) => span.claim(
            name,
            numbers.start.samples,
            "from letting go to the start it took what",
        ),
        None => not_exercised(
            name,
            "power did not come back with the control pressed, so that letting go could be timed",
        ),
    }
}

/// The start after a dip of the supply: from the reading at rest to an output above half of the zero command.
fn started(of: &Evidence<'_, '_>, trial: &Asked) -> Option<Span> {
    let envelope = of.envelope;
    let samples = envelope.samples;
    let t = samples.t_us;
    let power = *of
        .power_us
        .iter()
        .find(|power| (trial.from_us..trial.end_us).contains(power))?;
    let from = t.partition_point(|time| *time < power + BOOT_US);
    let end = t.partition_point(|time| *time < trial.end_us);
    let up = |i: usize| {
        envelope.scaling.output(samples.output[i].as_f64()).low > envelope.scaling.zero_mv() / 2.0
    };
    let travel = |i: usize| start_travel(of.numbers(), &envelope.reach_of_one(i));
    let pressed = |i: usize| travel(i).is_some_and(|travel| travel.iter().all(|codes| *codes > 0));
    if from >= end || !pressed(from) || up(from) {
        return None; // it was not held until the firmware was awake
    }
    let out = (from..end).find(|i| up(*i))?;
    // Since when it may have been at rest, and since when it was.
    let early = (from..out).rev().find(|i| pressed(*i))?;
    let resting = |i: usize| at_rest(of.numbers(), &envelope.reach_of_one(i));
    let late = (early..out).rev().find(|i| !resting(*i))? + 1;
    Some(Span::of(
        of.steps(t[out - 1].saturating_sub(t[late.min(out - 1)])),
        of.steps(t[out] - t[early]),
    ))
}
