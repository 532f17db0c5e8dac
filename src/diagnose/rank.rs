//! From suspicions to causes: the strongest first, then the next that explains what is not explained yet.

use super::types::{CauseWord, Confidence};
use super::weigh::{Suspicion, Symptom};

/// Log odds and margin over the next from which a cause is certain, and from which it is likely.
const CERTAIN: [f64; 2] = [4.5, 3.0];
const LIKELY: [f64; 2] = [1.5, 1.0];
/// A rival this close is named, too, log odds.
const CLOSE: f64 = 2.5;
/// Most rivals that are named.
const MOST_RIVALS: usize = 2;
/// What one more symptom explained is worth, log odds, and how many count: one cause is likelier than several at once.
/// Common practice (parsimony), no source.
const PARSIMONY: [f64; 2] = [1.0, 3.0];

/// A suspicion that was taken for a cause.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ranked {
    pub suspicion: Suspicion,
    pub confidence: Confidence,
    /// What else fits nearly as well.
    pub rival: Option<CauseWord>,
}

impl Suspicion {
    fn covers(&self, symptom: Symptom) -> bool {
        let same = |mine: &Symptom| {
            mine.finding == symptom.finding && (mine.part == 0 || mine.part == symptom.part)
        };
        self.explains.iter().any(same)
    }

    /// Its log odds, with what it is worth that it explains several symptoms at once; `None` when it explains none.
    fn worth(&self, symptoms: &[Symptom]) -> Option<f64> {
        let covered = symptoms.iter().filter(|symptom| self.covers(**symptom));
        #[allow(clippy::cast_precision_loss)] // a handful
        let more = covered.count().checked_sub(1)? as f64;
        Some(self.score + PARSIMONY[0] * more.min(PARSIMONY[1]))
    }
}

/// The causes of these symptoms, the most likely first, and the symptoms that none explains. Only suspicions above `least`
/// log odds count.
pub(super) fn causes(
    mut suspicions: Vec<Suspicion>,
    symptoms: &[Symptom],
    least: f64,
) -> (Vec<Ranked>, Vec<Symptom>) {
    suspicions.retain(|suspicion| suspicion.score > least);
    let mut open = symptoms.to_vec();
    let mut causes: Vec<Ranked> = Vec::new();
    let mut rivals: Vec<Suspicion> = Vec::new();
    while let Some((best, worth)) = strongest(&suspicions, &open, |_| true) {
        let others = |other: &Suspicion| {
            let both = |symptom: &Symptom| best.covers(*symptom) && other.covers(*symptom);
            other.word != best.word && open.iter().any(both)
        };
        let rival = strongest(&suspicions, &open, others);
        let margin = rival
            .as_ref()
            .map_or(f64::INFINITY, |(_, next)| worth - next);
        let reaches = |[score, apart]: [f64; 2]| worth >= score && margin >= apart;
        let confidence = if reaches(CERTAIN) {
            Confidence::Certain
        } else if reaches(LIKELY) {
            Confidence::Likely
        } else {
            Confidence::Possible
        };
        let close = suspicions.iter().filter(|other| {
            others(other) && other.worth(&open).is_some_and(|next| worth - next < CLOSE)
        });
        rivals.extend(close.cloned());
        open.retain(|symptom| !best.covers(*symptom));
        let rival = rival.map(|(rival, _)| rival.word);
        add(&mut causes, best, confidence, rival);
    }
    add_rivals(&mut causes, rivals);
    (causes, open)
}

fn strongest(
    suspicions: &[Suspicion],
    open: &[Symptom],
    of: impl Fn(&Suspicion) -> bool,
) -> Option<(Suspicion, f64)> {
    let worth = suspicions
        .iter()
        .filter(|suspicion| of(suspicion))
        .filter_map(|suspicion| Some((suspicion, suspicion.worth(open)?)));
    let best = worth.max_by(|a, b| a.1.total_cmp(&b.1));
    best.map(|(suspicion, worth)| (suspicion.clone(), worth))
}

/// Adds a cause; one of the same word takes it in.
fn add(
    causes: &mut Vec<Ranked>,
    suspicion: Suspicion,
    confidence: Confidence,
    rival: Option<CauseWord>,
) {
    let same = causes
        .iter_mut()
        .find(|had| had.suspicion.word == suspicion.word);
    let Some(had) = same else {
        causes.push(Ranked {
            suspicion,
            confidence,
            rival,
        });
        return;
    };
    let had = &mut had.suspicion;
    if had.place.channels != suspicion.place.channels {
        had.place.channels.extend(&suspicion.place.channels);
        had.place.channels.sort_unstable();
        had.place.channels.dedup();
    }
    if let (Some(a), Some(b)) = (&mut had.detail, &suspicion.detail)
        && *a != *b
        && !b.is_empty()
    {
        *a = if a.is_empty() {
            b.clone()
        } else {
            format!("{a} and {b}")
        };
    }
    if had.acts != suspicion.acts {
        had.acts = super::types::ActsTowards::Either;
    }
    for fact in suspicion.facts {
        if !had.facts.contains(&fact) {
            had.facts.push(fact);
        }
    }
    had.explains.extend(suspicion.explains);
}

