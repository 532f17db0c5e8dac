//! A wire that came off under way: the signal was there, and then it was not.

use crate::diagnose::evidence::Evidence;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use crate::wiring::{Fault, Wire};
use measure::figure::numbers::fixed;

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let signals = evidence.signals.iter().enumerate();
    signals
        .filter_map(|(at, signal)| {
            let gone = signal.gone?;
            let (word, detail) = match gone.fault {
                Fault::Open(Wire::Supply) => (CauseWord::NoSupply, None),
                Fault::Open(Wire::Ground) => (CauseWord::NoGround, None),
                Fault::Short(Wire::Supply, _) => (CauseWord::SignalShorted, Some("supply")),
                Fault::Short(..) => (CauseWord::SignalShorted, Some("ground")),
                _ => (CauseWord::SignalOpen, None),
            };
            let until = if gone.for_good {
                "to the end".to_owned()
            } else {
                format!("to {} s", fixed(gone.to_s, 1))
            };
            let when = format!("from {} s on", fixed(gone.from_s, 1));
            let acts = signal
                .model
                .as_ref()
                .map_or(ActsTowards::Either, |model| model.fault_acts(gone.fault));
            Some(
                Suspicion::new(word, 2.0, Place::channel(at))
                    .weighs(16.0, || {
                        format!(
                            "from {} s {until} {} reads what a broken wire leaves there; at other times it moves as it should",
                            fixed(gone.from_s, 1),
                            signal.name
                        )
                    })
                    .explains(evidence.all_failed(signal.name))
                    .acts(acts)
                    .detailed(detail.map_or(when, str::to_owned)),
            )
        })
        .collect()
}
