//! What must stop the board: the faults of the round, and what is no fault of a wire.

use super::evidence::{Evidence, contradicted, not_exercised, shown};
use crate::proof::guide::ENABLE_OFF;
use crate::proof::marks::Fault;
use crate::proof::plausibility::{Plausibility, plausibility};
use crate::proof::result::{Claim, Finding, Round};
use crate::proof::rounds::{latched, zero_from};
use crate::proof::setup::ProofSetup;
use crate::proof::trials::{Asked, dip_held_us, trials};
use measure::figure::numbers::fixed;
use measure::judge::Outcome;
use measure::units::seconds_from_us;
use std::ops::Range;

/// The longest that anything may leave the drive enabled, microseconds (issue: nothing longer than 50 ms).
const ENABLED_US: u64 = 50_000;
/// The control must have been held so long with nothing coming out, microseconds.
const HELD_US: u64 = 300_000;
/// So long before the enable line falls no input may have been bad, microseconds.
const BEFORE_US: u64 = 200_000;
/// Below this share of full scale an input has no supply, or the enable line never rose.
const NOTHING: f64 = 0.02;
const RISEN: f64 = 0.1;

/// Steps of the round that are no fault of a wire, and the claims that they show.
pub(super) const STEPS: [(&str, Fault); 3] = [
    ("stops.dac_wire", Fault::DacWire),
    ("stops.reset_while_pressed", Fault::Reset),
    ("stops.power_dip", Fault::PowerDip),
];

