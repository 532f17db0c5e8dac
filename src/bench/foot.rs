//! Noise at full that is the foot's, or the supply's: both tracks show it.

use measure::Measured;
use measure::figure::FigureName;
use measure::figure::numbers::four_digits;
use measure::judge::{Finding, Outcome};

const ADVICE: &str = "press it firmly against its stop, hold it still, and record the full end again; if it stays, look at the supply: \
                      measure it, and keep chargers and motors off it";

/// Leaves noise at full open where it fails by what both tracks do together, and a track's own is within the limit.
pub(super) fn tell_of_a_foot(measured: &Measured, findings: &mut [Finding]) {
    let failed = |finding: &&mut Finding| {
        finding.figure == FigureName::NoiseFullRms && finding.outcome == Outcome::Fail
    };
    for finding in findings.iter_mut().filter(failed) {
        let own = measured.pairs.iter().find_map(|pair| {
            let [a, b] = pair.own_noise_at_full?;
            let of = |name: &String| *name == finding.channel;
            of(&pair.a).then_some(a).or(of(&pair.b).then_some(b))
        });
        if let Some(own) = own.filter(|own| finding.max.is_some_and(|max| *own < max)) {
            finding.outcome = Outcome::Undecided;
            finding.reason = format!(
                "{}; both tracks move together: a foot that trembles, or the supply. Its own is {} codes",
                finding.reason,
                four_digits(own)
            );
            finding.advice = Some(ADVICE.to_owned());
        }
    }
}
