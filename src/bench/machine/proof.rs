//! A machine's proof: a recording of a flashed board, judged, or what was said of one.

use super::measured::{Judged, is_csv, shown};
use crate::bench::proof::{ProofOptions, WITHIN_PCT, prove_file};
use crate::capture;
use crate::constants::{Block, choose};
use crate::files::{self, sha256};
use crate::machine::ProofSeen;
use crate::outlet::{Shown, json_source};
use crate::profile::Profile;
use crate::proof::{Fault, Marks, describe_claim, fault_words};
use measure::judge::Outcome;
use serde::Deserialize;
use serde_json::Value;
use std::path::Path;

/// A file that is a proof: the recording, or what was said of one.
pub(super) enum Proved {
    Recording(Box<capture::Opened>, Marks),
    Said(Value, String),
}

impl Proved {
    pub(super) fn of(path: &Path) -> Result<Self, String> {
        if is_csv(path) {
            let opened = capture::open(path).map_err(|e| e.to_string())?;
            let mut beside = path.as_os_str().to_owned();
            beside.push(".proof.json");
            let beside = Path::new(&beside);
            let marks = match files::read_text(beside) {
                Ok(text) => {
                    Marks::from_json(&text).map_err(|e| format!("{}: {e}", beside.shown()))?
                }
                Err(e) if e.kind() == std::io::ErrorKind::NotFound => Marks::default(),
                Err(e) => return Err(format!("cannot read {}: {e}", beside.shown())),
            };
            return Ok(Self::Recording(Box::new(opened), marks));
        }
        let unreadable = |e| format!("cannot read {}: {e}", path.shown());
        let bytes = files::read(path, files::LONGEST_TEXT).map_err(unreadable)?;
        let sha256 = sha256(&bytes);
        let text = files::text_of(bytes).map_err(unreadable)?;
        let said = serde_json::from_str(&json_source(&text))
            .map_err(|e| format!("{}: {e}", path.shown()))?;
        Ok(Self::Said(said, sha256))
    }

    pub(super) fn sha256(&self) -> &str {
        match self {
            Self::Recording(opened, _) => &opened.sha256,
            Self::Said(_, sha256) => sha256,
        }
    }

    pub(super) fn seen(
        &self,
        file: &str,
        block: Option<&Block>,
        judged: &[Judged],
    ) -> Result<ProofSeen, String> {
        let profiles: Vec<&Profile> = judged
            .iter()
            .filter_map(|one| one.profile.as_ref())
            .collect();
        let (opened, marks) = match self {
            Self::Said(said, _) => {
                let starter = choose::starter(profiles.iter().map(|profile| profile.kind));
                let stop_ms = profiles.get(starter).map(|profile| profile.stop_within_ms);
                return not_laxer(said, "time_to_zero", "ms", stop_ms).and_then(|()| told(said));
            }
            Self::Recording(opened, marks) => (opened, marks),
        };
        let block = block.ok_or(
            "the constants that it could be a proof of are not there, or no longer those that were added",
        )?;
        let options = ProofOptions {
            profiles,
            marks: marks.clone(),
            ..ProofOptions::usual(block)
        };
        let proof = prove_file(opened, file, options).map_err(|e| e.to_string())?;
        let said = serde_json::to_value(&proof).map_err(|e| e.to_string())?;
        seen_of(&said)
    }
}

/// What `prove` said, when it was asked with the usual limits.
pub(super) fn told(said: &Value) -> Result<ProofSeen, String> {
    for figure in ["settled_departure", "moving_departure"] {
        not_laxer(said, figure, "%", Some(WITHIN_PCT))?;
    }
    seen_of(said)
}

/// Refuses what was held to a laxer limit than a machine's proof is.
fn not_laxer(said: &Value, figure: &str, unit: &str, most: Option<f64>) -> Result<(), String> {
    let Some(most) = most else { return Ok(()) };
    let findings = said["findings"].as_array().into_iter().flatten();
    let mut limits = findings
        .filter(|finding| finding["figure"] == figure)
        .map(|finding| finding["max"].as_f64().unwrap_or(f64::INFINITY));
    let Some(lax) = limits.find(|limit| *limit > most) else {
        return Ok(());
    };
    let recording = said["capture"]["file"].as_str().unwrap_or("the recording");
    Err(format!(
        "its {} was to be within {lax} {unit}, and for a machine it must be within {most} {unit}: add {} itself, or prove it with the usual limits",
        figure.replace('_', " "),
        shown(recording)
    ))
}

