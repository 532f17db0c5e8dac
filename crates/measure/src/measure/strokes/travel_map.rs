//! Noise over travel, bin by bin: what screens and reports draw.

/// Bins of the travel; each 1 % wide.
pub const BINS: usize = 100;

/// Noise in one bin of travel.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BinNoise {
    /// Samples of all strokes.
    pub count: usize,
    /// Strokes that crossed the bin.
    pub strokes: usize,
    /// Root mean square over all samples, codes; `None` when there are none.
    pub rms: Option<f64>,
    /// Median over the strokes of each stroke's rms, codes: one stroke's burst does not move it.
    pub median: Option<f64>,
}

/// One bin of travel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TravelBin {
    /// Begin, % of travel.
    pub from_pct: f64,
    /// End, % of travel.
    pub to_pct: f64,
    /// All strokes.
    pub both: BinNoise,
    /// Strokes from rest towards full.
    pub up: BinNoise,
    /// Strokes from full towards rest.
    pub down: BinNoise,
}

/// Noise over travel, for screens and reports. Never more than `BINS` bins, in order of travel.
#[derive(Debug, Clone, PartialEq)]
pub struct TravelMap {
    /// The bins, from 0 to 100 %.
    pub bins: Vec<TravelBin>,
    /// Noise over all travel and strokes in codes: what a bin is to be held against.
    pub overall: f64,
    /// Strokes in the map.
    pub strokes: usize,
}
