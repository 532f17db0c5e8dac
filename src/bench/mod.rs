//! The bench without a screen: the card, the run, the assessment of what was taken.
//!
//! Belongs here: what the screen and the headless commands share: labelling samples with their step, the run
//! that reads, records and assesses, and the words that pass between it and whoever shows it.
//! Does not belong here: arithmetic on samples beyond recognising a movement, drawing, arguments.

mod assess;
mod card;
mod derive;
mod direction;
mod examples;
mod proof;
mod run;

pub use assess::{assess, assess_file};
pub use card::{Card, EvidencePlan, ExpectedEnds, LOOKS, Label, StepProgress, StepState};
pub use derive::{DeriveError, DeriveOptions, Derived, Taken, derive};
pub use examples::{ExampleError, simulated_capture, write_capture, write_examples};
pub use proof::{
    BANDS, Dwell, FaultSeen, FlashedBoard, Hand, ProofColumns, ProofError, ProofNow, ProofOptions,
    ProofPoint, ProofWatch, band, foretold, prove_file, trolley_block,
};
pub use run::{
    Batch, LinkState, Plan, Run, RunCommand, RunEvent, Setup, StreamHealth, Taking, start, start_on,
};
