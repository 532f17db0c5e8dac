//! Whether a card that is through wants more of a step, because a finding is still open.
//!
//! Belongs here: which step supplies a figure, what is open after a look. Does not belong here: how wide an interval must
//! be at a look (`judge::sequential`), how much of a step there is at each (`card::evidence_plan`), how a step is recognised (`card`).
//!
//! The card goes through its steps with the least that could decide, and is looked at. It ends there when every finding
//! that more of a step could decide is decided, or one has failed; else it takes up the steps that supply the open ones,
//! until the next amount, and is looked at again: four times at most. The look it has come to is written into the
//! capture, and whoever judges the capture uses that look's interval: a card that ends early needs clearer findings.

use crate::bench::card::{EvidencePlan, LOOKS};
use crate::capture::{Capture, LooksTaken};
use crate::record::Assessment;
use measure::figure::{Evidence, Figure, FigureName};
use measure::judge::sequential::Look;
use measure::judge::{Advice, Finding, Limit, Outcome, advise};
use measure::units::Step;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::mpsc::Receiver;

/// A capture to be assessed, and which job it is when somebody waits for it.
pub(super) struct Job {
    pub(super) capture: Capture,
    /// Samples taken, with those that are not kept in memory.
    pub(super) samples: u64,
    pub(super) look: Option<u64>,
}

/// What comes of looks, with the number of the job.
pub(super) type Answers = Receiver<(u64, Option<Arc<Assessment>>)>;

/// What a card was to take.
pub(super) struct Planned {
    pub(super) steps: Vec<Step>,
    pub(super) wanted: EvidencePlan,
}

/// The looks at one card.
pub(super) struct Looking {
    planned: Planned,
    taken: usize,
}

/// The answers to looks, which come from another thread.
pub(super) struct Awaited {
    jobs: u64,
    /// The job whose answer is awaited; out of date, so none, when the card goes on meanwhile.
    pub(super) waiting_for: Option<u64>,
    answers: Answers,
}

/// The look that a new card comes to first.
pub(super) const FIRST: LooksTaken = look(1);

#[allow(clippy::cast_possible_truncation)] // up to 6
const fn look(taken: usize) -> LooksTaken {
    LooksTaken {
        taken: taken as u32,
        planned: LOOKS as u32,
    }
}

impl Looking {
    pub(super) fn new(planned: Planned) -> Self {
        Self { planned, taken: 1 }
    }

    /// The steps to take up again after this look; none of them when the card is through.
    pub(super) fn again(&self, assessment: Option<&Assessment>) -> BTreeMap<Step, f64> {
        let again = assessment.map(|assessment| more(assessment, &self.planned, self.taken));
        again.unwrap_or_default()
    }

    /// The card goes on to the next look. Gives what the capture is to say.
    pub(super) fn go_on(&mut self) -> LooksTaken {
        self.taken = (self.taken + 1).min(LOOKS);
        look(self.taken)
    }
}

impl Awaited {
    pub(super) fn new(answers: Answers) -> Self {
        Self {
            jobs: 0,
            waiting_for: None,
            answers,
        }
    }

    pub(super) fn next(&mut self) -> u64 {
        self.jobs += 1;
        self.jobs
    }

    /// The answer that was awaited, once it is there: an assessment, or that there is none.
    #[allow(clippy::option_option)]
    pub(super) fn heard(&mut self) -> Option<Option<Arc<Assessment>>> {
        let awaited = self.waiting_for?;
        let (_, assessment) = self.answers.try_iter().find(|(job, _)| *job == awaited)?;
        self.waiting_for = None;
        Some(assessment)
    }
}

/// The steps that, taken up again, add to the evidence of a figure. A card without releases gets rest holds from its rest step.
fn supplies(name: FigureName, evidence: Evidence, card: &[Step]) -> Vec<Step> {
    let more = name.facts().more.iter().filter(|(of, _)| *of == evidence);
    let here = |step| match step {
        Step::Release if !card.contains(&step) => Step::Rest,
        step => step,
    };
    more.map(|(_, step)| here(*step)).collect()
}

