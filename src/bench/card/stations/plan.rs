//! Known positions as a person states them: `0,10,...,100,...,0 deg ±0.5`.
//!
//! Belongs here: the words and the numbers. Does not belong here: where the control stands (`super`).

use crate::capture::RefMeta;
use crate::outlet;
use measure::figure::numbers::plain;

/// Most positions of one series: a person who sets more than this was given a wrong list.
const MOST: usize = 400;
/// How far a series may miss the position that it leads to, as a part of its step.
const MISSES: f64 = 1e-6;
/// The unit of positions when none is stated: the scale is taken as percent.
const USUAL_UNIT: &str = "%";
/// What is offered to somebody who has not stated anything.
pub const USUAL_STATIONS: &str = "0,10,...,100,...,0 %";

/// Positions to be set one after the other.
#[derive(Debug, Clone, PartialEq)]
pub struct StationPlan {
    positions: Vec<f64>,
    unit: String,
    u: Option<f64>,
}

/// What somebody says while known positions are taken.
#[derive(Debug, Clone, PartialEq)]
pub enum StationWords {
    /// These are the positions to come.
    Plan(StationPlan),
    /// It stands here; without a position, where it was asked for.
    Here(Option<f64>),
    /// The last position was wrong: once more.
    TakeBack,
    /// Nothing more will come.
    End,
}

impl StationWords {
    /// Reads a line. Why it says nothing that can be used, in words, else.
    pub fn read(line: &str) -> Result<Self, String> {
        let line = line.trim();
        match line.to_lowercase().as_str() {
            "" => return Ok(Self::Here(None)),
            "back" | "b" => return Ok(Self::TakeBack),
            "end" | "e" => return Ok(Self::End),
            _ => {}
        }
        if let Ok(position) = line.parse::<f64>() {
            return if position.is_finite() {
                Ok(Self::Here(Some(position)))
            } else {
                Err(format!("`{line}` is no position on a scale: type a number"))
            };
        }
        let separates = |c: char| matches!(c, ',' | ';') || c.is_whitespace();
        if !line.contains(separates) {
            return Err(format!(
                "`{}` is no position: type a number, e.g. 12.5",
                outlet::line(line)
            ));
        }
        line.parse().map(Self::Plan)
    }
}

impl StationPlan {
    /// The positions, in the order in which they are set.
    pub fn positions(&self) -> &[f64] {
        &self.positions
    }

    /// The two ends of the scale, the lower first.
    pub fn scale(&self) -> (f64, f64) {
        let ends = (f64::INFINITY, f64::NEG_INFINITY);
        let positions = self.positions.iter();
        positions.fold(ends, |(low, high), at| (low.min(*at), high.max(*at)))
    }

    /// The end of the scale that the series does not begin at, when it begins at one.
    pub fn other_end(&self) -> Option<f64> {
        let (low, high) = self.scale();
        let first = *self.positions.first()?;
        let is = |end: f64| (first - end).abs() <= 0.0;
        if is(low) {
            Some(high)
        } else {
            is(high).then_some(low)
        }
    }

    /// A position with its unit: `30 deg`.
    pub fn name(&self, position: f64) -> String {
        let number = plain(position);
        match self.unit.as_str() {
            "" => number,
            unit => format!("{number} {unit}"),
        }
    }

    /// For the capture; which end is rest is known later, if at all.
    pub fn reference(&self) -> RefMeta {
        RefMeta {
            unit: self.unit.clone(),
            low: None,
            high: None,
            u: self.u,
        }
    }
}

impl std::str::FromStr for StationPlan {
    type Err = String;

