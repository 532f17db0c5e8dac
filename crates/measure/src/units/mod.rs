//! Newtypes and trade words shared by every room: codes, volts, travel, seconds, steps.
//!
//! Belongs here: a quantity with its unit, a word of DESIGN section 2 as a type, the decimal that a code is written as,
//! the functions of the arithmetic ([`maths`]).
//! Does not belong here: anything that measures, judges, reads, writes or draws.

mod board;
mod decimal;
mod gap;
pub mod maths;
mod trial;
mod words;

pub use board::{REFERENCE_MV, Scale, ScaleError};
pub use decimal::{MOST_DIGITS, leading_decimal};
pub use gap::missing_in;
pub use trial::Trial;
pub use words::{OWN_COLUMNS, Passage, Role, Step, Track, UnknownWord};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One ADC reading: an integer `0 ..= 2^bits - 1`.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    Default,
    Serialize,
    Deserialize,
    JsonSchema,
)]
#[serde(transparent)]
pub struct Code(pub u32);

impl Code {
    /// The code as a real number, for arithmetic in codes.
    #[must_use]
    pub fn as_f64(self) -> f64 {
        f64::from(self.0)
    }
}

impl From<Code> for f64 {
    fn from(code: Code) -> f64 {
        code.as_f64()
    }
}

/// A voltage in volts against the board's ground.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct Volts(pub f64);

/// Position of a control as a fraction of its travel: 0 at rest, 1 fully operated.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct Travel(pub f64);

impl Travel {
    /// Travel in percent, for people.
    #[must_use]
    pub fn percent(self) -> f64 {
        self.0 * 100.0
    }
}

/// A duration or a moment in seconds.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct Seconds(pub f64);

/// Microseconds of the board's clock as seconds. Exact to the microsecond up to 285 years.
#[must_use]
#[allow(clippy::cast_precision_loss)] // 2^53 us is 285 years
pub fn seconds_from_us(t_us: u64) -> f64 {
    t_us as f64 * 1e-6
}
