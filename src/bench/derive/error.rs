//! Why no profile could be derived from captures.

use measure::units::ScaleError;
use thiserror::Error;

/// Why no profile could be derived.
#[derive(Debug, Error)]
pub enum DeriveError {
    /// One unit has no spread.
    #[error(
        "{units} good unit{} no spread between units, so no limit can be told: give captures of two units at least, each \
         with its own tag (captures of one tag count as one unit)",
        if *units == 1 { " shows" } else { "s show" }
    )]
    TooFewUnits { units: usize },
    /// A capture has other tracks than the rest.
    #[error(
        "{file} has signal channels for tracks {has}, the first capture for {first}: give captures of one kind of control"
    )]
    TracksDiffer {
        file: String,
        /// Its tracks.
        has: String,
        /// Those of the first.
        first: String,
    },
    #[error("{file} has no signal channel: name one in its metadata")]
    NoSignal { file: String },
    /// No step that a card could ask for is in every capture.
    #[error("no step is in every capture: a card needs one; record the same steps with every unit")]
    NoCommonStep,
    #[error("{file}: {source}")]
    Board { file: String, source: ScaleError },
}
