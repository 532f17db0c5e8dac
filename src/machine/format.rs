//! [`Machine`] <-> text of `machine/1`.

use super::types::{Control, Evidence, EvidenceKind, Machine, USUAL_MONTHS};
use crate::outlet::{self, JsonError};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::path::{Component, Path};
use thiserror::Error;

const FORMAT: &str = "machine/1";
/// Longest text that a person states, bytes: what fits a sticker and a heading.
const LONGEST: usize = 200;
/// Longest time between checks, months: a century.
const MOST_MONTHS: u32 = 1200;
/// Most controls and files of evidence: far beyond any machine, and quick to go through.
const MOST_CONTROLS: usize = 64;
const MOST_EVIDENCE: usize = 10_000;

#[derive(Debug, Error)]
pub enum InvalidMachine {
    #[error(transparent)]
    Json(#[from] JsonError),
    #[error("at `{place}`: {what}")]
    Member { place: String, what: String },
}

fn member(place: impl Into<String>, what: impl Into<String>) -> InvalidMachine {
    InvalidMachine::Member {
        place: place.into(),
        what: what.into(),
    }
}

#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "Machine")]
struct File {
    /// Always `machine/1`.
    #[schemars(extend("const" = "machine/1"))]
    format: String,
    /// What people call it.
    #[schemars(extend("minLength" = 1))]
    name: String,
    /// The board that blends.
    #[serde(default)]
    board: Option<String>,
    /// In the order of the board's inputs.
    #[schemars(extend("minItems" = 1))]
    controls: Vec<Control>,
    /// How often its controls are to be measured again, months.
    #[serde(default = "usual_months")]
    #[schemars(extend("minimum" = 1, "maximum" = 1200))]
    check_every_months: u32,
    /// In the order in which it was added: only ever added to.
    #[serde(default)]
    evidence: Vec<Evidence>,
}

/// The JSON Schema of `machine/1`, for editors and other programs.
pub fn schema_json() -> String {
    outlet::schema_json::<File>()
}

fn usual_months() -> u32 {
    USUAL_MONTHS
}

impl Machine {
    /// The text of its file, ending in a newline.
    pub fn to_json(&self) -> String {
        let file = File {
            format: FORMAT.to_owned(),
            name: self.name.clone(),
            board: self.board.clone(),
            controls: self.controls.clone(),
            check_every_months: self.check_every_months,
            evidence: self.evidence.clone(),
        };
        // A tree of plain values: writing it cannot fail.
        serde_json::to_string_pretty(&file).unwrap_or_default() + "\n"
    }

    /// Reads and checks its file's text.
    pub fn from_json(text: &str) -> Result<Self, InvalidMachine> {
        let file: File = outlet::read_json(text)?;
        if file.format != FORMAT {
            let what = format!(
                "`{}` is not `{FORMAT}`, the format this program reads",
                outlet::line(&file.format)
            );
            return Err(member("format", what));
        }
        let machine = Self {
            name: file.name,
            board: file.board,
            controls: file.controls,
            check_every_months: file.check_every_months,
            evidence: file.evidence,
        };
        machine.check()?;
        Ok(machine)
    }

    /// What every machine must be.
    pub fn check(&self) -> Result<(), InvalidMachine> {
        plain("name", &self.name)?;
        if let Some(board) = &self.board {
            plain("board", board)?;
        }
        if !(1..=MOST_MONTHS).contains(&self.check_every_months) {
            let what = format!("a check is due every 1 to {MOST_MONTHS} months");
            return Err(member("check_every_months", what));
        }
        if self.controls.is_empty() {
            return Err(member("controls", "a machine has one control or more"));
        }
        if self.controls.len() > MOST_CONTROLS || self.evidence.len() > MOST_EVIDENCE {
            let what = format!(
                "{} controls and {} files of evidence: a machine has at most {MOST_CONTROLS} and {MOST_EVIDENCE}",
                self.controls.len(),
                self.evidence.len()
            );
            return Err(member("controls", what));
        }
        for (i, control) in self.controls.iter().enumerate() {
            let place = |part: &str| format!("controls[{i}].{part}");
            self.check_control(i, control, &place)?;
        }
        for (i, evidence) in self.evidence.iter().enumerate() {
            let place = |part: &str| format!("evidence[{i}].{part}");
            self.check_evidence(evidence, &place)?;
        }
        Ok(())
    }

    fn check_control(
        &self,
        i: usize,
        control: &Control,
        place: &dyn Fn(&str) -> String,
    ) -> Result<(), InvalidMachine> {
        let letter = |c: char| c.is_ascii_alphanumeric() || "-_".contains(c);
        if control.name.is_empty() || control.name.len() > 40 || !control.name.chars().all(letter) {
            let what = "a control's name is 1 to 40 of a-z, A-Z, 0-9, - and _";
            return Err(member(place("name"), what));
        }
        if self.controls[..i]
            .iter()
            .any(|one| one.name == control.name)
        {
            let what = format!("there is a control `{}` already", control.name);
            return Err(member(place("name"), what));
        }
        plain(&place("profile"), &control.profile)?;
        if let Some(tag) = &control.tag {
            plain(&place("tag"), tag)?;
        }
        for pin in &control.pins {
            plain(&place("pins"), pin)?;
        }
        if control.since.is_some() && control.since().is_none() {
            let what = "a time is RFC 3339, as 2026-04-12T09:30:00Z";
            return Err(member(place("since"), what));
        }
        Ok(())
    }

