//! The ruler: how a board turns volts into codes.

use super::{Code, Volts};
use std::ops::RangeInclusive;
use thiserror::Error;

/// References that a converter can have, millivolts: from far below any part to far above any.
pub const REFERENCE_MV: RangeInclusive<f64> = 1.0..=1e6;

/// Resolution and reference of a board's ADC.
///
/// `bits` is 1 ..= 24, `vref_mv` within [`REFERENCE_MV`]: enforced by [`Scale::new`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    bits: u8,
    vref_mv: f64,
}

/// Why a board's scale was refused.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum ScaleError {
    /// Resolution outside 1 ..= 24 bits.
    #[error("{0} bits is no resolution this program knows: state 1 to 24")]
    Bits(u32),
    /// Reference outside [`REFERENCE_MV`].
    #[error("{} mV is no reference: state millivolts from 1 to 1000000, e.g. 5000", shortly(*.0))]
    Reference(f64),
}

/// With its exponent where a person would not count the zeros.
fn shortly(value: f64) -> String {
    match value.abs() {
        size if size <= 0.0 || (1e-3..1e9).contains(&size) => value.to_string(),
        _ => format!("{value:e}"),
    }
}

impl Scale {
    /// A scale of `bits` (1 ..= 24) with a reference of `vref_mv` millivolts ([`REFERENCE_MV`]).
    ///
    /// # Errors
    /// When either lies outside its range.
    pub fn new(bits: u32, vref_mv: f64) -> Result<Self, ScaleError> {
        let narrow = u8::try_from(bits).map_err(|_| ScaleError::Bits(bits))?;
        if !(1..=24).contains(&narrow) {
            return Err(ScaleError::Bits(bits));
        }
        if !REFERENCE_MV.contains(&vref_mv) {
            return Err(ScaleError::Reference(vref_mv));
        }
        Ok(Self {
            bits: narrow,
            vref_mv,
        })
    }

    /// Resolution in bits.
    #[must_use]
    pub fn bits(self) -> u8 {
        self.bits
    }

    /// ADC reference in millivolts.
    #[must_use]
    pub fn vref_mv(self) -> f64 {
        self.vref_mv
    }

    /// Number of codes, `2^bits`: the divisor of every ratio.
    #[must_use]
    pub fn codes(self) -> u32 {
        1 << self.bits
    }

    /// The largest code, `2^bits - 1`.
    #[must_use]
    pub fn max_code(self) -> Code {
        Code(self.codes() - 1)
    }

    /// What the board should read: `round(V / Vref * 2^bits)`, held inside `0 ..= 2^bits - 1`.
    ///
    /// Source: common practice, no source (0.8 V and 4.2 V on 10 bits and 5 V give 164 and 860). NaN reads 0.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to 0 ..= 2^24 first
    pub fn code(self, volts: Volts) -> Code {
        let exact = volts.0 * 1000.0 / self.vref_mv * f64::from(self.codes());
        Code(exact.round().clamp(0.0, f64::from(self.max_code().0)) as u32)
    }

    /// The voltage at the middle of a code's step.
    #[must_use]
    pub fn volts(self, code: f64) -> Volts {
        Volts(code / f64::from(self.codes()) * self.vref_mv / 1000.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_commonly_seen_pedal_on_ten_bits_and_five_volts() {
        // Common practice, no source: 0.8 V released, 4.2 V pressed; code = V/Vref x 1024, rounded.
        let scale = Scale::new(10, 5000.0).unwrap();
        assert_eq!(scale.code(Volts(0.8)), Code(164));
        assert_eq!(scale.code(Volts(4.2)), Code(860));
    }

    #[test]
    fn codes_stay_on_the_ruler() {
        let scale = Scale::new(10, 5000.0).unwrap();
        assert_eq!(scale.code(Volts(-0.1)), Code(0));
        assert_eq!(scale.code(Volts(5.0)), Code(1023));
        assert_eq!(scale.code(Volts(f64::INFINITY)), Code(1023));
        assert_eq!(scale.code(Volts(f64::NAN)), Code(0));
    }

    #[test]
    fn nonsense_rulers_are_refused() {
        assert_eq!(Scale::new(0, 5000.0), Err(ScaleError::Bits(0)));
        assert_eq!(Scale::new(25, 5000.0), Err(ScaleError::Bits(25)));
        for none in [
            0.0,
            1e-320,
            0.999,
            1.000_001e6,
            1e308,
            f64::INFINITY,
            f64::NAN,
        ] {
            assert!(Scale::new(10, none).is_err(), "{none}");
        }
        assert!(Scale::new(10, 1.0).is_ok() && Scale::new(10, 1e6).is_ok());
    }
}
