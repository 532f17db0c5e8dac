//! The pin's reading over the whole track, and over how bad a fault is, as one exact formula.
//!
//! Every part is linear, so by Cramer's rule a voltage is a ratio of two determinants, and each is a straight line in every
//! conductance. The halves of a track, `1/(R x)` and `1/(R (1-x))`, make both quadratic in x once they are multiplied by
//! `x (1-x)`; a fault's ohms make them straight in these ohms once multiplied by them, a fault's volts straight as they are. So
//! three places and two severities, solved once, give every reading.

use super::circuit::CircuitError;
use super::fraction::fraction;
use super::hookup::{Hookup, Pin};
use super::parts::{Fault, SeverityUnit};
use super::schematic::{Parasitics, Schematic};

/// Coefficients of 1, x and x^2.
type Quadratic = [f64; 3];

/// Where the formula is taken from: inside the track, where every half of it is there.
const PLACES: [f64; 3] = [0.25, 0.5, 0.75];

/// A coefficient so much smaller than the largest is rounding.
const ROUNDING: f64 = 1e-12;

/// A reading as a ratio of two functions of position and severity, volts over the reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sweep {
    above: [Quadratic; 2],
    below: [Quadratic; 2],
}

/// What stands at the pin with a fault, or without, wherever the wiper is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reads {
    SweptFaults(Sweep),
    Floats,
    Collapsed,
}

/// The same for any fault: a crack reads one way up to its place on the track and another way beyond.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaultSweep {
    up_to: Reads,
    beyond: Option<(f64, Reads)>,
}

impl FaultSweep {
    pub fn of(hookup: &Hookup, fault: Option<Fault>) -> Self {
        match fault {
            // Whether the wiper stands above or below a crack is all that counts.
            Some(Fault::TrackOpen(at)) => Self {
                up_to: Reads::of(hookup, Some(Fault::TrackOpen(1.0))),
                beyond: Some((at, Reads::of(hookup, Some(Fault::TrackOpen(0.0))))),
            },
            _ => Self {
                up_to: Reads::of(hookup, fault),
                beyond: None,
            },
        }
    }

    /// What the ADC sees at a position, of a fault so bad (any value of what does not come by degrees).
    pub fn pin(&self, position: f64, severity: f64) -> Pin {
        let reads = match &self.beyond {
            Some((at, reads)) if position > *at => reads,
            _ => &self.up_to,
        };
        match reads {
            Reads::SweptFaults(sweep) => Pin::Ratio(fraction(sweep.ratio(position, severity))),
            Reads::Floats => Pin::Floats,
            Reads::Collapsed => Pin::Collapsed,
        }
    }
}

impl Reads {
    fn of(hookup: &Hookup, fault: Option<Fault>) -> Self {
        let supply = hookup.supply_mv() / 1000.0;
        match sweep(hookup, supply, fault) {
            Ok(Some(sweep)) => Self::SweptFaults(sweep),
            Ok(None) => Self::Floats,
            Err(_) if hookup.ratiometric() => Self::Collapsed,
            Err(_) => match sweep(hookup, 0.0, fault) {
                Ok(Some(sweep)) => Self::SweptFaults(sweep),
                Ok(None) => Self::Floats,
                Err(_) => Self::Collapsed,
            },
        }
    }
}

/// The good reading; `None` when a good control has none.
pub fn good(hookup: &Hookup) -> Option<Sweep> {
    match Reads::of(hookup, None) {
        Reads::SweptFaults(sweep) => Some(sweep),
        Reads::Floats | Reads::Collapsed => None,
    }
}

