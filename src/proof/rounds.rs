//! A round: one fault made by a person, judged from the samples.
//!
//! The fault itself is read from the signal: an input beyond doubt outside its window (or tracks that disagree). The marks
//! only say which fault it was meant to be. Time counts from the first such sample to the first from which on the output is
//! zero and stays so; it is known to one sample at either end.

use super::believed::believed;
use super::envelope::Envelope;
use super::figures::unit;
use super::findings::{decided, value};
use super::marks::Fault;
use super::plausibility::{Plausibility, at_rail, at_rest, is_foretold, plausibility, rail_codes};
use super::result::{Finding, Round, Row};
use super::setup::{Foretold, ProofSetup};
use super::trials::{ARRIVED, Asked, LATCH_US, start_us, trials};
use crate::constants::{BlockFields, Task};
use measure::figure::Figure;
use measure::judge::Outcome;
use measure::units::maths;
use measure::units::seconds_from_us;

/// The highest output before a fault is looked for in so many samples before it: while the control is held, its noise.
const BEFORE: usize = 20;

pub(super) fn rounds(asked: &ProofSetup<'_>, envelope: &Envelope<'_>) -> Vec<Round> {
    trials(asked)
        .into_iter()
        .filter(|trial| Fault::WIRE.contains(&trial.fault) || trial.fault == Fault::TracksJoined)
        .map(|trial| round(asked, envelope, &trial))
        .collect()
}

fn round(asked: &ProofSetup<'_>, envelope: &Envelope<'_>, trial: &Asked) -> Round {
    let foretold = foretold(asked, trial);
    let words = foretold.and_then(|known| known.missed.clone());
    if trial.skipped {
        return nothing(trial, words, "it was left out".to_owned());
    }
    match look(envelope, trial, foretold.and_then(|known| known.reads)) {
        Ok(seen) => Round {
            reading: Some(seen.reading),
            seen: true,
            latched: seen.latched,
            at_s: Some(seen.at_s),
            figures: seen.rows,
            note: None,
            ..nothing(trial, words, String::new())
        },
        Err(why) => {
            let believed = believed(envelope, trial, foretold);
            let stopped_inside = believed.and_then(|(_, stopped)| stopped);
            Round {
                reading: believed.map(|(reading, _)| reading),
                hidden: believed.is_some(),
                stopped_inside,
                ..nothing(trial, words, why)
            }
        }
    }
}

fn foretold<'a>(asked: &'a ProofSetup<'_>, trial: &Asked) -> Option<&'a Foretold> {
    asked
        .foretold
        .iter()
        .find(|known| known.fault == trial.fault && usize::from(known.input) == trial.input)
}

fn nothing(trial: &Asked, foretold: Option<String>, why: String) -> Round {
    let input = u8::try_from(trial.input).ok();
    Round {
        fault: trial.fault,
        input: input.filter(|_| trial.fault != Fault::TracksJoined),
        reading: None,
        hidden: false,
        stopped_inside: None,
        seen: false,
        latched: None,
        at_s: None,
        figures: NAMES.iter().map(|name| (*name, None)).collect(),
        foretold,
        note: Some(why),
    }
}

const NAMES: [&str; 4] = ["time_to_zero", "rise_after", "peak_after", "output_before"];

struct Observation {
    at_s: f64,
    /// What the input read with the fault there.
    reading: u16,
    latched: Option<bool>,
    rows: Vec<Row>,
}

#[allow(clippy::cast_precision_loss)] // microseconds
fn ms(us: u64) -> f64 {
    us as f64 / 1000.0
}

/// What the marked input read once the fault was there; why that is not this fault.
fn went(
    envelope: &Envelope<'_>,
    asked: &Asked,
    reads: Option<[f64; 2]>,
    (last_good, fault, end): (usize, usize, usize),
) -> Result<u16, String> {
    let numbers = envelope.numbers;
    let at = asked.input;
    let one = |i: usize, at: usize| envelope.reach_of_one(i).get(at).copied().unwrap_or((0, 0));
    let there = (fault + ARRIVED).min(end - 1);
    let (before, is) = (one(last_good, at), one(there, at));
    let middle = |range: (u16, u16)| u16::midpoint(range.0, range.1);
    let reading = middle(is);
    let moved = f64::from(reading.abs_diff(middle(before)));
    let rail = rail_codes(numbers);
    let window = numbers.inputs[at].window;
    let right = match (asked.fault, reads) {
        (Fault::TracksJoined, _) => partner(numbers, at).is_some_and(|partner| {
            // Two outputs that touch meet between their own levels: both wires pulled read the same as well, elsewhere.
            let own = [middle(before), middle(one(last_good, partner))].map(f64::from);
            let [low, high] = [own[0].min(own[1]) - rail, own[0].max(own[1]) + rail];
            let joined = [reading, middle(one(there, partner))].map(f64::from);
            (joined[0] - joined[1]).abs() <= rail
                && joined.iter().all(|code| (low..=high).contains(code))
        }),
        (_, Some([low, high])) => is_foretold(reading, [low, high], numbers) && moved > rail,
        (Fault::Open, None) => !window.holds(reading) || moved > rail,
        (fault, None) => at_rail(fault, is, numbers),
    };
    if right {
        return Ok(reading);
    }
    Err(if moved <= rail && asked.fault != Fault::TracksJoined {
        format!("input {at} stayed at {reading}: another wire was broken")
    } else {
        format!(
            "input {at} went to {reading}, which is not where \"{}\" takes it",
            asked.fault
        )
    })
}

