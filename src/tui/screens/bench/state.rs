//! What the bench shows of its run.

use super::overlay::Overlay;
use super::window::Window;

/// What is shown where there is no room for every picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Picture {
    /// Codes over time.
    #[default]
    Trace,
    /// Noise along the travel.
    Travel,
    /// Readings along the travel.
    Along,
    /// Deviation from the line along the travel.
    Deviation,
    /// Returns over each other, close up at rest.
    Returns,
    /// Strokes over each other.
    Strokes,
    /// The second track over the first.
    Tracks,
    /// How often each reading came at rest.
    AtRest,
    /// What hertz the noise at rest is made of, where the mains are heard in it.
    Lines,
}

impl Picture {
    /// In the order in which a key goes through them.
    pub const ALL: [Self; 9] = [
        Self::Trace,
        Self::Travel,
        Self::Deviation,
        Self::Along,
        Self::Returns,
        Self::Strokes,
        Self::Tracks,
        Self::AtRest,
        Self::Lines,
    ];
}

#[derive(Debug, Clone, Default)]
pub struct Bench {
    pub window: Window,
    pub picture: Picture,
    /// Whether the curve over known positions has come by itself.
    pub curve_shown: bool,
    /// The earlier run under this one.
    pub overlay: Option<Overlay>,
    /// The earlier run that is being read.
    pub fetching: Option<String>,
    /// The figure row under the pointer.
    pub figure: usize,
}
