//! The signals beside the one that leads a card: whether one of them moves while that stands still.

use super::stillness::Stillness;
use super::{Card, ExpectedEnds};
use measure::units::Code;

/// Another signal of the control.
#[derive(Debug, Clone)]
pub struct Other {
    /// Its column.
    column: usize,
    name: String,
    expected: ExpectedEnds,
    watch: Stillness,
    /// Where it stood when the control rested.
    rest: Option<f64>,
    /// How far from there is a movement, codes.
    moved: f64,
}

impl Other {
    pub fn new(column: usize, name: &str, expected: ExpectedEnds) -> Self {
        Self {
            column,
            name: name.to_owned(),
            expected,
            watch: Stillness::new(2.0),
            rest: None,
            moved: f64::MAX,
        }
    }

    pub(super) fn push(&mut self, t_us: u64, codes: &[Code]) {
        if let Some(code) = codes.get(self.column) {
            self.watch.push(t_us, *code);
        }
    }

    /// The control rests now.
    pub(super) fn rests(&mut self) {
        self.rest = self.watch.level().or(self.rest);
    }

    pub(super) fn forget(&mut self) {
        self.watch.forget();
    }

    /// Whether it stands still away from where it rested.
    pub(super) fn has_left_rest(&self) -> bool {
        let both = self.watch.level().zip(self.rest);
        both.is_some_and(|(level, rest)| (level - rest).abs() > self.moved)
    }
}

impl Card {
    /// Where each stands, while it does.
    pub(super) fn others_levels(&self) -> impl Iterator<Item = Option<f64>> {
        self.others.iter().map(|other| other.watch.level())
    }

    /// Beside the lead there are these.
    pub fn with_others(mut self, name: &str, others: Vec<Other>) -> Self {
        name.clone_into(&mut self.lead_name);
        self.others = others;
        // A tenth of the range: a second track may have a third of the first one's span.
        let moved = self.range() * 0.1;
        for other in &mut self.others {
            other.watch = Stillness::new(self.tolerance);
            other.moved = moved;
        }
        self
    }

    /// The lead stands still where it rested, and another moves: the card goes by that one from here on.
    pub(super) fn follow_what_moves(&mut self) {
        let stands = self.watch.level().zip(self.rest);
        if stands.is_none_or(|(level, rest)| self.apart(level, rest)) {
            return;
        }
        let Some(at) = self.others.iter().position(Other::has_left_rest) else {
            return;
        };
        let other = self.others.swap_remove(at);
        let words = format!(
            "{} stands still at {:.0} while {} moves: look at its wire",
            self.lead_name,
            stands.map_or(0.0, |(level, _)| level),
            other.name
        );
        (self.lead, self.lead_name) = (other.column, other.name);
        (self.watch, self.expected) = (other.watch, other.expected);
        (self.rest, self.full, self.furthest_full) = (other.rest, None, None);
        self.furthest.forget();
        self.tell_for(&words, 8.0);
    }
}
