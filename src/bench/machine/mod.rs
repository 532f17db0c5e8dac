//! What a machine's evidence says: every file looked at again, judged, and handed to `machine`.

mod again;
mod block;
mod contradicted;
mod measured;
mod proof;
mod recorded;
mod sort;

pub use sort::sort;

use super::assess::assess_file;
use super::diagnosis::looked;
use crate::capture::{self, Capture};
use crate::constants::choose;
use crate::constants::{Block, layout};
use crate::diagnose::WiringDanger;
use crate::files::{self, sha256};
use crate::machine::{
    BlockSeen, CaptureSeen, Control, Ends, Evidence, FileState, Machine, Seen, SeenControl,
    SeenProof, WiringSeen,
};
use crate::profile::{self, Kind, Profile};
use crate::record::Assessment;
use crate::wiring::{Network, Wiring};
use again::made_again;
use block::read_block;
use measure::figure::FigureName;
use measured::{Judged, shown};
use proof::Proved;
use recorded::Recorded;
use std::path::{Path, PathBuf};

/// Bits that a wiring is looked at with before anything was measured.
const USUAL_BITS: u32 = 10;

/// Looks at every piece of evidence of a machine whose file lies in `folder`.
pub fn look(folder: &Path, machine: &Machine) -> Seen {
    let looker = Looker { folder, machine };
    let controls = machine.controls.iter();
    let profiles: Vec<_> = controls
        .map(|control| machine_profile(folder, &control.profile))
        .collect();
    let kind = |profile: &Result<Profile, String>| match profile {
        Ok(profile) => profile.kind,
        Err(_) => Kind::Dial,
    };
    let starter = choose::starter(profiles.iter().map(kind));
    let mut judged: Vec<Judged> = machine
        .controls
        .iter()
        .zip(profiles)
        .enumerate()
        .map(|(at, (control, profile))| looker.control(control, profile, at == starter))
        .collect();
    let newest = machine.newest_block();
    let block = newest.map(|at| looker.block(&machine.evidence[at], &mut judged));
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

impl Looker<'_> {
    fn path(&self, file: &str) -> PathBuf {
        self.folder.join(file)
    }

    fn control(&self, control: &Control, profile: Result<Profile, String>, starts: bool) -> Judged {
        let profile = match profile {
            Ok(profile) => profile,
            Err(why) => {
                let capture = self.machine.newest_capture(&control.name);
                let seen = SeenControl {
                    capture: capture.map(|_| (FileState::Same, Err(why.clone()))),
                    has_supply_wire: true,
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
            let judged = judged.map(|(mut seen, taken, assessment)| {
                let newest = (&taken, &assessment);
                seen.contradicted = self.contradicted(control, at, &profile, newest);
                bits = taken.meta.board.bits;
                measured = Some((evidence.file.clone(), taken, assessment));
                seen
            });
            capture = Some((file, judged));
        }
        let wiring = wiring(control, &profile, bits, starts);
        Judged {
            seen: SeenControl {
                capture,
                has_supply_wire: has_supply_wire(&profile),
                wiring,
            },
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
        let mut opened = match capture::open(&path) {
            Ok(opened) => opened,
            Err(e) => {
                let why = e.to_string();
                return (FileState::Unreadable(why.clone()), Err(why));
            }
        };
        let file = same(&opened.sha256, evidence);
        let judged = assess_file(&mut opened, &path, Some(profile))
            .map_err(|e| e.to_string())
            .map(|assessment| {
                let seen = CaptureSeen {
                    verdict: assessment.verdict,
                    headline: shown(&assessment.diagnosis.headline),
                    tag: assessment.unit.tag.as_deref().map(shown),
                    recorded_as: opened.capture.meta.unit.profile.clone(),
                    ends: ends(&opened.capture, &assessment),
                    simulated: opened.capture.meta.simulated,
                    stranger: stranger(control, profile, &opened.capture),
                    contradicted: None,
                };
                (seen, opened.capture, assessment)
            });
        (file, judged)
    }

    /// Which recording was added after the one in this place, is dated before it and says another thing.
    fn contradicted(
        &self,
        control: &Control,
        at: usize,
        profile: &Profile,
        newest: (&Capture, &Assessment),
    ) -> Option<String> {
        let newest = (&self.machine.evidence[at], Some(newest));
        contradicted::later(self.machine, at).find_map(|later| {
            let (_, judged) = self.recording(control, later, profile);
            let judged = judged.ok();
            let told = judged.as_ref().map(|(_, taken, judged)| (taken, judged));
            contradicted::against(&(later, told), &newest)
        })
    }

    fn block(
        &self,
        evidence: &Evidence,
        judged: &mut [Judged],
    ) -> (FileState, Result<BlockSeen, String>, Option<Block>) {
        let text = match files::read_text(&self.path(&evidence.file)) {
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
                let again = made_again(&read.block, judged);
                let mut objections = Vec::new();
                let again = again.map(|again| {
                    objections = again.objections;
                    // These windows are of this part: they may miss what those of its kind do not.
                    if let Some((at, faults)) = again.drives
                        && let Ok(wiring) = &mut judged[at].seen.wiring
                    {
                        let had = &mut wiring.drives_at_rest;
                        let new = |fault: &str| !had.iter().any(|words| words.contains(fault));
                        let faults = faults.into_iter().filter(|(fault, _)| new(fault));
                        let words: Vec<String> = faults.map(|(_, words)| words).collect();
                        had.extend(words);
                    }
                    again.differs
                });
                let seen = BlockSeen {
                    crc: crc(&read.block),
                    is_old: read.is_old,
                    made_from: read.made_from,
                    accepted: read.accepted,
                    made_again: again,
                    objections,
                };
                (file, Ok(seen), Some(read.block))
            }
        }
    }

    fn proofs(&self, block: Option<&Block>, judged: &[Judged]) -> Vec<SeenProof> {
        let recorded = Recorded::all(self.folder, self.machine);
        let proofs = recorded.iter().map(|proof| {
            let evidence = &self.machine.evidence[proof.at];
            let first = proof.first(self.machine, &recorded);
            let constants = self.machine.constants_of(first);
            let in_force = self.in_force(constants, block);
            let (file, seen) = match Proved::of(&self.path(&evidence.file)) {
                Err(why) => (FileState::Unreadable(why.clone()), Err(why)),
                Ok(proved) => {
                    let file = same(proved.sha256(), evidence);
                    (file, proved.seen(&evidence.file, in_force.as_ref(), judged))
                }
            };
            SeenProof {
                at: proof.at,
                file,
                recording: proof.sha256.clone(),
                recorded: proof.made,
                constants,
                constants_crc: in_force.map(|block| crc(&block)),
                judged: seen,
            }
        });
        proofs.collect()
    }

    /// The constants in this place, as long as their file is the one that was added.
    fn in_force(&self, constants: Option<usize>, newest: Option<&Block>) -> Option<Block> {
        let machine = self.machine;
        match constants {
            Some(before) if Some(before) != machine.newest_block() => {
                let evidence = &machine.evidence[before];
                let text = files::read_text(&self.path(&evidence.file)).ok()?;
                let is_same = same(&sha256(text.as_bytes()), evidence) == FileState::Same;
                let read = read_block(&text).ok().filter(|_| is_same);
                read.map(|read| read.block)
            }
            _ => newest.cloned(),
        }
    }
}

/// A profile of a control: by file beside the machine, or by the name of a built-in one.
pub fn machine_profile(folder: &Path, name: &str) -> Result<Profile, String> {
    let path = folder.join(name);
    if path.is_file() {
        return profile::read(&path).map_err(|e| e.to_string());
    }
    profile::find(name).ok_or_else(|| {
        format!(
            "there is no profile {name}: no file of that name beside the machine's, and none built in"
        )
    })
}

/// What drives at rest matters of the control that must be released to start; one that only limits brings nothing by itself.
fn wiring(
    control: &Control,
    profile: &Profile,
    bits: u32,
    starts: bool,
) -> Result<WiringSeen, String> {
    if profile.tracks.values().any(|track| track.wiring.is_none()) {
        return Err(format!(
            "\"{}\" does not say how it is wired, so nothing is known of its faults",
            profile.name
        ));
    }
    let windows = profile.control_wiring(bits).windows();
    windows.map_err(|e| e.to_string())?;
    let dangers = looked(profile, bits);
    let (at_rest, refused) = if starts {
        (dangers.at_rest, dangers.refused)
    } else {
        (Vec::new(), Vec::new())
    };
    let name = |danger: &WiringDanger| {
        let track = danger.channel.strip_prefix("track ");
        let number = track.and_then(|n| n.parse::<usize>().ok());
        let pin = number.and_then(|n| control.pins.get(n.checked_sub(1)?));
        let pin = pin.map_or_else(String::new, |pin| format!(" (pin {pin})"));
        format!("{} if the {}{pin}", danger.reads, danger.fault)
    };
    let others = dangers.worst.iter();
    let others = others.filter(|danger| !at_rest.contains(danger));
    Ok(WiringSeen {
        others: others
            .map(|danger| format!("it reads {}", name(danger)))
            .collect(),
        drives_at_rest: at_rest
            .iter()
            .map(|danger| format!("let go, it reads {}", name(danger)))
            .chain(refused)
            .collect(),
        by_degrees: dangers.by_degrees,
        helps: dangers.helps,
    })
}

/// A check sum as people read it.
fn crc(block: &Block) -> String {
    format!("{:04x}", layout::crc_of(block))
}

fn same(sha256: &str, evidence: &Evidence) -> FileState {
    if sha256 == evidence.sha256 {
        FileState::Same
    } else {
        FileState::Changed
    }
}

fn has_supply_wire(profile: &Profile) -> bool {
    let variable = |wiring: &Wiring| matches!(wiring.network, Network::Rheostat { .. });
    let tracks = profile.tracks.values();
    !tracks
        .map(|track| track.wiring.as_ref())
        .all(|wiring| wiring.is_some_and(variable))
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
