//! What there is to say of a figure beside how it is measured: the shape of an entry of the catalogue.

use super::Evidence;
use crate::units::Step;
use crate::units::maths;

/// Everything that is known of a figure. Whoever shows it, limits it or asks for more of its evidence looks here.
#[derive(Debug)]
pub struct Facts {
    /// The name as JSON and profiles write it.
    pub word: &'static str,
    /// The name as the screen writes it.
    pub label: &'static str,
    /// What it is, in one sentence.
    pub definition: &'static str,
    /// How it is computed, in one line of words.
    pub formula: &'static str,
    /// The least evidence that a capture must hold for it, beside the steps.
    pub needs: &'static str,
    /// Where definition and uncertainty come from.
    pub source: &'static str,
    /// The unit of its value.
    pub unit: Unit,
    /// Whether it belongs to a channel or to a pair of tracks.
    pub scope: Scope,
    /// The steps that supply it.
    pub steps: Steps,
    /// Steps of which a card takes more than is usual when it has a limit.
    pub takes: &'static [(Step, Amount)],
    /// Seconds of quiet that a release must end in when it has a limit.
    pub quiet_s: f64,
    /// What its evidence is counted in, and the step to take up again for more of it while its finding is open. None of what
    /// wants one longer hold instead of another one, and of what a card takes once.
    pub more: &'static [(Evidence, Step)],
    /// The side on which it can be too bad.
    pub sides: Sides,
    /// The least and the largest value that it can have.
    pub range: (f64, f64),
    /// Whose noise it is about.
    pub noise: Noise,
    /// What else is to be known.
    pub marks: &'static [Mark],
    /// Words that only this figure needs.
    pub words: Words,
}

impl Facts {
    /// What an entry begins from: a figure of one channel about which there is nothing out of the ordinary.
    pub(super) const PLAIN: Self = Self {
        word: "",
        label: "",
        definition: "",
        formula: "",
        needs: "",
        source: "",
        unit: Unit::Number,
        scope: Scope::Channel,
        steps: Steps::Any(&[]),
        takes: &[],
        quiet_s: USUAL_QUIET_S,
        more: &[],
        sides: Sides::Both,
        range: (f64::NEG_INFINITY, f64::INFINITY),
        noise: Noise::None,
        marks: &[],
        words: Words::PLAIN,
    };
}

/// Seconds of quiet after which a release has come back, for a figure that wants no more.
pub const USUAL_QUIET_S: f64 = 1.0;

/// Whether a figure belongs to one channel or to a pair of tracks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Scope {
    /// One channel.
    Channel,
    /// Two tracks of one control.
    Pair,
    /// The stream that the recording came through.
    Stream,
}

/// The unit of a figure. Percent is of span unless the figure says otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unit {
    /// A plain number.
    Number,
    /// ADC codes.
    Code,
    /// Codes a minute.
    CodePerMinute,
    /// How often in a minute.
    PerMinute,
    /// Bits.
    Bit,
    /// Percent.
    Percent,
    /// Percent for each percent.
    PercentPerPercent,
    /// Seconds.
    Second,
    /// Milliseconds.
    Millisecond,
}

impl Unit {
    /// As JSON writes it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Number => "1",
            Self::Code => "code",
            Self::CodePerMinute => "code/min",
            Self::PerMinute => "1/min",
            Self::Bit => "bit",
            Self::Percent => "%",
            Self::PercentPerPercent => "%/%",
            Self::Second => "s",
            Self::Millisecond => "ms",
        }
    }

    /// As it stands behind a number for people: a plain number has none.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Number => "",
            unit => unit.word(),
        }
    }

    /// A number with its unit as people say it: `0.36 codes`, `at most 1 code`.
    #[must_use]
    pub fn behind(self, number: &str) -> String {
        let one = matches!(number.split_whitespace().next_back(), Some("1" | "-"));
        let plural = if self == Self::Code && !one { "s" } else { "" };
        format!("{number} {}{plural}", self.label())
            .trim_end()
            .to_owned()
    }

    /// What a number in this unit is multiplied with, so that it means the same on a board of `to` bits as on one of `from`.
    #[must_use]
    pub fn scale_between(self, from: u32, to: u32) -> f64 {
        match self {
            Self::Code | Self::CodePerMinute => maths::exp2(f64::from(to) - f64::from(from)),
            _ => 1.0,
        }
    }

    /// Whether it means the same on a board of other bits.
    #[must_use]
    pub const fn on_any_board(self) -> bool {
        !matches!(self, Self::Code | Self::CodePerMinute | Self::Bit)
    }
}

