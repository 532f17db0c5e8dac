//! Stretches of a recording that were taken back: a position stated wrongly, a step begun anew.
//!
//! A capture is written as it arrives and its rows stay as they are; what was taken back stands in the metadata, and whoever
//! reads the capture takes those samples as `idle`.

use measure::units::{Passage, Step};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// The samples of a stretch of board time, both ends included, that are no evidence.
///
/// A key of ours beside those of the format.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SetAside {
    /// Board time of the first of them, microseconds.
    pub from_us: u64,
    /// Board time of the last of them, microseconds.
    pub to_us: u64,
}

impl SetAside {
    /// Makes its samples `idle`. `passages` cover the samples of `t_us`, which never decreases.
    pub fn apply(self, passages: &mut Vec<Passage>, t_us: &[u64]) {
        let from = t_us.partition_point(|t| *t < self.from_us);
        let to = t_us.partition_point(|t| *t <= self.to_us);
        if from >= to {
            return;
        }
        let mut parted: Vec<Passage> = Vec::with_capacity(passages.len() + 2);
        let mut add = |step, range: Range<usize>| match parted.last_mut() {
            _ if range.is_empty() => {}
            Some(last) if last.step == step && last.range.end == range.start => {
                last.range.end = range.end;
            }
            _ => parted.push(Passage { step, range }),
        };
        for Passage { step, range } in passages.drain(..) {
            let inner = range.start.max(from)..range.end.min(to);
            if inner.is_empty() {
                add(step, range);
                continue;
            }
            add(step, range.start..inner.start);
            add(Step::Idle, inner.clone());
            add(step, inner.end..range.end);
        }
        *passages = parted;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn passage(step: Step, range: Range<usize>) -> Passage {
        Passage { step, range }
    }

    /// Ten samples, 100 us apart: rest 0-3, idle 4-5, stations 6-9.
    fn recorded() -> (Vec<Passage>, Vec<u64>) {
        let passages = vec![
            passage(Step::Rest, 0..4),
            passage(Step::Idle, 4..6),
            passage(Step::Stations, 6..10),
        ];
        (passages, (0..10).map(|i| i * 100).collect())
    }

    fn after(from_us: u64, to_us: u64) -> Vec<Passage> {
        let (mut passages, t_us) = recorded();
        SetAside { from_us, to_us }.apply(&mut passages, &t_us);
        passages
    }

    #[test]
    fn what_lies_within_is_idle_and_the_rest_stands() {
        assert_eq!(
            after(700, 800),
            [
                passage(Step::Rest, 0..4),
                passage(Step::Idle, 4..6),
                passage(Step::Stations, 6..7),
                passage(Step::Idle, 7..9),
                passage(Step::Stations, 9..10),
            ]
        );
        // Over two passages, and next to what is idle already.
        assert_eq!(
            after(250, 650),
            [
                passage(Step::Rest, 0..3),
                passage(Step::Idle, 3..7),
                passage(Step::Stations, 7..10),
            ]
        );
        assert_eq!(after(0, 10_000), [passage(Step::Idle, 0..10)]);
    }

    #[test]
    fn nothing_within_changes_nothing() {
        for (from_us, to_us) in [(310, 390), (2000, 3000), (600, 500)] {
            assert_eq!(after(from_us, to_us), recorded().0, "{from_us} {to_us}");
        }
        let mut none = Vec::new();
        SetAside {
            from_us: 0,
            to_us: 9,
        }
        .apply(&mut none, &[]);
        assert!(none.is_empty());
    }
}
