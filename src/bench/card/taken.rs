//! What a card has taken as evidence, and what of it is taken back.
//!
//! Belongs here: stretches of board time. Does not belong here: why something is taken back.

use crate::capture::SetAside;
use measure::units::{Step, seconds_from_us};

/// A passage: samples of one step, one after the other.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Passage {
    step: Step,
    from_us: u64,
    to_us: u64,
}

#[derive(Debug, Clone, Default)]
pub(super) struct Taken {
    passages: Vec<Passage>,
    /// Whether the last one goes on.
    open: bool,
    /// Taken back, and not yet told.
    aside: Vec<SetAside>,
}

impl Taken {
    /// A sample was taken as this step; `idle` ends a passage.
    pub fn sample(&mut self, step: Step, t_us: u64) {
        if step == Step::Idle {
            self.open = false;
            return;
        }
        match self.passages.last_mut() {
            Some(last) if self.open && last.step == step => last.to_us = t_us,
            _ => self.passages.push(Passage {
                step,
                from_us: t_us,
                to_us: t_us,
            }),
        }
        self.open = true;
    }

    /// Seconds of the passage under way.
    pub fn lasts_s(&self) -> f64 {
        let last = self.passages.last().filter(|_| self.open);
        last.map_or(0.0, |p| seconds_from_us(p.to_us - p.from_us))
    }

    /// The passage under way ends, and it ended so many microseconds ago.
    pub fn end_before(&mut self, us: u64) {
        let Some(last) = self.passages.last_mut().filter(|_| self.open) else {
            return;
        };
        let end_us = last.to_us.saturating_sub(us);
        let from_us = (end_us + 1).max(last.from_us);
        let to_us = last.to_us;
        self.aside.push(SetAside { from_us, to_us });
        last.to_us = end_us;
        if end_us < last.from_us {
            self.passages.pop();
        }
        self.open = false;
    }

    /// The last passage is no evidence.
    pub fn drop_last(&mut self) {
        if let Some(last) = self.passages.pop() {
            self.aside.push(last.aside());
        }
        self.open = false;
    }

    /// Nothing of this step is evidence.
    pub fn drop_step(&mut self, step: Step) {
        let (dropped, kept): (Vec<_>, Vec<_>) = self
            .passages
            .iter()
            .partition(|passage| passage.step == step);
        self.aside.extend(dropped.into_iter().map(Passage::aside));
        self.open &= self.passages.last().is_some_and(|last| last.step != step);
        self.passages = kept;
    }

    /// What was taken back since the last time.
    pub fn take_aside(&mut self) -> Vec<SetAside> {
        std::mem::take(&mut self.aside)
    }
}

impl Passage {
    fn aside(self) -> SetAside {
        SetAside {
            from_us: self.from_us,
            to_us: self.to_us,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken(samples: &[(Step, u64)]) -> Taken {
        let mut taken = Taken::default();
        for (step, t_us) in samples {
            taken.sample(*step, *t_us);
        }
        taken
    }

    fn aside(from_us: u64, to_us: u64) -> SetAside {
        SetAside { from_us, to_us }
    }

    #[test]
    fn a_passage_ends_before_its_last_samples() {
        let mut full = taken(&[(Step::Full, 100), (Step::Full, 200), (Step::Full, 300)]);
        assert!((full.lasts_s() - 0.0002).abs() < 1e-12);
        full.end_before(150);
        assert_eq!(full.take_aside(), [aside(151, 300)]);
        assert!(full.take_aside().is_empty() && full.lasts_s() <= 0.0);
        // One that is shorter than that is none.
        let mut short = taken(&[(Step::Full, 100), (Step::Full, 200)]);
        short.end_before(500);
        assert_eq!(short.take_aside(), [aside(100, 200)]);
        assert!(short.passages.is_empty());
        short.end_before(500);
        short.drop_last();
        assert!(short.take_aside().is_empty());
    }

    #[test]
    fn a_step_is_taken_back_as_a_whole_and_the_others_stand() {
        let steps = [
            (Step::Rest, 1),
            (Step::Idle, 2),
            (Step::Rest, 3),
            (Step::Full, 4),
        ];
        let mut both = taken(&steps);
        both.drop_step(Step::Rest);
        assert_eq!(both.take_aside(), [aside(1, 1), aside(3, 3)]);
        both.drop_last();
        assert_eq!(both.take_aside(), [aside(4, 4)]);
    }
}
