//! What speaks for a cause and what against it, in one currency: log odds.
//!
//! Belongs here: how evidence adds up. Does not belong here: what any cause predicts (`hypotheses`), words (`words`).
//!
//! Independent observations multiply the odds of a cause, so their logarithms add (Bayes' rule in the odds form; "weight of
//! evidence", I. J. Good, *Probability and the Weighing of Evidence*, 1950, from memory). The weights themselves are judgements:
//! common practice, no source; how well they do is measured in `docs/causes.md`.

use super::types::{ActsTowards, CauseWord};

/// Whether a prediction came true.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Seen {
    Holds,
    Fails,
    /// The recording cannot tell.
    Unseen,
}

impl From<bool> for Seen {
    fn from(holds: bool) -> Self {
        if holds { Self::Holds } else { Self::Fails }
    }
}

impl From<Option<bool>> for Seen {
    fn from(holds: Option<bool>) -> Self {
        holds.map_or(Self::Unseen, Self::from)
    }
}

/// A part of a failed finding: a count of dropouts may have two causes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Symptom {
    /// The finding's place in the list.
    pub finding: usize,
    /// Which part of it; 0 for the whole.
    pub part: usize,
}

/// Where a cause is.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Place {
    /// Places of the channels among the signals; empty for all of them.
    pub channels: Vec<usize>,
    /// Travel, %.
    pub travel: Option<(f64, f64)>,
}

impl Place {
    pub fn channel(channel: usize) -> Self {
        Self {
            channels: vec![channel],
            travel: None,
        }
    }

    pub fn at(channel: usize, travel: (f64, f64)) -> Self {
        Self {
            channels: vec![channel],
            travel: Some(travel),
        }
    }
}

/// A cause under suspicion, with what was weighed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Suspicion {
    pub word: CauseWord,
    pub place: Place,
    pub acts: ActsTowards,
    /// The log odds of all that was weighed.
    pub score: f64,
    /// What speaks for it, with numbers; the strongest was said first.
    pub facts: Vec<String>,
    pub explains: Vec<Symptom>,
    /// What is special about it here, for the words: a ratio, another profile's name.
    pub detail: Option<String>,
}

impl Suspicion {
    /// A suspicion with the log odds that it has before anything was seen.
    pub fn new(word: CauseWord, prior: f64, place: Place) -> Self {
        Self {
            word,
            place,
            acts: ActsTowards::None,
            score: prior,
            facts: Vec::new(),
            explains: Vec::new(),
            detail: None,
        }
    }

    /// A prediction: how much it adds when it came true, how much it takes when it did not, and the fact when it did.
    pub fn expects(
        mut self,
        seen: impl Into<Seen>,
        [adds, takes]: [f64; 2],
        fact: impl FnOnce() -> String,
    ) -> Self {
        match seen.into() {
            Seen::Holds => {
                self.score += adds;
                let fact = fact();
                if !fact.is_empty() {
                    self.facts.push(fact);
                }
            }
            Seen::Fails => self.score -= takes,
            Seen::Unseen => {}
        }
        self
    }

    /// Evidence by degrees, with the fact that goes with it where it speaks for the cause.
    pub fn weighs(mut self, log_odds: f64, fact: impl FnOnce() -> String) -> Self {
        self.score += log_odds;
        if log_odds > 0.0 {
            self.facts.push(fact());
        }
        self
    }

    /// A fact that weighs nothing of its own.
    pub fn notes(mut self, fact: impl Into<String>) -> Self {
        self.facts.push(fact.into());
        self
    }

    pub fn explains(mut self, symptoms: impl IntoIterator<Item = Symptom>) -> Self {
        self.explains.extend(symptoms);
        self.explains.sort_unstable();
        self.explains.dedup();
        self
    }

    pub fn acts(mut self, acts: ActsTowards) -> Self {
        self.acts = acts;
        self
    }

    pub fn detailed(mut self, detail: impl Into<String>) -> Self {
        self.detail = Some(detail.into());
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odds_multiply() {
        // Odds 1:10 before; two observations that are 10 and 3 times likelier under the cause, one half as likely: 1.5. By hand.
        let fact = || "seen".to_owned();
        let suspicion = Suspicion::new(CauseWord::WornTrack, 0.1_f64.ln(), Place::default())
            .expects(true, [10_f64.ln(), 5.0], fact)
            .expects(Some(false), [4.0, 2_f64.ln()], fact)
            .expects(None, [7.0, 7.0], fact)
            .weighs(3_f64.ln(), fact);
        assert!((suspicion.score.exp() - 1.5).abs() < 1e-12);
        assert_eq!(suspicion.facts.len(), 2, "what was seen, and only that");
    }
}
