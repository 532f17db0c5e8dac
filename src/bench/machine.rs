//! What a machine's evidence says: every file looked at again, judged, and handed to `machine`.

use super::assess::assess_file;
use super::diagnosis::looked;
use super::proof::{ProofOptions, prove_file};
use crate::capture::{self, Capture};
use crate::constants::choose::{self, ChooseOptions, MeasuredControl};
use crate::constants::formats::Format;
use crate::constants::{Block, BlockFields, Task, layout};
use crate::diagnose::WiringDanger;
use crate::files::sha256;
use crate::machine::{
    BlockSeen, CaptureSeen, Control, Ends, Evidence, EvidenceKind, FileState, Machine, NewEvidence,
    ProofSeen, Seen, SeenControl, WiringSeen,
};
use crate::profile::{self, Profile};
use crate::proof::{Fault, Marks};
use crate::record::Assessment;
use measure::figure::FigureName;
use measure::judge::Outcome;
use measure::units::Role;
use serde_json::Value;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Bits that a wiring is looked at with before anything was measured.
const USUAL_BITS: u32 = 10;

/// Looks at every piece of evidence of a machine whose file lies in `folder`.
pub fn look(folder: &Path, machine: &Machine) -> Seen {
    let looker = Looker { folder, machine };
    let judged: Vec<Judged> = machine
        .controls
        .iter()
        .map(|control| looker.control(control))
        .collect();
    let newest = machine.newest_block();
    let block = newest.map(|at| looker.block(&machine.evidence[at], &judged));
    let in_force = block.as_ref().and_then(|(_, _, block)| block.as_ref());
    let proofs = looker.proofs(in_force, &judged);
    Seen {
        controls: judged.into_iter().map(|judged| judged.seen).collect(),
        block: block.map(|(file, seen, _)| (file, seen)),
        proofs,
    }
}

struct Looker<'a> {
    folder: &'a Path,
    machine: &'a Machine,
}

/// A control with what its newest recording gave.
struct Judged {
    seen: SeenControl,
    profile: Option<Profile>,
    /// The recording with its file's name and its assessment.
    measured: Option<(String, Capture, Assessment)>,
}

