//! What a trial at the end of a card says of two causes, and which trial would say something.
//!
//! Belongs here: what each trial makes likelier or less likely, one small file each; which trial is worth it. Does not belong here:
//! leading through it (`bench`), words of causes (`words`).
//!
//! Each gives a log-likelihood ratio: how much likelier what was seen is under a cause than under the others (`weigh`). Where it rests on
//! a judgement and not on counts, that is common practice, no source.

mod battery;
mod plug;
mod seen;
mod slower;
mod swap;

pub(super) use battery::NOT_BY_CHARGER;
pub use seen::TrialSeen;

use super::evidence::Evidence;
use super::rank::Ranked;
use super::types::{CauseWord, Confidence};
use super::weigh::Suspicion;
use measure::figure::FigureName;
use measure::units::{Step, Trial};

/// Weighs what the trials have shown; adds what only a trial can show.
pub(super) fn weigh(evidence: &Evidence<'_>, trials: &[TrialSeen<'_>], all: &mut Vec<Suspicion>) {
    for seen in trials.iter().filter(|seen| !seen.stretches.is_empty()) {
        match seen.trial {
            Trial::Slower => slower::weigh(evidence, seen, all),
            Trial::Plug => plug::weigh(evidence, seen, all),
            Trial::Battery => battery::weigh(evidence, seen, all),
            Trial::Swap => swap::weigh(evidence, seen, all),
        }
    }
}

/// What a trial says of findings that no cause explains.
pub(super) fn of_unknown(
    evidence: &Evidence<'_>,
    trials: &[TrialSeen<'_>],
) -> Option<&'static str> {
    let mut trials = trials.iter();
    let seen = trials.find(|seen| seen.trial == Trial::Swap)?;
    swap::went_with_the_wire(evidence, seen).then_some(swap::MOVED)
}

/// The trial that would tell the first cause from what else fits; `None` when it is beyond doubt, or none would help.
pub(super) fn next(
    evidence: &Evidence<'_>,
    ranked: &[Ranked],
    taken: &[TrialSeen<'_>],
) -> Option<Trial> {
    // That a connection is loose says not yet where.
    let unsure = |cause: &&Ranked| {
        cause.confidence != Confidence::Certain
            || cause.suspicion.word == CauseWord::LooseConnection
            || by_the_clock(evidence, &cause.suspicion)
    };
    // What uneven codes of the board make comes back in slower strokes, as wear does.
    let codes = ranked.first().is_some_and(|first| {
        first.suspicion.word == CauseWord::BoardNonlinear && first.suspicion.place.travel.is_some()
    });
    ranked.iter().filter(unsure).find_map(|cause| {
        let (word, rival) = (cause.suspicion.word, cause.rival);
        let wanted = |trial: &Trial| {
            let tells = match rival {
                Some(rival) => expects(*trial, word) != expects(*trial, rival),
                None => expects(*trial, word),
            };
            let tells = tells || expects(*trial, word);
            let tells = tells && !(codes && *trial == Trial::Slower);
            tells && possible(evidence, *trial) && taken.iter().all(|seen| seen.trial != *trial)
        };
        Trial::ALL.into_iter().find(wanted)
    })
}

/// Whether what was lost at a place came as evenly in time.
fn by_the_clock(evidence: &Evidence<'_>, suspicion: &Suspicion) -> bool {
    let (CauseWord::LooseWiper, [at]) = (suspicion.word, &suspicion.place.channels[..]) else {
        return false;
    };
    let lost = evidence.signals.get(*at).map(|signal| &signal.lost);
    let moving = lost
        .into_iter()
        .flatten()
        .filter(|lost| lost.step == Step::Strokes);
    slower::even_in_time(&moving.map(|lost| lost.dropout.t_s).collect::<Vec<_>>())
}

/// Whether a trial shows a cause that is there: the fault comes again, goes, or moves with the wire.
fn expects(trial: Trial, word: CauseWord) -> bool {
    match trial {
        Trial::Slower => matches!(word, CauseWord::WornTrack | CauseWord::LooseWiper),
        Trial::Plug => word == CauseWord::LooseConnection,
        Trial::Battery => word == CauseWord::MainsHum,
        Trial::Swap => matches!(
            word,
            CauseWord::TracksDisagree | CauseWord::EndOutOfPlace | CauseWord::Unknown
        ),
    }
}

/// Whether there is what a trial takes.
fn possible(evidence: &Evidence<'_>, trial: Trial) -> bool {
    let known = |name| {
        evidence
            .signals
            .iter()
            .all(|signal| signal.value(name).is_some())
    };
    match trial {
        Trial::Swap => evidence.pairs.len() == 1 && swap::shows(evidence),
        Trial::Slower => known(FigureName::SpanCode),
        Trial::Plug | Trial::Battery => true,
    }
}
