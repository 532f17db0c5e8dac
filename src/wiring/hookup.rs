//! One track on its supply and its board: what the pin reads, nominally and at the corners of the tolerances.
//!
//! Belongs here: volts to fractions of the reference, tolerance corners, the nominal curve and its inverse.
//! Does not belong here: tables for people (`reading`), faults' consequences (`faults`).

use super::circuit::CircuitError;
use super::{Fault, NetworkKind, Wiring, WiringError};
use measure::units::{Scale, ScaleError, Volts};
use thiserror::Error;

/// Why a hookup was refused.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum HookupError {
    /// The wiring cannot be.
    #[error(transparent)]
    Wiring(#[from] WiringError),
    /// The board's ruler cannot be.
    #[error(transparent)]
    Scale(#[from] ScaleError),
    /// A supply that is not a positive number of millivolts.
    #[error("a supply of {0} mV cannot be: state the control's supply in millivolts, e.g. 5000")]
    Supply(f64),
}

/// What stands at the ADC's pin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pin {
    /// A fraction of the ADC's reference, held inside 0 ..= 1 as the ADC does.
    Ratio(f64),
    /// Nothing holds the pin: the reading is anybody's guess.
    Floats,
    /// The supply, which is also the reference, is shorted: there is no reading.
    Collapsed,
}

impl Pin {
    /// The fraction, if there is one.
    #[must_use]
    pub fn ratio(self) -> Option<f64> {
        match self {
            Self::Ratio(ratio) => Some(ratio),
            Self::Floats | Self::Collapsed => None,
        }
    }
}

/// A wiring on its supply and its ruler. Checked when made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hookup {
    wiring: Wiring,
    supply_mv: f64,
    scale: Scale,
}

impl Hookup {
    /// A track wired as `wiring` on `supply_mv`, read with `bits`. The reference is the wiring's own, else the supply.
    ///
    /// # Errors
    /// When the wiring, the supply or the bits cannot be.
    pub fn new(wiring: Wiring, supply_mv: f64, bits: u32) -> Result<Self, HookupError> {
        wiring.check()?;
        if !(supply_mv.is_finite() && supply_mv > 0.0) {
            return Err(HookupError::Supply(supply_mv));
        }
        let scale = Scale::new(bits, wiring.reference_mv.unwrap_or(supply_mv))?;
        Ok(Self {
            wiring,
            supply_mv,
            scale,
        })
    }

    /// The wiring.
    #[must_use]
    pub fn wiring(&self) -> &Wiring {
        &self.wiring
    }

    /// The control's supply in millivolts.
    #[must_use]
    pub fn supply_mv(&self) -> f64 {
        self.supply_mv
    }

    /// The board's ruler.
    #[must_use]
    pub fn scale(&self) -> Scale {
        self.scale
    }

    /// Whether the supply is also the ADC's reference, so that its value cancels.
    #[must_use]
    pub fn ratiometric(&self) -> bool {
        self.wiring.reference_mv.is_none()
    }

    /// The same hookup with another wiring, e.g. one resistor more.
    ///
    /// # Errors
    /// When that wiring cannot be.
    pub fn with(&self, wiring: Wiring) -> Result<Self, HookupError> {
        Self::new(wiring, self.supply_mv, u32::from(self.scale.bits()))
    }

    /// The position on the track at a travel.
    fn position(&self, travel: f64) -> f64 {
        let (from, to) = (self.wiring.rest_position(), self.wiring.full_position());
        from + (to - from) * travel
    }

    /// Volts at the pin, before the ADC cuts them to its range.
    ///
    /// # Errors
    /// As [`super::circuit::Circuit::solve`].
    pub fn volts(&self, travel: f64, fault: Option<Fault>) -> Result<Option<f64>, CircuitError> {
        let supply = self.supply_mv / 1000.0;
        self.wiring.schematic(supply, travel, fault).pin_volts()
    }

    /// What the ADC sees at `travel` (0 rest, 1 full).
    ///
    /// A shorted supply leaves no reading when it is the reference too; else the pin is read with the supply at 0 V.
    #[must_use]
    pub fn pin(&self, travel: f64, fault: Option<Fault>) -> Pin {
        self.pin_at(self.position(travel), fault)
    }

    /// What the ADC sees at a position on the track (0 ground end, 1 far end).
    #[must_use]
    pub fn pin_at(&self, position: f64, fault: Option<Fault>) -> Pin {
        let read = |supply: f64| {
            self.wiring
                .schematic_at(supply, position, fault, super::Imperfection::default())
                .pin_volts()
        };
        let volts = match read(self.supply_mv / 1000.0) {
            Ok(volts) => volts,
            Err(_) if self.ratiometric() => return Pin::Collapsed,
            Err(_) => match read(0.0) {
                Ok(volts) => volts,
                Err(_) => return Pin::Collapsed,
            },
        };
        volts.map_or(Pin::Floats, |volts| {
            Pin::Ratio((volts * 1000.0 / self.scale.vref_mv()).clamp(0.0, 1.0))
        })
    }

