//! Which records of a unit count as visits: clocks that were wrong, copies, the same recording twice, other spellings of a tag.
//!
//! Belongs here: what is set aside and joined, so that it can be told. Does not belong here: files (`disk`), what the visits say
//! together (`history`), words (`report`).

use super::kept::Record;
use jiff::{SignedDuration, Timestamp};
use measure::judge::Verdict;
use std::collections::BTreeMap;

/// A mean year, in seconds: trends are told per year.
pub(super) const YEAR_S: f64 = 365.25 * 86_400.0;

/// A clock may be a day ahead: another zone, written as if it were UTC.
pub(super) const AHEAD: SignedDuration = SignedDuration::from_hours(24);

/// Seconds from 1970 before which no recording was made: 2000-01-01. A clock without its battery begins there or in 1970.
const EARLIEST_S: i64 = 946_684_800;

/// What a person must know of the records before they believe what follows.
#[derive(Debug, Clone, PartialEq)]
pub enum Remark {
    /// Its date has not come yet: set aside.
    Future {
        when: Timestamp,
        file: Option<String>,
    },
    /// Its date is missing or cannot be: it stands where it was kept, and counts for no trend.
    Undated {
        taken: Option<String>,
        kept: Timestamp,
        file: Option<String>,
    },
    /// One recording has several records: the last assessment counts, once.
    Copies {
        records: usize,
        file: Option<String>,
    },
    /// The same, checked as different kinds.
    Profiles {
        profiles: Vec<String>,
        file: Option<String>,
    },
    /// The tag is written in several ways.
    Spelled { tags: Vec<String> },
    /// So many records are of a board whose reference is another: figures that depend on it are left out.
    OtherReference {
        records: usize,
        was_mv: f64,
        is_mv: f64,
    },
    /// Channels that were called otherwise, and how they are called now: the same tracks.
    Renamed { channels: Vec<(String, String)> },
    /// The limits of a profile are other ones than at an earlier record.
    Edited {
        profile: String,
        since: Timestamp,
        figures: Vec<String>,
    },
}

/// One record of the unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// When its capture was begun.
    pub when: Timestamp,
    /// Whether it says so itself; else it stands where it was kept.
    pub dated: bool,
    /// Years from the first record.
    pub years: f64,
    pub verdict: Option<Verdict>,
    /// What was said of it first; empty in records of before.
    pub headline: String,
    /// The profile it was held against.
    pub profile: Option<String>,
    pub capture: Option<String>,
    pub bits: u32,
}

/// A record that counts.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Visit {
    pub record: Record,
    pub when: Timestamp,
    /// Whether that is when it was taken.
    pub dated: bool,
    /// When its recording was kept first; assessed again it is no newer test.
    pub first_kept: Timestamp,
}

/// All records of a unit, sorted out.
pub(super) struct Sorted {
    /// Those that count, the oldest first.
    pub visits: Vec<Visit>,
    /// Those set aside, for their date has not come yet.
    pub ahead: Vec<Visit>,
    pub remarks: Vec<Remark>,
}

/// A tag without what a hurried hand adds or leaves out: blanks and capitals.
pub fn folded(tag: &str) -> String {
    tag.chars()
        .filter(|c| !c.is_whitespace())
        .flat_map(char::to_lowercase)
        .collect()
}

/// The visits, and what became of the other records.
pub(super) fn visits(records: Vec<Record>, now: Timestamp) -> Sorted {
    let mut remarks: Vec<Remark> = spelled(&records).into_iter().collect();
    let (mut visits, mut ahead) = (Vec::new(), Vec::new());
    for record in records {
        let file = record.assessment.capture.file.clone();
        let taken = record
            .taken
            .as_deref()
            .and_then(|taken| taken.parse::<Timestamp>().ok());
        let believed = taken.filter(|taken| taken.as_second() >= EARLIEST_S);
        let when = believed.unwrap_or(record.kept);
        let visit = Visit {
            when,
            dated: believed.is_some(),
            first_kept: record.kept,
            record,
        };
        if when.duration_since(now) > AHEAD {
            remarks.push(Remark::Future { when, file });
            ahead.push(visit);
            continue;
        }
        if !visit.dated {
            remarks.push(Remark::Undated {
                taken: visit.record.taken.clone(),
                kept: visit.record.kept,
                file,
            });
        }
        visits.push(visit);
    }
    visits.sort_by_key(|visit| (visit.when, visit.record.kept));
    let (visits, joined) = once_each(visits);
    remarks.extend(joined);
    Sorted {
        visits,
        ahead: once_each(ahead).0,
        remarks,
    }
}

fn spelled(records: &[Record]) -> Option<Remark> {
    let mut tags: Vec<String> = records
        .iter()
        .filter_map(|record| record.assessment.unit.tag.clone())
        .collect();
    tags.sort();
    tags.dedup();
    (tags.len() > 1).then_some(Remark::Spelled { tags })
}

/// A recording counts once, as last assessed, whatever its file is called and whatever it was checked as.
fn once_each(mut visits: Vec<Visit>) -> (Vec<Visit>, Vec<Remark>) {
    let mut of_one: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (at, visit) in visits.iter().enumerate() {
        of_one.entry(content(visit)).or_default().push(at);
    }
    let mut remarks = Vec::new();
    let mut counted = Vec::new();
    for all in of_one.into_values() {
        let newest = all
            .iter()
            .copied()
            .max_by_key(|at| (visits[*at].record.kept, *at));
        counted.extend(newest);
        let first = all.iter().map(|at| visits[*at].record.kept).min();
        if let (Some(newest), Some(first)) = (newest, first) {
            visits[newest].first_kept = first;
        }
        if all.len() == 1 {
            continue;
        }
        let file = newest.and_then(|at| visits[at].record.assessment.capture.file.clone());
        let mut profiles: Vec<String> = all
            .iter()
            .filter_map(|at| visits[*at].record.assessment.unit.profile.clone())
            .collect();
        profiles.sort();
        profiles.dedup();
        remarks.push(if profiles.len() > 1 {
            Remark::Profiles { profiles, file }
        } else {
            Remark::Copies {
                records: all.len(),
                file,
            }
        });
    }
    counted.sort_unstable();
    let kept = visits
        .into_iter()
        .enumerate()
        .filter(|(at, _)| counted.binary_search(at).is_ok());
    (kept.map(|(_, visit)| visit).collect(), remarks)
}

/// What tells one recording from another: its sum; without one its time and size.
pub(super) fn content(visit: &Visit) -> String {
    let capture = &visit.record.assessment.capture;
    capture.sha256.clone().unwrap_or_else(|| {
        format!(
            "{} {} {}",
            visit.when,
            capture.samples,
            capture.duration_s.to_bits()
        )
    })
}

pub(super) fn entry(visit: &Visit, first: Timestamp) -> Entry {
    let Visit {
        record,
        when,
        dated,
        ..
    } = visit;
    Entry {
        when: *when,
        dated: *dated,
        years: years_between(first, *when),
        verdict: record.assessment.verdict,
        headline: record.assessment.diagnosis.headline.clone(),
        profile: record.assessment.unit.profile.clone(),
        capture: record.assessment.capture.file.clone(),
        bits: record.board.bits,
    }
}

pub(super) fn years_between(from: Timestamp, to: Timestamp) -> f64 {
    #[allow(clippy::cast_precision_loss)] // seconds of a calendar
    let seconds = (to.as_second() - from.as_second()) as f64;
    seconds / YEAR_S
}
