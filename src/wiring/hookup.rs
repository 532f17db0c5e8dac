//! One track on its supply and its board: what the pin reads, nominally and at the corners of the tolerances.

use super::circuit::CircuitError;
use super::curve::Curve;
use super::network::{Network, Wiring};
use super::parts::{Fault, Resistor};
use super::schematic::Parasitics;
use super::text::WiringError;
use measure::units::{Scale, ScaleError, Volts};
use thiserror::Error;

#[derive(Debug, Clone, PartialEq, Error)]
pub enum HookupError {
    #[error(transparent)]
    Wiring(#[from] WiringError),
    #[error(transparent)]
    Scale(#[from] ScaleError),
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
    pub fn ratio(self) -> Option<f64> {
        match self {
            Self::Ratio(ratio) => Some(ratio),
            Self::Floats | Self::Collapsed => None,
        }
    }
}

/// A wiring on its supply and its ADC. Checked when made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hookup {
    wiring: Wiring,
    supply_mv: f64,
    scale: Scale,
}

impl Hookup {
    /// A track wired as `wiring` on `supply_mv`, read with `bits`. The reference is the wiring's own, else the supply.
    pub fn new(wiring: Wiring, supply_mv: f64, bits: u32) -> Result<Self, HookupError> {
        wiring.check()?;
        if !(supply_mv.is_finite() && supply_mv > 0.0) {
            return Err(HookupError::Supply(supply_mv));
        }
        let scale = Scale::new(
            bits,
            wiring.reference.map_or(supply_mv, |reference| reference.mv),
        )?;
        Ok(Self {
            wiring,
            supply_mv,
            scale,
        })
    }

    pub fn wiring(&self) -> &Wiring {
        &self.wiring
    }

    pub fn supply_mv(&self) -> f64 {
        self.supply_mv
    }

    pub fn scale(&self) -> Scale {
        self.scale
    }

    /// Whether the supply is also the ADC's reference, so that its value cancels.
    pub fn ratiometric(&self) -> bool {
        self.wiring.reference.is_none()
    }

    /// The same hookup with another wiring, e.g. one resistor more.
    pub fn with(&self, wiring: Wiring) -> Result<Self, HookupError> {
        Self::new(wiring, self.supply_mv, u32::from(self.scale.bits()))
    }

    /// Volts at the pin, before the ADC cuts them to its range.
    pub fn volts(&self, travel: f64, fault: Option<Fault>) -> Result<Option<f64>, CircuitError> {
        let supply = self.supply_mv / 1000.0;
        self.wiring.schematic(supply, travel, fault).pin_volts()
    }

    /// What the ADC sees at `travel` (0 rest, 1 full).
    ///
    /// A shorted supply leaves no reading when it is the reference too; else the pin is read with the supply at 0 V.
    pub fn pin(&self, travel: f64, fault: Option<Fault>) -> Pin {
        self.pin_at(self.wiring.position(travel), fault)
    }