/// The steps to take up again after look number `taken` and how much of each is wanted then; empty when the card is
/// through.
fn more(assessment: &Assessment, planned: &Planned, taken: usize) -> BTreeMap<Step, f64> {
    let mut again = BTreeMap::new();
    let Some(look) = Look::new(taken, LOOKS).filter(|look| look.taken() < LOOKS) else {
        return again;
    };
    for finding in &assessment.findings {
        match standing(assessment, finding, planned, look) {
            Standing::Failed => return BTreeMap::new(),
            Standing::Settled => {}
            Standing::Open(steps) => {
                for step in steps {
                    let looks = planned.wanted.looks(step);
                    if let Some(want) = looks.and_then(|looks| looks.at().get(taken).copied()) {
                        again.insert(step, want);
                    }
                }
            }
        }
    }
    again
}

enum Standing {
    /// Decided against the unit: nothing more is needed for the verdict.
    Failed,
    /// Decided, or not to be decided by taking a step up again.
    Settled,
    /// These steps may decide it.
    Open(Vec<Step>),
}

fn standing(assessment: &Assessment, finding: &Finding, planned: &Planned, look: Look) -> Standing {
    let (Some(figures), Ok(limit)) = (
        assessment.figures(&finding.channel),
        Limit::new(finding.min, finding.max),
    ) else {
        return Standing::Settled;
    };
    let Some(figure) = figures.get(finding.figure) else {
        // Too little of its step was seen: once more of that.
        return Standing::Open(finding.figure.steps().to_vec());
    };
    match look.outcome(limit, figure) {
        Outcome::Fail => Standing::Failed,
        Outcome::Undecided if !hopeless(limit, figure, look) => match figure.shrink {
            Some(shrink) => {
                Standing::Open(supplies(finding.figure, shrink.evidence, &planned.steps))
            }
            // The least that there is: not all that it takes was seen.
            None if figure.high.is_none() => Standing::Open(finding.figure.steps().to_vec()),
            None => Standing::Settled,
        },
        _ => Standing::Settled,
    }
}

/// Whether a limit is broken by so much that no other hold and no other press would mend it: by half of what it leaves
/// room for (a quarter of a limit with one side), and by three times the width of the interval. The looks that are planned
/// spend the whole chance of error; this one must not need any.
pub(super) fn beyond_help(assessment: &Assessment) -> bool {
    assessment.findings.iter().any(|finding| {
        let figures = assessment.figures(&finding.channel);
        let Some(figure) = figures.and_then(|figures| figures.get(finding.figure)) else {
            return false;
        };
        let room = match (finding.min, finding.max) {
            (Some(min), Some(max)) => (max - min) / 2.0,
            (one, other) => one.or(other).unwrap_or_default().abs() / 4.0,
        };
        let above = finding
            .max
            .zip(figure.low)
            .is_some_and(|(max, low)| low - 6.0 * (figure.value - low).max(0.0) > max + room);
        let below = finding
            .min
            .zip(figure.high)
            .is_some_and(|(min, high)| high + 6.0 * (high - figure.value).max(0.0) < min - room);
        finding.outcome == Outcome::Fail && (above || below)
    })
}

