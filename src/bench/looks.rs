//! Whether a card that is through wants more of a step, because a finding is still open.
//!
//! Belongs here: how much evidence a step has at each look, which step supplies a figure. Does not belong here: how wide
//! an interval must be at a look (`judge::sequential`), how a step is recognised (`card`).
//!
//! The looks are at what the card wants, half way from there to the most, and at the most. The first two need a 99.9 %
//! interval that is clear of the limit, so that ending there does not add to the chance of a wrong decision; at the
//! last the verdict is that of the 95 % interval. A card ends as soon as every finding that more evidence could decide is
//! decided, or one has failed.

use super::card::Wanted;
use crate::capture::Capture;
use crate::figure::{Evidence, Figure, FigureName};
use crate::judge::sequential::Looks;
use crate::judge::{Advice, Finding, Limit, Outcome, advise};
use crate::record::Assessment;
use crate::units::Step;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::mpsc::Receiver;

/// Looks at a card: at what it wants, half way to the most, at the most.
pub(super) const LOOKS: usize = 3;

/// Most evidence of a step, as a multiple of what the card wants of it: 16 strokes, 10 returns.
const MOST: f64 = 2.0;
/// The same of rest, which costs nothing but seconds: 6 s.
const MOST_REST: f64 = 3.0;

/// A capture to be assessed, and which look it is for, if any.
pub(super) struct Job {
    pub(super) capture: Capture,
    pub(super) look: Option<u64>,
}

/// What comes of looks, with the number of the job.
type Answers = Receiver<(u64, Option<Arc<Assessment>>)>;

/// The looks at one card.
pub(super) struct Looking {
    wanted: Wanted,
    look: usize,
    jobs: u64,
    waiting_for: Option<u64>,
    answers: Answers,
}

impl Looking {
    pub(super) fn new(wanted: Wanted, answers: Answers) -> Self {
        Self {
            wanted,
            look: 0,
            jobs: 0,
            waiting_for: None,
            answers,
        }
    }

    /// Whether an answer is awaited.
    pub(super) fn waiting(&self) -> bool {
        self.waiting_for.is_some()
    }

    /// A number for the next job.
    pub(super) fn next(&mut self) -> u64 {
        self.jobs += 1;
        self.jobs
    }

    pub(super) fn wait_for(&mut self, job: u64) {
        self.waiting_for = Some(job);
    }

    /// The card went on meanwhile: an answer that is under way is out of date.
    pub(super) fn forget(&mut self) {
        self.waiting_for = None;
    }

    /// The steps to take up again, once the answer is there; none of them when the card is through.
    pub(super) fn heard(&mut self) -> Option<BTreeMap<Step, f64>> {
        let awaited = self.waiting_for?;
        let assessment = self
            .answers
            .try_iter()
            .find(|(job, _)| *job == awaited)
            .map(|(_, assessment)| assessment)?;
        self.waiting_for = None;
        let again = assessment.map(|assessment| more(&assessment, &self.wanted, self.look));
        self.look += 1;
        Some(again.unwrap_or_default())
    }
}

/// What the card wants of a step and the most it may take, for steps that can be taken up again.
fn planned(step: Step, wanted: &Wanted) -> Option<Looks> {
    let (want, most) = match step {
        Step::Rest => (wanted.rest_s, wanted.rest_s * MOST_REST),
        Step::Strokes => {
            let want = f64::from(wanted.strokes);
            (want, want * MOST)
        }
        Step::Release => {
            let want = f64::from(wanted.returns);
            (want, want * MOST)
        }
        _ => return None,
    };
    Some(Looks::between(want, most, LOOKS))
}

/// The step that, taken up again, adds to the evidence of a figure.
///
/// None for what wants one longer hold instead of another one: the level of a single hold, drift.
fn supplies(name: FigureName, evidence: Evidence) -> Option<Step> {
    match evidence {
        Evidence::Strokes => Some(Step::Strokes),
        Evidence::Returns => Some(Step::Release),
        Evidence::Holds if name.steps().contains(&Step::Release) => Some(Step::Release),
        Evidence::Seconds if name == FigureName::NoiseRestRms => Some(Step::Rest),
        _ => None,
    }
}

/// The steps to take up again after look number `look` (0 for the first) and how much of each is wanted then; empty when
/// the card is through.
pub(super) fn more(assessment: &Assessment, wanted: &Wanted, look: usize) -> BTreeMap<Step, f64> {
    let mut again = BTreeMap::new();
    if look + 1 >= LOOKS {
        return again;
    }
    for finding in &assessment.findings {
        let Some((figure, limit)) = held(assessment, finding) else {
            continue;
        };
        match standing(finding.figure, figure, limit, wanted, look) {
            Standing::Failed => return BTreeMap::new(),
            Standing::Settled => {}
            Standing::Open(step, want) => {
                again.insert(step, want);
            }
        }
    }
    again
}

fn held<'a>(assessment: &'a Assessment, finding: &Finding) -> Option<(&'a Figure, Limit)> {
    let figure = assessment.figures(&finding.channel)?.get(finding.figure)?;
    Some((figure, Limit::new(finding.min, finding.max).ok()?))
}

enum Standing {
    /// Decided against the unit: nothing more is needed for the verdict.
    Failed,
    /// Decided, or not to be decided by taking a step up again.
    Settled,
    /// This step, until there is so much of it.
    Open(Step, f64),
}

