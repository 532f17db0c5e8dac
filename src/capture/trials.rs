//! A capture's evidence and its trials, apart.

use super::types::Capture;
use measure::units::{Passage, Step, Trial};

impl Capture {
    /// The number of samples before the first trial: all that is evidence of the part.
    pub fn proper(&self) -> usize {
        let first = self.meta.tried.iter().map(|tried| tried.from_us).min();
        first.map_or(self.t_us.len(), |from_us| {
            self.t_us.partition_point(|t| *t < from_us)
        })
    }

    /// The first sample of a trial.
    pub fn first_of(&self, trial: Trial) -> usize {
        let tried = self.meta.tried.iter().filter(|tried| tried.trial == trial);
        let first = tried.map(|tried| tried.from_us).min();
        first.map_or(self.t_us.len(), |from_us| {
            self.t_us.partition_point(|t| *t < from_us)
        })
    }

    /// Parts the passage in which the first trial begins, so that evidence ends at an end of a passage.
    pub fn part_before_trials(&mut self) {
        let proper = self.proper();
        let mut passages = self.passages.iter();
        let Some(at) = passages.position(|p| p.range.start < proper && proper < p.range.end) else {
            return;
        };
        let whole = &mut self.passages[at];
        let (step, end) = (whole.step, whole.range.end);
        whole.range.end = proper;
        let rest = Passage {
            step,
            range: proper..end,
        };
        self.passages.insert(at + 1, rest);
    }

    /// The passages as a trial has them: its own steps, and nothing else but the holds of both ends that were taken before.
    pub fn passages_of(&self, trial: Trial) -> Vec<Passage> {
        let proper = self.proper();
        let mut passages: Vec<Passage> = Vec::new();
        let mut add = |step, range: std::ops::Range<usize>| {
            if !range.is_empty() {
                passages.push(Passage { step, range });
            }
        };
        let mut at = 0;
        for passage in &self.passages {
            let range = passage.range.start.min(proper)..passage.range.end.min(proper);
            let holds = matches!(passage.step, Step::Rest | Step::Full);
            at = range.end;
            add(if holds { passage.step } else { Step::Idle }, range);
        }
        for tried in self.meta.tried.iter().filter(|tried| tried.trial == trial) {
            let from = self.t_us.partition_point(|t| *t < tried.from_us).max(at);
            let to = self.t_us.partition_point(|t| *t <= tried.to_us).max(from);
            add(Step::Idle, at..from);
            add(tried.step, from..to);
            at = to;
        }
        add(Step::Idle, at..self.t_us.len());
        passages
    }
}

#[cfg(test)]
mod tests {
    use crate::capture::{Capture, Metadata};
    use measure::units::{Code, Passage, Step, Trial};

    /// Ten samples, a millisecond apart: two at rest, two at full, two of strokes, and four while a trial was under way.
    fn tried() -> Capture {
        let meta = r#"{"pedalproof": {"format": "capture/1", "board": {"bits": 10, "vref_mv": 5000, "rate_hz": 1000},
            "channels": {"a": {"role": "signal"}},
            "tried": [{"trial": "slower", "step": "strokes", "from_us": 7000, "to_us": 8000}]}}"#;
        let steps = [
            (Step::Rest, 0..2),
            (Step::Full, 2..4),
            (Step::Strokes, 4..6),
            (Step::Idle, 6..10),
        ];
        Capture {
            meta: Metadata::from_json(meta).unwrap(),
            t_us: (0..10).map(|n| n * 1000).collect(),
            passages: steps
                .into_iter()
                .map(|(step, range)| Passage { step, range })
                .collect(),
            codes: vec![vec![Code(5); 10]],
            reference: None,
            lost: None,
        }
    }

    #[test]
    fn evidence_ends_before_the_first_trial() {
        let mut capture = tried();
        capture.part_before_trials();
        let recording = capture.recording().unwrap();
        assert_eq!(recording.t_us.len(), 7);
        let last = recording.passages.last().unwrap();
        assert_eq!((last.step, last.range.clone()), (Step::Idle, 6..7));
        assert_eq!(recording.channels[0].codes.len(), 7);
        let again = Metadata::from_json(&capture.meta.to_json("x.csv")).unwrap();
        assert_eq!(again.tried, capture.meta.tried);
    }

    #[test]
    fn a_trial_has_its_own_steps_and_the_holds() {
        let mut capture = tried();
        capture.part_before_trials();
        let passages = capture.passages_of(Trial::Slower).into_iter();
        let passages: Vec<_> = passages.map(|p| (p.step, p.range)).collect();
        assert_eq!(
            passages,
            [
                (Step::Rest, 0..2),
                (Step::Full, 2..4),
                (Step::Idle, 4..6),
                (Step::Idle, 6..7),
                (Step::Strokes, 7..9),
                (Step::Idle, 9..10)
            ]
        );
        let none = capture.passages_of(Trial::Swap);
        assert!(none.iter().all(|p| p.step != Step::Strokes));
    }
}
