//! The board that samples: resolution, reference, rate, and what its own input does to a reading.

use measure::units::{Code, Scale, ScaleError};

/// What the board's own input is tied to, in place of the control.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tie {
    /// Ground: reads 0 on a perfect board.
    Ground,
    /// The ADC reference: reads full scale on a perfect board.
    Reference,
}

/// A dev board with its ADC.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Board {
    /// Resolution, 1 ..= 24 bits.
    pub bits: u32,
    /// ADC reference in millivolts.
    pub vref_mv: f64,
    /// Samples a second.
    pub rate_hz: f64,
    /// Board time of the first sample in microseconds. Near 2^32 the printed time soon wraps.
    pub start_us: u64,
    /// Added to every reading, in codes.
    pub offset_code: f64,
    /// Every reading is multiplied by this; 1 on a perfect board.
    pub gain: f64,
    /// Noise of the board's own input, standard deviation in codes before rounding.
    pub noise_rms_code: f64,
}

impl Default for Board {
    /// 10 bits, 5 V, 1 kHz, no errors of its own but a quarter code of noise.
    fn default() -> Self {
        Self {
            bits: 10,
            vref_mv: 5000.0,
            rate_hz: 1000.0,
            start_us: 0,
            offset_code: 0.0,
            gain: 1.0,
            noise_rms_code: 0.25,
        }
    }
}

impl Board {
    /// The ruler of this board.
    ///
    /// # Errors
    /// When its bits or its reference cannot be.
    pub fn scale(&self) -> Result<Scale, ScaleError> {
        Scale::new(self.bits, self.vref_mv)
    }

    /// Starts the clock so that the printed time wraps after `s` seconds.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // below 2^32
    #[must_use]
    pub fn wrapping_after(mut self, s: f64) -> Self {
        let wrap = 4_294_967_296.0;
        self.start_us = (wrap - (s * 1e6).clamp(0.0, wrap)).round() as u64;
        self
    }

    /// Reading before rounding, in codes, of an input that is `exact` codes.
    pub(super) fn bends(&self, exact: f64) -> f64 {
        exact * self.gain + self.offset_code
    }

    /// Board time of sample `n` in microseconds.
    #[allow(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss
    )] // 2^53 us is 285 years
    pub(super) fn time_us(&self, n: u64) -> u64 {
        self.start_us + (n as f64 * 1e6 / self.rate_hz).round() as u64
    }
}

/// Rounds a reading to the code that the board gives: [`Scale::code`] of the voltage that it stands for.
pub(super) fn quantise(scale: Scale, exact: f64) -> Code {
    scale.code(scale.volts(exact))
}
