//! What was really so: for tests to hold figures against. The program itself never sees it.

use super::defects::Rail;

/// The truth behind a simulation so far.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Truth {
    /// One for each channel, in order.
    pub channels: Vec<ChannelTruth>,
    /// Every time the control came back to rest, in order.
    pub returns: Vec<ReturnTruth>,
    /// Strokes made in `strokes` steps: one way counts one.
    pub strokes: u64,
    /// 90 % to 10 % of a spring return in seconds, without bounce: tau ln 9.
    pub release_time_s: f64,
}

/// The truth of one channel. Codes are before noise and rounding, board errors included.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ChannelTruth {
    /// The channel's name.
    pub name: String,
    /// At the mean return position.
    pub rest_code: f64,
    /// At full travel.
    pub full_code: f64,
    /// From rest to full, signed.
    pub span_code: f64,
    /// White or correlated noise, sensor and board together, before rounding.
    pub noise_rms_code: f64,
    /// Rms of the hand's tremor where it holds the control full, in codes. With hysteresis it is not this: slack keeps
    /// the tremor's peak, and the full level moves up to that.
    pub tremor_rms_code: f64,
    /// Rms of the mains hum in codes.
    pub hum_rms_code: f64,
    /// Drift in codes a minute.
    pub drift_per_min: f64,
    /// Standard deviation of the return position in codes, as drawn from.
    pub return_scatter_code: f64,
    /// Largest deviation from the line through both ends, % of span, over continuous travel from 0 to 1.
    pub linearity_terminal_pct: f64,
    /// Largest deviation from the minimax line, % of span. For a curve that bends one way only it is half the terminal
    /// one (the line parallel to the chord, halfway to the curve); for others it is not stated here.
    pub linearity_independent_pct: Option<f64>,
    /// Largest up/down difference at the same travel, % of span of a straight curve.
    pub hysteresis_pct: f64,
    /// Relative change of signal/supply for a relative change of the supply.
    pub ratiometric_error: f64,
    /// Delay in milliseconds.
    pub lag_ms: f64,
    /// Worn zones (from, to) as travel.
    pub worn: Vec<(f64, f64)>,
    /// Losses of signal so far, in order of their beginning.
    pub dropouts: Vec<DropoutTruth>,
    /// Bursts of interference so far.
    pub bursts: Vec<BurstTruth>,
}

/// One return to rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReturnTruth {
    /// When the movement back ended, seconds from the first sample.
    pub t_s: f64,
    /// Where it stopped, as travel.
    pub travel: f64,
}

/// One loss of signal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DropoutTruth {
    /// Time of its first sample, seconds from the first sample of all.
    pub t_s: f64,
    /// How many samples it touched.
    pub samples: u64,
    /// How far it went at first, % of span, after the rail stopped it.
    pub depth_pct: f64,
    /// Where the control stood, as travel.
    pub travel: f64,
    /// Which rail it went towards.
    pub towards: Rail,
}

/// One burst of interference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BurstTruth {
    /// Time of its first sample, seconds from the first sample of all.
    pub t_s: f64,
    /// How many samples it touches.
    pub samples: u64,
}

impl Truth {
    /// Slope and offset in codes of the line b = gain a + offset through both ends of two channels.
    #[must_use]
    pub fn track_line(&self, a: usize, b: usize) -> Option<(f64, f64)> {
        let (a, b) = (self.channels.get(a)?, self.channels.get(b)?);
        let gain = b.span_code / a.span_code;
        Some((gain, b.rest_code - gain * a.rest_code))
    }
}

impl ChannelTruth {
    /// Noise with rounding to whole codes added: q^2/12 for noise of half a code or more.
    #[must_use]
    pub fn rounded_noise_rms_code(&self) -> f64 {
        (self.noise_rms_code * self.noise_rms_code + 1.0 / 12.0).sqrt()
    }
}
