//! One track on its supply and its board: what the pin reads, nominally and at the corners of the tolerances.

use super::circuit::CircuitError;
use super::fraction::fraction;
use super::network::Wiring;
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

    /// Half a code as a fraction of the reference: what rounding takes.
    pub(super) fn half_code(&self) -> f64 {
        0.5 / f64::from(self.scale.codes())
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
        fraction(volts * 1000.0 / self.scale.vref_mv())
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

    /// The same with one thing off by a part of its tolerance, -1 to 1.
    #[must_use]
    pub(super) fn turned(&self, knob: Knob, by: f64) -> Self {
        let mut unit = *self;
        let wiring = &mut unit.wiring;
        match knob {
            Knob::Part(part, spread) => {
                if let Some(ohm) = wiring.ohm_mut(part) {
                    *ohm *= 1.0 + by * spread;
                }
            }
            Knob::SensorLow(spread) => {
                if let Some(sensor) = wiring.network.sensor_mut() {
                    let low = sensor.drive_ends().0;
                    sensor.low_ratio = Some((low + by * spread).clamp(0.0, 1.0));
                }
            }
            Knob::SensorHigh(spread) => {
                if let Some(sensor) = wiring.network.sensor_mut() {
                    let high = sensor.drive_ends().1;
                    sensor.high_ratio = Some((high + by * spread).clamp(0.0, 1.0));
                }
            }
            Knob::Supply(spread) => unit.supply_mv *= 1.0 + by * spread,
        }
        unit
    }

    /// Everything with a tolerance that moves the reading.
    pub(super) fn knobs(&self) -> Vec<Knob> {
        let w = &self.wiring;
        let mut knobs: Vec<Knob> = Resistor::ALL
            .into_iter()
            .filter(|part| w.ohm(*part).is_some())
            .map(|part| Knob::Part(part, tolerance(w, part)))
            .collect();
        let sensor = w.network.sensor();
        if let Some(pct) = sensor.and_then(|sensor| sensor.ratio_tolerance_pct) {
            knobs.extend([Knob::SensorLow(pct / 100.0), Knob::SensorHigh(pct / 100.0)]);
        }
        if let Some(pct) = w.supply_tolerance_pct() {
            knobs.push(Knob::Supply(pct / 100.0));
        }
        knobs.retain(|knob| knob.spread() > 0.0);
        knobs
    }
}

/// One thing that has a tolerance, with it as a share of its value (of a sensor: of its supply).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Knob {
    Part(Resistor, f64),
    SensorLow(f64),
    SensorHigh(f64),
    Supply(f64),
}

impl Knob {
    fn spread(self) -> f64 {
        match self {
            Self::Part(_, spread)
            | Self::SensorLow(spread)
            | Self::SensorHigh(spread)
            | Self::Supply(spread) => spread,
        }
    }
}

/// Tolerance of a resistor as far as it moves the reading, as a share.
fn tolerance(wiring: &Wiring, part: Resistor) -> f64 {
    let general = wiring.tolerance_pct.unwrap_or(0.0) / 100.0;
    match part {
        Resistor::Track => {
            let own = wiring.network.track().and_then(|track| track.tolerance_pct);
            own.map_or(general, |pct| pct / 100.0)
        }
        Resistor::Output if !wiring.is_loaded() => 0.0,
        Resistor::Series if wiring.load_ohm.is_none() => 0.0,
        _ => general,
    }
}

#[cfg(test)]
mod tests {
    use super::super::network::Reference;
    use super::*;

    fn dial(tolerance: f64, track: f64) -> Hookup {
        let text = format!(
            r#"{{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":{tolerance},
                "track_tolerance_pct":{track}}}"#
        );
        Hookup::new(serde_json::from_str(&text).unwrap(), 5000.0, 10).unwrap()
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
                supply_is_reference: false,
                ..*own.wiring()
            })
            .unwrap();
        assert_eq!(apart.pin(0.5, fault), Pin::Ratio(0.0));
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
