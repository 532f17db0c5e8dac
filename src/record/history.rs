//! What the records of one unit say together: what changed, where it is going, when it leaves a limit.
//!
//! Belongs here: which record is held against which, and what follows. Does not belong here: which records count (`visits`), the
//! arithmetic of a change or a trend (`measure`), files (`disk`), words (`report`).

use super::doubt::{Doubt, doubt};
use super::ends::{NotCompared, not_compared};
use super::kept::Record;
use super::series::{Series, same_reference, series};
use super::tracks::{Names, name_alike};
use super::visits::{Entry, Remark, Sorted, Visit, YEAR_S, entry, visits, years_between};
use super::zones::{ZoneStory, zones};
use jiff::Timestamp;
use measure::figure::FigureName;
use std::collections::BTreeMap;

/// A limit that a trend reaches later than this after the last record is not told in a word, in years: a control rarely
/// serves longer.
const SOON_YEARS: f64 = 10.0;

/// All records of one unit together.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitHistory {
    pub tag: String,
    /// Its records, oldest first. A recording counts once, as last assessed.
    pub entries: Vec<Entry>,
    /// A record that may be the last test and says another verdict: then none stands.
    pub doubt: Option<Doubt>,
    /// Figures over time, in the order in which figures are shown.
    pub series: Vec<Series>,
    /// Ends that could not be held against the record before, and why.
    pub not_compared: Vec<NotCompared>,
    /// Zones of the last record, and those that are gone.
    pub zones: Vec<ZoneStory>,
    /// What is to be known of the records themselves.
    pub remarks: Vec<Remark>,
}

/// Where a unit is going, in a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Course {
    /// No change that stands out, no trend that is sure.
    Steady,
    /// One record: nothing to hold it against.
    First,
    /// An end, or all of it, could not be held against the record before.
    NotCompared,
    /// A figure changed since the record before by more than visits differ by.
    Changed,
    /// A worn zone was seen and is not any more.
    Vanished,
    /// A figure heads for a limit.
    TowardsLimit,
    /// A worn zone is new, wider or louder.
    Wearing,
}

impl Course {
    pub fn word(self) -> &'static str {
        match self {
            Self::First => "first record",
            Self::Steady => "steady",
            Self::NotCompared => "not compared",
            Self::Changed => "changed",
            Self::Vanished => "wear gone?",
            Self::TowardsLimit => "towards a limit",
            Self::Wearing => "wearing",
        }
    }
}

impl UnitHistory {
    /// Where the unit is going: the gravest of what its records say.
    pub fn course(&self) -> Course {
        let worn = |z: &ZoneStory| z.now.is_some() && (z.grows || z.before.is_none());
        match () {
            () if self.entries.len() < 2 => Course::First,
            () if self.zones.iter().any(worn) => Course::Wearing,
            () if self.series.iter().any(|s| self.leaves_soon(s)) => Course::TowardsLimit,
            () if self.zones.iter().any(|z| z.now.is_none()) => Course::Vanished,
            () if self.series.iter().any(Series::stands_out) => Course::Changed,
            () if self.doubt.is_some() => Course::NotCompared,
            () if !self.not_compared.is_empty() || !self.compared() => Course::NotCompared,
            () => Course::Steady,
        }
    }

    /// Whether any result was held against an earlier record's.
    pub fn compared(&self) -> bool {
        self.series.iter().any(|series| series.last_step.is_some())
    }

    /// Whether a figure will be outside its limit before long.
    pub fn leaves_soon(&self, series: &Series) -> bool {
        let last = self.entries.last().map_or(0.0, |last| last.years);
        series
            .reach
            .is_some_and(|reach| reach.time < last + SOON_YEARS)
    }

    /// A time in years from the first record as a date; `None` when no calendar has it.
    pub fn date(&self, years: f64) -> Option<Timestamp> {
        let first = self.entries.first()?.when.as_second();
        #[allow(clippy::cast_possible_truncation, clippy::cast_precision_loss)]
        // checked by the calendar
        let second = (years * YEAR_S + first as f64) as i64;
        Timestamp::from_second(second).ok()
    }

    /// Years from the first record to a moment.
    pub fn years(&self, when: Timestamp) -> f64 {
        self.entries
            .first()
            .map_or(0.0, |first| years_between(first.when, when))
    }
}

/// Puts a unit's records together as of `now`: any order, all of one tag.
pub fn unit_history(tag: &str, records: Vec<Record>, now: Timestamp) -> UnitHistory {
    let Sorted {
        mut visits,
        ahead,
        mut remarks,
    } = visits(records, now);
    let (names, renamed) = name_alike(&mut visits);
    remarks.extend(renamed);
    let first = visits.first().map_or(now, |visit| visit.when);
    let entries: Vec<Entry> = visits.iter().map(|visit| entry(visit, first)).collect();
    remarks.extend(other_references(&visits));
    remarks.extend(edited(&visits, &names));
    let series = series(&visits, &entries);
    UnitHistory {
        tag: tag.to_owned(),
        doubt: doubt(&visits, &ahead, now),
        not_compared: not_compared(&visits, &series),
        series,
        zones: zones(&visits, &entries),
        entries,
        remarks,
    }
}

/// Records of boards whose reference is another than the last one's.
fn other_references(visits: &[Visit]) -> Option<Remark> {
    let last = &visits.last()?.record.board;
    let others: Vec<f64> = visits
        .iter()
        .map(|visit| &visit.record.board)
        .filter(|board| !same_reference(board, last))
        .map(|board| board.vref_mv)
        .collect();
    Some(Remark::OtherReference {
        records: others.len(),
        was_mv: *others.last()?,
        is_mv: last.vref_mv,
    })
}

/// Whether the profile of the last record had other limits at an earlier one: then it was edited since.
fn edited(visits: &[Visit], names: &Names) -> Option<Remark> {
    let (last, earlier) = visits.split_last()?;
    let profile = last.record.assessment.unit.profile.clone()?;
    let limits = |visit: &Visit| -> BTreeMap<(String, &'static str), [Option<f64>; 2]> {
        let bits = visit.record.board.bits;
        let findings = visit.record.assessment.findings.iter();
        let scaled = |f: &measure::judge::Finding| {
            let factor = f.figure.unit().scale_between(bits, last.record.board.bits);
            // Four digits: scaled and written, a limit is still the same one.
            [f.min, f.max].map(|side| side.map(|side| (side * factor * 1e4).round() / 1e4))
        };
        findings
            // How many lines were lost is no limit of a profile.
            .filter(|f| f.figure != FigureName::LostShare)
            .map(|f| ((names.channel(&f.channel), f.figure.word()), scaled(f)))
            .collect()
    };
    let now = limits(last);
    let same_profile =
        |visit: &&Visit| visit.record.assessment.unit.profile.as_ref() == Some(&profile);
    let before = earlier
        .iter()
        .rev()
        .find(|visit| same_profile(visit) && limits(visit) != now)?;
    let was = limits(before);
    let keys = now
        .keys()
        .chain(was.keys())
        .filter(|key| now.get(*key) != was.get(*key));
    let mut figures: Vec<String> = keys
        .map(|(channel, figure)| format!("{channel} {figure}"))
        .collect();
    figures.sort();
    figures.dedup();
    Some(Remark::Edited {
        profile,
        since: before.when,
        figures,
    })
}

#[cfg(test)]
#[path = "history_tests.rs"]
mod tests;
