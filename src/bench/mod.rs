//! The bench without a screen: the card, the run, the assessment of what was taken.
//!
//! Belongs here: what the screen and the headless commands share: labelling samples with their step, the run
//! that reads, records and assesses, and the words that pass between it and whoever shows it.
//! Does not belong here: arithmetic on samples beyond recognising a movement, drawing, arguments.

mod assess;
mod assessor;
mod card;
mod derive;
mod direction;
mod doubt;
mod events;
mod evidence;
mod evidence_plan;
mod examples;
mod flashed;
mod good_units;
mod looks;
mod prove;
mod recorder;
mod run;
mod spread;
mod stillness;
mod timed;
mod watched;

pub use assess::{assess, assess_file};
pub use card::{Card, ExpectedEnds, Label};
pub use derive::{DeriveError, DeriveOptions, Derived, derive};
pub use events::{
    Batch, LinkState, RunCommand, RunEvent, StepProgress, StepState, StreamHealth, Taking,
};
pub use evidence_plan::{EvidencePlan, LOOKS};
pub use examples::{ExampleError, simulated_capture, write_capture, write_examples};
pub use flashed::{FlashedBoard, Hand, trolley_block};
pub use good_units::Taken;
pub use prove::{ProofColumns, ProofError, ProofOptions, foretold, prove_file};
pub use run::{Plan, Run, Setup, start, start_on};
pub use watched::{BANDS, Dwell, FaultSeen, ProofNow, ProofPoint, ProofWatch, band};
