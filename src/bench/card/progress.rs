//! How far each step of a card is, and what the hand is to do this very moment.

use measure::units::{Step, Trial};
use std::borrow::Cow;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StepState {
    Waiting,
    Current,
    Done,
    Skipped,
}

/// One step of the card and how far it is.
#[derive(Debug, Clone, PartialEq)]
pub struct StepProgress {
    pub step: Step,
    pub state: StepState,
    /// Evidence that is in, in `unit`.
    pub have: f64,
    /// Evidence wanted, in `unit`.
    pub want: f64,
    /// `s`, `strokes`, `returns`, `stations`.
    pub unit: &'static str,
    /// How often something was done that did not count.
    pub uncounted: u32,
    /// What to do, in one short sentence.
    pub instruction: Cow<'static, str>,
    /// The known position that is asked for, by its name; absent in other steps, and as long as nobody has stated any.
    pub asked: Option<String>,
    /// What the hand is to do this moment; absent where the instruction alone says it, and in steps that are not under way.
    pub cue: Option<Cue>,
    /// What is being seen, or what was not right, kindly; absent when there is nothing to say.
    pub remark: Option<String>,
    /// Seconds until the test ends by itself, unless somebody goes on with it; absent as long as nobody is asked.
    pub ends_in_s: Option<f64>,
    /// The trial that it is, at the end of a card.
    pub trial: Option<Trial>,
}

impl StepProgress {
    /// One that has not begun: so much is wanted of it, and this is what to do.
    pub(in crate::bench) fn waiting(
        step: Step,
        want: f64,
        unit: &'static str,
        instruction: &'static str,
    ) -> Self {
        Self {
            step,
            state: StepState::Waiting,
            have: 0.0,
            want,
            unit,
            uncounted: 0,
            instruction: instruction.into(),
            asked: None,
            cue: None,
            remark: None,
            ends_in_s: None,
            trial: None,
        }
    }

    /// What it is called: the step, or the trial.
    pub fn name(&self) -> String {
        match self.trial {
            Some(trial) => format!("trial: {trial}"),
            None if self.step == Step::Stations => "positions".to_owned(),
            None => self.step.to_string(),
        }
    }

    /// Whether somebody is asked to say yes to it.
    pub fn asks(&self) -> bool {
        self.ends_in_s.is_some()
    }
}

/// What to do now, for whoever cannot read a sentence from where they stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cue {
    /// Back to rest.
    LetGo,
    /// It is at rest and should stay there.
    LeaveIt,
    /// To the full end.
    Press,
    /// It is at the full end and should stay there.
    Hold,
    /// The cable and the plug.
    Wiggle,
}