impl Looker<'_> {
    fn path(&self, file: &str) -> PathBuf {
        self.folder.join(file)
    }

    /// A profile by file beside the machine, or by the name of a built-in one.
    fn profile(&self, name: &str) -> Result<Profile, String> {
        let path = self.path(name);
        if path.is_file() {
            return profile::read(&path).map_err(|e| e.to_string());
        }
        profile::find(name).ok_or_else(|| {
            format!("there is no profile {name}: no file of that name beside the machine's, and none built in")
        })
    }

    fn control(&self, control: &Control) -> Judged {
        let profile = match self.profile(&control.profile) {
            Ok(profile) => profile,
            Err(why) => {
                let capture = self.machine.newest_capture(&control.name);
                let seen = SeenControl {
                    capture: capture.map(|_| (FileState::Same, Err(why.clone()))),
                    wiring: Err(why),
                };
                return Judged {
                    seen,
                    profile: None,
                    measured: None,
                };
            }
        };
        let (mut capture, mut measured, mut bits) = (None, None, USUAL_BITS);
        if let Some(at) = self.machine.newest_capture(&control.name) {
            let evidence = &self.machine.evidence[at];
            let (file, judged) = self.recording(control, evidence, &profile);
            let judged = judged.map(|(seen, taken, assessment)| {
                bits = taken.meta.board.bits;
                measured = Some((evidence.file.clone(), taken, assessment));
                seen
            });
            capture = Some((file, judged));
        }
        let wiring = self.wiring(control, &profile, bits);
        Judged {
            seen: SeenControl { capture, wiring },
            profile: Some(profile),
            measured,
        }
    }

    fn recording(
        &self,
        control: &Control,
        evidence: &Evidence,
        profile: &Profile,
    ) -> (
        FileState,
        Result<(CaptureSeen, Capture, Assessment), String>,
    ) {
        let path = self.path(&evidence.file);
        let opened = match capture::open(&path) {
            Ok(opened) => opened,
            Err(e) => {
                let why = e.to_string();
                return (FileState::Unreadable(why.clone()), Err(why));
            }
        };
        let file = same(&opened.sha256, evidence);
        let judged = assess_file(&opened, &path, Some(profile))
            .map_err(|e| e.to_string())
            .map(|assessment| {
                let seen = CaptureSeen {
                    verdict: assessment.verdict,
                    headline: shown(&assessment.diagnosis.headline),
                    tag: assessment.unit.tag.as_deref().map(shown),
                    ends: ends(&opened.capture, &assessment),
                    stranger: stranger(control, profile, &opened.capture),
                };
                (seen, opened.capture, assessment)
            });
        (file, judged)
    }

    /// A control that only limits brings nothing by itself: what commands must be released to start.
    fn wiring(
        &self,
        control: &Control,
        profile: &Profile,
        bits: u32,
    ) -> Result<WiringSeen, String> {
        if profile.tracks.values().any(|track| track.wiring.is_none()) {
            return Err(format!(
                "\"{}\" does not say how it is wired, so nothing is known of its faults",
                profile.name
            ));
        }
        let windows = profile.control_wiring(bits).windows();
        windows.map_err(|e| e.to_string())?;
        let commands = profile.kind != profile::Kind::Dial || self.machine.controls.len() == 1;
        let dangers = looked(profile, bits);
        let at_rest = if commands {
            dangers.at_rest
        } else {
            Vec::new()
        };
        let name = |danger: &WiringDanger| {
            let track = danger.channel.strip_prefix("track ");
            let number = track.and_then(|n| n.parse::<usize>().ok());
            let pin = number.and_then(|n| control.pins.get(n.checked_sub(1)?));
            let pin = pin.map_or_else(String::new, |pin| format!(" (pin {pin})"));
            format!("{}{pin} reads {}", danger.fault, danger.reads)
        };
        let others = dangers.worst.iter();
        let others = others.filter(|danger| !at_rest.contains(danger));
        Ok(WiringSeen {
            others: others.map(name).collect(),
            drives_at_rest: at_rest.iter().map(name).collect(),
        })
    }

    fn block(
        &self,
        evidence: &Evidence,
        judged: &[Judged],
    ) -> (FileState, Result<BlockSeen, String>, Option<Block>) {
        let text = match std::fs::read_to_string(self.path(&evidence.file)) {
            Ok(text) => text,
            Err(e) => {
                let why = format!("cannot read {}: {e}", evidence.file);
                return (FileState::Unreadable(why.clone()), Err(why), None);
            }
        };
        let file = same(&sha256(text.as_bytes()), evidence);
        match read_block(&text) {
            Err(why) => (file, Err(format!("{}: {why}", evidence.file)), None),
            Ok(read) => {
                let seen = BlockSeen {
                    crc: format!("{:04x}", layout::crc_of(&read.block)),
                    is_old: read.is_old,
                    made_from: read.made_from,
                    accepted: read.accepted,
                    made_again: made_again(&read.block, judged),
                };
                (file, Ok(seen), Some(read.block))
            }
        }
    }

    fn proofs(
        &self,
        block: Option<&Block>,
        judged: &[Judged],
    ) -> Vec<(usize, FileState, Result<ProofSeen, String>)> {
        let evidence = self.machine.evidence.iter().enumerate();
        let proofs = evidence.filter(|(_, evidence)| evidence.kind == EvidenceKind::Proof);
        proofs
            .map(|(at, evidence)| {
                let path = self.path(&evidence.file);
                let (file, seen) = match Proved::of(&path) {
                    Err(why) => (FileState::Unreadable(why.clone()), Err(why)),
                    Ok(proved) => {
                        let file = same(proved.sha256(), evidence);
                        let in_force = self.in_force(at, block);
                        (file, proved.seen(&evidence.file, in_force.as_ref(), judged))
                    }
                };
                (at, file, seen)
            })
            .collect()
    }

    /// The constants that a proof in this place was of: those in force when it was added, else the newest.
    fn in_force(&self, at: usize, newest: Option<&Block>) -> Option<Block> {
        let machine = self.machine;
        match machine.block_before(at) {
            Some(before) if Some(before) != machine.newest_block() => {
                let path = self.path(&machine.evidence[before].file);
                let text = std::fs::read_to_string(path).ok()?;
                read_block(&text).ok().map(|read| read.block)
            }
            _ => newest.cloned(),
        }
    }
}

fn same(sha256: &str, evidence: &Evidence) -> FileState {
    if sha256 == evidence.sha256 {
        FileState::Same
    } else {
        FileState::Changed
    }
}