    /// The resistance that the pin sees looking out, without its own load, in ohms.
    #[must_use]
    pub fn source_ohm(&self, travel: f64) -> Option<f64> {
        let outside = Wiring {
            load_ohm: None,
            ..self.wiring
        };
        let schematic = outside.schematic(self.supply_mv / 1000.0, travel, None);
        schematic.circuit.source_ohm(schematic.pin).ok().flatten()
    }

    /// The code of a fraction of the reference.
    #[must_use]
    pub fn code(&self, ratio: f64) -> u32 {
        let volts = ratio * self.scale.vref_mv() / 1000.0;
        self.scale.code(Volts(volts)).0
    }

    /// Every combination of each part at its lowest and its highest value; the nominal hookup alone when nothing has a
    /// tolerance.
    ///
    /// A divider of resistors is monotone in each of them, so the extremes of a reading stand among these corners. A track with
    /// three wires and something that loads its wiper is two resistors that change together: there the extreme can
    /// stand between, so its track takes five values; what is then missed is less than 1e-4 of the reference, 0.1 code of 10
    /// bits (by search; 1e-3 with the two ends alone).
    #[must_use]
    pub fn corners(&self) -> Vec<Self> {
        let mut corners = vec![*self];
        let w = &self.wiring;
        let tolerance = w.tolerance_pct.unwrap_or(0.0) / 100.0;
        let track = w.track_tolerance_pct.map_or(tolerance, |pct| pct / 100.0);
        let loaded = w.pull_up_ohm.is_some()
            || w.pull_down_ohm.is_some()
            || w.divider_top_ohm.is_some()
            || w.load_ohm.is_some();
        let output = if loaded { tolerance } else { 0.0 };
        let series = if w.load_ohm.is_some() { tolerance } else { 0.0 };
        let of_track: &[f64] = if loaded && w.network == NetworkKind::ThreeWire {
            &FIVE
        } else {
            &ENDS
        };
        let members: [(Member, f64, &[f64]); 9] = [
            (|w| &mut w.track_ohm, track, of_track),
            (|w| &mut w.end_low_ohm, tolerance, &ENDS),
            (|w| &mut w.end_high_ohm, tolerance, &ENDS),
            (|w| &mut w.output_ohm, output, &ENDS),
            (|w| &mut w.pull_up_ohm, tolerance, &ENDS),
            (|w| &mut w.pull_down_ohm, tolerance, &ENDS),
            (|w| &mut w.divider_top_ohm, tolerance, &ENDS),
            (|w| &mut w.divider_bottom_ohm, tolerance, &ENDS),
            (|w| &mut w.series_ohm, series, &ENDS),
        ];
        for (member, spread, signs) in members {
            let stated = member(&mut self.wiring.clone()).is_some();
            if stated && spread > 0.0 {
                fork(&mut corners, signs, |corner, sign| {
                    if let Some(ohm) = member(&mut corner.wiring) {
                        *ohm *= 1.0 + sign * spread;
                    }
                });
            }
        }
        if let (NetworkKind::Buffered, Some(pct)) = (w.network, w.ratio_tolerance_pct) {
            let (low, high) = w.drive_ends();
            fork(&mut corners, &ENDS, |corner, sign| {
                corner.wiring.low_ratio = Some((low + sign * pct / 100.0).clamp(0.0, 1.0));
            });
            fork(&mut corners, &ENDS, |corner, sign| {
                corner.wiring.high_ratio = Some((high + sign * pct / 100.0).clamp(0.0, 1.0));
            });
        }
        if let Some(pct) = w.supply_tolerance_pct {
            fork(&mut corners, &ENDS, |corner, sign| {
                corner.supply_mv *= 1.0 + sign * pct / 100.0;
            });
        }
        corners
    }

    /// The nominal reading over travel.
    #[must_use]
    pub fn curve(&self) -> Curve {
        let ratios = (0..=Curve::STEPS)
            .filter_map(|k| {
                self.pin(f64::from(k) / f64::from(Curve::STEPS), None)
                    .ratio()
            })
            .collect();
        Curve(ratios)
    }
}

/// A way to one member of a wiring.
type Member = fn(&mut Wiring) -> &mut Option<f64>;

/// Parts of a tolerance: its ends, and five values over it.
const ENDS: [f64; 2] = [-1.0, 1.0];
const FIVE: [f64; 5] = [-1.0, -0.5, 0.0, 0.5, 1.0];

/// Multiplies the corners: each once with each part of the change.
fn fork(corners: &mut Vec<Hookup>, signs: &[f64], change: impl Fn(&mut Hookup, f64)) {
    let before = std::mem::take(corners);
    for sign in signs {
        corners.extend(before.iter().map(|corner| {
            let mut corner = *corner;
            change(&mut corner, *sign);
            corner
        }));
    }
}