/// From `proof/1` to what counts for a machine.
fn seen_of(said: &Value) -> Result<ProofSeen, String> {
    let crc = said["block"]["crc"].as_str();
    let crc = crc.ok_or("it does not say of which constants it is a proof")?;
    let list = |key: &str| said[key].as_array().cloned().unwrap_or_default();
    let word = |of: &Value, key: &str| shown(of[key].as_str().unwrap_or_default());
    let rounds = list("rounds");
    // What is of neither the output, the recording nor the block is of a fault.
    let is_fault = |of: &str| !["output", "stream", "block"].contains(&of);
    // Whatever else goes wrong while faults are made speaks against that proof, too; of what was lost on the way nothing is known.
    let spoils = |f: &Value| {
        !rounds.is_empty()
            && (outcome(f) == Outcome::Fail || (f["of"] == "stream" && outcome(f) != Outcome::Pass))
    };
    let findings = list("findings");
    let worst = |faults: bool| {
        let own = findings.iter().filter(|f| {
            let is_fault = is_fault(&word(f, "of"));
            is_fault == faults || (faults && spoils(f))
        });
        let worst = own
            .map(|finding| (outcome(finding), finding))
            .max_by_key(|(outcome, _)| severity(*outcome));
        match worst {
            None => (Outcome::NotMeasured, "nothing was looked at".to_owned()),
            Some((Outcome::Pass, _)) if faults => (
                Outcome::Pass,
                "every fault that was made stopped the board".to_owned(),
            ),
            Some((Outcome::Pass, _)) => (
                Outcome::Pass,
                "the output is what the constants say".to_owned(),
            ),
            Some((outcome, finding)) => {
                let why = format!(
                    "{} {}: {}",
                    word(finding, "of"),
                    word(finding, "figure").replace('_', " "),
                    word(finding, "reason")
                );
                (outcome, why)
            }
        }
    };
    // A round of faults stands still nowhere long enough to show the output.
    let stood = findings
        .iter()
        .any(|finding| finding["figure"] == "settled_departure");
    let output = match worst(false) {
        (Outcome::Pass, _) if !stood => (
            Outcome::NotMeasured,
            "the output was not looked at everywhere".to_owned(),
        ),
        output => output,
    };
    Ok(ProofSeen {
        crc: shown(crc),
        has_faults: !rounds.is_empty(),
        output,
        faults: worst(true),
        left_out: left_out(&rounds, &list("claims")),
        simulated: said["capture"]["simulated"] == true,
        hidden: hidden(&rounds)
            .iter()
            .filter_map(|claim| fault_words(&shown(claim)))
            .collect(),
    })
}

/// The claims of faults that were made and that the block believes.
fn hidden(rounds: &[Value]) -> Vec<String> {
    let hidden = rounds.iter().filter(|round| round["hidden"] == true);
    let name = |round: &Value| {
        let (input, fault) = (round["input"].as_u64()?, round["fault"].as_str()?);
        Some(format!("stops[{input}].{fault}"))
    };
    hidden.filter_map(name).collect()
}

/// Faults that were not made, or of which nothing was seen.
fn left_out(rounds: &[Value], claims: &[Value]) -> Vec<String> {
    let hidden = hidden(rounds);
    let claimed: Vec<String> = claims
        .iter()
        .filter(|claim| claim["state"] == "not exercised")
        .filter_map(|claim| claim["claim"].as_str())
        .filter(|claim| claim.starts_with("stops"))
        .filter(|claim| !hidden.iter().any(|believed| believed == claim))
        .map(|claim| describe_claim(&shown(claim)))
        .collect();
    if !claims.is_empty() {
        return claimed;
    }
    let made = |fault: &str| {
        let mut rounds = rounds.iter();
        rounds.any(|round| round["fault"] == fault && round["seen"] == true)
    };
    let all = Fault::ALL.map(Fault::word);
    all.into_iter()
        .filter(|fault| !made(fault))
        .map(|fault| describe_claim(&format!("stops.{}", fault.replace('-', "_"))))
        .collect()
}

fn outcome(finding: &Value) -> Outcome {
    Outcome::deserialize(&finding["outcome"]).unwrap_or(Outcome::NotMeasured)
}

fn severity(outcome: Outcome) -> u8 {
    match outcome {
        Outcome::Pass => 0,
        Outcome::NotMeasured => 1,
        Outcome::Undecided => 2,
        Outcome::Fail => 3,
    }
}