/// A text from a file with nothing in it that a terminal obeys.
fn shown(text: &str) -> String {
    let plain = |c: char| if c.is_control() { '?' } else { c };
    text.chars().map(plain).collect()
}

fn ends(capture: &Capture, assessment: &Assessment) -> Vec<Ends> {
    let vref_mv = capture.meta.board.vref_mv;
    let channels = assessment.channels.iter();
    channels
        .map(|(name, part)| {
            let mv = |ratio| part.figures.get(ratio).map(|figure| figure.value * vref_mv);
            Ends {
                channel: shown(name),
                rest_mv: mv(FigureName::RestRatio),
                full_mv: mv(FigureName::FullRatio),
            }
        })
        .collect()
}

/// Why a recording is not one of this control.
fn stranger(control: &Control, profile: &Profile, capture: &Capture) -> Option<String> {
    let unit = &capture.meta.unit;
    if let (Some(tag), Some(is)) = (&control.tag, &unit.tag)
        && tag != is
    {
        let is = shown(is);
        return Some(format!(
            "it is a recording of {is}, and this machine's {} is {tag}",
            control.name
        ));
    }
    let named = unit.profile.as_deref().and_then(profile::find)?;
    (named.kind != profile.kind).then(|| {
        format!(
            "it was recorded as a {} (\"{}\"), and this machine's {} is a {}",
            named.kind.word(),
            named.name,
            control.name,
            profile.kind.word()
        )
    })
}

struct ReadBlock {
    block: Block,
    is_old: bool,
    made_from: Vec<String>,
    accepted: Option<String>,
}

/// A constants file of any format that the program writes, `constants --json` among them.
fn read_block(text: &str) -> Result<ReadBlock, String> {
    let json: Option<Value> = serde_json::from_str(text).ok();
    if let Some(whole) = json.filter(|json| json["format"] == "constants/1") {
        let fields: BlockFields =
            serde_json::from_value(whole["block"].clone()).map_err(|e| e.to_string())?;
        let units = whole["units"].as_array().into_iter().flatten();
        let shas = units.filter_map(|unit| unit["sha256"].as_str().map(str::to_owned));
        return Ok(ReadBlock {
            block: Block::new(fields).map_err(|e| e.to_string())?,
            is_old: false,
            made_from: shas.collect(),
            accepted: whole["accepted"].as_str().map(shown),
        });
    }
    let format = Format::of(text);
    let block = format.read(text).map_err(|e| e.to_string())?;
    let accepted = text.split("ACCEPTED: ").nth(1);
    let accepted = accepted.map(|rest| {
        let line = rest.lines().next().unwrap_or_default();
        shown(line.trim_end_matches(['"', ',']).trim())
    });
    Ok(ReadBlock {
        is_old: format.is_old(text),
        made_from: named_sums(text),
        accepted,
        block,
    })
}

/// The sums that stand in a comment as `(sha256 ...)`.
fn named_sums(text: &str) -> Vec<String> {
    let after = text.split("(sha256 ").skip(1);
    let sums = after.filter_map(|rest| rest.get(..64));
    let hex = |sum: &&str| sum.chars().all(|c| c.is_ascii_hexdigit());
    sums.filter(hex).map(str::to_owned).collect()
}

/// What differs from the numbers that the newest recordings give, where the recordings alone decide.
fn made_again(block: &Block, judged: &[Judged]) -> Result<Vec<String>, String> {
    let numbers = block.numbers();
    let mut given = Vec::new();
    for one in judged {
        let (Some(profile), Some((file, capture, assessment))) = (&one.profile, &one.measured)
        else {
            return Err("not every control was measured".to_owned());
        };
        given.push(MeasuredControl {
            file,
            profile,
            capture,
            assessment,
        });
    }
    let options = ChooseOptions {
        board_rate_hz: numbers.board.rate_hz,
        dac_bits: numbers.board.dac_bits,
        ..ChooseOptions::default()
    };
    let chosen = choose::choose(&given, &options).map_err(|e| e.to_string())?;
    let again = chosen.block.numbers();
    if again.inputs.len() != numbers.inputs.len() {
        return Ok(vec![format!(
            "{} inputs, and these recordings have {}",
            numbers.inputs.len(),
            again.inputs.len()
        )]);
    }
    let mut differs = Vec::new();
    let mut held = |place: String, is: u16, would: u16| {
        if is != would {
            differs.push(format!("{place} is {is} and would be {would}"));
        }
    };
    for (i, (is, would)) in numbers.inputs.iter().zip(&again.inputs).enumerate() {
        held(
            format!("inputs[{i}].window.low"),
            is.window.low,
            would.window.low,
        );
        held(
            format!("inputs[{i}].window.high"),
            is.window.high,
            would.window.high,
        );
        match (&is.task, &would.task) {
            (Task::Factor(is), Task::Factor(would)) => {
                held(
                    format!("inputs[{i}].factor.rest_edge"),
                    is.rest_edge,
                    would.rest_edge,
                );
                held(
                    format!("inputs[{i}].factor.full_edge"),
                    is.full_edge,
                    would.full_edge,
                );
            }
            (Task::Check(is), Task::Check(would)) => {
                held(format!("inputs[{i}].check.band"), is.band, would.band);
            }
            _ => held(format!("the task of inputs[{i}]"), 0, 1),
        }
    }
    held(
        "start.input".to_owned(),
        numbers.start.input.into(),
        again.start.input.into(),
    );
    Ok(differs)
}

