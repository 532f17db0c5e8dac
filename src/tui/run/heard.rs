//! What is heard of a card: how often the bell rings when it moves on.

use crate::bench::{StepProgress, StepState};

/// Once for what counted, twice for what did not or is set aside, three times when every step is through; 0 is silence.
pub fn rings(before: &[StepProgress], after: &[StepProgress]) -> u8 {
    let through = |steps: &[StepProgress]| {
        let open =
            |step: &StepProgress| matches!(step.state, StepState::Waiting | StepState::Current);
        !steps.is_empty() && !steps.iter().any(open)
    };
    if through(after) && !through(before) && !before.is_empty() {
        return 3;
    }
    let pairs = || {
        before
            .iter()
            .zip(after)
            .filter(|(old, new)| old.step == new.step)
    };
    let counted = |(old, new): (&StepProgress, &StepProgress)| {
        let done = old.state == StepState::Current && new.state == StepState::Done;
        done || (new.unit != "s" && new.have > old.have)
    };
    let set_aside = |(old, new): (&StepProgress, &StepProgress)| {
        new.have < old.have || new.uncounted > old.uncounted
    };
    if pairs().any(set_aside) {
        2
    } else {
        u8::from(pairs().any(counted))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::units::Step;

    fn step(step: Step, state: StepState, have: f64, unit: &'static str) -> StepProgress {
        StepProgress {
            step,
            state,
            have,
            want: 5.0,
            unit,
            uncounted: 0,
            instruction: "".into(),
            asked: None,
            cue: None,
            remark: None,
            ends_in_s: None,
            trial: None,
        }
    }

    #[test]
    fn what_counts_is_heard_once_and_the_end_three_times() {
        use StepState::{Current, Done, Waiting};
        let at = |rest, state, have, last| {
            vec![
                step(Step::Rest, rest, 1.0, "s"),
                step(Step::Strokes, state, have, "strokes"),
                step(Step::Shake, last, 0.0, "s"),
            ]
        };
        let resting = at(Current, Waiting, 0.0, Waiting);
        let moving = at(Done, Current, 0.0, Waiting);
        let one = at(Done, Current, 1.0, Waiting);
        let shaking = at(Done, Done, 5.0, Current);
        let over = at(Done, Done, 5.0, Done);
        assert_eq!(rings(&[], &resting), 0);
        assert_eq!(rings(&resting, &resting), 0);
        assert_eq!(rings(&resting, &moving), 1);
        assert_eq!(rings(&moving, &one), 1);
        assert_eq!(rings(&one, &moving), 2);
        assert_eq!(rings(&one, &shaking), 1);
        assert_eq!(rings(&shaking, &over), 3);
        assert_eq!(rings(&over, &over), 0);
        // A stroke that did not count.
        let mut short = one.clone();
        short[1].uncounted = 1;
        assert_eq!(rings(&one, &short), 2);
        assert_eq!(rings(&short, &short), 0);
        // Seconds that pass are not heard one by one.
        let mut later = resting.clone();
        later[0].have = 1.5;
        assert_eq!(rings(&resting, &later), 0);
    }
}
