//! Why no profile could be derived from captures.

use measure::units::ScaleError;
use thiserror::Error;

/// Why no profile could be derived.
#[derive(Debug, Error)]
pub enum DeriveError {
    #[error("no recording was given: give one of a good part at least")]
    NoUnit,
    /// A capture has other tracks than the rest.
    #[error(
        "{file} has signal channels for tracks {has}, the first recording for {first}: give recordings of one kind of control"
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
    #[error(
        "no step is in every recording: a test needs one; record the same steps with every part"
    )]
    NoCommonStep,
    #[error("{file}: {source}")]
    Board { file: String, source: ScaleError },
}