/// Names what else fits nearly as well, behind the causes.
fn add_rivals(causes: &mut Vec<Ranked>, mut rivals: Vec<Suspicion>) {
    rivals.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut added = 0;
    for rival in rivals {
        let named = causes.iter().any(|had| had.suspicion.word == rival.word);
        if !named && added < MOST_RIVALS {
            added += 1;
            causes.push(Ranked {
                rival: causes.first().map(|first| first.suspicion.word),
                suspicion: rival,
                confidence: Confidence::Possible,
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::weigh::Place;
    use super::*;

    fn symptom(finding: usize, part: usize) -> Symptom {
        Symptom { finding, part }
    }

    fn suspicion(word: CauseWord, score: f64, explains: &[(usize, usize)]) -> Suspicion {
        let explains = explains
            .iter()
            .map(|(finding, part)| symptom(*finding, *part));
        Suspicion::new(word, score, Place::default()).explains(explains)
    }

    fn ranked(
        suspicions: Vec<Suspicion>,
        symptoms: &[Symptom],
    ) -> (Vec<(CauseWord, Confidence)>, usize) {
        let (causes, open) = causes(suspicions, symptoms, 0.0);
        let words = causes.iter().map(|c| (c.suspicion.word, c.confidence));
        (words.collect(), open.len())
    }

    #[test]
    fn the_strongest_then_what_explains_the_rest() {
        let (causes, open) = ranked(
            vec![
                suspicion(CauseWord::WornTrack, 3.0, &[(0, 0)]),
                suspicion(CauseWord::MainsHum, 6.0, &[(1, 0), (2, 0)]),
                suspicion(CauseWord::Interference, -1.0, &[(3, 0)]),
            ],
            &[symptom(0, 0), symptom(1, 0), symptom(2, 0), symptom(3, 0)],
        );
        assert_eq!(
            causes,
            [
                (CauseWord::MainsHum, Confidence::Certain),
                (CauseWord::WornTrack, Confidence::Likely)
            ]
        );
        assert_eq!(open, 1, "what only an unlikely cause explains stays open");
    }

    #[test]
    fn two_that_fit_alike_are_both_named_and_neither_is_sure() {
        let (causes, _) = ranked(
            vec![
                suspicion(CauseWord::SignalOpen, 6.0, &[(0, 0)]),
                suspicion(CauseWord::NoSupply, 5.8, &[(0, 0)]),
            ],
            &[symptom(0, 0)],
        );
        assert_eq!(
            causes,
            [
                (CauseWord::SignalOpen, Confidence::Possible),
                (CauseWord::NoSupply, Confidence::Possible)
            ]
        );
    }

    #[test]
    fn one_count_may_have_two_causes() {
        let (causes, open) = ranked(
            vec![
                suspicion(CauseWord::LooseWiper, 4.0, &[(0, 1)]),
                suspicion(CauseWord::LooseConnection, 4.0, &[(0, 2)]),
            ],
            &[symptom(0, 1), symptom(0, 2)],
        );
        assert_eq!(causes.len(), 2);
        assert_eq!(open, 0);
        // What explains the whole count explains both parts.
        let whole = suspicion(CauseWord::SignalOpen, 4.0, &[(0, 0)]);
        assert_eq!(ranked(vec![whole], &[symptom(0, 1), symptom(0, 2)]).1, 0);
    }

    #[test]
    fn one_cause_for_three_symptoms_beats_one_for_each() {
        let (causes, _) = ranked(
            vec![
                suspicion(CauseWord::TracksSwapped, 3.0, &[(0, 0), (1, 0), (2, 0)]),
                suspicion(CauseWord::EndOutOfPlace, 4.0, &[(0, 0)]),
            ],
            &[symptom(0, 0), symptom(1, 0), symptom(2, 0)],
        );
        assert_eq!(causes[0].0, CauseWord::TracksSwapped);
    }

    #[test]
    fn nothing_is_suspected_of_a_good_part() {
        let some = vec![suspicion(CauseWord::WornTrack, 9.0, &[(0, 0)])];
        assert_eq!(ranked(some, &[]), (Vec::new(), 0));
    }
}
