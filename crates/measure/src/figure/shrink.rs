//! How an uncertainty shrinks with more evidence.

use std::fmt;

/// What the evidence of a figure is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Evidence {
    /// Seconds of a passage.
    Seconds,
    /// Samples of a passage: seconds once the rate is known.
    Samples,
    /// Movements from one end to the other.
    Strokes,
    /// Returns to rest.
    Returns,
    /// Holds at the rest end.
    Holds,
    /// Presses that are held at the full end.
    Presses,
    /// Visits of known positions.
    Stations,
}

impl Evidence {
    /// Whether it comes in whole pieces.
    #[must_use]
    pub fn counted(self) -> bool {
        !matches!(self, Self::Seconds | Self::Samples)
    }
}

impl fmt::Display for Evidence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Seconds => "s",
            Self::Samples => "samples",
            Self::Strokes => "strokes",
            Self::Returns => "returns",
            Self::Holds => "rests",
            Self::Presses => "presses",
            Self::Stations => "visits of a station",
        })
    }
}

/// By which law the part that shrinks goes down with the evidence `n`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Law {
    /// As the root of `n`, the scatter known with so many degrees of freedom (infinite when it is well known).
    Mean {
        /// Degrees of freedom at the evidence that there is.
        dof: f64,
    },
    /// As the root of `n`, the scatter known from the `n` pieces themselves: Student's t with `n - 1`.
    Pieces,
    /// One piece, of whose scatter nothing is known but a bound: the root of `n` and Student's t with `n - 1` once there are more.
    First,
    /// It was still moving: no more of the same makes it surer, only standing still does.
    Moving,
    /// A standard deviation of `n` values: chi-square with `n - 1`.
    Spread,
    /// A standard deviation of noise within holds: chi-square with so many effective degrees of freedom, which grow with
    /// `n`.
    Rms {
        /// Effective degrees of freedom at the evidence that there is.
        dof: f64,
    },
    /// A slope over `n` seconds: as `n^1.5`, and what the board hides, spread over the time, as `n`.
    Slope {
        /// Degrees of freedom of the slope.
        dof: f64,
    },
}

/// How a figure's uncertainty shrinks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shrink {
    /// What the evidence is counted in.
    pub evidence: Evidence,
    /// How much there is.
    pub have: f64,
    /// The part of the standard uncertainty that stays however much more is taken, in the figure's unit: rounding that
    /// no noise dithers, the board's stated non-linearity.
    pub floor_u: f64,
    /// How the rest shrinks.
    pub law: Law,
}

impl Shrink {
    /// A mean whose scatter is well known.
    #[must_use]
    pub fn mean(evidence: Evidence, have: f64, floor_u: f64) -> Self {
        let law = Law::Mean { dof: f64::INFINITY };
        Self::by(law, evidence, have, floor_u)
    }

    /// A mean, a line or the like over pieces that also show its scatter.
    #[must_use]
    pub fn pieces(evidence: Evidence, have: usize, floor_u: f64) -> Self {
        #[allow(clippy::cast_precision_loss)] // a count
        Self::by(Law::Pieces, evidence, have as f64, floor_u)
    }

    /// Samples as seconds, at a rate in hertz.
    #[must_use]
    pub fn at_rate(self, rate_hz: f64) -> Self {
        if self.evidence != Evidence::Samples || rate_hz.is_nan() || rate_hz <= 0.0 {
            return self;
        }
        Self {
            evidence: Evidence::Seconds,
            have: self.have / rate_hz,
            ..self
        }
    }

    /// By a law.
    #[must_use]
    pub fn by(law: Law, evidence: Evidence, have: f64, floor_u: f64) -> Self {
        Self {
            evidence,
            have,
            floor_u,
            law,
        }
    }
}