fn sweep(
    hookup: &Hookup,
    supply: f64,
    fault: Option<Fault>,
) -> Result<Option<Sweep>, CircuitError> {
    let wiring = hookup.wiring();
    let on_track = wiring.network.track().is_some();
    let degrees = fault.and_then(Fault::severities);
    let severities = match degrees.map(|of| (of.unit, of.severe)) {
        None => [1.0, 1.0],
        Some((SeverityUnit::Ohm, _)) => [1e2, 1e5],
        Some((SeverityUnit::Volt, severe)) => [0.2 * severe, 0.8 * severe],
    };
    let ohms = degrees.is_some_and(|of| of.unit == SeverityUnit::Ohm);
    let vref = hookup.scale().vref_mv() / 1000.0;
    let mut samples = [[[0.0; 3]; 2]; 2];
    for (k, severity) in severities.into_iter().enumerate() {
        if k == 1 && degrees.is_none() {
            break;
        }
        for (n, place) in PLACES.into_iter().enumerate() {
            let bad = fault.map(|fault| fault.as_bad_as(severity));
            let ideal = Parasitics::default();
            let Schematic { circuit, pin } = wiring.schematic_at(supply, place, bad, ideal);
            let Some((volts, determinant)) = circuit.cramer(pin)? else {
                return Ok(None);
            };
            let times = if on_track { place * (1.0 - place) } else { 1.0 };
            let determinant = determinant * times * if ohms { severity } else { 1.0 };
            samples[k][0][n] = volts / vref * determinant;
            samples[k][1][n] = determinant;
        }
    }
    let lines = |of: usize| {
        let first = through(samples[0][of]);
        if degrees.is_none() {
            return [first, [0.0; 3]];
        }
        let second = through(samples[1][of]);
        let apart = severities[1] - severities[0];
        let slope = [0, 1, 2].map(|c| (second[c] - first[c]) / apart);
        let start =
            [0, 1, 2].map(|c| (severities[1] * first[c] - severities[0] * second[c]) / apart);
        [start, slope]
    };
    Ok(Some(Sweep::without_common_zeros(
        lines(0),
        lines(1),
        severities[1],
    )))
}

/// The quadratic through values at [`PLACES`].
fn through([a, b, c]: [f64; 3]) -> Quadratic {
    let second = 8.0 * (a - 2.0 * b + c);
    let slope = 2.0 * (c - a);
    // Around the middle: b + slope d + second d^2, d = x - 1/2.
    [b - slope / 2.0 + second / 4.0, slope - second, second]
}

fn value(of: Quadratic, x: f64) -> f64 {
    of[0] + x * (of[1] + x * of[2])
}

impl Sweep {
    /// Where a half of the track plays no part, its end is a zero of all: that is taken out. `severe` is the largest severity that
    /// the samples were taken at.
    fn without_common_zeros(above: [Quadratic; 2], below: [Quadratic; 2], severe: f64) -> Self {
        let mut sides = [above, below];
        let largest = |of: &[Quadratic; 2]| {
            let most = |of: &Quadratic| of.iter().fold(0.0_f64, |most, c| most.max(c.abs()));
            most(&of[0]).max(most(&of[1]) * severe.abs())
        };
        // A fraction of the reference may be 0 everywhere: what is next to nothing beside the determinant is nothing.
        let bound = ROUNDING * largest(&below);
        let tiny = |x: f64, k: usize| x.abs() * if k == 1 { severe.abs() } else { 1.0 } <= bound;
        for of in &mut sides {
            for (k, quadratic) in of.iter_mut().enumerate() {
                if tiny(quadratic[0], k) {
                    quadratic[0] = 0.0;
                }
            }
        }
        let all = |sides: &[[Quadratic; 2]; 2], zero: &dyn Fn(&Quadratic, usize) -> bool| {
            sides
                .iter()
                .all(|of| of.iter().enumerate().all(|(k, of)| zero(of, k)))
        };
        if all(&sides, &|of, k| tiny(of[0], k)) {
            sides = sides.map(|of| of.map(|[_, b, c]| [b, c, 0.0]));
        }
        if all(&sides, &|of, k| tiny(value(*of, 1.0), k)) {
            // (1 - x)(p + q x) = p + (q - p) x - q x^2.
            sides = sides.map(|of| of.map(|[a, _, c]| [a, -c, 0.0]));
        }
        let [above, below] = sides;
        Self { above, below }
    }

    /// The reading at a position (0 ground end, 1 far end), a fraction of the reference, not held inside 0 ..= 1.
    pub fn ratio(&self, position: f64, severity: f64) -> f64 {
        let at = |of: &[Quadratic; 2]| value(of[0], position) + severity * value(of[1], position);
        at(&self.above) / at(&self.below)
    }

