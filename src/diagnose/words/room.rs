//! Words for what comes from outside: the part is innocent.

use super::about::{About, Explanation};
use crate::diagnose::trials::NOT_BY_CHARGER;
use crate::diagnose::types::CauseWord;

pub(super) fn explain(about: &About<'_>) -> Explanation {
    match about.suspicion.word {
        CauseWord::MainsHum => {
            let remedies = [
                "Run the laptop on its battery, and measure again.",
                "Move the cable away from chargers, lamps and motor leads.",
                "Twist the signal wire with its ground; ground a shield at one end only.",
            ];
            // Once it has stayed on the battery, that is no remedy.
            let tried = about.suspicion.facts.iter();
            let stays = tried.into_iter().any(|fact| fact.ends_with(NOT_BY_CHARGER));
            Explanation::new(
                format!(
                    "most of the noise is {} mains hum, not the {}",
                    about.detail(),
                    about.noun()
                ),
                &remedies[usize::from(stays)..],
                "Run the laptop on its battery: if the hum goes, it was the charger.",
            )
        }
        _ => Explanation::new(
            format!("sharp spikes from outside, not from the {}", about.noun()),
            &[
                "Switch off motor controllers and chargers nearby, and measure again.",
                "Move the cable away from them.",
                "Put 100 nF from the signal to ground at the board.",
            ],
            "Leave it alone for 30 s with everything near it switched off: interference goes, a loose contact stays.",
        ),
    }
}
