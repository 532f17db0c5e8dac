//! Samples of a hold wait a moment before they are kept: the movement that ends a hold has begun before it is seen, and
//! what it has spoilt is no evidence.

use crate::bench::card::Label;
use crate::capture::SetAside;
use measure::units::{Code, Step};
use std::collections::VecDeque;

/// How long they wait, microseconds: longer than a card looks back. With the half second between two writes to the
/// disk less than a second is lost when a run dies.
const WAIT_US: u64 = 450_000;

/// A sample that waits.
#[derive(Debug)]
pub(super) struct Sample {
    pub(super) t_us: u64,
    pub(super) label: Label,
    pub(super) codes: Vec<Code>,
}

#[derive(Debug, Default)]
pub(super) struct Late {
    waiting: VecDeque<Sample>,
}

impl Late {
    pub(super) fn is_empty(&self) -> bool {
        self.waiting.is_empty()
    }

    pub(super) fn push(&mut self, t_us: u64, label: Label, codes: &[Code]) {
        self.waiting.push_back(Sample {
            t_us,
            label,
            codes: codes.to_vec(),
        });
    }

    /// Those of a stretch that wait are no evidence. What is left of it has been kept already.
    pub(super) fn set_aside(&mut self, stretch: SetAside) -> Option<SetAside> {
        for sample in &mut self.waiting {
            if (stretch.from_us..=stretch.to_us).contains(&sample.t_us) {
                // What a sensor read there stays true; what was stated may be what is taken back.
                let stated = sample.label.step == Step::Stations;
                let position = sample.label.position.filter(|_| !stated);
                sample.label = Label {
                    position,
                    ..Label::of(Step::Idle)
                };
            }
        }
        let Some(first) = self.waiting.front() else {
            return Some(stretch);
        };
        let kept = stretch.from_us < first.t_us;
        kept.then(|| SetAside {
            to_us: stretch.to_us.min(first.t_us.saturating_sub(1)),
            ..stretch
        })
    }

    /// The next sample that has waited long enough; any, when there is no time to wait until.
    pub(super) fn next(&mut self, now_us: Option<u64>) -> Option<Sample> {
        let first = self.waiting.front()?;
        let due = now_us.is_none_or(|now| now.saturating_sub(first.t_us) >= WAIT_US);
        due.then(|| self.waiting.pop_front()).flatten()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eleven samples, 100 ms apart.
    fn waiting() -> Late {
        let mut late = Late::default();
        for t_us in (0..=10).map(|n| n * 100_000) {
            late.push(t_us, Label::of(Step::Full), &[Code(5)]);
        }
        late
    }

    #[test]
    fn samples_wait_and_come_in_order() {
        let mut late = waiting();
        let mut kept = Vec::new();
        while let Some(sample) = late.next(Some(1_000_000)) {
            kept.push(sample.t_us);
        }
        assert_eq!(kept, [0, 100_000, 200_000, 300_000, 400_000, 500_000]);
        assert!(std::iter::from_fn(|| late.next(None)).count() == 5 && late.is_empty());
    }

    #[test]
    fn what_waits_is_taken_back_here_and_the_rest_is_told() {
        let mut late = waiting();
        while late.next(Some(1_000_000)).is_some() {}
        let stretch = |from_us, to_us| SetAside { from_us, to_us };
        assert_eq!(late.set_aside(stretch(700_001, 900_000)), None);
        let rest = late.set_aside(stretch(400_000, 650_000));
        assert_eq!(rest, Some(stretch(400_000, 599_999)));
        let steps = std::iter::from_fn(|| late.next(None)).map(|sample| sample.label.step);
        let (idle, full) = (Step::Idle, Step::Full);
        assert_eq!(steps.collect::<Vec<_>>(), [idle, full, idle, idle, full]);
        let whole = stretch(0, 5);
        assert_eq!(late.set_aside(whole), Some(whole));
    }
}