fn partner(numbers: &BlockFields, at: usize) -> Option<usize> {
    match &numbers.inputs.get(at)?.task {
        Task::Check(check) => Some(usize::from(check.partner)),
        Task::Factor(_) => None,
    }
}

fn look(
    envelope: &Envelope<'_>,
    asked: &Asked,
    reads: Option<[f64; 2]>,
) -> Result<Observation, String> {
    let (from_us, end_us) = (asked.from_us, asked.end_us);
    let none = || "no input left its window while the board ran".to_owned();
    let &Envelope {
        numbers,
        samples,
        scaling,
        ..
    } = envelope;
    let t = samples.t_us;
    let from = t.partition_point(|time| *time < from_us);
    let end = t.partition_point(|time| *time < end_us);
    let one = |i: usize| plausibility(numbers, &envelope.reach_of_one(i));
    let off = |i: usize| scaling.may_be_off(samples.output[i]);
    // The first bad sample while the board was running.
    let fault = (from.max(1)..end)
        .find(|i| one(*i) == Plausibility::Bad)
        .ok_or_else(none)?;
    let last_good = (0..fault)
        .rev()
        .find(|i| one(*i) == Plausibility::Good)
        .ok_or_else(none)?;
    if scaling.may_be_zero(samples.output[last_good]) {
        return Err(none());
    }
    let reading = went(envelope, asked, reads, (last_good, fault, end))?;
    let mv = |i: usize| {
        let is = scaling.output(samples.output[i].as_f64());
        f64::midpoint(is.low, is.high)
    };
    // Quantisation of a difference of two readings, and the output's own noise (GUM F.2.2.1).
    let u =
        std::f64::consts::SQRT_2 * super::envelope::noise_sd(samples.output) * scaling.code_mv();
    let peak = |range: std::ops::Range<usize>| range.map(mv).fold(f64::NEG_INFINITY, f64::max);
    let before = peak(last_good.saturating_sub(BEFORE)..last_good + 1);
    let zero_from = zero_from(&off, fault, end);
    // What comes out once the wire is whole again is `latched`.
    let whole = (zero_from.unwrap_or(end)..end)
        .find(|i| one(*i) == Plausibility::Good)
        .unwrap_or(end);
    let after = peak(fault..whole);
    let n = end - last_good;
    let symmetric = |value: f64, of: &str| Figure::symmetric(value, u, 2.0, n, of);
    let time = zero_from.map(|at| Figure {
        value: ms(t[at] - t[fault]),
        u: Some(maths::hypot(ms(t[at] - t[at - 1]), ms(t[fault] - t[last_good])) / 12_f64.sqrt()),
        low: Some(ms(t[at - 1].saturating_sub(t[fault]))),
        high: Some(ms(t[at] - t[last_good])),
        n: n as u64,
        method: "from the first sample outside the window to the first from which the output is zero; known to one sample at either end".to_owned(),
        shrink: None,
    });
    let whole_until = zero_from.unwrap_or(end - 1);
    let complete = (last_good + 1..=whole_until).all(|i| envelope.follows(i));
    let rise = complete.then(|| {
        symmetric(
            (after - before).max(0.0),
            "highest output after the fault above the highest just before it",
        )
    });
    Ok(Observation {
        reading,
        at_s: seconds_from_us(t[fault] - t[0]),
        latched: latched(envelope, &off, zero_from.unwrap_or(fault), end),
        rows: vec![
            ("time_to_zero", unit("ms", time)),
            ("rise_after", unit("mV", rise)),
            (
                "peak_after",
                unit(
                    "mV",
                    complete.then(|| symmetric(after, "highest output after the fault")),
                ),
            ),
            (
                "output_before",
                unit(
                    "mV",
                    Some(symmetric(mv(last_good), "output at the last good sample")),
                ),
            ),
        ],
    })
}

