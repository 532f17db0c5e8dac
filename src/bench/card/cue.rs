//! What the hand is to do this very moment, for whoever cannot read a sentence from where they stand.

use super::{Card, Move};
use measure::units::Step;

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

impl Card {
    /// The cue of the step under way; `None` where a sentence says it.
    pub fn cue(&self) -> Option<Cue> {
        let held = self.hold.before.is_some();
        Some(match (self.steps.get(self.current)?.step, self.moving) {
            (Step::Rest, _) if held => Cue::LeaveIt,
            (Step::Rest, _) => Cue::LetGo,
            (Step::Full, _) if held => Cue::Hold,
            (
                Step::Strokes,
                Move::Under {
                    from_full: true, ..
                },
            )
            | (Step::Release, Move::Held | Move::Falling { .. }) => Cue::LetGo,
            (Step::Release, Move::Settling { .. }) => Cue::Hold,
            (Step::Release, Move::Back { .. }) => Cue::LeaveIt,
            (Step::Full | Step::Strokes | Step::Release, _) => Cue::Press,
            (Step::Shake, _) => Cue::Wiggle,
            _ => return None,
        })
    }
}
