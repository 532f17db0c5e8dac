//! What the records of one unit say together: what changed, where it is going, when it leaves a limit.
//!
//! Belongs here: which record is held against which, and what follows. Does not belong here: the arithmetic of a change or a
//! trend (`measure`), files (`disk`), words (`report`).

use super::kept::{FigureKept, Record};
use jiff::Timestamp;
use measure::WornZone;
use measure::figure::{FigureName, Mark};
use measure::judge::Verdict;
use measure::seasons::{Change, change, stand_out};
use measure::seasons::{Crossing, Trend, trend};
use std::collections::BTreeMap;

/// A mean year, in seconds: trends are told per year.
const YEAR_S: f64 = 365.25 * 86_400.0;

/// Percent of travel by which a zone must have widened to be told as growing: two of the map's bins of 1 %, one at each end.
const WIDER_PCT: f64 = 2.0;

/// Share by which a zone's noise must have risen to be told as growing.
const LOUDER: f64 = 1.25;

/// A limit that a trend reaches later than this after the last record is not told in a word, in years: a control rarely
/// serves longer.
const SOON_YEARS: f64 = 10.0;

/// One record of the unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// When its capture was begun.
    pub when: Timestamp,
    pub verdict: Option<Verdict>,
    /// What was said of it first; empty in records of before.
    pub headline: String,
    /// The profile it was held against.
    pub profile: Option<String>,
    pub capture: Option<String>,
    pub bits: u32,
}

/// One figure at one record.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    pub entry: usize,
    pub figure: FigureKept,
}

/// One figure over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// The channel, or `a/b` for a pair of tracks.
    pub channel: String,
    pub figure: FigureName,
    /// Lower side of its limit at the last record.
    pub min: Option<f64>,
    /// Upper side.
    pub max: Option<f64>,
    /// Its values, oldest first; only records with a board of the last one's bits where codes matter.
    pub points: Vec<Point>,
    /// From the last value but one to the last; `None` when either is counted, has an open end, or describes
    /// the sample alone (`return_range`).
    pub change: Option<Change>,
    /// Whether that change stands out among those of all figures of this unit.
    pub stands_out: bool,
    /// The line through all values, when there are three or more.
    pub trend: Option<Trend>,
    /// When the trend reaches the limit it is heading for: times in years from the first record.
    pub crossing: Option<Crossing>,
}

/// A worn zone over time.
#[derive(Debug, Clone, PartialEq)]
pub struct ZoneStory {
    pub channel: String,
    /// As it is now, at the last record.
    pub now: WornZone,
    /// As it was when it was first seen, and at which entry; `None` when it is new.
    pub before: Option<(usize, WornZone)>,
    /// Whether it widened or became louder since.
    pub grows: bool,
}

/// All records of one unit together.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitHistory {
    pub tag: String,
    /// Its records, oldest first. A capture that was assessed again with the same profile counts once, as last assessed.
    pub entries: Vec<Entry>,
    /// Figures over time, in the order in which figures are shown.
    pub series: Vec<Series>,
    /// Zones of the last record.
    pub zones: Vec<ZoneStory>,
}

/// Where a unit is going, in a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Course {
    /// One record: nothing to hold it against.
    First,
    /// No change that stands out, no trend that is sure.
    Steady,
    /// A figure changed since the record before by more than the uncertainties explain.
    Changed,
    /// A trend that is sure heads for a limit.
    TowardsLimit,
    /// A worn zone is new, wider or louder.
    Wearing,
}

impl Course {
    pub fn word(self) -> &'static str {
        match self {
            Self::First => "first record",
            Self::Steady => "steady",
            Self::Changed => "changed",
            Self::TowardsLimit => "towards a limit",
            Self::Wearing => "wearing",
        }
    }
}

impl UnitHistory {
    /// Where the unit is going: the gravest of what its records say.
    pub fn course(&self) -> Course {
        let several = self.entries.len() > 1;
        match () {
            () if !several => Course::First,
            () if self.zones.iter().any(|z| z.grows || z.before.is_none()) => Course::Wearing,
            () if self.series.iter().any(|s| self.leaves_soon(s)) => Course::TowardsLimit,
            () if self.series.iter().any(|s| s.stands_out) => Course::Changed,
            () => Course::Steady,
        }
    }

    /// Whether a figure will be outside its limit before long.
    pub fn leaves_soon(&self, series: &Series) -> bool {
        let last = self
            .entries
            .last()
            .map_or(0.0, |last| self.years(last.when));
        series
            .crossing
            .is_some_and(|crossing| crossing.time < last + SOON_YEARS)
    }

    /// A time in years from the first record as a date; `None` when no calendar has it.
    pub fn date(&self, years: f64) -> Option<Timestamp> {
        let first = self.entries.first()?.when.as_second();
        #[allow(clippy::cast_possible_truncation, clippy::cast_precision_loss)]
        // checked by the calendar
        let second = years.mul_add(YEAR_S, first as f64) as i64;
        Timestamp::from_second(second).ok()
    }

    /// Years from the first record to a moment.
    pub fn years(&self, when: Timestamp) -> f64 {
        self.entries
            .first()
            .map_or(0.0, |first| years_between(first.when, when))
    }
}