/// What says of a step of the round what came of it.
type Judge<'j> = &'j dyn Fn(&Watch<'_, '_, '_>) -> Claim;

/// Every input and fault, then what else must stop the board.
pub fn claims(asked: &ProofSetup<'_>, of: &Evidence<'_, '_>) -> Vec<Claim> {
    let mut claims = Vec::new();
    for i in 0..of.numbers().inputs.len() {
        for fault in Fault::WIRE {
            let name = format!("stops[{i}].{fault}");
            let mut rounds = of.rounds.iter().rev();
            let round = rounds
                .find(|round| round.fault == fault && round.input.map(usize::from) == Some(i));
            claims.push(of_round(asked, of, &name, round));
        }
    }
    if of
        .numbers()
        .inputs
        .iter()
        .any(|input| input.factor().is_none())
    {
        let mut rounds = of.rounds.iter().rev();
        let round = rounds.find(|round| round.fault == Fault::TracksJoined);
        claims.push(of_round(asked, of, "stops.tracks_joined", round));
    }
    let trials = trials(asked);
    let last = |fault: Fault| trials.iter().rev().find(|trial| trial.fault == fault);
    let line = EnableLine::of(of);
    let judges: [Judge<'_>; 3] = [&|watch| dac_wire(watch, line.as_ref()), &reset, &power_dip];
    for ((name, fault), judge) in STEPS.into_iter().zip(judges) {
        claims.push(match last(fault) {
            None => not_exercised(name, "not tried"),
            Some(trial) if trial.skipped => not_exercised(name, "it was left out"),
            Some(trial) => judge(&Watch::of(of, name, trial)),
        });
    }
    claims.push(enable(of, line.as_ref(), &trials));
    claims
}

fn of_round(
    asked: &ProofSetup<'_>,
    of: &Evidence<'_, '_>,
    name: &str,
    round: Option<&Round>,
) -> Claim {
    let Some(round) = round else {
        return not_exercised(name, "not tried");
    };
    if let Some(reading) = round.stopped_inside {
        return contradicted(
            name,
            format!("a reading of {reading} stopped the board, and the constants believe it"),
        );
    }
    if !round.seen {
        let words = match (round.hidden, round.reading) {
            (true, Some(reading)) => format!(
                "it reads {reading}, which the constants believe: they cannot notice this fault"
            ),
            _ => round.note.clone().unwrap_or_default(),
        };
        return not_exercised(name, words);
    }
    let findings = round.findings(asked, of.envelope);
    let is = |outcome| move |finding: &&Finding| finding.outcome == outcome;
    if let Some(finding) = findings.iter().find(is(Outcome::Fail)) {
        return contradicted(
            name,
            format!("{}: {}", finding.figure.replace('_', " "), finding.reason),
        );
    }
    if findings
        .iter()
        .all(|finding| finding.outcome == Outcome::Pass)
    {
        let reading = round.reading.unwrap_or_default();
        return shown(
            name,
            format!(
                "at a reading of {reading} the output went to zero in time, did not rise before, and stayed there"
            ),
        );
    }
    not_exercised(name, "what came of it was not seen to its end")
}

/// A step of the round, and what the samples say in it.
struct Watch<'w, 'e, 'a> {
    of: &'w Evidence<'e, 'a>,
    name: &'w str,
    range: Range<usize>,
}

impl<'w, 'e, 'a> Watch<'w, 'e, 'a> {
    fn of(of: &'w Evidence<'e, 'a>, name: &'w str, trial: &Asked) -> Self {
        Self {
            of,
            name,
            range: range(of, trial),
        }
    }

    /// By these readings something should come out.
    fn asks(&self, i: usize) -> bool {
        let envelope = self.of.envelope;
        let (low, _) = envelope.ends(&envelope.reach_of_one(i));
        self.of.good(i) && envelope.settled(&low) > f64::from(envelope.numbers.output.zero_dac)
    }

    fn off(&self, i: usize) -> bool {
        let samples = self.of.envelope.samples;
        let most = NOTHING * f64::from(samples.scale.codes());
        samples.inputs.iter().all(|codes| codes[i].as_f64() < most)
    }

    /// Some sample of the last moments was bad beyond doubt.
    fn bad_before(&self, i: usize) -> bool {
        let envelope = self.of.envelope;
        let t = envelope.samples.t_us;
        let from = t.partition_point(|time| *time + BEFORE_US < t[i]);
        (from..i).any(|at| {
            plausibility(envelope.numbers, &envelope.reach_of_one(at)) == Plausibility::Bad
        })
    }

    /// For how long this held in these samples, all together, microseconds.
    fn time(&self, range: Range<usize>, is: impl Fn(usize) -> bool) -> u64 {
        let t = self.of.envelope.samples.t_us;
        let follows = |i: &usize| *i > 0 && self.of.envelope.follows(*i);
        let samples = range.filter(|i| follows(i) && is(*i));
        samples.map(|i| t[i] - t[i - 1]).sum()
    }
}

fn range(of: &Evidence<'_, '_>, trial: &Asked) -> Range<usize> {
    let t = of.envelope.samples.t_us;
    let at = |us: u64| t.partition_point(|time| *time < us);
    at(trial.from_us)..at(trial.end_us)
}

/// The DAC is lost: nothing but the enable line can stop the drive.
fn dac_wire(watch: &Watch<'_, '_, '_>, line: Option<&EnableLine<'_>>) -> Claim {
    let name = watch.name;
    let Some(line) = line else {
        return not_exercised(
            name,
            "record the enable line behind its pump on a spare channel: without a DAC nothing else shows the stop",
        );
    };
    let mut range = watch.range.clone();
    let Some(fell) = range.find(|i| line.off(*i)) else {
        let stands = |i: usize| !watch.of.zero(i) && watch.of.good(i) && !watch.asks(i);
        let long = watch.time(watch.range.clone(), stands);
        return if long >= HELD_US {
            contradicted(
                name,
                "the output no longer followed the control, and the enable line stayed on",
            )
        } else {
            not_exercised(name, "the enable line did not fall: was the wire pulled?")
        };
    };
    if watch.bad_before(fell) {
        return not_exercised(
            name,
            "an input was outside its window just before: another wire was pulled",
        );
    }
    if watch.of.zero(fell) {
        return not_exercised(
            name,
            "the output went to zero as well: the DAC was not lost",
        );
    }
    if (fell..watch.range.end).any(|i| !line.off(i)) {
        return contradicted(
            name,
            "the enable line came on again without its power having been cycled",
        );
    }
    shown(
        name,
        "the enable line fell while the control was held and the output stood, and stayed off",
    )
}

fn reset(watch: &Watch<'_, '_, '_>) -> Claim {
    let (name, of) = (watch.name, watch.of);
    let zero = |i: usize| of.zero(i);
    let Range { start, end } = watch.range;
    let stop = (start.max(1)..end).find(|i| zero(*i) && watch.asks(*i));
    let Some(stop) = stop.filter(|stop| !zero(start) && !watch.bad_before(*stop)) else {
        return not_exercised(
            name,
            "nothing was seen of it: the output did not go to zero while the control was held",
        );
    };
    let off = |i: usize| of.off(i);
    let Some(stop) = (stop..end).find(|i| off(*i)) else {
        return contradicted(
            name,
            "the output went to the zero command and not off: a stop is DAC code 0",
        );
    };
    match latched(of.envelope, &off, stop, end) {
        Some(true) => shown(
            name,
            "the output went to zero and stayed there, at rest and pressed again",
        ),
        Some(false) => contradicted(
            name,
            "the board ran again after the reset, without its power having been cycled",
        ),
        None => not_exercised(name, "it was not seen at rest and pressed again afterwards"),
    }
}

fn power_dip(watch: &Watch<'_, '_, '_>) -> Claim {
    let (name, of) = (watch.name, watch.of);
    let Range { start, end } = watch.range;
    let off = (start..end).find(|i| watch.off(*i));
    let on = off.and_then(|off| (off..end).find(|i| !watch.off(*i)));
    let Some(on) = on else {
        return not_exercised(name, "the inputs did not lose their supply");
    };
    // Only until it is let go.
    let held = (on..end)
        .find(|i| of.good(*i) && !watch.asks(*i))
        .unwrap_or(end);
    if watch.time(on..held, |i| watch.asks(i) && !of.zero(i)) > 0 {
        return contradicted(
            name,
            "the output came back while the control was still held",
        );
    }
    let held_us = dip_held_us(of.numbers());
    if watch.time(on..held, |i| watch.asks(i)) >= held_us {
        shown(name, "nothing came out while the control was still held")
    } else {
        not_exercised(
            name,
            format!(
                "after the supply had come back the control was not held for {} s: a board that is slow to wake could have started later",
                fixed(seconds_from_us(held_us), 1)
            ),
        )
    }
}

/// The enable line behind its pump.
struct EnableLine<'a> {
    codes: &'a [measure::units::Code],
    /// Its level while the board runs.
    on: f64,
    full_scale: f64,
}

