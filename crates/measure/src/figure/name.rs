//! What a figure's name gives away of its catalogue entry, and the word that files write for it.

use super::catalogue::{ALLOWED, FigureName};
use super::facts::{Amount, Mark, Scope, Sides, Steps, Unit};
use crate::units::{Step, UnknownWord};
use std::fmt;
use std::str::FromStr;

impl FigureName {
    /// The name as JSON and profiles write it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        self.facts().word
    }

    /// The unit of its value.
    #[must_use]
    pub const fn unit(self) -> Unit {
        self.facts().unit
    }

    /// Whether it belongs to a channel or to a pair of tracks.
    #[must_use]
    pub const fn scope(self) -> Scope {
        self.facts().scope
    }

    /// The steps that supply it.
    #[must_use]
    pub const fn steps(self) -> &'static [Step] {
        match self.facts().steps {
            Steps::Any(steps) | Steps::All(steps) => steps,
        }
    }

    /// The least and the largest value that it can have: its range, and zero at least where it can only be too large.
    #[must_use]
    pub fn possible(self) -> (f64, f64) {
        let facts = self.facts();
        let (least, most) = facts.range;
        let from_zero = matches!(facts.sides, Sides::Upper | Sides::Zero);
        (if from_zero { least.max(0.0) } else { least }, most)
    }

    /// Whether the catalogue says so of it.
    #[must_use]
    pub fn is(self, mark: Mark) -> bool {
        self.facts().marks.contains(&mark)
    }

    /// How much of a step a card takes when it has a limit; `None` for a step that is taken once.
    #[must_use]
    pub fn amount(self, step: Step) -> Option<Amount> {
        let own = self.facts().takes.iter().find(|(of, _)| *of == step);
        own.map(|(_, amount)| *amount).or(Amount::usual(step))
    }

    /// The figures of one scope, in the order in which they are shown.
    pub fn of(scope: Scope) -> impl Iterator<Item = Self> {
        Self::ALL
            .iter()
            .copied()
            .filter(move |name| name.scope() == scope)
    }
}

impl fmt::Display for FigureName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

impl FromStr for FigureName {
    type Err = UnknownWord;

    fn from_str(word: &str) -> Result<Self, UnknownWord> {
        Self::ALL
            .iter()
            .copied()
            .find(|name| name.word() == word)
            .ok_or_else(|| UnknownWord {
                what: "figure",
                word: word.to_owned(),
                allowed: ALLOWED,
            })
    }
}
