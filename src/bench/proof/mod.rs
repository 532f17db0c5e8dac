//! A flashed board against its block: from a capture, sample by sample on the way, and simulated for the demo.

mod flashed;
mod prove;
mod recorded;
mod watch;

pub use flashed::{FlashedBoard, Hand, trolley_block};
pub use prove::{ProofColumns, ProofOptions, WITHIN_PCT, foretold, prove_file};
pub use recorded::flashed_recording;
pub use watch::{BANDS, Dwell, FaultSeen, ProofNow, ProofPoint, ProofWatch, band};
