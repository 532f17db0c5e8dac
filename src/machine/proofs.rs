//! The two links that a flashed board gives: its output, and that every fault stops it.

use super::commands::Commands;
use super::link::{Link, LinkState, changed};
use super::seen::{BlockSeen, FileState, ProofSeen, Seen, SeenProof};
use super::types::{Machine, day};
use measure::judge::Outcome;

/// `output proof` and `fault proof`.
pub(super) fn links(commands: &Commands<'_>, seen: &Seen, constants: &Link) -> [Link; 2] {
    let block = match &seen.block {
        Some((_, Ok(block))) => Some(block),
        _ => None,
    };
    [false, true].map(|faults| {
        let of = Of {
            machine: commands.machine,
            block,
            faults,
        };
        let newest = of.newest(&seen.proofs);
        let link = Link::new(
            if faults {
                "fault proof"
            } else {
                "output proof"
            },
            newest.map(|proof| of.name(proof)),
        );
        let Some(newest) = newest else {
            return not_yet(commands, link, faults, constants);
        };
        of_proof(commands, link, (&of, newest, &seen.proofs), constants)
    })
}

/// Which proofs are looked at: of which constants, and whether those that made faults.
struct Of<'a> {
    machine: &'a Machine,
    block: Option<&'a BlockSeen>,
    faults: bool,
}

impl<'a> Of<'a> {
    fn name(&self, proof: &SeenProof) -> &'a str {
        &self.machine.evidence[proof.at].file
    }

    fn is_of_kind(&self, proof: &SeenProof) -> bool {
        match &proof.judged {
            Ok(judged) => judged.has_faults == self.faults,
            // What cannot be judged is told of as an output proof.
            Err(_) => !self.faults,
        }
    }

    fn is_of_newest(&self, proof: &SeenProof) -> bool {
        proof.constants == self.machine.newest_block()
    }

    /// Its recording was made of the constants in force, or of others with the same numbers.
    fn is_in_force(&self, proof: &SeenProof) -> bool {
        let crc = self.block.map(|block| &block.crc);
        self.is_of_newest(proof) || (crc.is_some() && crc == proof.constants_crc.as_ref())
    }

    fn part<'p>(&self, judged: &'p ProofSeen) -> &'p (Outcome, String) {
        if self.faults {
            &judged.faults
        } else {
            &judged.output
        }
    }

    /// What it says against a proof that passes, if anything: one that was not gone through to the end says nothing.
    fn against(&self, proof: &SeenProof) -> Option<&'static str> {
        let Some(judged) = proof.judged.as_ref().ok() else {
            return Some("cannot be judged");
        };
        let other = self.block.is_some_and(|block| block.crc != judged.crc);
        match self.part(judged).0 {
            _ if proof.file != FileState::Same => Some("is no longer the file that was added"),
            _ if other => Some("is of other constants"),
            Outcome::Fail => Some("fails"),
            Outcome::Undecided => Some("is undecided"),
            Outcome::Pass | Outcome::NotMeasured => None,
        }
    }

    /// The proof recorded last, of the constants in force where there is one of these; one that made faults and shows the output too serves
    /// where there is no other.
    fn newest<'p>(&self, all: &'p [SeenProof]) -> Option<&'p SeenProof> {
        let both = |proof: &SeenProof| match &proof.judged {
            Ok(judged) => !self.faults && judged.output.0 == Outcome::Pass,
            Err(_) => false,
        };
        let in_force = |proof: &&SeenProof| self.is_in_force(proof);
        let of_kind = || all.iter().filter(|proof| self.is_of_kind(proof));
        let both = || all.iter().filter(|proof| both(proof));
        let now = self.last(of_kind().filter(in_force));
        now.or_else(|| self.last(both().filter(in_force)))
            .or_else(|| self.last(of_kind()))
            .or_else(|| self.last(both()))
    }

    /// The one recorded last, of those recorded at one time the one added last. One whose date nothing says may be younger: it counts where
    /// it was added later and says something against the others, or where there is no other.
    fn last<'p>(&self, proofs: impl Iterator<Item = &'p SeenProof>) -> Option<&'p SeenProof> {
        let (dated, undated): (Vec<_>, Vec<_>) = proofs.partition(|proof| proof.recorded.is_some());
        let dated = dated.into_iter().max_by_key(|proof| proof.recorded);
        let counts = |proof: &&SeenProof| {
            dated.is_none_or(|dated| proof.at > dated.at && self.against(proof).is_some())
        };
        undated.into_iter().rfind(counts).or(dated)
    }

    /// Which proof was added after this one, is dated before it and says another thing.
    fn contradicted(&self, newest: &SeenProof, all: &[SeenProof]) -> Option<String> {
        let dated = newest.recorded?;
        all.iter()
            .filter(|later| later.at > newest.at && later.recording != newest.recording)
            .filter(|later| self.is_of_kind(later) && self.is_in_force(later))
            .find_map(|later| {
                let recorded = later.recorded.filter(|recorded| *recorded < dated)?;
                let against = self.against(later)?;
                Some(format!(
                    "{} was added later and is dated earlier ({}), and it {against}; {} ({}) passes: which is right?",
                    self.name(later),
                    day(recorded),
                    self.name(newest),
                    day(dated)
                ))
            })
    }
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
fn recorded_before(of: &Of<'_>, proof: &SeenProof) -> Option<String> {
    let machine = of.machine;
    let recorded = proof.recorded?;
    machine.controls.iter().find_map(|control| {
        let newest = machine.newest_capture(&control.name)?;
        let measured = &machine.evidence[newest];
        let taken = measured.taken_at()?;
        let is_itself = measured.sha256 == proof.recording;
        (recorded < taken || is_itself).then(|| {
            format!(
                "{} was recorded on {}, before {} was measured for these constants ({})",
                of.name(proof),
                day(recorded),
                control.name,
                day(taken)
            )
        })
    })
}

