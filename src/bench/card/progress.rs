//! How far each step of a card is.

use measure::units::Step;

/// Where a step stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StepState {
    /// Its turn has not come.
    Waiting,
    /// It is its turn now.
    Current,
    /// Enough evidence is in.
    Done,
    /// Left out on request.
    Skipped,
}

/// One step of the card and how far it is.
#[derive(Debug, Clone, PartialEq)]
pub struct StepProgress {
    /// The step.
    pub step: Step,
    /// Where it stands.
    pub state: StepState,
    /// Evidence that is in, in `unit`.
    pub have: f64,
    /// Evidence wanted, in `unit`.
    pub want: f64,
    /// `s`, `strokes`, `returns`, `stations`.
    pub unit: &'static str,
    /// What to do, in one short sentence.
    pub instruction: &'static str,
    /// What is being seen, or what was not right, kindly; absent when there is nothing to say.
    pub remark: Option<String>,
}