/// Puts a unit's records together: any order, all of one tag.
pub fn unit_history(tag: &str, records: Vec<Record>) -> UnitHistory {
    let records = latest_of_each(records);
    let entries: Vec<Entry> = records.iter().map(entry).collect();
    let mut series = series(&records, &entries);
    let chances: Vec<f64> = series
        .iter()
        .filter_map(|s| s.change.map(|c| c.chance))
        .collect();
    let marked = stand_out(&chances);
    let changed = series.iter_mut().filter(|s| s.change.is_some());
    for (one, marked) in changed.zip(marked) {
        one.stands_out = marked;
    }
    UnitHistory {
        tag: tag.to_owned(),
        zones: zones(&records),
        entries,
        series,
    }
}

/// Oldest first; of records of one capture and one profile only the one kept last.
fn latest_of_each(mut records: Vec<Record>) -> Vec<Record> {
    records.sort_by_key(|record| (record.when(), record.kept));
    let mut last = BTreeMap::new();
    for (at, record) in records.iter().enumerate() {
        if let Some(sum) = &record.assessment.capture.sha256 {
            last.insert((sum.clone(), record.assessment.unit.profile.clone()), at);
        }
    }
    let mut at = 0;
    records.retain(|record| {
        let key = record
            .assessment
            .capture
            .sha256
            .clone()
            .map(|sum| (sum, record.assessment.unit.profile.clone()));
        let keep = key.is_none_or(|key| last.get(&key) == Some(&at));
        at += 1;
        keep
    });
    records
}

fn entry(record: &Record) -> Entry {
    Entry {
        when: record.when(),
        verdict: record.assessment.verdict,
        headline: record.assessment.diagnosis.headline.clone(),
        profile: record.assessment.unit.profile.clone(),
        capture: record.assessment.capture.file.clone(),
        bits: record.board.bits,
    }
}

fn series(records: &[Record], entries: &[Entry]) -> Vec<Series> {
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in records.iter().flat_map(|record| record.assessment.parts()) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let mut all = Vec::new();
    for channel in names {
        for &figure in FigureName::ALL {
            all.extend(one_series(records, entries, channel, figure));
        }
    }
    all
}

/// A figure of a channel over time; `None` when no record has it.
fn one_series(
    records: &[Record],
    entries: &[Entry],
    channel: &str,
    figure: FigureName,
) -> Option<Series> {
    let last_bits = entries.last()?.bits;
    let comparable = |bits: u32| figure.unit().on_any_board() || bits == last_bits;
    let points: Vec<Point> = records
        .iter()
        .enumerate()
        .filter(|(at, _)| comparable(entries[*at].bits))
        .filter_map(|(entry, record)| {
            let figures = record
                .assessment
                .parts()
                .find(|(name, _)| *name == channel)?
                .1;
            let figure = figures.get(figure.word())?.clone()?;
            Some(Point { entry, figure })
        })
        .collect();
    let last = points.last()?;
    let limit = records.last().and_then(|record| {
        let mut findings = record.assessment.findings.iter();
        findings.find(|f| f.channel == channel && f.figure == figure)
    });
    let (min, max) = limit.map_or((None, None), |f| (f.min, f.max));
    let before = points.len().checked_sub(2).map(|at| &points[at]);
    let of_unit = !figure.is(Mark::OfSample);
    let change = before
        .filter(|_| of_unit)
        .and_then(|before| Some(change(before.figure.estimate()?, last.figure.estimate()?)));
    let first = entries.first()?.when;
    let dated: Vec<_> = points
        .iter()
        .filter_map(|p| {
            Some((
                years_between(first, entries[p.entry].when),
                p.figure.estimate()?,
            ))
        })
        .collect();
    let trend = trend(&dated).filter(|_| of_unit);
    let crossing = trend.and_then(|trend| {
        let heading = if trend.slope > 0.0 { max } else { min };
        trend.reaches(heading?)
    });
    Some(Series {
        channel: channel.to_owned(),
        figure,
        min,
        max,
        points,
        change,
        stands_out: false,
        trend,
        crossing,
    })
}

fn zones(records: &[Record]) -> Vec<ZoneStory> {
    let Some((last, earlier)) = records.split_last() else {
        return Vec::new();
    };
    let mut stories = Vec::new();
    for (channel, part) in &last.assessment.channels {
        for now in &part.worn_zones {
            let before = earlier.iter().enumerate().find_map(|(at, record)| {
                let zones = &record.assessment.channels.get(channel)?.worn_zones;
                let same = |z: &&WornZone| z.from_pct < now.to_pct && now.from_pct < z.to_pct;
                zones.iter().find(same).map(|zone| (at, *zone))
            });
            stories.push(ZoneStory {
                channel: channel.clone(),
                now: *now,
                before,
                grows: before.is_some_and(|(_, was)| grew(&was, now)),
            });
        }
    }
    stories
}

fn grew(was: &WornZone, now: &WornZone) -> bool {
    let width = |z: &WornZone| z.to_pct - z.from_pct;
    width(now) >= width(was) + WIDER_PCT || now.noise_ratio >= was.noise_ratio * LOUDER
}

fn years_between(from: Timestamp, to: Timestamp) -> f64 {
    #[allow(clippy::cast_precision_loss)] // seconds of a calendar
    let seconds = (to.as_second() - from.as_second()) as f64;
    seconds / YEAR_S
}

#[cfg(test)]
#[path = "history_tests.rs"]
mod tests;