    /// Where a good control, between two positions, reads `ratio`: the nearer end when it reads so nowhere.
    pub fn position_of(&self, ratio: f64, from: f64, to: f64) -> f64 {
        let [a, b] = [from, to].map(|position| self.ratio(position, 1.0));
        let (inside, nearer) = if a < b {
            (a < ratio && ratio < b, if ratio <= a { from } else { to })
        } else {
            (b < ratio && ratio < a, if ratio >= a { from } else { to })
        };
        if !inside {
            return nearer;
        }
        let [c, b, a] = [0, 1, 2].map(|k| self.above[0][k] - ratio * self.below[0][k]);
        let root = (b * b - 4.0 * a * c).max(0.0).sqrt();
        // The stable form: never the difference of two like numbers.
        let half = -0.5 * (b + root.copysign(b));
        let middle = f64::midpoint(from, to);
        let nearest = [half / a, c / half].into_iter().filter(|x| x.is_finite());
        nearest
            .min_by(|x, y| (x - middle).abs().total_cmp(&(y - middle).abs()))
            .unwrap_or(middle)
            .clamp(from.min(to), from.max(to))
    }
}

#[cfg(test)]
mod tests {
    use super::super::faults;
    use super::super::network::Wiring;
    use super::*;

    const NETWORKS: [&str; 6] = [
        r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":20000}"#,
        r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":22000,"end_low_ohm":820,"end_high_ohm":390,"pull_up_ohm":150000,
            "pull_down_ohm":82000,"series_ohm":4700,"load_ohm":330000,"rest_at":0.9,"full_at":0.15}"#,
        r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700}"#,
        r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":5000,"end_low_ohm":330,"pull_up_ohm":2200,"pull_down_ohm":68000,
            "divider_top_ohm":10000,"divider_bottom_ohm":33000,"series_ohm":1000,"load_ohm":1000000}"#,
        r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84,"pull_down_ohm":100000,"sensor_ohm":700}"#,
        r#"{"network":"buffered","output_ohm":680,"low_ratio":0.05,"high_ratio":0.45,"pull_up_ohm":10000,
            "reference_mv":3300,"load_ohm":100000}"#,
    ];

    /// The formula is the circuit: against a solution at each place and severity, ends and corners of severity included.
    #[test]
    fn a_sweep_is_every_solution() {
        let mut held = 0;
        for text in NETWORKS {
            let wiring: Wiring = serde_json::from_str(text).unwrap();
            let hookup = Hookup::new(wiring, 5000.0, 10).unwrap();
            let all = faults::list(&wiring).into_iter().map(Some).chain([None]);
            for fault in all {
                let sweep = FaultSweep::of(&hookup, fault);
                let severities = fault.and_then(Fault::severities).map_or(vec![1.0], |of| {
                    vec![
                        of.mild,
                        (of.mild * of.severe).sqrt().copysign(of.mild),
                        of.severe,
                    ]
                });
                for severity in severities {
                    let bad = fault.map(|fault| fault.as_bad_as(severity));
                    for position in [0.0, 1e-3, 0.13, 0.5, 0.77, 1.0] {
                        let (want, got) =
                            (hookup.pin_at(position, bad), sweep.pin(position, severity));
                        let message =
                            format!("{text}\n{bad:?} at {position}: {got:?}, not {want:?}");
                        match (want, got) {
                            (Pin::Ratio(want), Pin::Ratio(got)) => {
                                assert!((want - got).abs() < 1e-9, "{message}");
                            }
                            // At the very end of a track a short can take the supply down.
                            (Pin::Collapsed, Pin::Ratio(_))
                                if position == 0.0 || position == 1.0 => {}
                            _ => assert_eq!(want, got, "{message}"),
                        }
                        held += 1;
                    }
                }
            }
        }
        assert!(held > 1300, "{held}");
    }

    #[test]
    fn positions_come_back() {
        for text in NETWORKS {
            let wiring: Wiring = serde_json::from_str(text).unwrap();
            let hookup = Hookup::new(wiring, 3300.0, 10).unwrap();
            let sweep = good(&hookup).unwrap();
            let (from, to) = (wiring.rest_position(), wiring.full_position());
            for travel in [0.0, 0.01, 0.3, 0.5, 0.9, 1.0] {
                let position = from + (to - from) * travel;
                let back = sweep.position_of(sweep.ratio(position, 1.0), from, to);
                assert!((back - position).abs() < 1e-9, "{text}: {position} {back}");
            }
            let rising = sweep.ratio(to, 1.0) > sweep.ratio(from, 1.0);
            let beyond = sweep.position_of(2.0, from, to);
            assert!((beyond - if rising { to } else { from }).abs() < 1e-12);
        }
    }
}