impl<'a> EnableLine<'a> {
    fn of(of: &Evidence<'_, 'a>) -> Option<Self> {
        let codes = of.enable?;
        let mut running: Vec<f64> = (0..codes.len())
            .filter(|i| !of.zero(*i) && of.good(*i))
            .map(|i| codes[i].as_f64())
            .collect();
        running.sort_by(f64::total_cmp);
        Some(Self {
            codes,
            on: running.get(running.len() / 2).copied()?,
            full_scale: f64::from(of.envelope.samples.scale.codes()),
        })
    }

    fn off(&self, i: usize) -> bool {
        self.codes[i].as_f64() < self.on * ENABLE_OFF
    }
}

/// On while it runs, and off soon after every stop that was seen.
fn enable(of: &Evidence<'_, '_>, line: Option<&EnableLine<'_>>, trials: &[Asked]) -> Claim {
    let name = "stops.enable";
    let Some(line) = line else {
        return not_exercised(
            name,
            "record the enable line behind its pump on a spare channel, called enable",
        );
    };
    if line.on < RISEN * line.full_scale {
        return contradicted(name, "the enable line did not rise while the board ran");
    }
    let t = of.envelope.samples.t_us;
    let off = |i: usize| of.off(i);
    let mut slowest = None;
    for trial in trials
        .iter()
        .filter(|trial| !trial.skipped && trial.fault != Fault::PowerDip)
    {
        let Range { start, end } = range(of, trial);
        let bad = |i: usize| {
            plausibility(of.numbers(), &of.envelope.reach_of_one(i)) == Plausibility::Bad
        };
        let begun = if trial.fault == Fault::Reset {
            Some(start)
        } else {
            (start..end).find(|i| bad(*i))
        };
        let running = start < end && !of.zero(start);
        let Some(stop) = begun
            .filter(|_| running)
            .and_then(|from| zero_from(&off, from, end))
        else {
            continue;
        };
        let Some(fell) = (start..end).find(|i| line.off(*i)) else {
            return contradicted(name, format!("it stayed on after \"{}\"", trial.fault));
        };
        let took = t[fell].saturating_sub(t[stop]);
        if took > ENABLED_US || (fell..end).any(|i| !line.off(i) && t[i] > t[stop] + ENABLED_US) {
            return contradicted(
                name,
                format!("after \"{}\" it was on for longer than 50 ms", trial.fault),
            );
        }
        slowest = slowest.max(Some(took));
    }
    match slowest {
        Some(us) => shown(
            name,
            format!(
                "on while the board ran, off at most {} ms after every stop",
                us.div_ceil(1000)
            ),
        ),
        None => not_exercised(name, "no stop was seen"),
    }
}