/// A file that is a proof: the recording, or what was said of one.
enum Proved {
    Recording(Box<capture::Opened>, Marks),
    Said(Value, String),
}

impl Proved {
    fn of(path: &Path) -> Result<Self, String> {
        if is_csv(path) {
            let opened = capture::open(path).map_err(|e| e.to_string())?;
            let beside = format!("{}.proof.json", path.display());
            let marks = match std::fs::read_to_string(&beside) {
                Ok(text) => Marks::from_json(&text).map_err(|e| format!("{beside}: {e}"))?,
                Err(e) if e.kind() == std::io::ErrorKind::NotFound => Marks::default(),
                Err(e) => return Err(format!("cannot read {beside}: {e}")),
            };
            return Ok(Self::Recording(Box::new(opened), marks));
        }
        let text = std::fs::read_to_string(path)
            .map_err(|e| format!("cannot read {}: {e}", path.display()))?;
        let said = serde_json::from_str(&text).map_err(|e| format!("{}: {e}", path.display()))?;
        Ok(Self::Said(said, sha256(text.as_bytes())))
    }

    fn sha256(&self) -> &str {
        match self {
            Self::Recording(opened, _) => &opened.sha256,
            Self::Said(_, sha256) => sha256,
        }
    }

    fn seen(
        &self,
        file: &str,
        block: Option<&Block>,
        judged: &[Judged],
    ) -> Result<ProofSeen, String> {
        let (opened, marks) = match self {
            Self::Said(said, _) => return seen_of(said),
            Self::Recording(opened, marks) => (opened, marks),
        };
        let block = block.ok_or("there are no constants that it could be a proof of")?;
        let mut profiles = judged.iter().filter_map(|one| one.profile.as_ref());
        let commands = |profile: &&Profile| profile.kind != profile::Kind::Dial;
        let options = ProofOptions {
            profile: profiles.find(commands),
            marks: marks.clone(),
            ..ProofOptions::usual(block)
        };
        let proof = prove_file(opened, file, options).map_err(|e| e.to_string())?;
        let said = serde_json::to_value(&proof).map_err(|e| e.to_string())?;
        seen_of(&said)
    }
}

/// From `proof/1` to what counts for a machine.
fn seen_of(said: &Value) -> Result<ProofSeen, String> {
    let crc = said["block"]["crc"].as_str();
    let crc = crc.ok_or("it does not say of which constants it is a proof")?;
    let list = |key: &str| said[key].as_array().cloned().unwrap_or_default();
    let word = |of: &Value, key: &str| shown(of[key].as_str().unwrap_or_default());
    let rounds = list("rounds");
    let is_fault = |of: &str| {
        ["open", "ground", "supply"]
            .iter()
            .any(|fault| of.starts_with(fault))
    };
    let findings = list("findings");
    let worst = |faults: bool| {
        let own = findings
            .iter()
            .filter(|f| is_fault(&word(f, "of")) == faults);
        let worst = own
            .map(|finding| (outcome(&word(finding, "outcome")), finding))
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
    })
}

