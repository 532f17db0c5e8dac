//! A part that nobody knows: three questions with a meter give its kind and its values.

use crate::profile::{self, OtherParts};
use crate::tui::draw::{Pen, inset, split};
use crate::tui::form::{Form, Row, choices};
use crate::tui::keys::Action;
use crate::tui::list::shift;
use crate::tui::theme::Tone;
use crossterm::event::KeyCode;
use ratatui::layout::Rect;

/// What is asked: to choose one of these, or to type what the meter shows.
enum Ask {
    Choose(&'static str, &'static [&'static str]),
    Type(&'static str, &'static [(&'static str, &'static str)]),
}

const OHM: &str = "ohm";
const REST: &str = "volts let go";
const FULL: &str = "volts pressed";

const WIRES: Ask = Ask::Choose(
    "Nothing connected, meter on ohms, between two wires at a time. What do you see?",
    &[
        "only two wires: the ohms change when it is moved",
        "three wires: steady between two, changing to the third (the wiper)",
        "more wires, or nothing steady: electronics in it (a hall sensor)",
    ],
);
const RETURNS: Ask = Ask::Choose(
    "What is it, and what does it do when you let go?",
    &[
        "a foot pedal: it springs back",
        "a knob: it stays where it is",
        "a lever: it springs back to one end",
        "a lever: it springs back to the middle",
    ],
);
const SIGNALS: Ask = Ask::Choose(
    "5 V on its supply wire, meter on volts against its ground: which wires change when you press?",
    &[
        "one",
        "two, both rise, the second about half as far",
        "two: one rises, the other falls as far",
    ],
);
const MOST_OHM: Ask = Ask::Type(
    "Nothing connected: the most ohms while you move it from end to end?",
    &[(OHM, "in ohms: 5 kohm is 5000")],
);
const TRACK_OHM: Ask = Ask::Type(
    "Nothing connected: the ohms between the two wires that stay steady?",
    &[(OHM, "in ohms: 10 kohm is 10000")],
);
const VOLTS: Ask = Ask::Type(
    "5 V on its supply wire: volts on the wire that rises most?",
    &[(REST, "e.g. 0.8"), (FULL, "e.g. 4.2")],
);

/// A part found: the short name of its kind, and its values.
pub type Found = (&'static str, OtherParts);

#[derive(Debug, Clone, Default)]
pub struct Meter {
    /// What was chosen so far.
    answers: Vec<usize>,
    /// The answer under the pointer.
    at: usize,
    form: Option<Form>,
}

impl Meter {
    pub fn types(&self) -> bool {
        self.form.is_some()
    }

    fn ask(&self) -> Ask {
        match self.answers[..] {
            [] => WIRES,
            [0] => MOST_OHM,
            [1] => RETURNS,
            [1, _] => TRACK_OHM,
            [_] => SIGNALS,
            _ => VOLTS,
        }
    }

    /// Back by one question.
    pub fn back(&mut self) {
        self.form = None;
        self.at = self.answers.pop().unwrap_or(0);
    }

    pub fn is_first(&self) -> bool {
        self.answers.is_empty()
    }

    /// What it is, once that is known.
    pub fn update(&mut self, action: Action, key: KeyCode) -> Result<Option<Found>, String> {
        if let Some(form) = &mut self.form {
            if action == Action::Accept {
                return self.found().map(Some);
            }
            form.update(action, key);
            return Ok(None);
        }
        let Ask::Choose(_, rows) = self.ask() else {
            return Ok(None);
        };
        match (action, key) {
            (Action::Up, _) => shift(&mut self.at, -1, rows.len()),
            (Action::Down, _) => shift(&mut self.at, 1, rows.len()),
            (Action::Accept, _) => self.answer(self.at),
            (Action::Digit, KeyCode::Char(digit)) => {
                let row = digit.to_digit(10).and_then(|n| usize::try_from(n).ok());
                if let Some(at) = row
                    .and_then(|n| n.checked_sub(1))
                    .filter(|at| *at < rows.len())
                {
                    self.answer(at);
                }
            }
            _ => {}
        }
        Ok(None)
    }

    fn answer(&mut self, at: usize) {
        self.answers.push(at);
        self.at = 0;
        if let Ask::Type(_, rows) = self.ask() {
            let rows = rows.iter().map(|(label, hint)| Row::new(label, "", hint));
            self.form = Some(Form::new(rows.collect(), 0));
        }
    }

    fn found(&self) -> Result<Found, String> {
        let typed = |label: &str| {
            let text = self.form.as_ref().and_then(|form| form.text(label));
            let value = text.and_then(|text| text.replace(',', ".").parse::<f64>().ok());
            let value = value.filter(|value| value.is_finite() && *value > 0.0);
            value.ok_or_else(|| format!("{label}: type the number that the meter shows."))
        };
        let kind = match self.answers[..] {
            [0] => "dial-rheostat",
            [1, 0] => "pedal-three-wire",
            [1, 1] => "dial-three-wire",
            [1, 2] => "lever-shunting",
            [1, _] => "lever-centre-return",
            [2, 0] => "pedal-hall-one-track",
            [2, 1] => "pedal-hall-two-track",
            _ => "pedal-hall-crossed",
        };
        let mut parts = OtherParts::default();
        if self.answers.first() == Some(&2) {
            parts.rest_mv = Some(typed(REST)? * 1000.0);
            parts.full_mv = Some(typed(FULL)? * 1000.0);
        } else {
            parts.track_ohm = Some(self.track_ohm(kind)?);
        }
        Ok((kind, parts))
    }

    /// What the meter says of the track of such a kind.
    fn track_ohm(&self, kind: &str) -> Result<f64, String> {
        let text = self.form.as_ref().and_then(|form| form.text(OHM));
        let ohm = text
            .and_then(profile::ohms)
            .ok_or("ohm: type the number that the meter shows, in ohms: 5 kohm is 5000.")?;
        let kind = profile::find(kind).map(|profile| profile.kind);
        match kind.and_then(|kind| profile::too_few_ohms(ohm, kind)) {
            Some(asked) => Err(asked),
            None => Ok(ohm),
        }
    }

    pub fn view(&self, pen: &mut Pen<'_>, area: Rect) {
        let number = format!("question {} of at most three", self.answers.len() + 1);
        pen.left(inset(area), area.top(), &number, Tone::Quiet);
        let place = inset(split(area, 2).1);
        let (words, rows) = match self.ask() {
            Ask::Choose(words, rows) => (words, rows),
            Ask::Type(words, _) => (words, &[][..]),
        };
        let taken = pen.wrapped(place, words, Tone::Now);
        let list = split(place, taken + 1).1;
        match &self.form {
            Some(form) => {
                form.view(pen, list);
            }
            None => choices(pen, list, self.at, rows.iter().map(|row| (*row, ""))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn through(answers: &str, typed: &[&str]) -> Found {
        let mut meter = Meter::default();
        for digit in answers.chars() {
            meter.update(Action::Digit, KeyCode::Char(digit)).unwrap();
        }
        for (n, value) in typed.iter().enumerate() {
            if n > 0 {
                meter.update(Action::Down, KeyCode::Tab).unwrap();
            }
            for letter in value.chars() {
                meter.update(Action::Type, KeyCode::Char(letter)).unwrap();
            }
        }
        let found = meter.update(Action::Accept, KeyCode::Enter).unwrap();
        found.unwrap()
    }

    /// Every way ends at a kind that is built in, with what was typed.
    #[test]
    fn three_questions_give_kind_and_values() {
        let (kind, parts) = through("1", &["5000"]);
        assert_eq!((kind, parts.track_ohm), ("dial-rheostat", Some(5000.0)));
        assert_eq!(through("1", &["4k7"]).1.track_ohm, Some(4700.0));
        let (kind, parts) = through("33", &["0.8", "4,2"]);
        assert_eq!(kind, "pedal-hall-crossed");
        assert_eq!((parts.rest_mv, parts.full_mv), (Some(800.0), Some(4200.0)));
        for answers in ["21", "22", "23", "24"] {
            let (kind, parts) = through(answers, &["20000"]);
            assert!(profile::find(kind).is_some(), "{kind}");
            assert_eq!(parts.track_ohm, Some(20_000.0));
        }
        for answers in ["31", "32", "33"] {
            let (kind, _) = through(answers, &["0.5", "4.5"]);
            assert!(profile::find(kind).is_some(), "{kind}");
        }
    }

    #[test]
    fn what_is_no_number_is_asked_again() {
        // What its meter shows in kilohms is no part of 5 ohm.
        for (typed, asked) in [("x", "5 kohm is 5000"), ("5", "Type 5000 for 5 kohm.")] {
            let mut meter = Meter::default();
            meter.update(Action::Digit, KeyCode::Char('1')).unwrap();
            for letter in typed.chars() {
                meter.update(Action::Type, KeyCode::Char(letter)).unwrap();
            }
            let refused = meter.update(Action::Accept, KeyCode::Enter).unwrap_err();
            assert!(refused.contains(asked), "{refused}");
        }
    }
}