/// The first sample from which on the output is zero until the wire is whole again at least: a later rise is another matter
/// (`latched`). None when it never is for ten samples in a row.
pub(super) fn zero_from(zero: &impl Fn(usize) -> bool, fault: usize, end: usize) -> Option<usize> {
    let mut since = None;
    for i in fault..end {
        since = if zero(i) { since.or(Some(i)) } else { None };
        if let Some(begun) = since
            && i - begun >= 9
        {
            return Some(begun);
        }
    }
    None
}

/// Whether it stayed off (`zero`) through: inputs good again, the control at rest for as long as a start takes, pressed again.
pub(super) fn latched(
    envelope: &Envelope<'_>,
    zero: &impl Fn(usize) -> bool,
    from: usize,
    end: usize,
) -> Option<bool> {
    let (numbers, samples) = (envelope.numbers, envelope.samples);
    if (from..end).any(|i| !zero(i)) {
        return Some(false);
    }
    let start_us = start_us(numbers);
    let (mut good, mut rested, mut pressed) = (0, 0, 0);
    for i in from + 1..end {
        let passed = samples.t_us[i] - samples.t_us[i - 1];
        let reach = envelope.reach_of_one(i);
        // What came out while samples were lost is not known, nor whether the control rested.
        if plausibility(numbers, &reach) != Plausibility::Good || !envelope.follows(i) {
            // Only an uninterrupted rest counts.
            if rested < start_us + LATCH_US {
                rested = 0;
            }
            continue;
        }
        good += passed;
        let (low, _) = envelope.ends(&reach);
        if at_rest(numbers, &reach) {
            rested += passed;
        } else if rested >= start_us + LATCH_US
            && envelope.settled(&low) > f64::from(numbers.output.zero_dac)
        {
            pressed += passed;
        }
    }
    (good >= LATCH_US && pressed >= LATCH_US).then_some(true)
}

impl Round {
    /// The round's figures against their limits.
    pub(super) fn findings(&self, asked: &ProofSetup<'_>, envelope: &Envelope<'_>) -> Vec<Finding> {
        if self.hidden {
            return Vec::new(); // The block promises no stop; its claim says so.
        }
        let of = self.fault.word();
        let numbers = asked.block.numbers();
        let step_ms = 1000.0 / f64::from(numbers.board.rate_hz);
        // Persistence, one step until the first bad sample is taken, one until the output is written and seen.
        let own = (f64::from(numbers.persistence) + 2.0) * step_ms;
        let within = asked.conditions.stop_within_ms.unwrap_or(own);
        let row = |name: &str| value(&self.figures, name);
        let again =
            "do the round again: bring the board to running, then make the fault at one stroke";
        let noise_mv = 2.0
            * row("rise_after")
                .and_then(|row| row.figure.u)
                .unwrap_or(0.0);
        // Two readings of one voltage may differ by two codes of the measuring board.
        let scale_mv = 2.0 * envelope.scaling.code_mv();
        let mut time = decided(
            of,
            "time_to_zero",
            (None, Some(within)),
            row("time_to_zero"),
            again,
        );
        if self.seen && row("time_to_zero").is_none() {
            time.outcome = Outcome::Fail;
            "the output did not go off: a stop is DAC code 0, not the zero command"
                .clone_into(&mut time.reason);
        }
        let mut findings = vec![
            time,
            decided(
                of,
                "rise_after",
                (None, Some(noise_mv + scale_mv)),
                row("rise_after"),
                again,
            ),
            self.latched_finding(of),
        ];
        if self.seen && row("rise_after").is_none() {
            "samples are missing between the fault and the stop"
                .clone_into(&mut findings[1].reason);
        }
        if !self.seen {
            for finding in &mut findings {
                finding.reason = match (&self.foretold, &self.note) {
                    (Some(words), _) => words.clone(),
                    (None, Some(note)) => note.clone(),
                    (None, None) => continue,
                };
            }
        }
        for finding in &mut findings {
            finding.input = self.input;
        }
        findings
    }

    fn latched_finding(&self, of: &'static str) -> Finding {
        let (outcome, reason, advice) = match self.latched {
            Some(true) => (
                Outcome::Pass,
                "it stayed at zero when the wire was whole again, the control had rested and was pressed",
                None,
            ),
            Some(false) => (
                Outcome::Fail,
                "the output rose again without its power having been cycled",
                Some("the firmware does not latch its stop: do not fit this board"),
            ),
            None => (
                Outcome::NotMeasured,
                "it was not seen long enough with the wire whole, at rest and pressed again",
                Some(
                    "after the fault: plug in, let the control rest for a second, press it again for a second",
                ),
            ),
        };
        Finding {
            of,
            input: self.input,
            figure: "latched",
            unit: None,
            min: None,
            max: None,
            outcome,
            reason: reason.to_owned(),
            advice: advice.map(str::to_owned),
        }
    }
}
