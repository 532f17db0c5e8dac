//! Every number of the block as a claim: shown, contradicted, or not exercised (DESIGN 4.8).
//!
//! A number is *shown* when the capture agrees with it and would not agree with one that is off by a little to either side: the
//! proof is done again with the number changed, and must then fail. What the capture cannot tell from its neighbours is never called
//! shown. It is *contradicted* where the output is not what the block says and another number here would mend it.
//!
//! `number` is a number that can be changed; `settled` and `moving` hold it against the places and against every sample;
//! `tracks`, `windows`, `counts` and `stops` are what only a stop or a start can show.

mod counts;
mod evidence;
mod moving;
mod number;
mod settled;
mod stops;
mod tracks;
mod windows;
mod words;

pub(super) use evidence::Evidence;
pub use words::{describe, fault_words};

use super::marks::Fault;
use super::result::{Claim, ClaimState, Finding};
use super::setup::ProofSetup;
use super::trials::Asked;
use crate::constants::Task;
use measure::judge::Outcome;

/// Every claim of the block, in its order, then the stops.
pub(super) fn claims(asked: &ProofSetup<'_>, of: &Evidence<'_, '_>) -> Vec<Claim> {
    let settled = settled::claims(of);
    let moving = moving::claims(of);
    let pick = |name: String| {
        let known = settled.iter().chain(&moving);
        let mut found = known.filter(|claim| claim.claim == name);
        found.next().cloned()
    };
    let mut claims = Vec::new();
    for (i, input) in of.numbers().inputs.iter().enumerate() {
        claims.extend(windows::of_input(of, i));
        match &input.task {
            Task::Factor(_) => {
                let parts = ["rest_edge", "full_edge", "points", "filter_shift"];
                claims.extend(
                    parts
                        .map(|part| format!("inputs[{i}].factor.{part}"))
                        .into_iter()
                        .filter_map(pick),
                );
            }
            Task::Check(check) => claims.extend(tracks::of_check(of, i, *check)),
        }
    }
    let parts = ["zero_dac", "full_dac", "rise_q15", "fall_q15"];
    claims.extend(
        parts
            .map(|part| format!("output.{part}"))
            .into_iter()
            .filter_map(pick),
    );
    claims.push(counts::start(asked, of));
    claims.push(counts::persistence(of));
    claims.extend(stops::claims(asked, of));
    claims
}

/// How many are shown: `15 of 27 shown, 1 contradicted`.
pub(super) fn headline(claims: &[Claim]) -> String {
    let of = |state| claims.iter().filter(|claim| claim.state == state).count();
    let words = format!("{} of {} shown", of(ClaimState::Shown), claims.len());
    match of(ClaimState::Contradicted) {
        0 => words,
        wrong => format!("{words}, {wrong} contradicted"),
    }
}

/// Steps of the round that are no fault of a wire and of which nothing was seen: without them it is no whole round. Without the
/// enable line a lost DAC shows nothing; it counts where nothing else was asked for.
pub(super) fn not_seen(trials: &[Asked], claims: &[Claim], has_enable: bool) -> Vec<Finding> {
    let alone = trials.iter().all(|trial| trial.fault == Fault::DacWire);
    let counts = |fault: Fault| {
        let asked = trials.iter().any(|trial| trial.fault == fault);
        asked && (fault != Fault::DacWire || has_enable || alone)
    };
    let steps = stops::STEPS.iter().filter(|(_, fault)| counts(*fault));
    steps
        .filter_map(|(name, fault)| {
            let mut claims = claims.iter();
            let claim = claims.find(|claim| claim.claim == *name)?;
            (claim.state == ClaimState::NotExercised).then(|| Finding {
                of: fault.word(),
                input: None,
                figure: "stop",
                unit: None,
                min: None,
                max: None,
                outcome: Outcome::NotMeasured,
                reason: claim.evidence.clone(),
                advice: Some("do this step of the round again".to_owned()),
            })
        })
        .collect()
}

/// What the capture contradicts fails the board.
pub(super) fn contradiction(claims: &[Claim]) -> Option<Finding> {
    let wrong = claims
        .iter()
        .filter(|claim| claim.state == ClaimState::Contradicted);
    let wrong: Vec<String> = wrong.map(|claim| describe(&claim.claim)).collect();
    (!wrong.is_empty()).then(|| Finding {
        of: "block",
        input: None,
        figure: "contradicted",
        unit: None,
        min: None,
        max: None,
        outcome: Outcome::Fail,
        reason: format!("the recording contradicts: {}", wrong.join("; ")),
        advice: Some(
            "is this the constants file that the board was flashed with? See the claims".to_owned(),
        ),
    })
}