/// The nominal reading at evenly spaced travels from 0 to 1, as fractions of the reference: monotone.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve(Vec<f64>);

impl Curve {
    /// Pieces of the curve: 1 % of travel each, straight in between.
    const STEPS: u32 = 100;

    /// Reading at full minus reading at rest.
    #[must_use]
    pub fn span(&self) -> f64 {
        match (self.0.first(), self.0.last()) {
            (Some(rest), Some(full)) => full - rest,
            _ => 0.0,
        }
    }

    /// The reading at a travel, 0 to 1; `None` outside.
    #[must_use]
    pub fn at(&self, travel: f64) -> Option<f64> {
        if !(0.0..=1.0).contains(&travel) {
            return None;
        }
        let exact = travel * f64::from(Self::STEPS);
        let whole = exact.floor();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 to STEPS
        let k = whole as usize;
        let here = *self.0.get(k)?;
        let next = self.0.get(k + 1).copied().unwrap_or(here);
        Some(here + (next - here) * (exact - whole))
    }

    /// The travel at which a good control reads `ratio`, held inside 0 ..= 1: what the board takes a reading for.
    #[must_use]
    #[allow(clippy::cast_precision_loss)] // a few hundred points
    pub fn travel_of(&self, ratio: f64) -> f64 {
        let sign = self.span().signum();
        let pieces = self.0.len().saturating_sub(1).max(1) as f64;
        let target = ratio * sign;
        for (k, pair) in self.0.windows(2).enumerate() {
            let (a, b) = (pair[0] * sign, pair[1] * sign);
            if target <= b {
                let part = if b > a { (target - a) / (b - a) } else { 0.0 };
                return ((k as f64 + part.max(0.0)) / pieces).clamp(0.0, 1.0);
            }
        }
        1.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dial(tolerance: f64, track: f64) -> Hookup {
        let wiring = Wiring {
            track_ohm: Some(10_000.0),
            pull_up_ohm: Some(4700.0),
            tolerance_pct: Some(tolerance),
            track_tolerance_pct: Some(track),
            ..Wiring::of(NetworkKind::Rheostat)
        };
        Hookup::new(wiring, 5000.0, 10).unwrap()
    }

    #[test]
    fn corners_of_a_rheostat_by_hand() {
        // Reference 07, rheostat_corners: 4.7 k +-1 %, 10 k +-20 %, at half travel.
        let ratios: Vec<f64> = dial(1.0, 20.0)
            .corners()
            .iter()
            .map(|corner| corner.pin(0.5, None).ratio().unwrap())
            .collect();
        assert_eq!(ratios.len(), 4);
        let low = ratios.iter().copied().fold(f64::INFINITY, f64::min);
        let high = ratios.iter().copied().fold(0.0, f64::max);
        assert!((low - 0.457_299_645_592_774_64).abs() < 1e-12, "{low}");
        assert!((high - 0.563_221_627_710_504_1).abs() < 1e-12, "{high}");
    }

    #[test]
    fn nothing_with_a_tolerance_is_one_corner() {
        let wiring = Wiring {
            track_ohm: Some(20_000.0),
            ..Wiring::of(NetworkKind::ThreeWire)
        };
        let hookup = Hookup::new(wiring, 5000.0, 10).unwrap();
        assert_eq!(hookup.corners(), vec![hookup]);
    }

    #[test]
    fn the_curve_gives_back_travel_rising_and_falling() {
        let rising = dial(1.0, 20.0);
        let falling = rising
            .with(Wiring {
                rest_at: Some(1.0),
                full_at: Some(0.0),
                ..*rising.wiring()
            })
            .unwrap();
        for hookup in [rising, falling] {
            let curve = hookup.curve();
            for travel in [0.0, 0.123, 0.5, 0.777, 1.0] {
                let ratio = hookup.pin(travel, None).ratio().unwrap();
                let back = curve.travel_of(ratio);
                assert!((back - travel).abs() < 1e-4, "{travel} came back as {back}");
            }
        }
        assert!((rising.curve().travel_of(2.0) - 1.0).abs() < 1e-12);
        assert!(rising.curve().travel_of(-1.0).abs() < 1e-12);
    }

    #[test]
    fn a_shorted_supply_with_its_own_reference_reads_zero_and_without_has_no_reading() {
        let fault = Some(Fault::Short(
            super::super::Wire::Supply,
            super::super::Wire::Ground,
        ));
        let own = dial(1.0, 20.0);
        assert_eq!(own.pin(0.5, fault), Pin::Collapsed);
        let apart = own
            .with(Wiring {
                reference_mv: Some(3300.0),
                ..*own.wiring()
            })
            .unwrap();
        assert_eq!(apart.pin(0.5, fault), Pin::Ratio(0.0));
    }

    proptest::proptest! {
        /// Units anywhere inside the tolerances read inside the corners' band, good or with any one fault; of a loaded track, whose
        /// extremes may stand between the values that are tried, within 1e-4 of it ([`Hookup::corners`]).
        #[test]
        fn corners_hold_every_unit_between_them(
            off in proptest::collection::vec(-1.0_f64..1.0, 6), travel in 0.0_f64..1.0, rheostat: bool, fault in 0_usize..20,
        ) {
            let text = if rheostat {
                r#"{"network":"rheostat","track_ohm":10000,"end_low_ohm":220,"pull_up_ohm":4700,"pull_down_ohm":100000,
                    "series_ohm":1000,"load_ohm":1000000,"tolerance_pct":5,"track_tolerance_pct":20}"#
            } else {
                r#"{"network":"three-wire","track_ohm":20000,"end_low_ohm":1500,"end_high_ohm":1000,"pull_down_ohm":100000,
                    "series_ohm":4700,"load_ohm":470000,"tolerance_pct":10,"track_tolerance_pct":20}"#
            };
            let wiring: Wiring = serde_json::from_str(text).unwrap();
            let hookup = Hookup::new(wiring, 5000.0, 10).unwrap();
            let fault = super::super::faults::list(&wiring).get(fault).copied();
            let spread = |ohm: Option<f64>, off: f64, pct: f64| ohm.map(|ohm| ohm * (1.0 + off * pct / 100.0));
            let parts = wiring.tolerance_pct.unwrap();
            let unit = hookup.with(Wiring {
                track_ohm: spread(wiring.track_ohm, off[0], 20.0),
                end_low_ohm: spread(wiring.end_low_ohm, off[1], parts),
                end_high_ohm: spread(wiring.end_high_ohm, off[2], parts),
                pull_up_ohm: spread(wiring.pull_up_ohm, off[3], parts),
                pull_down_ohm: spread(wiring.pull_down_ohm, off[4], parts),
                series_ohm: spread(wiring.series_ohm, off[5], parts),
                ..wiring
            }).unwrap();
            if let Some(ratio) = unit.pin(travel, fault).ratio() {
                let all: Vec<f64> = hookup.corners().iter().filter_map(|c| c.pin(travel, fault).ratio()).collect();
                let low = all.iter().copied().fold(f64::INFINITY, f64::min);
                let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                let missed = if rheostat { 1e-12 } else { 1e-4 };
                proptest::prop_assert!(ratio >= low - missed && ratio <= high + missed, "{ratio} outside {low}..{high}");
            }
        }
    }

    /// What a search of 3000 units a fault found: with 20 % of track and a loaded wiper the highest reading belongs to a track
    /// between its ends, by up to 1e-3 of the reference.
    #[test]
    fn the_extreme_of_a_loaded_track_can_stand_between_its_ends() {
        let text = r#"{"network":"three-wire","track_ohm":20000,"end_high_ohm":1000,"pull_down_ohm":100000,
            "load_ohm":470000,"tolerance_pct":10,"track_tolerance_pct":20}"#;
        let wiring: Wiring = serde_json::from_str(text).unwrap();
        let corners = Hookup::new(wiring, 5000.0, 10).unwrap().corners();
        // Track, end, pull-down; nobody measures a tolerance of the load.
        assert!(corners.len().is_multiple_of(5));
        let most = |ohms: &[f64], travel: f64| {
            let here = corners.iter().filter(|corner| {
                let track = corner.wiring().track_ohm.unwrap();
                ohms.iter().any(|ohm| (track - ohm).abs() < 1e-6)
            });
            here.filter_map(|corner| corner.pin(travel, None).ratio())
                .fold(f64::NEG_INFINITY, f64::max)
        };
        let beyond = (0..=20).map(|step| {
            let travel = f64::from(step) / 20.0;
            let five = [16_000.0, 18_000.0, 20_000.0, 22_000.0, 24_000.0];
            most(&five, travel) - most(&[16_000.0, 24_000.0], travel)
        });
        let beyond = beyond.fold(0.0, f64::max);
        assert!((1e-4..2e-3).contains(&beyond), "{beyond}");
    }

    #[test]
    fn nonsense_is_refused() {
        let wiring = *dial(1.0, 20.0).wiring();
        assert!(matches!(
            Hookup::new(wiring, 0.0, 10),
            Err(HookupError::Supply(_))
        ));
        assert!(matches!(
            Hookup::new(wiring, 5000.0, 0),
            Err(HookupError::Scale(_))
        ));
        assert!(matches!(
            Hookup::new(Wiring::of(NetworkKind::Buffered), 5000.0, 10),
            Err(HookupError::Wiring(_))
        ));
    }
}
