//! From what was seen to the links: which stands, which is stale, what is next.

use super::check::{CHECK, check_due, month, of_check};
use super::commands::Commands;
use super::link::{Link, LinkState, changed};
use super::proofs;
use super::seen::{BlockSeen, FileState, Seen, SeenControl};
use super::types::{Control, Evidence, EvidenceKind, Machine, day, has_come, minute};
use crate::outlet::quoted;
use jiff::Timestamp;
use jiff::civil::Date;
use measure::judge::Verdict;

/// How a machine stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    pub links: Vec<Link>,
    /// Every link stands.
    pub ready: bool,
    /// The one thing to do next, with its command.
    pub next: String,
    /// When its controls are to be measured again; `None` while one was never measured.
    pub check_due: Option<Date>,
}

impl Standing {
    pub fn failed(&self) -> bool {
        let mut links = self.links.iter();
        links.any(|link| link.state == LinkState::Failed)
    }

    /// Some of it rests on recordings of a simulated board.
    pub fn simulated(&self) -> bool {
        self.links.iter().any(|link| link.simulated)
    }

    /// What is to be done next: what failed first, then what comes first.
    pub fn first_open(&self) -> Option<&Link> {
        first_open(&self.links)
    }

    pub fn link(&self, name: &str) -> Option<&Link> {
        self.links.iter().find(|link| link.link == name)
    }
}

/// Tells the links of a machine whose file has this name, on this day.
pub fn standing(machine: &Machine, file: &str, seen: &Seen, now: Timestamp) -> Standing {
    let commands = Commands { machine, file };
    let each = || machine.controls.iter().zip(&seen.controls);
    let mut links: Vec<Link> = each()
        .map(|(control, seen)| of_control(&commands, control, seen, now))
        .collect();
    let accepted = |control: &Control| match &seen.block {
        Some((FileState::Same, Ok(block))) if is_made_of(machine, control, block) => {
            block.accepted.as_deref()
        }
        _ => None,
    };
    let inputs = inputs(seen);
    let accepting = commands.accepting(inputs);
    let wiring = each().map(|(control, seen)| {
        of_wiring(&commands, control, seen, (accepted(control), &accepting))
    });
    links.extend(wiring);
    let constants = of_constants(&commands, seen, &links);
    let proved = proofs::links(&commands, seen, &constants);
    links.push(constants);
    links.extend(proved);
    let check_due = check_due(machine, now);
    links.push(of_check(&commands, check_due, now));
    let ready = links.iter().all(|link| link.state == LinkState::Done);
    Standing {
        ready,
        next: next(&links, check_due),
        links,
        check_due,
    }
}

fn first_open(links: &[Link]) -> Option<&Link> {
    let failed = |link: &&Link| link.state == LinkState::Failed && !link.waits;
    let failed = links.iter().find(failed);
    let open = failed.or_else(|| links.iter().find(|link| link.state != LinkState::Done));
    // What is old is measured before anything is made or proved with it.
    let of_a_control =
        |link: &&Link| link.link.starts_with("control ") || link.link.starts_with("wiring ");
    let is_old = |link: &&Link| link.link == CHECK && link.state == LinkState::Stale;
    let old = links.iter().find(is_old);
    let first = |link: &&Link| of_a_control(link) || link.state == LinkState::Failed;
    open.filter(first).or(old).or(open)
}

fn next(links: &[Link], check_due: Option<Date>) -> String {
    match first_open(links) {
        Some(link) => link.next.clone().unwrap_or_else(|| link.why.clone()),
        None if links.iter().any(|link| link.simulated) => {
            "measure and prove at the machine itself what is simulated here".to_owned()
        }
        None => check_due.map_or_else(
            || "nothing".to_owned(),
            |due| format!("nothing until the next check, {}", month(due)),
        ),
    }
}

fn of_control(
    commands: &Commands<'_>,
    control: &Control,
    seen: &SeenControl,
    now: Timestamp,
) -> Link {
    let at = commands.machine.newest_capture(&control.name);
    let evidence = at.map(|at| &commands.machine.evidence[at]);
    let link = Link::new(
        format!("control {}", control.name),
        evidence.map(|evidence| evidence.file.as_str()),
    );
    let measure = format!("measure {}: {}", control.name, commands.measure(control));
    let again = format!(
        "measure {} again: {}",
        control.name,
        commands.measure(control)
    );
    let (Some((file, judged)), Some(evidence)) = (&seen.capture, evidence) else {
        return link.is(
            LinkState::Missing,
            unmeasured(commands.machine, control),
            Some(measure),
        );
    };
    if let Some(why) = changed(file, &evidence.file) {
        return link.is(LinkState::Stale, why, Some(again));
    }
    let capture = match judged {
        Ok(capture) => capture,
        Err(why) => return link.is(LinkState::Failed, why, Some(again)),
    };
    let link = link.simulated(capture.simulated);
    let twice = twice(commands.machine, control, evidence);
    if let Some(stranger) = twice.as_ref().or(capture.stranger.as_ref()) {
        return link.is(LinkState::Failed, stranger, Some(again));
    }
    if let Some(why) = not_come(evidence, now) {
        return link.is(LinkState::Missing, why, Some(again));
    }
    let tag = capture.tag.as_deref().unwrap_or("without a tag");
    let taken = evidence.taken_at().map_or_else(String::new, day);
    let why = format!("{tag}, {taken}: {}", capture.headline);
    match capture.verdict {
        Some(Verdict::Pass) => match &capture.contradicted {
            Some(why) => link.is(LinkState::Missing, why, Some(again)),
            None => link.is(LinkState::Done, why, None),
        },
        Some(Verdict::Fail) => {
            let other = capture.recorded_as.as_ref() != Some(&control.profile);
            let profile = if other {
                format!(" --profile {}", quoted(&control.profile))
            } else {
                String::new()
            };
            let mend = format!(
                "see what is wrong, mend or replace it, and measure {} again: pedalproof assess {}{profile}",
                control.name,
                quoted(&evidence.file)
            );
            link.is(LinkState::Failed, why, Some(mend))
        }
        Some(Verdict::Undecided) => link.is(LinkState::Missing, why, Some(again)),
        None => {
            let why = format!("its profile {} has no limits: no verdict", control.profile);
            link.is(LinkState::Missing, why, Some(again))
        }
    }
}

