//! The bench without a screen: the card, the run, the assessment of what was taken.
//!
//! Belongs here: what the screen and the headless commands share: labelling samples with their step, the run
//! that reads, records and assesses, and the words that pass between it and whoever shows it.
//! Does not belong here: arithmetic on samples beyond recognising a movement, drawing, arguments.

mod applied;
mod assess;
mod card;
mod derive;
mod diagnosis;
mod direction;
mod examples;
mod exchanged;
mod foot;
mod machine;
mod parted;
mod plug;
mod proof;
mod reference;
mod rests;
mod run;
mod trials;

pub use assess::{assess, assess_file};
pub use card::{
    Cue, EvidencePlan, Presence, StationPlan, StationWords, StepProgress, StepState, TellApart,
    USUAL_STATIONS,
};
pub use derive::{DeriveOptions, derive};
#[cfg(feature = "inside")]
pub use examples::simulated_capture;
pub use examples::{write_capture, write_examples};
pub use machine::{look, machine_profile, sort};
pub use proof::{
    BANDS, Dwell, FaultSeen, FlashedBoard, Hand, ProofColumns, ProofNow, ProofOptions, ProofPoint,
    ProofWatch, band, flashed_recording, foretold, prove_file, trolley_block,
};
pub use run::{
    Asking, Batch, LinkState, Plan, Recorded, Run, RunCommand, RunEvent, Setup, StepFound,
    StreamHealth, StreamInfo, labelled, start, start_imported,
};
#[cfg(feature = "inside")]
pub use run::{BoardTime, start_on};
