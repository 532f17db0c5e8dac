//! The two links that a flashed board gives: its output, and that every fault stops it.

use super::commands::Commands;
use super::link::{Link, LinkState, changed};
use super::seen::{BlockSeen, FileState, ProofSeen, Seen};
use super::types::{Machine, day};
use measure::judge::Outcome;

type SeenProof<'a> = (usize, &'a FileState, &'a Result<ProofSeen, String>);

/// `output proof` and `fault proof`.
pub(super) fn links(commands: &Commands<'_>, seen: &Seen, constants: &Link) -> [Link; 2] {
    let block = match &seen.block {
        Some((_, Ok(block))) => Some(block),
        _ => None,
    };
    [false, true].map(|faults| {
        let newest = newest(seen, faults);
        let evidence = &commands.machine.evidence;
        let name = newest.map(|(at, ..)| evidence[at].file.as_str());
        let link = Link::new(
            if faults {
                "fault proof"
            } else {
                "output proof"
            },
            name,
        );
        let Some(newest) = newest else {
            return not_yet(commands, link, faults, constants);
        };
        of_proof(commands, link, (faults, newest), (block, constants))
    })
}

/// The proof added last that made faults, or that made none; one that made faults and shows the output too serves where there is no other.
fn newest(seen: &Seen, faults: bool) -> Option<SeenProof<'_>> {
    let all = || {
        let proofs = seen.proofs.iter().rev();
        proofs.map(|(at, file, judged)| (*at, file, judged))
    };
    let of_kind = all().find(|(_, _, judged)| match judged {
        Ok(proof) => proof.has_faults == faults,
        // What cannot be judged is told of as an output proof.
        Err(_) => !faults,
    });
    let both = |(_, _, judged): &SeenProof<'_>| match judged {
        Ok(proof) => !faults && proof.output.0 == Outcome::Pass,
        Err(_) => false,
    };
    of_kind.or_else(|| all().find(both))
}

fn prove(commands: &Commands<'_>, faults: bool) -> String {
    let what = if faults {
        "prove that every fault stops the flashed board"
    } else {
        "flash the board, then prove its output"
    };
    format!("{what}: {}", commands.prove(faults))
}

fn not_yet(commands: &Commands<'_>, link: Link, faults: bool, constants: &Link) -> Link {
    let next = if constants.state == LinkState::Done {
        prove(commands, faults)
    } else {
        let next = constants.next.as_deref().unwrap_or("make the constants");
        format!("first: {}", next.strip_prefix("first: ").unwrap_or(next))
    };
    link.is(LinkState::Missing, "not proved yet", Some(next))
}

/// Constants cannot be made before the recordings that they are made from. When a constants file itself was made is not known: a copy has
/// the time of the copying.
fn recorded_before(machine: &Machine, at: usize) -> Option<String> {
    let proof = &machine.evidence[at];
    let recorded = proof.taken_at()?;
    machine.controls.iter().find_map(|control| {
        let newest = machine.newest_capture(&control.name)?;
        let measured = machine.evidence[newest].taken_at()?;
        (recorded < measured).then(|| {
            format!(
                "{} was recorded on {}, before {} was measured for these constants ({})",
                proof.file,
                day(recorded),
                control.name,
                day(measured)
            )
        })
    })
}

fn of_proof(
    commands: &Commands<'_>,
    link: Link,
    (faults, (at, file, judged)): (bool, SeenProof<'_>),
    (block, constants): (Option<&BlockSeen>, &Link),
) -> Link {
    let again = Some(prove(commands, faults));
    if let Some(why) = changed(file, &commands.machine.evidence[at].file) {
        return link.is(LinkState::Stale, why, again);
    }
    let proof = match judged {
        Ok(proof) => proof,
        Err(why) => return link.is(LinkState::Failed, why, again),
    };
    let link = link.simulated(proof.simulated);
    let is_of_newest = commands.machine.constants_of(at) == commands.machine.newest_block();
    if let Some(block) = block.filter(|block| block.crc != proof.crc) {
        let why = format!(
            "this proof is of constants with check sum {}, the machine's have {}",
            proof.crc, block.crc
        );
        let state = if is_of_newest {
            LinkState::Failed
        } else {
            LinkState::Stale
        };
        return link.is(state, why, again);
    }
    let (outcome, why) = if faults { &proof.faults } else { &proof.output };
    if *outcome == Outcome::Fail {
        return link.is(LinkState::Failed, why, again);
    }
    if constants.state != LinkState::Done {
        let next = constants.next.clone();
        let why = format!(
            "it rests on the constants, and these are {}",
            constants.state.word()
        );
        return link.is(LinkState::Stale, why, next);
    }
    if let Some(why) = recorded_before(commands.machine, at).filter(|_| is_of_newest) {
        return link.is(LinkState::Stale, why, again);
    }
    if faults && !proof.left_out.is_empty() {
        let why = format!("not made, so not shown: {}", proof.left_out.join("; "));
        return link.is(LinkState::Missing, why, again);
    }
    match outcome {
        Outcome::Pass if faults && !proof.hidden.is_empty() => {
            let why = format!(
                "{why}, but for what the constants cannot notice: when {}",
                proof.hidden.join(", when ")
            );
            link.is(LinkState::Done, why, None)
        }
        Outcome::Pass => link.is(LinkState::Done, why, None),
        _ => link.is(LinkState::Missing, why, again),
    }
}