/// That a control was not measured, or not since it was replaced or rewired.
fn unmeasured(machine: &Machine, control: &Control) -> String {
    let before = machine.newest_before(&control.name);
    let before = before.and_then(|before| Some((&before.file, before.taken_at()?)));
    let (Some(since), Some((file, taken))) = (control.since(), before) else {
        return "not measured yet".to_owned();
    };
    format!(
        "not measured since it was changed, {}; {file} is of before ({})",
        minute(since),
        minute(taken)
    )
}

/// The other control that has the same newest recording, told.
fn twice(machine: &Machine, control: &Control, evidence: &Evidence) -> Option<String> {
    let other = machine.other_with(&control.name, &evidence.sha256)?;
    Some(format!(
        "{} is the recording of {}, too: one recording is of one control",
        evidence.file, other.name
    ))
}

/// Why the time of a recording is not believed.
fn not_come(evidence: &Evidence, now: Timestamp) -> Option<String> {
    let taken = evidence.taken_at().filter(|taken| !has_come(*taken, now))?;
    Some(format!(
        "{} is dated {}, which has not come yet: which clock is wrong, this computer's or the recorder's?",
        evidence.file,
        day(taken)
    ))
}

fn of_wiring(
    commands: &Commands<'_>,
    control: &Control,
    seen: &SeenControl,
    (accepted, accepting): (Option<&str>, &str),
) -> Link {
    let link = Link::new(format!("wiring {}", control.name), Some(&control.profile));
    let wiring = match &seen.wiring {
        Ok(wiring) => wiring,
        // Nothing is known of its faults.
        Err(why) => {
            let look = format!(
                "look at the wiring of {}: {}",
                control.name,
                Commands::wiring(control)
            );
            return link.is(LinkState::Missing, why, Some(look));
        }
    };
    let look = if wiring.helps {
        format!(
            "change the wiring of {}, or accept the danger with the constants (--accept \"why\"): {}",
            control.name,
            commands.rewire(control)
        )
    } else {
        format!(
            "no resistor takes the danger of {} away: use a control with two tracks, or accept the danger with the constants: {accepting}",
            control.name
        )
    };
    if let [worst, others @ ..] = &wiring.drives_at_rest[..] {
        let more = match others.len() {
            0 => String::new(),
            n => format!(" ({n} more)"),
        };
        let danger = format!("unsafe, and the board does not notice: {worst}{more}");
        return match accepted {
            Some(reason) => {
                let why = format!("{danger}; accepted in the constants file: {reason}");
                link.is(LinkState::Done, why, None)
            }
            None => Link {
                waits: !wiring.helps,
                ..link.is(LinkState::Failed, danger, Some(look))
            },
        };
    }
    let why = match &wiring.others[..] {
        [] if wiring.by_degrees.is_empty() => "safe: no single fault brings more speed".to_owned(),
        // What comes by degrees is told apart: a part that is measured has it or has not.
        [] => format!(
            "no broken or touching wire brings more speed; bad joints and wrong plugs can: {}",
            Commands::wiring(control)
        ),
        others => format!(
            "safe when let go; when it is moved, the board does not notice: {}",
            others.join("; ")
        ),
    };
    link.is(LinkState::Done, why, None)
}

/// How many inputs the board has for all controls that were measured.
fn inputs(seen: &Seen) -> usize {
    let captures = seen.controls.iter().map(|control| &control.capture);
    let signals = captures.map(|capture| match capture {
        Some((_, Ok(capture))) => capture.ends.len(),
        _ => 0,
    });
    signals.sum()
}

