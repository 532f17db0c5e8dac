//! A wire that is broken or touches another: the readings are those that the wiring's own fault table foretells.

use super::super::ends::{Prediction, Readings};
use crate::diagnose::evidence::Evidence;
use crate::diagnose::predicted::Faulty;
use crate::diagnose::types::CauseWord;
use crate::diagnose::weigh::{Place, Suspicion};
use crate::wiring::{Fault, Resistor, Wire};
use measure::figure::FigureName;

/// A fault as the trade knows it.
struct Known {
    word: CauseWord,
    /// How often it is met, log odds. Common practice, no source.
    prior: f64,
    /// Whether the wire serves every track.
    shared: bool,
}

/// The word for a fault; none for those that only shift an end.
fn known(fault: Fault, sensor: bool) -> Option<Known> {
    let known = |word, prior, shared| {
        Some(Known {
            word,
            prior,
            shared,
        })
    };
    match fault {
        Fault::Open(Wire::Signal) => known(CauseWord::SignalOpen, -2.0, false),
        Fault::Open(Wire::Supply) => known(CauseWord::NoSupply, -2.2, true),
        Fault::Open(Wire::Ground) | Fault::GroundOpenLeaking => {
            known(CauseWord::NoGround, -2.6, true)
        }
        Fault::Short(Wire::Supply, Wire::Signal) | Fault::Short(Wire::Signal, Wire::Ground) => {
            known(CauseWord::SignalShorted, -3.0, false)
        }
        // A rheostat has no supply wire of its own: its pull-up brings the supply.
        Fault::PartOpen(Resistor::PullUp) if !sensor => known(CauseWord::NoSupply, -2.8, false),
        _ => None,
    }
}

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let readings = Readings::of(evidence);
    if !readings.any() {
        return Vec::new();
    }
    let mut suspicions = Vec::new();
    for (at, signal) in evidence.signals.iter().enumerate() {
        let Some(model) = &signal.model else { continue };
        for fault in model.faults() {
            let Some(known) = known(fault, model.is_sensor()) else {
                continue;
            };
            let many = evidence.signals.len() > 1;
            if known.shared && many && at == 0 {
                let every: Vec<usize> = (0..evidence.signals.len()).collect();
                suspicions.extend(faulty(evidence, &readings, fault, &known, 0.0, &every));
            }
            // One of several tracks has lost a wire that it shares: it has one of its own then.
            let rarer = if known.shared && many { -1.5 } else { 0.0 };
            suspicions.extend(faulty(evidence, &readings, fault, &known, rarer, &[at]));
        }
    }
    suspicions
}

/// A fault on these signals, the others good.
fn faulty(
    evidence: &Evidence<'_>,
    readings: &Readings,
    fault: Fault,
    known: &Known,
    rarer: f64,
    channels: &[usize],
) -> Option<Suspicion> {
    let mut expected = readings.good();
    let mut floats = false;
    for at in channels {
        let reads = evidence.signals[*at].model.as_ref()?.with(fault)?;
        expected[*at] = match reads {
            Faulty::Reads([rest, full]) => Prediction::Ends([Some(rest), Some(full)]),
            Faulty::Floats => {
                floats = true;
                Prediction::Anything
            }
        };
    }
    let still = expected
        .iter()
        .enumerate()
        .all(|(at, expected)| match expected {
            Prediction::Ends([Some(rest), Some(full)]) => {
                !channels.contains(&at) || (rest.nominal - full.nominal).abs() < 0.02
            }
            _ => false,
        });
    let first = channels.first().copied()?;
    let model = evidence.signals[first].model.as_ref()?;
    let place = Place {
        channels: if channels.len() == evidence.signals.len() && channels.len() > 1 {
            Vec::new()
        } else {
            channels.to_vec()
        },
        travel: None,
    };
    let suspicion = readings
        .suspect(evidence, known.word, known.prior + rarer, place, &expected)
        .acts(model.fault_acts(fault))
        .detailed(detail(fault));
    let moves = channels.iter().map(|at| moved(evidence, *at));
    let stands = moves
        .collect::<Option<Vec<bool>>>()
        .map(|moved| !moved.contains(&true));
    let suspicion = if still {
        suspicion.expects(stands, [1.0, 5.0], || "it does not move at all".to_owned())
    } else {
        suspicion
    };
    Some(if floats {
        suspicion.expects(wanders(evidence, first), [3.0, 5.0], || {
            "it wanders by itself, as an input does that nothing holds".to_owned()
        })
    } else {
        suspicion
    })
}

/// What a short is to.
fn detail(fault: Fault) -> &'static str {
    match fault {
        Fault::Short(Wire::Supply, Wire::Signal) => "supply",
        Fault::Short(Wire::Signal, Wire::Ground) => "ground",
        Fault::PartOpen(Resistor::PullUp) => "pull-up",
        _ => "",
    }
}

/// Whether a signal went anywhere in the whole recording.
fn moved(evidence: &Evidence<'_>, at: usize) -> Option<bool> {
    let all = evidence.signals[at].all?;
    Some(all.reach() > 0.02 * evidence.codes)
}

/// Whether a signal is restless where it should stand still.
fn wanders(evidence: &Evidence<'_>, at: usize) -> Option<bool> {
    let signal = &evidence.signals[at];
    let noisy = signal
        .value(FigureName::NoiseRestRms)
        .map(|rms| rms > 0.005 * evidence.codes);
    noisy.or_else(|| Some(signal.rest?.reach() > 0.02 * evidence.codes))
}
