//! Ends that could not be held against the record before, and why: nothing that was not compared is steady.

use super::series::Series;
use super::visits::Visit;
use measure::figure::FigureName;

/// An end of the travel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    Rest,
    Full,
}

impl End {
    pub fn word(self) -> &'static str {
        match self {
            Self::Rest => "rest",
            Self::Full => "full",
        }
    }

    /// Where it is: in codes, and as a share of the reference.
    fn figures(self) -> [FigureName; 2] {
        match self {
            Self::Rest => [FigureName::RestCode, FigureName::RestRatio],
            Self::Full => [FigureName::FullCode, FigureName::FullRatio],
        }
    }
}

/// Why an end could not be compared.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Why {
    /// The last record did not measure it.
    NotMeasured,
    /// No earlier record did.
    FirstTime,
    /// Every earlier record that has it is of a board with another reference.
    OtherReference { was_mv: f64, is_mv: f64 },
    /// It is not known how far off its value may be.
    NoInterval,
}

impl Why {
    /// For programs.
    pub fn word(self) -> &'static str {
        match self {
            Self::NotMeasured => "not measured",
            Self::FirstTime => "first time",
            Self::OtherReference { .. } => "other reference",
            Self::NoInterval => "no interval",
        }
    }
}

/// An end that the last record, or the one before it, has and that could not be compared.
#[derive(Debug, Clone, PartialEq)]
pub struct NotCompared {
    pub channel: String,
    pub end: End,
    pub why: Why,
}

pub(super) fn not_compared(visits: &[Visit], series: &[Series]) -> Vec<NotCompared> {
    let [earlier @ .., last] = visits else {
        return Vec::new();
    };
    let Some(before) = earlier.last() else {
        return Vec::new();
    };
    let of = |visit: &Visit| {
        let channels = visit.record.assessment.channels.keys();
        channels.cloned().collect::<Vec<_>>()
    };
    let mut channels = [of(last), of(before)].concat();
    channels.sort();
    channels.dedup();
    let mut all = Vec::new();
    for channel in channels {
        for end in [End::Rest, End::Full] {
            let (was, is) = (has(before, &channel, end), has(last, &channel, end));
            let why = match (was, is) {
                (false, false) => None,
                (true, false) => Some(Why::NotMeasured),
                (_, true) => why_not(earlier, last, series, (&channel, end)),
            };
            all.extend(why.map(|why| NotCompared {
                channel: channel.clone(),
                end,
                why,
            }));
        }
    }
    all
}

fn has(visit: &Visit, channel: &str, end: End) -> bool {
    let part = visit.record.assessment.channels.get(channel);
    part.is_some_and(|part| {
        let mut words = end.figures().into_iter().map(FigureName::word);
        words.any(|word| part.figures.get(word).is_some_and(Option::is_some))
    })
}

/// Why an end that the last record has was held against none before; `None` where it was.
fn why_not(
    earlier: &[Visit],
    last: &Visit,
    series: &[Series],
    (channel, end): (&str, End),
) -> Option<Why> {
    let own = |s: &&Series| s.channel == channel && end.figures().contains(&s.figure);
    let mut of_end = series.iter().filter(own);
    if of_end.clone().any(|s| s.last_step.is_some()) {
        return None;
    }
    let Some(before) = earlier.iter().rev().find(|visit| has(visit, channel, end)) else {
        return Some(Why::FirstTime);
    };
    // All that was left out is of boards whose reference is another.
    Some(if of_end.all(|s| s.points.len() == 1 && s.left_out > 0) {
        Why::OtherReference {
            was_mv: before.record.board.vref_mv,
            is_mv: last.record.board.vref_mv,
        }
    } else {
        Why::NoInterval
    })
}
