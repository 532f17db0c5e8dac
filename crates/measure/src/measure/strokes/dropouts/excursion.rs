//! An excursion, and what counts as one on a path.

use std::ops::Range;

/// Smallest depth, % of span (DESIGN 4.4).
pub const DEPTH_PCT: f64 = 2.0;
/// Smallest depth in standard deviations of the noise (DESIGN 4.4).
pub const DEPTH_SIGMA: f64 = 8.0;
/// Least second difference at an edge, as a share of the smallest depth.
pub(super) const KINK_SHARE: f64 = 0.6;

/// An excursion that returned, in samples of its path.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Excursion {
    /// First sample off the path up to the first one back on it.
    pub range: Range<usize>,
    /// The samples that were bridged for it; shared by excursions close together.
    pub gap: Range<usize>,
    /// Signal minus path where it is furthest off, in codes.
    pub depth: f64,
    /// The path's code in the middle of the excursion.
    pub level: f64,
}

/// What counts on one path.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bounds {
    /// Smallest depth in codes.
    pub threshold: f64,
    /// Noise in codes.
    pub sigma: f64,
    /// Samples within which one edge must be done: 2 ms, 1 ..= 6.
    pub edge: usize,
    /// Samples on each side that tell the path, at least.
    pub support: usize,
    /// Most samples that an excursion may last.
    pub longest: usize,
    /// Samples on each side of an excursion within which others make it one burst of noise.
    pub near: usize,
    /// Longest gap in samples across which a straight line from one side still tells the other: 8 ms, 4 at least.
    pub short: usize,
    /// Degree of the path.
    pub degree: usize,
    /// Whether samples are close enough in time for a straight look ahead.
    pub dense: bool,
}

impl Bounds {
    /// Largest second difference of whole codes that is no edge.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // rounded down on purpose
    pub fn kink(&self) -> u64 {
        (KINK_SHARE * self.threshold) as u64
    }
}
