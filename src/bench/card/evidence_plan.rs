//! How much of each step a card takes: at first, and at each look at the findings.
//!
//! Belongs here: amounts with their reasons, the words of a step. Does not belong here: how a step is recognised
//! (`card`), what follows from a look (`looks`).

use super::progress::{StepProgress, StepState};
use crate::profile::Profile;
use measure::figure::FigureName;
use measure::judge::sequential::Looks;
use measure::units::Step;

/// Looks that are planned for a card.
pub const LOOKS: usize = 4;

/// Most seconds at rest, and held full: noise is known to 2 % then at 1 kHz.
const MOST_HELD_S: f64 = 6.0;
/// Most strokes: eight times there and back.
const MOST_STROKES: f64 = 16.0;
/// Most returns: the 96.5 % interval of their scatter reaches 1.8 times as far.
const MOST_RETURNS: f64 = 12.0;

/// How much evidence each step wants at first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EvidencePlan {
    /// Seconds at rest.
    pub rest_s: f64,
    /// Seconds at the full end.
    pub full_s: f64,
    /// Movements from one end to the other.
    pub strokes: u32,
    /// Releases that came back to rest.
    pub returns: u32,
    /// Seconds of shaking the cable.
    pub shake_s: f64,
    /// Positions held.
    pub stations: u32,
    /// Seconds of a varied supply.
    pub supply_s: f64,
    /// Seconds with the board's input tied.
    pub tied_s: f64,
}

impl Default for EvidencePlan {
    /// For figures without limits, which nobody looks at before the end.
    fn default() -> Self {
        // Six strokes are what wear detection needs to see a zone in most of them; eight leave room for two bad
        // ones. Five returns: from three on there is a scatter, five halve its interval.
        Self {
            rest_s: 2.0,
            full_s: 2.0,
            strokes: 8,
            returns: 5,
            shake_s: 4.0,
            stations: 11,
            supply_s: 8.0,
            tied_s: 2.0,
        }
    }
}

impl EvidencePlan {
    /// The least at which a good unit of this profile can be decided; more is taken while a finding is open.
    ///
    /// Strokes: six where wear is limited, because recurrence at one place is what tells a worn zone from a burst and a
    /// count has no interval that would show that four saw too little; else four. Returns: five where their scatter is
    /// limited (the 99.5 % interval of a scatter of three reaches 20 times as far and decides nothing), else three.
    /// Seconds: one, a thousand samples at 1 kHz; six where drift is limited, which wants one long hold.
    #[must_use]
    pub fn at_first(profile: &Profile) -> Self {
        let limited = |names: &[FigureName]| {
            let mut tracks = profile.tracks.values();
            tracks.any(|part| names.iter().any(|name| part.limits.contains_key(name)))
        };
        let worn = limited(&[FigureName::WornZonesCount, FigureName::Smoothness]);
        let scatter = limited(&[FigureName::ReturnScatter]);
        let drift = limited(&[FigureName::DriftPerMin]);
        let held_s = if drift { MOST_HELD_S } else { 1.0 };
        Self {
            rest_s: held_s,
            full_s: held_s,
            strokes: if worn { 6 } else { 4 },
            returns: if scatter { 5 } else { 3 },
            ..Self::default()
        }
    }

    /// How much of a step there is at each look; `None` for a step that is taken once.
    #[must_use]
    pub fn looks(&self, step: Step) -> Option<Looks> {
        let looks = |first: f64, most: f64| Looks::between(first, most.max(first), LOOKS);
        Some(match step {
            Step::Rest => looks(self.rest_s, MOST_HELD_S),
            Step::Full => looks(self.full_s, MOST_HELD_S),
            Step::Strokes => looks(f64::from(self.strokes), MOST_STROKES).whole(),
            Step::Release => looks(f64::from(self.returns), MOST_RETURNS).whole(),
            _ => return None,
        })
    }
}

pub(super) fn planned(step: Step, wanted: &EvidencePlan) -> StepProgress {
    let (want, unit, instruction) = match step {
        Step::Rest => (wanted.rest_s, "s", "Hands off: leave the control at rest."),
        Step::Full => (wanted.full_s, "s", "Hold it against the full stop."),
        Step::Strokes => (
            f64::from(wanted.strokes),
            "strokes",
            "Move it from end to end and back, about a second each way.",
        ),
        Step::Release => (
            f64::from(wanted.returns),
            "returns",
            "Hold it full for a second, let it go, wait; and again.",
        ),
        Step::Shake => (
            wanted.shake_s,
            "s",
            "Hands off the control: wiggle its cable and plug.",
        ),
        Step::Stations => (
            f64::from(wanted.stations),
            "stations",
            "Set a known position, state it, hold it for a second.",
        ),
        Step::Supply => (
            wanted.supply_s,
            "s",
            "Leave the control alone and vary its supply up and down.",
        ),
        Step::Ground => (wanted.tied_s, "s", "Tie the board's input to ground."),
        Step::Reference => (
            wanted.tied_s,
            "s",
            "Tie the board's input to its reference.",
        ),
        Step::Idle => (0.0, "s", ""),
    };
    StepProgress {
        step,
        state: StepState::Waiting,
        have: 0.0,
        want,
        unit,
        instruction,
        remark: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn built_in(name: &str) -> Profile {
        crate::profile::find(name).unwrap()
    }

    #[test]
    fn a_card_begins_with_the_least_that_can_decide() {
        let pedal = EvidencePlan::at_first(&built_in("pedal-hall-two-track"));
        assert_eq!((pedal.strokes, pedal.returns), (6, 5), "wear and scatter");
        let mut bare = built_in("pedal-hall-two-track");
        for part in bare.tracks.values_mut() {
            part.limits.remove(&FigureName::WornZonesCount);
            part.limits.remove(&FigureName::ReturnScatter);
        }
        let bare = EvidencePlan::at_first(&bare);
        assert_eq!((bare.strokes, bare.returns), (4, 3));
    }

    #[test]
    fn looks_grow_from_the_first_to_the_most() {
        let wanted = EvidencePlan::at_first(&built_in("pedal-hall-two-track"));
        let at = |step| wanted.looks(step).map(|looks| looks.at().to_vec());
        assert_eq!(at(Step::Strokes).unwrap(), [6.0, 10.0, 13.0, 16.0]);
        assert_eq!(at(Step::Release).unwrap(), [5.0, 8.0, 10.0, 12.0]);
        assert_eq!(at(Step::Rest), at(Step::Full));
        assert_eq!(at(Step::Shake), None);
        let long = EvidencePlan {
            rest_s: 20.0,
            ..wanted
        };
        assert_eq!(long.looks(Step::Rest).unwrap().at(), [20.0; 4]);
    }
}