/// The steps that supply a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Steps {
    /// Any one of them does.
    Any(&'static [Step]),
    /// It takes all of them.
    All(&'static [Step]),
}

impl Steps {
    /// Whether a figure that was measured shows that this step was done: the only one that supplies it, or one of all that it takes.
    #[must_use]
    pub fn show(self, step: Step) -> bool {
        match self {
            Self::Any(steps) => *steps == [step],
            Self::All(steps) => steps.contains(&step),
        }
    }

    /// The steps that a figure still takes, `done` being those that were done: the first of several of which any does.
    pub fn lacking(self, done: impl Fn(&Step) -> bool) -> Vec<Step> {
        match self {
            Self::Any(steps) if steps.iter().any(&done) => Vec::new(),
            Self::Any(steps) => steps.first().copied().into_iter().collect(),
            Self::All(steps) => steps.iter().copied().filter(|step| !done(step)).collect(),
        }
    }
}

/// How much of a step a card takes: until its first look at the findings, and until its last.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Amount {
    /// Until the first look.
    pub first: f64,
    /// Until the last.
    pub most: f64,
}

impl Amount {
    /// Nothing at all.
    pub const NONE: Self = Self {
        first: 0.0,
        most: 0.0,
    };

    /// The more of both.
    #[must_use]
    pub fn or_more(self, other: Self) -> Self {
        Self {
            first: self.first.max(other.first),
            most: self.most.max(other.most),
        }
    }

    /// What is usual for a step: seconds at an end, strokes, returns. `None` for a step that is taken once.
    ///
    /// First: one second is a thousand samples at 1 kHz; four strokes are two each way; three returns make a scatter. Most:
    /// noise is known to 2 % in six seconds at 1 kHz; eight times there and back; the 96.5 % interval of the scatter of
    /// twelve returns reaches 1.8 times as far.
    #[must_use]
    pub const fn usual(step: Step) -> Option<Self> {
        let (first, most) = match step {
            Step::Rest | Step::Full => (1.0, 6.0),
            Step::Strokes => (4.0, 16.0),
            Step::Release => (3.0, 12.0),
            _ => return None,
        };
        Some(Self { first, most })
    }
}

/// On which side a figure can be too bad.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    /// Too small and too large.
    Both,
    /// Too large.
    Upper,
    /// Too small.
    Lower,
    /// Never above zero in a good unit.
    Zero,
}

/// Whose noise a figure is about, of which the board may make a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Noise {
    /// It is not about noise.
    None,
    /// It is an rms of noise itself.
    Own,
    /// It comes from the larger of the noises at rest and full.
    OfEnds,
}

/// What some figures have in common and others have not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// Only a rheostat that is known as one has it.
    OfRheostats,
    /// It tells rest from full: a control that is turned round breaks its limit.
    OfDirection,
    /// It describes these samples alone and not the unit: it is not compared with what it was another time.
    OfSample,
    /// It is of the unit, not of the bench or the board: `profile new` derives a limit from good units.
    Derived,
    /// It is of the room that the part was measured in: a part never fails for it.
    OfRoom,
}

/// Words of advice that only some figures need.
#[derive(Debug, Clone, Copy)]
pub struct Words {
    /// Added when it was not measured.
    pub unseen: &'static str,
    /// How more seconds of it are taken.
    pub longer: &'static str,
    /// What of the board leaves it open, whatever is taken: `its noise alone is`.
    pub board: &'static str,
    /// Why nobody can say how much more of its evidence would decide it, and what to do all the same; `None`: more of its steps.
    pub unknown: Option<&'static str>,
}

impl Words {
    pub(super) const PLAIN: Self = Self {
        unseen: "",
        longer: "s longer in one go",
        board: "its quantisation alone is",
        unknown: None,
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_are_codes_unless_it_is_one() {
        let of = |number| Unit::Code.behind(number);
        assert_eq!(
            [of("0.36"), of("at most 4")],
            ["0.36 codes", "at most 4 codes"]
        );
        assert_eq!(
            [of("1"), of("at most 1"), of("-")],
            ["1 code", "at most 1 code", "- code"]
        );
        assert_eq!(Unit::Number.behind("2"), "2");
        assert_eq!(Unit::CodePerMinute.behind("2"), "2 code/min");
    }
}