/// Faults that were not made, or of which nothing was seen.
fn left_out(rounds: &[Value], claims: &[Value]) -> Vec<String> {
    let claimed: Vec<String> = claims
        .iter()
        .filter(|claim| claim["state"] == "not exercised")
        .filter_map(|claim| claim["claim"].as_str())
        .filter(|claim| claim.starts_with("stops"))
        .map(shown)
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
        .map(str::to_owned)
        .collect()
}

fn outcome(word: &str) -> Outcome {
    match word {
        "pass" => Outcome::Pass,
        "fail" => Outcome::Fail,
        "undecided" => Outcome::Undecided,
        _ => Outcome::NotMeasured,
    }
}

fn severity(outcome: Outcome) -> u8 {
    match outcome {
        Outcome::Pass => 0,
        Outcome::NotMeasured => 1,
        Outcome::Undecided => 2,
        Outcome::Fail => 3,
    }
}

#[derive(Debug, Error)]
pub enum SortError {
    #[error("cannot read {}: {source}", path.display())]
    Unreadable {
        path: PathBuf,
        source: std::io::Error,
    },
    #[error(transparent)]
    Capture(#[from] capture::CaptureError),
    #[error("{} is no recording, no constants file and no proof: {why}", path.display())]
    Unknown { path: PathBuf, why: String },
}

/// Sees by itself what a file is. `file` is its name as the machine keeps it, `asked` the control that it is said to be of.
pub fn sort(path: &Path, file: String, asked: Option<&str>) -> Result<NewEvidence, SortError> {
    let asked = asked.map(str::to_owned);
    if is_csv(path) {
        let summary = capture::summary(path)?;
        let channels = summary.meta.channels.iter();
        let has_output = channels
            .clone()
            .any(|(_, channel)| channel.role == Role::Output);
        let unit = summary.meta.unit;
        return Ok(NewEvidence {
            kind: if has_output {
                EvidenceKind::Proof
            } else {
                EvidenceKind::Capture
            },
            file,
            sha256: summary.sha256,
            taken: taken(path, summary.meta.started.as_deref())?,
            asked,
            tag: unit.tag,
            profile: unit.profile,
        });
    }
    let text = std::fs::read_to_string(path).map_err(|source| SortError::Unreadable {
        path: path.to_owned(),
        source,
    })?;
    let unknown = |why: String| SortError::Unknown {
        path: path.to_owned(),
        why,
    };
    let json: Option<Value> = serde_json::from_str(&text).ok();
    let format = json.as_ref().and_then(|json| json["format"].as_str());
    let kind = match format {
        Some("proof/1") => {
            let said = json.as_ref().map(seen_of);
            if let Some(Err(why)) = said {
                return Err(unknown(why));
            }
            EvidenceKind::Proof
        }
        Some("assessment/1" | "proof-marks/1" | "proof-marks/2") => {
            return Err(unknown(
                "it goes with a recording: add that one, the .csv".to_owned(),
            ));
        }
        Some("machine/1") => return Err(unknown("it is a machine itself".to_owned())),
        Some("profile/1") => {
            return Err(unknown(
                "it is a profile, which a control names when the machine is made".to_owned(),
            ));
        }
        _ => {
            read_block(&text).map_err(unknown)?;
            EvidenceKind::Block
        }
    };
    Ok(NewEvidence {
        kind,
        file,
        sha256: sha256(text.as_bytes()),
        taken: taken(path, None)?,
        asked,
        tag: None,
        profile: None,
    })
}

fn is_csv(path: &Path) -> bool {
    path.extension()
        .is_some_and(|end| end.eq_ignore_ascii_case("csv"))
}

/// When a recording was begun, else when the file was last written.
fn taken(path: &Path, started: Option<&str>) -> Result<String, SortError> {
    let stated = started.and_then(|started| started.parse::<jiff::Timestamp>().ok());
    if let Some(stated) = stated {
        return Ok(stated.to_string());
    }
    let unreadable = |source| SortError::Unreadable {
        path: path.to_owned(),
        source,
    };
    let written = std::fs::metadata(path).and_then(|is| is.modified());
    let written = written.map_err(unreadable)?;
    let written = jiff::Timestamp::try_from(written).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
    let whole = written.round(jiff::Unit::Second).unwrap_or(written);
    Ok(whole.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_are_found_in_every_comment() {
        let sum = "0123456789abcdef".repeat(4);
        let text = format!("// T1: T1.csv (sha256 {sum}), \"x\"\n// T2 (sha256 zz)");
        assert_eq!(named_sums(&text), [sum]);
    }
}
