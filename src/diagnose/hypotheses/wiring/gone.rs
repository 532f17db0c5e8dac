//! A wire that came off under way: the signal was there, and then it was not.

use crate::diagnose::evidence::{Evidence, Signal};
use crate::diagnose::gone::Gone;
use crate::diagnose::predicted::Faulty;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use crate::wiring::{Fault, Wire};
use measure::figure::numbers::fixed;
use measure::judge::Outcome;

/// Tracks that go within this of each other go together, seconds.
const AT_ONCE_S: f64 = 0.1;
/// Readings nearer than this are the same, as a share of the reference.
const ALIKE: f64 = 0.02;

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    if evidence.broken != Outcome::Fail {
        return Vec::new();
    }
    if let Some(shared) = shared(evidence) {
        return vec![shared];
    }
    let signals = evidence.signals.iter().enumerate();
    signals
        .filter_map(|(at, signal)| {
            let gone = signal.gone?;
            let suspicion = Suspicion::new(word(gone.fault), 2.0, Place::channel(at))
                .weighs(16.0, || told(&gone, signal.name))
                .explains(evidence.all_failed(signal.name))
                .acts(acts(signal, gone.fault));
            Some(suspicion.detailed(detail(&gone)))
        })
        .collect()
}

/// Every track went at once, to what an open supply wire leaves as well: the wire that they share, or the plug.
fn shared(evidence: &Evidence<'_>) -> Option<Suspicion> {
    let gone = evidence.signals.iter().map(|signal| signal.gone);
    let gone: Vec<Gone> = gone.collect::<Option<_>>()?;
    let [first, others @ ..] = &gone[..] else {
        return None;
    };
    let at_once = |other: &Gone| {
        other.fault == first.fault && (other.from_s - first.from_s).abs() < AT_ONCE_S
    };
    let supply = Fault::Open(Wire::Supply);
    let alike = |signal: &Signal<'_>| {
        let reads = |fault| match signal.model.as_ref()?.with(fault)? {
            Faulty::Reads([rest, _]) => Some(rest.nominal),
            Faulty::Floats => None,
        };
        let both = reads(supply).zip(reads(first.fault));
        both.is_some_and(|(supply, own)| (supply - own).abs() < ALIKE)
    };
    let together = !others.is_empty() && others.iter().all(at_once);
    if !together || !evidence.signals.iter().all(alike) {
        return None;
    }
    let signals = evidence.signals.iter();
    let explained = signals.flat_map(|signal| evidence.all_failed(signal.name));
    let acts = acts(&evidence.signals[0], supply);
    Some(
        Suspicion::new(CauseWord::NoSupply, 2.0, Place::default())
            .weighs(16.0, || told(first, "every track"))
            .explains(explained)
            .acts(acts),
    )
}

fn word(fault: Fault) -> CauseWord {
    match fault {
        Fault::Open(Wire::Supply) => CauseWord::NoSupply,
        Fault::Open(Wire::Ground) => CauseWord::NoGround,
        Fault::Short(..) => CauseWord::SignalShorted,
        _ => CauseWord::SignalOpen,
    }
}

/// What the words of a cause add: what a wire touches, or when it came off.
fn detail(gone: &Gone) -> String {
    match gone.fault {
        Fault::Short(Wire::Supply, _) => "supply".to_owned(),
        Fault::Short(..) => "ground".to_owned(),
        Fault::Open(Wire::Signal) => when(gone),
        _ => String::new(),
    }
}

fn when(gone: &Gone) -> String {
    let from = fixed(gone.from_s, 1);
    if gone.for_good {
        format!("from {from} s on")
    } else {
        format!("from {from} to {} s", fixed(gone.to_s, 1))
    }
}

fn told(gone: &Gone, name: &str) -> String {
    let as_what = match gone.fault {
        Fault::Short(..) => "as a wire does that touches the rail",
        _ => "what a broken wire leaves there",
    };
    let when = when(gone);
    format!("{when} {name} reads {as_what}; at other times it moves as it should")
}

fn acts(signal: &Signal<'_>, fault: Fault) -> ActsTowards {
    let model = signal.model.as_ref();
    model.map_or(ActsTowards::Either, |model| model.fault_acts(fault))
}
