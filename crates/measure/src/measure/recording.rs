//! A recording as slices: what is measured.

use crate::units::{Code, Passage, Role, Scale, Track};

/// A capture as slices: all of the same length, indexed by sample.
#[derive(Debug, Clone)]
pub struct Recording<'a> {
    /// The board that sampled.
    pub board: BoardFacts,
    /// Board time of each sample in microseconds, never decreasing.
    pub t_us: &'a [u64],
    /// Runs of one step, in order, without overlap, together covering every sample.
    pub passages: &'a [Passage],
    /// The channels, in the order of the capture's columns.
    pub channels: Vec<Channel<'a>>,
    /// The reference travel, when something measured it.
    pub reference: Option<Reference<'a>>,
    /// Whether the control rests against a stop, so that nobody moves it behind its rest end. False for one that returns to its middle.
    pub rests_at_a_stop: bool,
}

impl<'a> Recording<'a> {
    /// Without channels or a reference, of a control that rests against a stop: add what there is.
    #[must_use]
    pub fn new(board: BoardFacts, t_us: &'a [u64], passages: &'a [Passage]) -> Self {
        Self {
            board,
            t_us,
            passages,
            channels: Vec::new(),
            reference: None,
            rests_at_a_stop: true,
        }
    }
}

/// What is known of the board.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoardFacts {
    /// Bits and reference.
    pub scale: Scale,
    /// Nominal samples a second.
    pub rate_hz: f64,
    /// Integral non-linearity in codes, either way: a bound for how far a level may be off. `None` counts as none.
    pub inl_code: Option<f64>,
    /// Whether what is not stated above is told of in the methods of levels.
    pub inl_stated: bool,
    /// Whether `t_us` is the board's clock; false when it is the time of arrival at the host.
    pub board_time: bool,
}

impl BoardFacts {
    /// A board that stamps its own samples and states no non-linearity.
    #[must_use]
    pub fn new(scale: Scale, rate_hz: f64) -> Self {
        Self {
            scale,
            rate_hz,
            inl_code: None,
            inl_stated: true,
            board_time: true,
        }
    }
}

/// One channel's codes.
#[derive(Debug, Clone, Copy)]
pub struct Channel<'a> {
    /// Name, as the capture's column header has it.
    pub name: &'a str,
    /// What it carries.
    pub role: Role,
    /// Which track of the control.
    pub track: Track,
    /// One code a sample.
    pub codes: &'a [Code],
}

impl<'a> Channel<'a> {
    /// The signal of one track.
    #[must_use]
    pub fn signal(name: &'a str, track: Track, codes: &'a [Code]) -> Self {
        Self {
            name,
            role: Role::Signal,
            track,
            codes,
        }
    }
}

/// Reference travel: known position of the control, sample by sample.
#[derive(Debug, Clone, Copy)]
pub struct Reference<'a> {
    /// One position a sample, in the reference's own unit; NaN where none was given.
    pub position: &'a [f64],
    /// Position of the rest end, if stated.
    pub low: Option<f64>,
    /// Position of the full end, if stated.
    pub high: Option<f64>,
    /// Standard uncertainty of a position, in its unit; 0 when not stated.
    pub u: f64,
}