/// Which control was replaced or rewired after it: it shows another machine, with whatever constants.
fn before_change(of: &Of<'_>, proof: &SeenProof) -> Option<String> {
    let recorded = proof.recorded?;
    of.machine.controls.iter().find_map(|control| {
        let since = control.since().filter(|since| recorded < *since)?;
        Some(format!(
            "{} was recorded on {}, before {} was changed ({})",
            of.name(proof),
            day(recorded),
            control.name,
            day(since)
        ))
    })
}

/// Why its recording may be, or is, of a board with earlier constants.
fn of_earlier(of: &Of<'_>, proof: &SeenProof) -> Option<(LinkState, String)> {
    let name = of.name(proof);
    if let Some(why) = before_change(of, proof) {
        return Some((LinkState::Stale, why));
    }
    if !of.is_in_force(proof) {
        let why = format!(
            "the recording that {name} speaks of was there before these constants were: it shows a board with earlier ones"
        );
        return Some((LinkState::Stale, why));
    }
    if proof.recorded.is_none() {
        let why = format!(
            "{name} does not say when its recording was made: the board may have had earlier constants"
        );
        return Some((LinkState::Missing, why));
    }
    let before = recorded_before(of, proof).filter(|_| of.is_of_newest(proof));
    before.map(|why| (LinkState::Stale, why))
}

fn of_proof(
    commands: &Commands<'_>,
    link: Link,
    (of, seen, all): (&Of<'_>, &SeenProof, &[SeenProof]),
    constants: &Link,
) -> Link {
    let faults = of.faults;
    let again = Some(prove(commands, faults));
    if let Some(why) = changed(&seen.file, of.name(seen)) {
        return link.is(LinkState::Stale, why, again);
    }
    let proof = match &seen.judged {
        Ok(proof) => proof,
        Err(why) => return link.is(LinkState::Failed, why, again),
    };
    let link = link.simulated(proof.simulated);
    if let Some(block) = of.block.filter(|block| block.crc != proof.crc) {
        let why = format!(
            "this proof is of constants with check sum {}, the machine's have {}",
            proof.crc, block.crc
        );
        let state = if of.is_of_newest(seen) {
            LinkState::Failed
        } else {
            LinkState::Stale
        };
        return link.is(state, why, again);
    }
    let (outcome, why) = of.part(proof);
    if *outcome == Outcome::Fail {
        return link.is(LinkState::Failed, why, again);
    }
    if constants.state != LinkState::Done {
        let next = constants.next.clone();
        let are = match constants.state {
            LinkState::Failed => "have",
            _ => "are",
        };
        let why = format!(
            "it rests on the constants, and these {are} {}",
            constants.state.word()
        );
        return link.is(LinkState::Stale, why, next);
    }
    if let Some((state, why)) = of_earlier(of, seen) {
        let next = match seen.recorded {
            None => again.map(|again| format!("add the recording itself, or {again}")),
            Some(_) => again,
        };
        return link.is(state, why, next);
    }
    if faults && !proof.left_out.is_empty() {
        let why = format!("not made, so not shown: {}", proof.left_out.join("; "));
        return link.is(LinkState::Missing, why, again);
    }
    if *outcome != Outcome::Pass {
        return link.is(LinkState::Missing, why, again);
    }
    if let Some(why) = of.contradicted(seen, all) {
        return link.is(LinkState::Missing, why, again);
    }
    if faults && !proof.hidden.is_empty() {
        let why = format!(
            "{why}, but for what the constants cannot notice: when {}",
            proof.hidden.join(", when ")
        );
        return link.is(LinkState::Done, why, None);
    }
    link.is(LinkState::Done, why, None)
}
