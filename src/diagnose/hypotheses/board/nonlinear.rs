//! Board non-linear: tied to ground or to its reference, the board's input does not read its own ends; or its codes are uneven.

use super::super::ends::{Prediction, Readings};
use crate::diagnose::evidence::Evidence;
use crate::diagnose::predicted::Band;
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use crate::diagnose::words::each_place;
use measure::figure::FigureName;
use measure::figure::numbers::fixed;
use measure::units::maths;

/// Findings that a board's own error moves.
const MOVED: [FigureName; 13] = [
    FigureName::RestRatio,
    FigureName::RestCode,
    FigureName::FullRatio,
    FigureName::FullCode,
    FigureName::SpanCode,
    FigureName::LinearityIndependent,
    FigureName::LinearityBestFit,
    FigureName::LinearityTerminal,
    FigureName::LinearityZeroBased,
    FigureName::TrackGain,
    FigureName::TrackOffset,
    FigureName::TrackDisagreement,
    FigureName::RatiometricError,
];
/// Codes of ten bits that a good board's end may be off: a common data-sheet figure for offset and gain.
const GOOD: f64 = 4.0 / 1024.0;

/// How far a board's two ends are off, fractions of its reference.
#[derive(Debug, Clone, Copy)]
struct Departure {
    low: f64,
    high: f64,
}

impl Departure {
    /// Between its ends a board's error falls off from either of them: in a straight line when it is one of gain and offset, as late
    /// as with the third power when it bows. Anything between is as likely, so the middle is taken, and the standard deviation
    /// of an even distribution (JCGM 100:2008, 4.3.7). That the third power is the latest: common practice, no source.
    fn read(self, good: Band) -> Band {
        let at = good.nominal;
        let departure = |power: i32| self.low * (1.0 - at).powi(power) - self.high * at.powi(power);
        let (straight, bowed) = (departure(1), departure(3));
        let spread = (straight - bowed).abs() / 12_f64.sqrt();
        Band {
            sd: maths::hypot(good.sd, spread),
            ..good.moved_to(at + f64::midpoint(straight, bowed))
        }
    }
}

/// What uneven codes weigh where they may be all that stands out: a little more than wear, which shows more in 99 of 100 simulated
/// parts (`docs/validity.md`), and never so much that wear is not named beside it.
const UNEVEN: f64 = 4.5;
/// What they weigh where too few samples were taken to see whether they repeat: less than wear.
const UNSEEN: f64 = 1.0;

pub(super) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let mut suspicions = uneven(evidence);
    suspicions.extend(ends(evidence));
    suspicions
}

/// Places of the travel where the board's codes may be uneven, and nothing else is seen.
fn uneven(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let signals = evidence.signals.iter().enumerate();
    let open = signals.filter_map(|(at, signal)| {
        let zones = &signal.measured.open_zones;
        let (first, last) = (zones.first()?, zones.last()?);
        let explained = evidence.failed(signal.name, &[FigureName::WornZonesCount]);
        let all = zones.len() == signal.measured.worn_zones.len();
        let places: Vec<(f64, f64)> = zones.iter().map(|z| (z.from_pct, z.to_pct)).collect();
        let places = each_place(&places);
        (all && !explained.is_empty()).then(|| {
            let place = Place::at(at, (first.from_pct, last.to_pct));
            let repeats = signal.measured.uneven_zones.len() == zones.len();
            let (score, fact) = if repeats {
                (UNEVEN, "strokes repeat the same small steps at {}, as codes that are not equally wide make them")
            } else {
                (UNSEEN, "too few samples at {} to tell codes of the board that are not equally wide from wear")
            };
            Suspicion::new(CauseWord::BoardNonlinear, score, place)
                .notes(fact.replace("{}", &format!("{places} of travel")))
                .explains(explained)
                .acts(ActsTowards::Either)
                .detailed(places)
        })
    });
    open.collect()
}

/// The board's own ends.
fn ends(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let value = |name| {
        let mut signals = evidence.signals.iter();
        signals.find_map(|signal| signal.value(name))
    };
    let low = value(FigureName::BoardLowCode);
    let high = value(FigureName::BoardHighCode).map(|high| evidence.codes - 1.0 - high);
    let worst = [low, high].into_iter().flatten().reduce(f64::max);
    let Some(worst) = worst.filter(|worst| *worst > GOOD * evidence.codes) else {
        return Vec::new();
    };
    let signals = evidence.signals.iter().map(|signal| signal.name);
    let pairs = evidence.pairs.iter().map(|pair| pair.name.as_str());
    let explained = signals
        .chain(pairs)
        .flat_map(|name| evidence.failed(name, &MOVED));
    // A good part, read by a board of which only its own ends are known.
    let off = Departure {
        low: low.unwrap_or(0.0) / evidence.codes,
        high: high.unwrap_or(0.0) / evidence.codes,
    };
    let readings = Readings::of(evidence);
    let good = readings.good.iter();
    let expected: Vec<Prediction> = good
        .map(|ends| Prediction::Ends(ends.map(|band| band.map(|band| off.read(band)))))
        .collect();
    vec![
        readings
            .suspect(
                evidence,
                CauseWord::BoardNonlinear,
                -1.0,
                Place::default(),
                &expected,
            )
            .weighs(5.0, || {
                format!(
                    "tied to its own end, the board's input is {} codes off",
                    fixed(worst, 0)
                )
            })
            .explains(explained)
            .acts(ActsTowards::Either),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 0.10 of the reference is lacking at the top. Half-way a straight error lacks 0.050, a cubic one 0.0125: 0.03125 in the
    /// middle, and 0.0375 / sqrt 12 = 0.010825 about it. At its own top all of 0.10, and no doubt.
    #[test]
    fn a_bowed_board_is_read_between_a_straight_line_and_a_cube() {
        let off = Departure {
            low: 0.0,
            high: 0.1,
        };
        let good = |nominal| Band { nominal, sd: 0.0 };
        let half = off.read(good(0.5));
        assert!((half.nominal - 0.468_75).abs() < 1e-12, "{half:?}");
        assert!((half.sd - 0.010_825_3).abs() < 1e-6, "{half:?}");
        let top = off.read(good(1.0));
        assert!(
            (top.nominal - 0.9).abs() < 1e-12 && top.sd.abs() < 1e-12,
            "{top:?}"
        );
    }
}