fn of_constants(commands: &Commands<'_>, seen: &Seen, controls: &[Link]) -> Link {
    let machine = commands.machine;
    let at = machine.newest_block();
    let name = at.map(|at| machine.evidence[at].file.as_str());
    let link = Link::new("constants", name);
    let command = commands.constants(inputs(seen));
    let make = format!("make the constants: {command}");
    let again = format!("make the constants again: {command}");
    let open = controls.iter().find(|link| link.state != LinkState::Done);
    // While a control or its wiring does not stand, that comes first.
    let after = |what: String| match open {
        Some(open) => format!("first: {}", open.next.as_deref().unwrap_or(&open.link)),
        None => what,
    };
    let (Some(at), Some(name), Some((file, read))) = (at, name, &seen.block) else {
        let why = "not made yet: one file for all controls together";
        return link.is(LinkState::Missing, why, Some(after(make)));
    };
    if let Some(why) = changed(file, name) {
        return link.is(LinkState::Stale, why, Some(after(again)));
    }
    let block = match read {
        Ok(block) => block,
        Err(why) => return link.is(LinkState::Failed, why, Some(after(again))),
    };
    let link = link.simulated(controls.iter().any(|link| link.simulated));
    if block.is_old {
        let why = "made by an earlier version: today's firmware refuses it";
        return link.is(LinkState::Failed, why, Some(after(again)));
    }
    if let Some(changed) = controls.iter().find(|link| link.state == LinkState::Stale) {
        let why = format!(
            "these numbers rest on the recording of {}, which is not the one that was judged",
            changed.link
        );
        return link.is(LinkState::Stale, why, Some(after(again)));
    }
    match measured_since(machine, at, block) {
        Since::Again(control) => {
            let why = format!(
                "{control} was measured again since: these numbers rest on an older recording"
            );
            return link.is(LinkState::Stale, why, Some(after(again)));
        }
        Since::Changed(control) => {
            let why =
                format!("{control} was changed since: these numbers are of what was there before");
            return link.is(LinkState::Stale, why, Some(after(again)));
        }
        Since::Foreign => {
            let why = "it was made from other recordings than this machine's";
            return link.is(LinkState::Failed, why, Some(after(again)));
        }
        Since::Same => {}
    }
    match &block.made_again {
        Ok(differs) if differs.is_empty() => {
            let against = block.objections.join("; ");
            if !against.is_empty() && block.accepted.is_none() {
                let why = format!(
                    "the file has no reason for accepting what stands against it (a .hex file has no place for one): {against}"
                );
                return link.is(LinkState::Failed, why, Some(after(again)));
            }
            let against = if against.is_empty() {
                against
            } else {
                format!(" (against it: {against})")
            };
            let accepted = block
                .accepted
                .as_ref()
                .map_or_else(String::new, |why| format!("; accepted: {why}{against}"));
            let why = format!(
                "check sum {}, made from these recordings{accepted}",
                block.crc
            );
            link.is(LinkState::Done, why, None)
        }
        Ok(differs) => {
            let why = format!("not what these recordings give: {}", differs.join(", "));
            let added_since = machine.evidence[at..]
                .iter()
                .any(|evidence| evidence.kind == EvidenceKind::Capture);
            let state = if block.made_from.is_empty() && added_since {
                LinkState::Stale
            } else {
                LinkState::Failed
            };
            link.is(state, why, Some(after(again)))
        }
        Err(why) => {
            let why = format!("it cannot be made from these recordings: {why}");
            link.is(LinkState::Failed, why, Some(after(again)))
        }
    }
}

enum Since {
    Same,
    /// This control.
    Again(String),
    /// This control was replaced or rewired, and not measured since.
    Changed(String),
    Foreign,
}

/// Whether a constants file is of a control as that is now: nobody accepted anything of what took its place.
fn is_made_of(machine: &Machine, control: &Control, block: &BlockSeen) -> bool {
    let mut own = machine.evidence.iter();
    control.since.is_none()
        || own.any(|evidence| {
            machine.is_of(evidence, &control.name) && block.made_from.contains(&evidence.sha256)
        })
}

/// Whether the recordings that the constants name are the newest of this machine.
fn measured_since(machine: &Machine, at: usize, block: &BlockSeen) -> Since {
    let changed = |control: &&Control| {
        control.since.is_some() && machine.newest_capture(&control.name).is_none()
    };
    if let Some(control) = machine.controls.iter().find(changed) {
        return Since::Changed(control.name.clone());
    }
    if block.made_from.is_empty() {
        return Since::Same;
    }
    let named = |sha256: &String| block.made_from.contains(sha256);
    let mut older = None;
    for control in &machine.controls {
        let Some(newest) = machine.newest_capture(&control.name) else {
            continue;
        };
        if named(&machine.evidence[newest].sha256) {
            continue;
        }
        let own = machine.evidence.iter().filter(|evidence| {
            evidence.kind == EvidenceKind::Capture
                && evidence.control.as_deref() == Some(&control.name)
        });
        let was_named = own.clone().any(|evidence| named(&evidence.sha256));
        let came_later = newest > at;
        if was_named || (came_later && own.count() > 1) {
            older.get_or_insert_with(|| control.name.clone());
        } else {
            return Since::Foreign;
        }
    }
    older.map_or(Since::Same, Since::Again)
}
