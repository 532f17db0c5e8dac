//! What the bench sees while a test is under way and is not as it should be: a wire off, tracks swapped, nothing that moves.
//!
//! It never waits for ever: after eight seconds without progress it says what it sees and what to try.

use crate::bench::StepProgress;
use crate::profile::Kind;
use crate::tui::run::Run;
use measure::units::Step;
use std::time::Duration;

/// Without progress for so long, it says what it sees.
const PATIENCE: Duration = Duration::from_secs(8);
/// Share of the board's range below which nothing moves.
const STILL: f64 = 0.02;
/// Latest samples that are looked at.
const LATEST: usize = 2000;

/// A sentence when something is to be said.
pub fn sees(run: &Run, clock: Duration) -> Option<String> {
    asked(run)
        .or_else(|| diagnosed(run))
        .or_else(|| stuck(run, clock))
        .or_else(|| {
            run.assessment
                .as_ref()?
                .diagnosis
                .remarks()
                .into_iter()
                .next()
        })
}

/// What the test itself asks, and how long it waits for the answer.
fn asked(run: &Run) -> Option<String> {
    let step = run.current()?;
    if step.trial.is_some() && !step.asks() {
        // What is wrong is known: what is to be done is said by the trial.
        return Some(step.remark.clone().unwrap_or_default());
    }
    let left = step.ends_in_s?.ceil();
    let why = step.remark.as_deref().unwrap_or_default();
    let yes = if step.trial.is_some() {
        "enter tries it, k skips it"
    } else {
        "enter goes on, q ends it"
    };
    Some(format!("{why} ({left:.0} s): {yes}."))
}

/// What is wrong around the part, with the first thing to do: the test would be for nothing.
fn diagnosed(run: &Run) -> Option<String> {
    let diagnosis = &run.assessment.as_ref()?.diagnosis;
    let check = diagnosis.headline.starts_with("CHECK");
    if let Some(other) = run.other_profile().filter(|_| check) {
        return Some(format!(
            "{}. x checks it as \"{}\" from here on.",
            diagnosis.headline, other.name
        ));
    }
    let remedy = diagnosis.causes.first()?.remedies.first()?;
    check.then(|| format!("{}. {remedy}", diagnosis.headline))
}

fn stuck(run: &Run, clock: Duration) -> Option<String> {
    let waited = clock.saturating_sub(run.moved_on);
    let current = run
        .current()
        .filter(|step| waited >= PATIENCE && step.step != Step::Stations)?;
    let readings: Vec<String> = run
        .drawn_lanes()
        .into_iter()
        .filter_map(|lane| {
            let code = run.store.last_code(lane)?;
            Some(format!("{} reads {code}", run.lane_name(lane)))
        })
        .collect();
    let readings = readings.join(", ");
    Some(if moves(run) {
        format!(
            "Still waiting after {} s: {}",
            waited.as_secs(),
            hint(run, current)
        )
    } else {
        format!("Nothing moves: {readings}. {}", hint(run, current))
    })
}

/// Whether any signal went anywhere lately.
fn moves(run: &Run) -> bool {
    let end = run.store.len();
    let range = end.saturating_sub(LATEST)..end;
    run.drawn_lanes().into_iter().any(|lane| {
        let extremes = run.store.extremes(lane, range.clone());
        extremes.is_some_and(|e| f64::from(e.max.saturating_sub(e.min)) > STILL * run.full_scale())
    })
}

fn hint(run: &Run, step: &StepProgress) -> String {
    let turned = run.profile.as_ref().map(|profile| profile.kind) == Some(Kind::Dial);
    let words = match step.step {
        Step::Rest | Step::Release if turned => "Turn it to zero, and leave it alone. ",
        Step::Rest | Step::Release => "Let it go all the way, and leave it alone. ",
        Step::Full => {
            let asked = &step.instruction;
            return format!("{asked} Nothing happens? Look at its plug. k skips this step.");
        }
        Step::Strokes if turned => "Turn it from end to end and back. ",
        Step::Strokes => "Move it from end to end and back. ",
        Step::Shake => "Let go, and wiggle its cable and plug. ",
        _ => "",
    };
    format!("{words}k skips this step.")
}