/// Whether no evidence would help. An estimate that lies on the limit may still move away from it.
fn hopeless(limit: Limit, figure: &Figure, look: Look) -> bool {
    advise(limit, &look.widened(figure)) == Advice::Board
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::card::{Card, ExpectedEnds};
    use crate::record::{CaptureFacts, ChannelPart, UnitFacts};
    use measure::figure::{FigureName as Name, Figures, Scope, Shrink};
    use measure::judge::decide;
    use measure::units::Code;

    fn assessment(held: Vec<(Name, f64, Figure)>) -> Assessment {
        let mut figures = Figures::new(Scope::Channel);
        let mut findings = Vec::new();
        for (name, max, figure) in held {
            let limit = Limit::new(None, Some(max)).unwrap();
            findings.push(decide("a", name, limit, Some(&figure)));
            figures.set(name, figure);
        }
        let part = ChannelPart {
            figures,
            worn_zones: Vec::new(),
            dropouts: Vec::new(),
            map: None,
            curve: None,
        };
        Assessment {
            verdict: None,
            capture: CaptureFacts::default(),
            unit: UnitFacts::default(),
            channels: vec![("a".to_owned(), part)],
            pairs: Vec::new(),
            findings,
            diagnosis: crate::diagnose::Diagnosis::default(),
        }
    }

    /// 1.0 with u 0.1: 99.5 % reach 0.281 away, 95 % 0.196.
    fn known(evidence: Evidence, have: f64) -> Figure {
        Figure::symmetric(1.0, 0.1, 1.959_964, 5, "").shrinking(Shrink::mean(evidence, have, 0.0))
    }

    fn asked_of(held: Vec<(Name, f64, Figure)>, taken: usize, steps: &[Step]) -> Vec<(Step, f64)> {
        let planned = Planned {
            steps: steps.to_vec(),
            wanted: EvidencePlan::default(),
        };
        let again = more(&assessment(held), &planned, taken);
        again.into_iter().collect()
    }

    /// Looks at 2, 3.33, 4.67, 6 s; 8, 11, 14, 16 strokes; 5, 8, 10, 12 returns.
    fn asked(held: Vec<(Name, f64, Figure)>, taken: usize) -> Vec<(Step, f64)> {
        let card = [Step::Rest, Step::Full, Step::Strokes, Step::Release];
        asked_of(held, taken, &card)
    }

    #[test]
    fn an_open_finding_asks_for_its_step_until_the_most_is_there() {
        let noise = |max| (Name::NoiseRestRms, max, known(Evidence::Seconds, 2.0));
        let stroke = |max| (Name::StrokeNoiseRms, max, known(Evidence::Strokes, 8.0));
        // Decided by 99.5 %; by 95 % only, which is not enough yet; not decided.
        assert_eq!(asked(vec![noise(1.29)], 1), []);
        let early = asked(vec![noise(1.25)], 1);
        assert!(
            early.len() == 1 && early[0].0 == Step::Rest && (early[0].1 - 10.0 / 3.0).abs() < 1e-9
        );
        assert_eq!(asked(vec![noise(1.15)], 3), [(Step::Rest, 6.0)]);
        assert_eq!(asked(vec![noise(1.15)], 4), []);
        // On the limit as far as is known: it may move away.
        assert_eq!(asked(vec![noise(1.001)], 3), [(Step::Rest, 6.0)]);
        let both = asked(vec![noise(1.15), stroke(1.15)], 3);
        assert_eq!(both, [(Step::Rest, 6.0), (Step::Strokes, 16.0)]);
    }

    #[test]
    fn a_level_of_several_holds_asks_for_more_of_them() {
        let level = |evidence| {
            Figure::symmetric(1.0, 0.1, 2.571, 6, "").shrinking(Shrink::pieces(evidence, 6, 0.0))
        };
        let rests = |name| vec![(name, 1.25, level(Evidence::Holds))];
        let presses = |name| vec![(name, 1.25, level(Evidence::Presses))];
        assert_eq!(asked(rests(Name::RestCode), 1), [(Step::Release, 8.0)]);
        let dial = [Step::Rest, Step::Full, Step::Strokes];
        assert_eq!(
            asked_of(rests(Name::RestCode), 3, &dial),
            [(Step::Rest, 6.0)]
        );
        assert_eq!(asked(presses(Name::FullCode), 3), [(Step::Full, 6.0)]);
        assert_eq!(asked(presses(Name::SpanCode), 3), [(Step::Full, 6.0)]);
        assert_eq!(asked(rests(Name::SpanCode), 3), [(Step::Release, 12.0)]);
    }

    #[test]
    fn one_hold_and_its_noise_ask_for_seconds_of_it() {
        let held = |name| vec![(name, 1.15, known(Evidence::Seconds, 2.0))];
        for name in [Name::FullCode, Name::NoiseFullRms] {
            assert_eq!(asked(held(name), 3), [(Step::Full, 6.0)], "{name}");
        }
        assert_eq!(asked(held(Name::RestCode), 3), [(Step::Rest, 6.0)]);
        for name in [Name::DriftPerMin, Name::ReturnRange] {
            assert_eq!(asked(held(name), 3), [], "{name}: wants one longer hold");
        }
    }

    #[test]
    fn what_is_failed_or_hopeless_or_counted_asks_for_nothing() {
        let open = (Name::NoiseRestRms, 1.15, known(Evidence::Seconds, 2.0));
        let failed = (Name::StrokeNoiseRms, 0.5, known(Evidence::Strokes, 8.0));
        assert_eq!(asked(vec![open.clone(), failed], 1), []);
        let dropped = (Name::DropoutsCount, 0.0, Figure::counted(2.0, 8, ""));
        assert_eq!(asked(vec![open, dropped], 1), []);
        let rounding = 0.5 / 3.0_f64.sqrt();
        let coarse = Figure {
            low: Some(0.525),
            high: Some(1.475),
            ..known(Evidence::Seconds, 2.0).shrinking(Shrink::mean(
                Evidence::Seconds,
                2.0,
                rounding,
            ))
        };
        let coarse = Figure {
            u: Some(rounding),
            ..coarse
        };
        assert_eq!(
            asked(vec![(Name::RestCode, 1.3, coarse)], 1),
            [],
            "the board"
        );
        let whole = (Name::DropoutsCount, 0.0, Figure::counted(0.0, 8, ""));
        assert_eq!(asked(vec![whole], 1), []);
    }

    #[test]
    fn a_figure_that_too_little_was_seen_for_asks_for_its_step() {
        let mut assessment = assessment(Vec::new());
        let limit = Limit::new(None, Some(4.0)).unwrap();
        let planned = Planned {
            steps: vec![Step::Release],
            wanted: EvidencePlan::default(),
        };
        for (channel, wanted) in [("a", vec![(Step::Release, 8.0)]), ("none such", vec![])] {
            assessment.findings = vec![decide(channel, Name::ReturnScatter, limit, None)];
            let again: Vec<_> = more(&assessment, &planned, 1).into_iter().collect();
            assert_eq!(again, wanted, "{channel}");
        }
    }

    /// A card of one step, fed with a control that stands still at 1 kHz, until it is at its end.
    fn still_until_the_end(card: &mut Card, from_us: u64) -> u64 {
        let mut t_us = from_us;
        while !card.at_end() {
            card.push(t_us, &[Code(164)]);
            t_us += 1000;
            assert!(t_us < from_us + 60_000_000, "{:?}", card.progress());
        }
        t_us
    }

    #[test]
    fn a_card_that_is_held_open_takes_a_step_up_again() {
        let scale = measure::units::Scale::new(10, 5000.0).unwrap();
        let wanted = EvidencePlan::default();
        let mut card = Card::new(&[Step::Rest], wanted, 0, scale, ExpectedEnds::default());
        card.hold_open(true);
        let t_us = still_until_the_end(&mut card, 0);
        assert!(!card.done());
        assert_eq!(card.push(t_us, &[Code(164)]).step, Step::Idle, "it waits");
        assert!(!card.reopen(Step::Strokes, 12.0), "no such step");
        assert!(!card.reopen(Step::Rest, 2.0), "there is as much");
        assert!(card.reopen(Step::Rest, 4.0) && !card.at_end());
        let ended_us = still_until_the_end(&mut card, t_us + 1000);
        let more_s = measure::units::seconds_from_us(ended_us - t_us);
        assert!(
            (more_s - 2.9).abs() < 0.1,
            "{more_s} s for two seconds more and 0.9 to settle"
        );
        card.hold_open(false);
        assert!(card.done());
    }

    #[test]
    fn a_step_that_was_left_out_stays_so() {
        let scale = measure::units::Scale::new(10, 5000.0).unwrap();
        let steps = [Step::Rest];
        let mut card = Card::new(
            &steps,
            EvidencePlan::default(),
            0,
            scale,
            ExpectedEnds::default(),
        );
        card.hold_open(true);
        card.skip();
        assert!(card.at_end() && !card.reopen(Step::Rest, 4.0));
    }
}
