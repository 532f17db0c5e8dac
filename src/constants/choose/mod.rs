//! Every number of a block chosen from what was measured, each with its reason and its margin (DESIGN 4.6).

mod compose;
mod curve;
mod edges;
mod evidence;
mod filter;
mod hidden;
mod output;
mod persistence;
mod tracks;
mod window;
mod wired;

pub use compose::{Chosen, choose, starter};
pub use hidden::HiddenFault;
pub use wired::MeasuredControl;

use super::{Build, OWN_REFERENCE_MV};
use schemars::JsonSchema;
use serde::Serialize;

/// Fraction of returns, and confidence, of every tolerance limit here.
pub const TOLERANCE: f64 = 0.95;

/// Fraction of samples that noise leaves on the right side of an edge: one in a million beyond, about one in a quarter of
/// an hour at 1 kHz.
pub const NOISE_SHARE: f64 = 1.0 - 1e-6;

/// A number of the block, why it is that, and how far it is from where it would be wrong.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Choice {
    /// Where in the block, e.g. `inputs[0].window.low`.
    pub place: String,
    /// The channel that it is for; empty for the output.
    pub channel: String,
    pub what: &'static str,
    pub value: f64,
    pub unit: &'static str,
    pub reason: String,
    /// How far it is from where it would be wrong.
    pub margin: Margin,
}

/// A margin. What has no meaning for a number is absent.
#[derive(Debug, Clone, PartialEq, Default, Serialize, JsonSchema)]
pub struct Margin {
    pub codes: Option<f64>,
    pub sigma: Option<f64>,
    pub pct: Option<f64>,
    pub words: String,
}

impl Margin {
    /// A margin that only words can tell.
    pub fn words(words: impl Into<String>) -> Self {
        Self {
            words: words.into(),
            ..Self::default()
        }
    }

    /// A margin of so many codes to `what`.
    pub fn codes(codes: f64, noise: f64, span: f64, what: &str) -> Self {
        let sigma = (noise > 0.0).then(|| codes / noise);
        let pct = (span.abs() > 0.0).then(|| 100.0 * codes / span.abs());
        let sigmas = sigma.map_or_else(String::new, |s| format!(", {s:.1} sigma"));
        let pcts = pct.map_or_else(String::new, |p| format!(", {p:.2} % of span"));
        Self {
            codes: Some(codes),
            sigma,
            pct,
            words: format!("{codes:.1} codes{sigmas}{pcts} to {what}"),
        }
    }
}

#[derive(Debug, Clone, PartialEq)]
pub struct ChooseOptions {
    /// Steps a second of the board that will blend.
    pub board_rate_hz: u16,
    /// Its ADC's bits, when stated.
    pub board_bits: Option<u8>,
    /// What its core was built for.
    pub build: Build,
    pub dac_bits: u8,
    pub dac_vref_mv: f64,
    pub zero_mv: f64,
    pub full_mv: f64,
    /// The controller faults on 0 V: while waiting the output stands at that of zero command.
    pub waits_at_zero: bool,
    /// The reference inside the board's part, millivolts.
    pub own_reference_mv: f64,
    /// Seconds that the command takes from 0 to 1 at least.
    pub rise_s: f64,
    /// Seconds that it takes from 1 to 0 at least; a stop is not limited.
    pub fall_s: f64,
    /// Largest error of a curve, percent of full command.
    pub curve_error_pct: f64,
    /// Bad samples until it stops, when asked for; `None`: about half of what the stopping time allows.
    pub persistence: Option<u16>,
}

impl Default for ChooseOptions {
    /// The board of `src/firmware/boards`, an output of 0 to 5 V, a second up and a fifth of one down, 1 % for curves.
    fn default() -> Self {
        Self {
            board_rate_hz: 1000,
            board_bits: None,
            build: Build::default(),
            dac_bits: 12,
            dac_vref_mv: 5000.0,
            zero_mv: 0.0,
            full_mv: 5000.0,
            waits_at_zero: false,
            own_reference_mv: OWN_REFERENCE_MV,
            rise_s: 1.0,
            fall_s: 0.2,
            curve_error_pct: 1.0,
            persistence: None,
        }
    }
}

/// What sort of refusal; the exit code follows from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ErrorKind {
    /// What was given does not belong together, or cannot be.
    BadInput,
    /// The unit cannot be given these numbers.
    Fail,
    /// Something was not measured.
    Open,
}

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{words}")]
pub struct ChooseError {
    pub kind: ErrorKind,
    pub words: String,
}

impl ChooseError {
    fn new(kind: ErrorKind, words: impl Into<String>) -> Self {
        Self {
            kind,
            words: words.into(),
        }
    }
}

fn bad(words: String) -> ChooseError {
    ChooseError::new(ErrorKind::BadInput, words)
}

/// A value that is known to be a code, as one.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped first
fn to_code(value: f64, top: u16) -> u16 {
    value.clamp(0.0, f64::from(top)) as u16
}