    /// What the ADC sees at a position on the track (0 ground end, 1 far end).
    pub fn pin_at(&self, position: f64, fault: Option<Fault>) -> Pin {
        let read = |supply: f64| {
            self.wiring
                .schematic_at(supply, position, fault, Parasitics::default())
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
        volts.map_or(Pin::Floats, |volts| Pin::Ratio(self.ratio(volts)))
    }

    /// Volts at the pin as a fraction of the reference, held inside 0 ..= 1 as the ADC does.
    pub(super) fn ratio(&self, volts: f64) -> f64 {
        (volts * 1000.0 / self.scale.vref_mv()).clamp(0.0, 1.0)
    }

    /// The resistance that the pin sees looking out, without its own load, in ohms.
    pub fn source_ohm(&self, travel: f64) -> Option<f64> {
        let outside = Wiring {
            load_ohm: None,
            ..self.wiring
        };
        let schematic = outside.schematic(self.supply_mv / 1000.0, travel, None);
        schematic.circuit.source_ohm(schematic.pin).ok().flatten()
    }

    /// The code of a fraction of the reference.
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
    pub fn corners(&self) -> Vec<Self> {
        let mut corners = vec![*self];
        let w = &self.wiring;
        for part in Resistor::ALL {
            let (spread, signs) = tolerance(w, part);
            if w.ohm(part).is_some() && spread > 0.0 {
                fork(&mut corners, signs, |corner, sign| {
                    if let Some(ohm) = corner.wiring.ohm_mut(part) {
                        *ohm *= 1.0 + sign * spread;
                    }
                });
            }
        }
        if let Some((sensor, pct)) = w
            .network
            .sensor()
            .and_then(|sensor| Some((sensor, sensor.ratio_tolerance_pct?)))
        {
            let (low, high) = sensor.drive_ends();
            let moved = |ratio: f64, sign: f64| Some((ratio + sign * pct / 100.0).clamp(0.0, 1.0));
            fork(&mut corners, &ENDS, |corner, sign| {
                if let Some(sensor) = corner.wiring.network.sensor_mut() {
                    sensor.low_ratio = moved(low, sign);
                }
            });
            fork(&mut corners, &ENDS, |corner, sign| {
                if let Some(sensor) = corner.wiring.network.sensor_mut() {
                    sensor.high_ratio = moved(high, sign);
                }
            });
        }
        if let Some(pct) = w.supply_tolerance_pct() {
            fork(&mut corners, &ENDS, |corner, sign| {
                corner.supply_mv *= 1.0 + sign * pct / 100.0;
            });
        }
        corners
    }

    /// The nominal reading over travel.
    pub fn curve(&self) -> Curve {
        Curve::of(|travel| self.pin(travel, None).ratio())
    }
}

/// Parts of a tolerance: its ends, and five values over it.
const ENDS: [f64; 2] = [-1.0, 1.0];
const FIVE: [f64; 5] = [-1.0, -0.5, 0.0, 0.5, 1.0];

/// Tolerance of a resistor as far as it moves the reading, as a share, and the parts of it that are tried.
fn tolerance(wiring: &Wiring, part: Resistor) -> (f64, &'static [f64]) {
    let general = wiring.tolerance_pct.unwrap_or(0.0) / 100.0;
    let loaded = wiring.is_loaded();
    match (part, &wiring.network) {
        (Resistor::Track, network) => {
            let own = network.track().and_then(|track| track.tolerance_pct);
            let three_wire = matches!(network, Network::ThreeWire { .. });
            let signs: &[f64] = if loaded && three_wire { &FIVE } else { &ENDS };
            (own.map_or(general, |pct| pct / 100.0), signs)
        }
        (Resistor::Output, _) if !loaded => (0.0, &ENDS),
        (Resistor::Series, _) if wiring.load_ohm.is_none() => (0.0, &ENDS),
        _ => (general, &ENDS),
    }
}

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

#[cfg(test)]
mod tests {
    use super::super::network::Reference;
    use super::*;

    fn dial(tolerance: f64, track: f64) -> Hookup {
        let text = format!(
            r#"{{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":{tolerance},
                "track_tolerance_pct":{track}}}"#
        );
        Hookup::new(serde_json::from_str(&text).unwrap(), 5000.0, 10).unwrap()
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
        let wiring = r#"{"network":"three-wire","track_ohm":20000}"#;
        let hookup = Hookup::new(serde_json::from_str(wiring).unwrap(), 5000.0, 10).unwrap();
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
                reference: Some(Reference {
                    mv: 3300.0,
                    supply_tolerance_pct: None,
                }),
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
            let parts = [
                Resistor::Track, Resistor::EndLow, Resistor::EndHigh, Resistor::PullUp, Resistor::PullDown, Resistor::Series,
            ];
            let mut unit = wiring;
            for (part, off) in parts.into_iter().zip(&off) {
                let pct = if part == Resistor::Track { 20.0 } else { wiring.tolerance_pct.unwrap() };
                if let Some(ohm) = unit.ohm_mut(part) {
                    *ohm *= 1.0 + off * pct / 100.0;
                }
            }
            let unit = hookup.with(unit).unwrap();
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
                let track = corner.wiring().ohm(Resistor::Track).unwrap();
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
        let mut negative = wiring;
        *negative.ohm_mut(Resistor::Track).unwrap() = -1.0;
        assert!(matches!(
            Hookup::new(negative, 5000.0, 10),
            Err(HookupError::Wiring(_))
        ));
    }
}
