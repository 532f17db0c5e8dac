//! An earlier run of the same unit under the run on the screen: its samples, its figures against those of now.

use crate::record::{Assessment, Compared, Earlier};
use crate::tui::host::EarlierRun;
use crate::tui::run::{Run, Store, clamp_us};
use measure::units::Step;
use std::sync::Arc;

/// How the two runs are aligned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Align {
    /// Each step from its beginning.
    #[default]
    Step,
    /// Both from their first sample.
    Beginning,
}

impl Align {
    pub fn other(self) -> Self {
        match self {
            Self::Step => Self::Beginning,
            Self::Beginning => Self::Step,
        }
    }
}

#[derive(Debug, Clone)]
pub struct Overlay {
    /// What it is called: its day.
    pub name: String,
    /// Channels of its trace; empty when its capture is not there.
    pub lanes: Vec<String>,
    /// Resolution of its board.
    pub bits: u32,
    pub rate_hz: f64,
    pub store: Arc<Store>,
    pub align: Align,
    /// Its figures against those of now.
    pub compared: Vec<Compared>,
    figures: Earlier,
    starts: Vec<(Step, u64)>,
}

impl Overlay {
    /// The run as it was read, not yet compared.
    pub fn new(earlier: &EarlierRun) -> Self {
        let mut store = Store::default();
        let trace = earlier.trace.as_ref();
        if let Some(trace) = trace {
            let samples = &trace.samples;
            let columns: Vec<usize> = (0..samples.codes.len()).collect();
            store.feed(&samples.t_us, &samples.step, &samples.codes, &columns);
        }
        Self {
            name: earlier.name.clone(),
            lanes: trace.map_or_else(Vec::new, |trace| trace.channels.clone()),
            bits: earlier.figures.bits,
            rate_hz: trace.map_or(0.0, |trace| trace.rate_hz),
            starts: store.step_starts(),
            store: Arc::new(store),
            align: Align::default(),
            compared: Vec::new(),
            figures: earlier.figures.clone(),
        }
    }

    /// Compares its figures with those of now.
    pub fn compare(&mut self, now: Option<&Assessment>, bits: u32) {
        self.compared = now.map_or_else(Vec::new, |now| self.figures.against(now, bits));
    }

    /// What a figure of a channel was, against what it is.
    pub fn of(&self, channel: &str, name: measure::figure::FigureName) -> Option<&Compared> {
        let mut all = self.compared.iter();
        all.find(|one| one.channel == channel && one.name == name)
    }

    /// The stretches of the run on the screen that have a part of this one under them.
    pub fn stretches(&self, run: &Run) -> Vec<Stretch> {
        let (Some((now, _)), Some((then, last))) = (run.store.extent_us(), self.store.extent_us())
        else {
            return Vec::new();
        };
        let (now, then, last) = (clamp_us(now), clamp_us(then), clamp_us(last));
        if self.align == Align::Beginning {
            return vec![Stretch {
                from: now,
                to: i64::MAX,
                later: then.saturating_sub(now),
                until: last,
            }];
        }
        let starts = run.store.step_starts();
        let stretch = |(at, (step, begun)): (usize, &(Step, u64))| {
            let place = self.starts.iter().position(|(known, _)| known == step)?;
            let (_, then) = self.starts.get(place)?;
            let next =
                |starts: &[(Step, u64)], at: usize| starts.get(at + 1).map(|(_, t)| clamp_us(*t));
            Some(Stretch {
                from: clamp_us(*begun),
                to: next(&starts, at).unwrap_or(i64::MAX),
                later: clamp_us(*then).saturating_sub(clamp_us(*begun)),
                until: next(&self.starts, place).unwrap_or(last),
            })
        };
        starts.iter().enumerate().filter_map(stretch).collect()
    }
}

/// A stretch of the run on the screen, and where the earlier run's samples under it lie. All in microseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// It begins here, in the run's time.
    pub from: i64,
    /// It ends before this.
    pub to: i64,
    /// What is added to a time of the run to get the earlier run's.
    pub later: i64,
    /// The earlier run has nothing for this stretch after this, in its own time.
    pub until: i64,
}

impl Stretch {
    /// The time of the earlier run that lies under a time of the run; absent when there is none.
    pub fn under(&self, t_us: i64) -> Option<i64> {
        let then = t_us.saturating_add(self.later);
        ((self.from..self.to).contains(&t_us) && then <= self.until).then_some(then)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Batch;
    use crate::tui::host::EarlierTrace;
    use measure::units::Code;
    use std::time::Duration;

    /// One sample a microsecond; `steps` are runs of a step with their length.
    fn batch(first: u64, steps: &[(Step, usize)]) -> Batch {
        let step: Vec<Step> = steps.iter().flat_map(|(step, n)| vec![*step; *n]).collect();
        Batch {
            t_us: (first..).take(step.len()).collect(),
            codes: vec![vec![Code(5); step.len()]],
            step,
        }
    }

    fn overlaid() -> (Run, Overlay) {
        let mut run = Run::new(String::new(), None, None, Duration::ZERO);
        let now = batch(100, &[(Step::Rest, 10), (Step::Idle, 5), (Step::Full, 10)]);
        run.store.feed(&now.t_us, &now.step, &now.codes, &[0]);
        let earlier = EarlierRun {
            name: "then".to_owned(),
            figures: Earlier::default(),
            trace: Some(EarlierTrace {
                channels: vec!["a".to_owned()],
                rate_hz: 1e6,
                samples: batch(1000, &[(Step::Rest, 4), (Step::Full, 20)]),
            }),
        };
        (run, Overlay::new(&earlier))
    }

    #[test]
    fn each_step_lies_on_its_own_beginning() {
        let (run, overlay) = overlaid();
        let stretches = overlay.stretches(&run);
        let at = |t: i64| stretches.iter().find_map(|s| s.under(t));
        assert_eq!((at(100), at(103)), (Some(1000), Some(1003)));
        assert_eq!(at(109), None, "rest was shorter then");
        assert_eq!((at(115), at(124)), (Some(1004), Some(1013)));
        assert_eq!(at(99), None);
    }

    #[test]
    fn or_both_from_their_first_sample() {
        let (run, mut overlay) = overlaid();
        overlay.align = Align::Beginning;
        let stretches = overlay.stretches(&run);
        assert_eq!(stretches[0].under(115), Some(1015));
        assert_eq!(stretches[0].under(123), Some(1023));
        assert_eq!(stretches[0].under(124), None, "it ended then");
    }
}
