//! What a run has shown so far, in memory: for the figures on the screen and for the looks at a card.
//!
//! Belongs here: how much of it is kept. Does not belong here: what it says (`assess`), the file.
//!
//! Every sample is evidence, those between the steps (`idle`) as well: contact may be lost at any time. Of a long wait the first
//! minute is enough; the file has the rest, and the last word. A step can be left going for hours: from a size on nothing more
//! is taken in.

use crate::bench::card::Label;
use crate::capture::{Capture, Metadata, SetAside, Tried};
use measure::units::{Code, Passage, Step};

/// Most that is kept: 8 bytes a sample for its time and 4 a channel. At 1 kHz and four channels 5.8 minutes of steps, of two
/// channels 8.7; a card asks for one to three.
const MOST_BYTES: usize = 8 << 20;

/// Most that is kept of one stretch between the steps, microseconds.
const MOST_IDLE_US: u64 = 60_000_000;

/// The samples that figures come from.
#[derive(Debug)]
pub(super) struct Evidence {
    pub(super) kept: Capture,
    /// Samples that are kept at most.
    pub(super) most: usize,
    /// Samples that came, with those between the steps.
    pub(super) seen: u64,
    /// Whether something of a step is not kept.
    pub(super) full: bool,
    /// Whether something between the steps is not kept.
    pub(super) thinned: bool,
}

impl Evidence {
    pub(super) fn new(meta: Metadata) -> Self {
        let channels = meta.channels.len();
        let reference = meta.reference.as_ref().map(|_| Vec::new());
        let positions = if reference.is_some() { 8 } else { 0 };
        Self {
            kept: Capture {
                codes: vec![Vec::new(); channels],
                meta,
                t_us: Vec::new(),
                passages: Vec::new(),
                reference,
                lost: None,
            },
            most: MOST_BYTES / (8 + positions + 4 * channels),
            seen: 0,
            full: false,
            thinned: false,
        }
    }

    /// Takes a sample in, with its reference position if there is one.
    pub(super) fn push(&mut self, t_us: u64, label: Label, codes: &[Code]) {
        let Label {
            step,
            position,
            tried,
        } = label;
        let position = position.unwrap_or(f64::NAN);
        self.seen += 1;
        let at = self.kept.t_us.len();
        self.full |= at >= self.most;
        if self.full {
            return;
        }
        match self.kept.passages.last_mut() {
            Some(passage) if passage.step == step => {
                let begun = self.kept.t_us.get(passage.range.start);
                let long = begun.is_some_and(|from| t_us.saturating_sub(*from) > MOST_IDLE_US);
                if step == Step::Idle && !tried && passage.range.len() > 1 && long {
                    self.thinned = true;
                    self.put_last(t_us, position, codes);
                    return;
                }
                passage.range.end = at + 1;
            }
            _ => self.kept.passages.push(Passage {
                step,
                range: at..at + 1,
            }),
        }
        self.kept.t_us.push(t_us);
        if let Some(positions) = &mut self.kept.reference {
            positions.push(position);
        }
        for (column, code) in self.kept.codes.iter_mut().zip(codes) {
            column.push(*code);
        }
    }

    /// Takes a stretch back.
    pub(super) fn set_aside(&mut self, stretch: SetAside) {
        stretch.apply(&mut self.kept.passages, &self.kept.t_us);
        self.kept.meta.set_aside.push(stretch);
    }

    /// What was tried so far, behind all evidence.
    pub(super) fn set_tried(&mut self, tried: &[Tried]) {
        self.kept.meta.tried = tried.to_vec();
        self.kept.part_before_trials();
    }

    /// In the place of the last one.
    fn put_last(&mut self, t_us: u64, position: f64, codes: &[Code]) {
        if let Some(last) = self.kept.t_us.last_mut() {
            *last = t_us;
        }
        let positions = self.kept.reference.as_mut();
        if let Some(last) = positions.and_then(|positions| positions.last_mut()) {
            *last = position;
        }
        for (column, code) in self.kept.codes.iter_mut().zip(codes) {
            if let Some(last) = column.last_mut() {
                *last = *code;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{assess, simulated_capture};
    use simulator::{SCENARIO_UNITS, Simulation, scenario};

    /// A whole card, of which one step is taken as none.
    fn whole_card(unit: &str, none: Step) -> Capture {
        let mut simulation = Simulation::new(&scenario(unit).unwrap(), 3).unwrap();
        let mut capture = simulated_capture(&simulation.run(200.0), None);
        for passage in &mut capture.passages {
            if passage.step == none {
                passage.step = Step::Idle;
            }
        }
        capture
    }

    fn evidence_of(whole: &Capture) -> Evidence {
        let mut evidence = Evidence::new(whole.meta.clone());
        for (at, t_us) in whole.t_us.iter().enumerate() {
            let codes: Vec<Code> = whole.codes.iter().map(|column| column[at]).collect();
            let mut passages = whole.passages.iter();
            let passage = passages.find(|passage| passage.range.contains(&at));
            let step = passage.map_or(Step::Idle, |p| p.step);
            evidence.push(*t_us, Label::of(step), &codes);
        }
        evidence
    }

    /// Against the figures of the whole capture, which are held against known truth elsewhere.
    #[test]
    fn what_is_kept_says_the_same_as_the_whole() {
        for (unit, _) in SCENARIO_UNITS {
            let whole = whole_card(unit, Step::Full);
            let evidence = evidence_of(&whole);
            assert!(!evidence.full, "{unit}");
            assert_eq!(evidence.seen, whole.t_us.len() as u64);
            let of_all = assess(&whole, None).unwrap();
            let mut of_kept = assess(&evidence.kept, None).unwrap();
            of_kept.capture.samples = evidence.seen;
            assert_eq!(of_kept, of_all, "{unit}");
        }
    }

    #[test]
    fn a_long_wait_is_thinned_and_a_long_step_has_an_end() {
        let mut evidence = Evidence::new(whole_card("T1-pedal", Step::Idle).meta);
        let codes = vec![Code(5); evidence.kept.codes.len()];
        for i in 0..100_000 {
            evidence.push(i * 1000, Label::of(Step::Idle), &codes);
        }
        // A minute at 1 kHz, both ends included, and the last sample.
        assert_eq!(evidence.kept.t_us.len(), 60_001);
        assert_eq!(evidence.kept.t_us.last(), Some(&99_999_000));
        assert!(evidence.thinned && !evidence.full);
        for i in 100_000..2_000_000 {
            evidence.push(i * 1000, Label::of(Step::Strokes), &codes);
        }
        assert!(evidence.full);
        assert_eq!(evidence.kept.t_us.len(), evidence.most);
        assert!(evidence.kept.codes.iter().all(|c| c.len() == evidence.most));
        assert_eq!(evidence.seen, 2_000_000);
    }
}