fn standing(
    name: FigureName,
    figure: &Figure,
    limit: Limit,
    wanted: &Wanted,
    look: usize,
) -> Standing {
    let Some(shrink) = figure.shrink else {
        let last = Looks::between(1.0, 1.0, 1);
        let failed = figure.u.is_none() && last.outcome(0, limit, figure) == Outcome::Fail;
        return if failed {
            Standing::Failed
        } else {
            Standing::Settled
        };
    };
    let Some((step, looks)) =
        supplies(name, shrink.evidence).and_then(|step| Some((step, planned(step, wanted)?)))
    else {
        return Standing::Settled;
    };
    match looks.outcome(look, limit, figure) {
        Outcome::Fail => Standing::Failed,
        Outcome::Undecided if !hopeless(limit, figure) => {
            let want = looks.at()[look + 1];
            let whole = shrink.evidence.counted();
            Standing::Open(step, if whole { want.ceil() } else { want })
        }
        _ => Standing::Settled,
    }
}

/// Whether no evidence that a card takes would help.
fn hopeless(limit: Limit, figure: &Figure) -> bool {
    matches!(advise(limit, figure), Advice::Board | Advice::OnTheLimit)
}

#[cfg(test)]
mod tests {
    use super::super::card::{Card, ExpectedEnds};
    use super::*;
    use crate::figure::{FigureName as Name, Figures, Scope, Shrink};
    use crate::judge::decide;
    use crate::record::{CaptureFacts, ChannelPart, UnitFacts};
    use crate::units::Code;

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
        }
    }

    /// 1.0 with u 0.1: 99.9 % reach 0.329 away, 95 % 0.196.
    fn known(evidence: Evidence, have: f64) -> Figure {
        Figure::symmetric(1.0, 0.1, 1.959_964, 5, "").shrinking(Shrink::mean(evidence, have, 0.0))
    }

    fn asked(held: Vec<(Name, f64, Figure)>, look: usize) -> Vec<(Step, f64)> {
        let again = more(&assessment(held), &Wanted::default(), look);
        again.into_iter().collect()
    }

    #[test]
    fn an_open_finding_asks_for_its_step_until_the_most_is_there() {
        let noise = |max| (Name::NoiseRestRms, max, known(Evidence::Seconds, 2.0));
        let stroke = |max| (Name::StrokeNoiseRms, max, known(Evidence::Strokes, 8.0));
        // Decided by 99.9 %; by 95 % only, which is not enough yet; not decided.
        assert_eq!(asked(vec![noise(1.34)], 0), []);
        assert_eq!(asked(vec![noise(1.30)], 0), [(Step::Rest, 4.0)]);
        assert_eq!(asked(vec![noise(1.15)], 0), [(Step::Rest, 4.0)]);
        assert_eq!(asked(vec![noise(1.15)], 1), [(Step::Rest, 6.0)]);
        assert_eq!(asked(vec![noise(1.15)], 2), []);
        let both = asked(vec![noise(1.15), stroke(1.15)], 0);
        assert_eq!(both, [(Step::Rest, 4.0), (Step::Strokes, 12.0)]);
    }

    #[test]
    fn a_level_of_several_holds_asks_for_returns_in_whole_ones() {
        let rest = Figure::symmetric(1.0, 0.1, 2.571, 6, "").shrinking(Shrink::pieces(
            Evidence::Holds,
            6,
            0.0,
        ));
        assert_eq!(
            asked(vec![(Name::RestCode, 1.2, rest.clone())], 0),
            [(Step::Release, 8.0)]
        );
        // Another full hold is no longer one.
        assert_eq!(asked(vec![(Name::FullCode, 1.2, rest)], 0), []);
    }

    #[test]
    fn what_is_failed_or_hopeless_or_counted_asks_for_nothing() {
        let open = (Name::NoiseRestRms, 1.15, known(Evidence::Seconds, 2.0));
        let failed = (Name::StrokeNoiseRms, 0.5, known(Evidence::Strokes, 8.0));
        assert_eq!(asked(vec![open.clone(), failed], 0), []);
        let dropped = (Name::DropoutsCount, 0.0, Figure::counted(2.0, 8, ""));
        assert_eq!(asked(vec![open, dropped], 0), []);
        let on_it = (Name::NoiseRestRms, 1.001, known(Evidence::Seconds, 2.0));
        assert_eq!(asked(vec![on_it], 0), []);
        let whole = (Name::DropoutsCount, 0.0, Figure::counted(0.0, 8, ""));
        assert_eq!(asked(vec![whole], 0), []);
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
    fn a_card_that_is_kept_open_takes_a_step_up_again() {
        let scale = crate::units::Scale::new(10, 5000.0).unwrap();
        let wanted = Wanted::default();
        let mut card = Card::new(&[Step::Rest], wanted, 0, scale, ExpectedEnds::default());
        card.keep_open(true);
        let t_us = still_until_the_end(&mut card, 0);
        assert!(!card.done());
        assert_eq!(card.push(t_us, &[Code(164)]).step, Step::Idle, "it waits");
        assert!(!card.take_up(Step::Strokes, 12.0), "no such step");
        assert!(!card.take_up(Step::Rest, 2.0), "there is as much");
        assert!(card.take_up(Step::Rest, 4.0) && !card.at_end());
        let ended_us = still_until_the_end(&mut card, t_us + 1000);
        let more_s = crate::units::seconds_from_us(ended_us - t_us);
        assert!(
            (more_s - 2.0).abs() < 0.1,
            "{more_s} s for two seconds more"
        );
        card.keep_open(false);
        assert!(card.done());
    }

    #[test]
    fn a_step_that_was_left_out_stays_so() {
        let scale = crate::units::Scale::new(10, 5000.0).unwrap();
        let steps = [Step::Rest];
        let mut card = Card::new(&steps, Wanted::default(), 0, scale, ExpectedEnds::default());
        card.keep_open(true);
        card.skip();
        assert!(card.at_end() && !card.take_up(Step::Rest, 4.0));
    }
}