    /// Positions in order, `...` for the same step on and on, then perhaps their unit and how far a mark may be off.
    fn from_str(text: &str) -> Result<Self, String> {
        let spaced = text
            .replace("+/-", " ± ")
            .replace("+-", " ± ")
            .replace('±', " ± ")
            .replace('…', "...");
        let mut words = spaced
            .split(|c: char| matches!(c, ',' | ';') || c.is_whitespace())
            .filter(|word| !word.is_empty())
            .peekable();
        let mut series = Series::default();
        let mut unit = None;
        while let Some(word) = words.next_if(|word| *word != "±") {
            if unit.is_some() {
                return Err(format!(
                    "`{word}` stands behind the unit: positions come first"
                ));
            }
            let letters = word.find(is_unit).unwrap_or(word.len());
            let (number, letters) = word.split_at(letters);
            if !number.is_empty() {
                series.take(number)?;
            }
            if !letters.is_empty() {
                unit = Some(unit_of(letters)?);
            }
        }
        let u = match (words.next(), words.next(), words.next()) {
            (None, ..) => None,
            (_, Some(number), None) => Some(uncertainty(number)?),
            _ => return Err("behind ± comes one number: how far a mark may be off".to_owned()),
        };
        Ok(Self {
            positions: series.end()?,
            unit: unit.unwrap_or_else(|| USUAL_UNIT.to_owned()),
            u,
        })
    }
}

fn is_unit(letter: char) -> bool {
    letter.is_alphabetic() || matches!(letter, '%' | '°' | '\'' | '"' | '`' | '?' | '!')
}

fn unit_of(letters: &str) -> Result<String, String> {
    let fits = |c: char| c.is_alphanumeric() || matches!(c, '%' | '°' | '\'' | '"');
    if letters.chars().all(fits) && letters.chars().count() <= 8 {
        return Ok(letters.to_owned());
    }
    Err(format!(
        "`{}` is neither a position nor a unit: type numbers, e.g. {USUAL_STATIONS}",
        outlet::line(letters)
    ))
}

fn uncertainty(number: &str) -> Result<f64, String> {
    let u = number.parse::<f64>().ok();
    u.filter(|u| u.is_finite() && *u > 0.0)
        .ok_or_else(|| format!("`{}` behind ± is no number above 0", outlet::line(number)))
}

/// Positions as they are read, and a `...` that waits for where it leads to.
#[derive(Default)]
struct Series {
    positions: Vec<f64>,
    goes_on: bool,
}

impl Series {
    fn take(&mut self, word: &str) -> Result<(), String> {
        if word == "..." {
            if self.goes_on || self.positions.len() < 2 {
                return Err(
                    "`...` goes on in steps as before: two positions come before it, and one after it, e.g. 0,10,...,100"
                        .to_owned(),
                );
            }
            self.goes_on = true;
            return Ok(());
        }
        let number = word.parse::<f64>().ok().filter(|x| x.is_finite());
        let position = number.ok_or_else(|| {
            format!(
                "`{}` is no position: type numbers with a point, e.g. {USUAL_STATIONS}",
                outlet::line(word)
            )
        })?;
        let stays = |last: &f64| (last - position).abs() <= 0.0;
        if std::mem::take(&mut self.goes_on) {
            if self.positions.last().is_some_and(stays) {
                return Ok(());
            }
            self.go_on_to(position)?;
        }
        if self.positions.last().is_some_and(stays) {
            return Err(format!(
                "{} stands twice in a row: move away from a position before it is taken again",
                plain(position)
            ));
        }
        self.positions.push(position);
        if self.positions.len() > MOST {
            return Err(format!(
                "these are more than {MOST} positions: take a longer step"
            ));
        }
        Ok(())
    }

    /// From the last position towards `end`, in steps as before; `end` itself is not added.
    #[allow(clippy::cast_precision_loss)] // a few hundred
    fn go_on_to(&mut self, end: f64) -> Result<(), String> {
        let [.., before, from] = self.positions[..] else {
            return Ok(());
        };
        let step = (from - before).abs();
        let steps = (end - from).abs() / step;
        if (steps - steps.round()).abs() > MISSES * steps.max(1.0) {
            return Err(format!(
                "{} is not reached from {} in steps of {}",
                plain(end),
                plain(from),
                plain(step)
            ));
        }
        if steps > MOST as f64 {
            return Err(format!(
                "these are more than {MOST} positions: take a longer step"
            ));
        }
        let signed = (end - from) / steps.round();
        let mut n = 1.0;
        while n < steps.round() {
            self.positions.push(tidy(from + n * signed));
            n += 1.0;
        }
        Ok(())
    }

    fn end(self) -> Result<Vec<f64>, String> {
        if self.goes_on {
            return Err(
                "`...` at the end leads nowhere: say the last position behind it".to_owned(),
            );
        }
        let mut distinct = self.positions.clone();
        distinct.sort_by(f64::total_cmp);
        distinct.dedup();
        if distinct.len() < 3 {
            return Err(format!(
                "a curve wants three different positions or more (and a point in decimals), e.g. {USUAL_STATIONS}"
            ));
        }
        Ok(self.positions)
    }
}

