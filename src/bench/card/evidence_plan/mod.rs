//! How much of each step a card takes: at first, and at each look at the findings.
//!
//! Belongs here: amounts with their reasons, the words of a step. Does not belong here: how a step is recognised
//! (`card`), what follows from a look (`looks`).

mod words;

use super::progress::StepProgress;
use crate::profile::{Kind, Profile};
use measure::figure::{Amount, USUAL_QUIET_S};
use measure::judge::sequential::Looks;
use measure::units::Step;
pub(super) use words::Words;

/// Looks that are planned for a card.
pub const LOOKS: usize = 4;

/// Seconds of shaking the cable.
const SHAKE_S: f64 = 4.0;
/// Positions held.
const STATIONS: f64 = 21.0;
/// Seconds of a varied supply.
const SUPPLY_S: f64 = 8.0;
/// Seconds with the board's input tied.
const TIED_S: f64 = 2.0;

/// How much evidence a card takes of the steps that more may be taken of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EvidencePlan {
    /// Seconds at rest.
    pub rest: Amount,
    /// Seconds at the full end.
    pub full: Amount,
    /// Movements from one end to the other.
    pub strokes: Amount,
    /// Releases that came back to rest.
    pub returns: Amount,
    /// Seconds of quiet after which a release has come back.
    pub quiet_s: f64,
    /// What it is that a person is spoken to of, when somebody says so.
    pub kind: Option<Kind>,
}

impl Default for EvidencePlan {
    /// For figures without limits, which nobody looks at before the end.
    fn default() -> Self {
        let amount = |first, most| Amount { first, most };
        // Six strokes are what wear detection needs to see a zone in most of them; eight leave room for two bad
        // ones. Five returns: from three on there is a scatter, five halve its interval.
        Self {
            rest: amount(2.0, 6.0),
            full: amount(2.0, 6.0),
            strokes: amount(8.0, 16.0),
            returns: amount(5.0, 12.0),
            quiet_s: USUAL_QUIET_S,
            kind: None,
        }
    }
}

impl EvidencePlan {
    /// The least at which a good unit of this profile can be decided, as the catalogue says of each figure that has a limit;
    /// more is taken while a finding is open.
    pub fn at_first(profile: &Profile) -> Self {
        let limited = || {
            let lists = profile.limit_lists();
            lists.flat_map(|(_, limits, _)| limits.keys())
        };
        let of = |step| {
            let amounts = limited().filter_map(|name| name.amount(step));
            amounts
                .chain(Amount::usual(step))
                .fold(Amount::NONE, Amount::or_more)
        };
        Self {
            rest: of(Step::Rest),
            full: of(Step::Full),
            strokes: of(Step::Strokes),
            returns: of(Step::Release),
            quiet_s: limited()
                .map(|name| name.facts().quiet_s)
                .fold(USUAL_QUIET_S, f64::max),
            kind: Some(profile.kind),
        }
    }

    /// How much of a step there is at each look; `None` for a step that is taken once.
    pub fn looks(&self, step: Step) -> Option<Looks> {
        let looks = |amount: Amount| Looks::between(amount.first, amount.most, LOOKS);
        Some(match step {
            Step::Rest => looks(self.rest),
            Step::Full => looks(self.full),
            Step::Strokes => looks(self.strokes).whole(),
            Step::Release => looks(self.returns).whole(),
            _ => return None,
        })
    }
}

pub(super) fn planned(step: Step, wanted: &EvidencePlan) -> StepProgress {
    let words = Words::of(wanted.kind);
    let (want, unit, instruction) = match step {
        Step::Rest => (wanted.rest.first, "s", words.rest),
        Step::Full => (wanted.full.first, "s", words.full),
        Step::Strokes => (wanted.strokes.first, "strokes", words.strokes),
        Step::Release => (
            wanted.returns.first,
            "returns",
            if wanted.quiet_s > USUAL_QUIET_S {
                words.long_release
            } else {
                words.release
            },
        ),
        Step::Shake => (SHAKE_S, "s", "Let go. Wiggle the cable and the plug."),
        Step::Stations => (
            STATIONS,
            "stations",
            "Set known positions, one after the other.",
        ),
        Step::Supply => (
            SUPPLY_S,
            "s",
            "Leave the control alone and vary its supply up and down.",
        ),
        Step::Ground => (TIED_S, "s", "Tie the board's input to ground."),
        Step::Reference => (TIED_S, "s", "Tie the board's input to its reference."),
        Step::Idle => (0.0, "s", ""),
    };
    StepProgress::waiting(step, want, unit, instruction)
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::figure::FigureName;

    fn built_in(name: &str) -> Profile {
        crate::profile::find(name).unwrap()
    }

    #[test]
    fn a_card_begins_with_the_least_that_can_decide() {
        let pedal = EvidencePlan::at_first(&built_in("pedal-hall-two-track"));
        let first = |plan: EvidencePlan| (plan.strokes.first, plan.returns.first);
        assert_eq!(first(pedal), (6.0, 5.0), "wear and scatter");
        let mut bare = built_in("pedal-hall-two-track");
        for part in bare.tracks.values_mut() {
            part.limits.remove(&FigureName::WornZonesCount);
            part.limits.remove(&FigureName::ReturnScatter);
        }
        assert_eq!(first(EvidencePlan::at_first(&bare)), (4.0, 3.0));
    }

    /// Nobody is told to take feet off a dial, or to press it.
    #[test]
    fn a_pedal_is_pressed_a_dial_turned_a_lever_moved() {
        let asked = |name: &str| {
            let profile = built_in(name);
            let plan = EvidencePlan::at_first(&profile);
            let steps = profile.card.iter();
            steps
                .map(|step| planned(*step, &plan).instruction.to_lowercase())
                .collect::<String>()
        };
        let pedal = asked("pedal-hall-two-track");
        assert!(pedal.contains("feet off") && pedal.contains("press it fully and hold"));
        for (name, words) in [
            (
                "dial-rheostat",
                ["to zero and take your hand off", "to full and leave"],
            ),
            ("lever-shunting", ["hands off", "move it fully and hold"]),
        ] {
            let asked = asked(name);
            assert!(words.iter().all(|words| asked.contains(words)), "{asked}");
            assert!(
                !asked.contains("press") && !asked.contains("feet"),
                "{asked}"
            );
        }
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
            rest: Amount {
                first: 20.0,
                most: 20.0,
            },
            ..wanted
        };
        assert_eq!(long.looks(Step::Rest).unwrap().at(), [20.0; 4]);
    }
}