    fn check_evidence(
        &self,
        evidence: &Evidence,
        place: &dyn Fn(&str) -> String,
    ) -> Result<(), InvalidMachine> {
        plain(&place("file"), &evidence.file)?;
        let inside = |part| matches!(part, Component::Normal(_));
        if !Path::new(&evidence.file).components().all(inside) {
            let what = "a file of a machine lies in its folder or below: no absolute path, no `..`";
            return Err(member(place("file"), what));
        }
        let hex = |c: char| matches!(c, '0'..='9' | 'a'..='f');
        if evidence.sha256.len() != 64 || !evidence.sha256.chars().all(hex) {
            let what = "a SHA-256 is 64 digits 0-9 a-f";
            return Err(member(place("sha256"), what));
        }
        if evidence.taken_at().is_none() {
            let what = "a time is RFC 3339, as 2026-04-12T09:30:00Z";
            return Err(member(place("taken"), what));
        }
        match (evidence.kind, evidence.control.as_deref()) {
            (EvidenceKind::Capture, Some(name)) if self.control(name).is_some() => Ok(()),
            (EvidenceKind::Capture, Some(name)) => {
                let what = format!("there is no control `{}`", outlet::line(name));
                Err(member(place("control"), what))
            }
            (EvidenceKind::Capture, None) => {
                Err(member(place("control"), "a recording is of a control"))
            }
            (_, None) => Ok(()),
            (_, Some(_)) => {
                let what = "only a recording is of one control";
                Err(member(place("control"), what))
            }
        }
    }
}

/// A text that can be shown anywhere: something in it, nothing unprintable.
fn plain(place: &str, text: &str) -> Result<(), InvalidMachine> {
    if text.trim().is_empty() {
        return Err(member(place, "there is nothing in it"));
    }
    if text.len() > LONGEST {
        return Err(member(place, format!("it is longer than {LONGEST} bytes")));
    }
    if text.chars().any(char::is_control) {
        return Err(member(place, "it has characters that cannot be shown"));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn t1() -> Machine {
        let sha256 = "0".repeat(64);
        Machine {
            name: "trolley T1".to_owned(),
            board: None,
            controls: vec![Control {
                name: "pedal".to_owned(),
                profile: "pedal-hall-two-track".to_owned(),
                tag: Some("T1-pedal".to_owned()),
                pins: vec!["A0".to_owned(), "A1".to_owned()],
                since: None,
            }],
            check_every_months: 12,
            evidence: vec![Evidence {
                kind: EvidenceKind::Capture,
                control: Some("pedal".to_owned()),
                file: "sub/T1-pedal.csv".to_owned(),
                sha256,
                taken: "2026-04-11T09:30:00Z".to_owned(),
            }],
        }
    }

    #[test]
    fn a_machine_reads_back() {
        let machine = t1();
        assert_eq!(Machine::from_json(&machine.to_json()).unwrap(), machine);
    }

    /// A name that would clear the screen is read as what it looks like.
    #[test]
    fn what_a_terminal_obeys_is_made_visible() {
        let text = t1().to_json().replacen("trolley T1", "T\\u001b[2J", 1);
        assert_eq!(Machine::from_json(&text).unwrap().name, "T\\u{1b}[2J");
    }

    #[test]
    fn what_cannot_be_is_refused_with_its_place() {
        let refused = |from: &str, to: &str| {
            let text = t1().to_json();
            assert!(text.contains(from), "{from}");
            let refusal = Machine::from_json(&text.replacen(from, to, 1));
            refusal.unwrap_err().to_string()
        };
        assert!(refused("machine/1", "machine/2").contains("machine/2"));
        assert!(refused("trolley T1", "").contains("`name`"));
        assert!(refused("\"name\": \"pedal\"", "\"name\": \"a b\"").contains("controls[0].name"));
        assert!(refused("sub/", "../").contains("evidence[0].file"));
        assert!(refused("sub/", "/sub/").contains("evidence[0].file"));
        assert!(refused("\"control\": \"pedal\"", "\"control\": \"dial\"").contains("`dial`"));
        assert!(refused(": 12", ": 0").contains("check_every_months"));
        assert!(refused("2026-04-11T", "yesterday ").contains("evidence[0].taken"));
        assert!(refused(&"0".repeat(64), "00").contains("evidence[0].sha256"));
        assert!(refused("\"capture\"", "\"photo\"").contains("evidence[0].kind"));
        assert!(refused("\"board\"", "\"bord\"").contains("bord"));
        let trailing = t1().to_json() + "}";
        assert!(Machine::from_json(&trailing).is_err());
        let none = r#"{"format":"machine/1","name":"x","controls":[]}"#;
        let refusal = Machine::from_json(none).unwrap_err().to_string();
        assert!(refusal.contains("`controls`"), "{refusal}");
    }
}