/// Without the last digits that adding up steps leaves.
fn tidy(position: f64) -> f64 {
    format!("{position:.12}").parse().unwrap_or(position)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plan(text: &str) -> StationPlan {
        text.parse().unwrap()
    }

    fn refused(text: &str) -> String {
        text.parse::<StationPlan>().unwrap_err()
    }

    /// The series written out by hand.
    #[test]
    fn three_points_go_on_in_the_same_step() {
        let there_and_back = [
            0., 10., 20., 30., 40., 50., 60., 70., 80., 90., 100., 90., 80., 70., 60., 50., 40.,
            30., 20., 10., 0.,
        ];
        for text in [
            "0,10,...,100,...,0",
            "0, 10, ..., 100, ..., 0",
            "0;10;…;100;…;0 %",
            "0 10 ... 100 ... 0%",
        ] {
            let plan = plan(text);
            assert_eq!(plan.positions(), there_and_back, "{text}");
            assert_eq!(plan.name(30.0), "30 %");
        }
        assert_eq!(
            plan("0,0.1,...,0.5").positions(),
            [0., 0.1, 0.2, 0.3, 0.4, 0.5]
        );
        assert_eq!(plan("60,40,...,0").positions(), [60., 40., 20., 0.]);
        assert_eq!(
            plan("-30,-15,...,30 deg").positions(),
            [-30., -15., 0., 15., 30.]
        );
        assert_eq!(
            plan("0,10,...,20,50,60").positions(),
            [0., 10., 20., 50., 60.]
        );
        assert_eq!(plan("0,10,...,10,20").positions(), [0., 10., 20.]);
    }

    #[test]
    fn unit_and_uncertainty_follow() {
        for text in [
            "0,30,60 deg ±0.5",
            "0,30,60deg +- 0.5",
            "0,30,60 deg +/-0.5",
        ] {
            let reference = plan(text).reference();
            assert_eq!(
                (reference.unit.as_str(), reference.u),
                ("deg", Some(0.5)),
                "{text}"
            );
        }
        assert_eq!(plan("0,1,2").reference().u, None);
        assert_eq!(plan("0,1,2").scale(), (0.0, 2.0));
        assert_eq!(plan("2,1,0").other_end(), Some(0.0));
        assert_eq!(plan("1,2,0").other_end(), None);
    }

    #[test]
    fn what_cannot_be_is_told_in_words() {
        for (text, word) in [
            ("", "three different"),
            ("0,100,0", "three different"),
            ("0,...,100", "two positions come before"),
            ("0,10,...,...,100", "two positions come before"),
            ("0,10,...", "leads nowhere"),
            ("0,30,...,100", "100 is not reached from 30 in steps of 30"),
            ("0,10,10,20", "10 stands twice"),
            ("0,1e9,20", "behind the unit"),
            ("ten,twenty", "behind the unit"),
            ("0,?,20", "neither a position nor a unit"),
            ("0,10,2-0", "`2-0` is no position"),
            ("0,10,20 deg ±", "behind ±"),
            ("0,10,20 deg ±0", "above 0"),
            ("0,0.001,...,100", "more than 400"),
            ("0,10,20 \u{1b}[2J", "no position"),
        ] {
            let message = refused(text);
            assert!(message.contains(word), "{text}: {message}");
            assert!(!message.contains('\u{1b}'), "{message}");
        }
    }

    #[test]
    fn a_line_says_one_thing() {
        use StationWords as Words;
        assert_eq!(Words::read("12.5\n"), Ok(Words::Here(Some(12.5))));
        assert_eq!(Words::read(" "), Ok(Words::Here(None)));
        assert_eq!(Words::read("Back"), Ok(Words::TakeBack));
        assert_eq!(Words::read("end"), Ok(Words::End));
        assert_eq!(Words::read("0,1,2 mm"), Ok(Words::Plan(plan("0,1,2 mm"))));
        for line in ["abc", "inf", "nan", "12,5", "--"] {
            assert!(Words::read(line).is_err(), "{line}");
        }
    }
}
