//! Steps by the clock: `rest=2,full=2,strokes=10`, for recording without the card's recognition.

use super::Label;
use super::evidence_plan::{EvidencePlan, planned};
use super::progress::{StepProgress, StepState};
use measure::units::Step;

/// Steps with their lengths in seconds of board time.
#[derive(Debug, Clone)]
pub struct TimedSteps {
    steps: Vec<StepProgress>,
    current: usize,
    since_us: Option<u64>,
}

impl TimedSteps {
    /// These steps, one after the other.
    pub fn new(steps: &[(Step, f64)]) -> Self {
        let steps = steps.iter().map(|(step, seconds)| {
            let progress = planned(*step, &EvidencePlan::default());
            StepProgress {
                want: *seconds,
                unit: "s",
                ..progress
            }
        });
        let mut timed = Self {
            steps: steps.collect(),
            current: 0,
            since_us: None,
        };
        timed.begin();
        timed
    }

    /// Takes a sample's time and says what the sample was taken as.
    pub fn push(&mut self, t_us: u64) -> Label {
        let since = *self.since_us.get_or_insert(t_us);
        let taken_s = measure::units::seconds_from_us(t_us.saturating_sub(since));
        let over = self
            .steps
            .get(self.current)
            .is_some_and(|progress| taken_s >= progress.want);
        if over {
            self.end(StepState::Done);
            self.since_us = Some(t_us);
        }
        let Some(progress) = self.steps.get_mut(self.current) else {
            return Label::of(Step::Idle);
        };
        progress.have = if over { 0.0 } else { taken_s };
        Label::of(progress.step)
    }

    pub fn progress(&self) -> &[StepProgress] {
        &self.steps
    }

    /// Whether every step is over. The sample that ended the last one is not part of it.
    pub fn done(&self) -> bool {
        self.current >= self.steps.len()
    }

    pub fn skip(&mut self) {
        self.end(StepState::Skipped);
    }

    fn begin(&mut self) {
        self.since_us = None;
        if let Some(progress) = self.steps.get_mut(self.current) {
            progress.state = StepState::Current;
        }
    }

    fn end(&mut self, state: StepState) {
        if let Some(progress) = self.steps.get_mut(self.current) {
            progress.state = state;
            if state == StepState::Done {
                progress.have = progress.want;
            }
            self.current += 1;
            self.begin();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_last_their_time_on_the_boards_clock() {
        let mut timed = TimedSteps::new(&[(Step::Rest, 0.01), (Step::Full, 0.02)]);
        let labels: Vec<_> = (0..40u64)
            .map(|ms| timed.push(7_000 + ms * 1000).step)
            .collect();
        // 10 samples of 1 ms in the first step, 20 in the second, then nothing.
        assert_eq!(labels.iter().filter(|s| **s == Step::Rest).count(), 10);
        assert_eq!(labels.iter().filter(|s| **s == Step::Full).count(), 20);
        assert!(labels[30..].iter().all(|s| *s == Step::Idle) && timed.done());
    }

    #[test]
    fn no_steps_are_done_at_once() {
        assert!(TimedSteps::new(&[]).done());
    }
}
