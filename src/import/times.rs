//! Which column is the time, and its times from 0 on.

use super::columns::{Asked, TimeColumn, called_or_number, find, listed};
use super::errors::{Asks, SamplesError};
use super::sheet::{Heading, Sheet};
use super::units::TimeUnit;
use measure::units::missing_in;

/// Longest and shortest recording that can be one, seconds.
const LONGEST_S: f64 = 1e6;
const SHORTEST_S: f64 = 0.5;
/// A unit that gives fewer samples a second is asked for: nobody records a control so slowly.
const SLOW_HZ: f64 = 20.0;
/// Samples on either side of a gap that say whether it is one.
const ASIDE: usize = 20;
/// Samples over which an uneven clock is even.
const SOME: usize = 10;
/// Where a counter of 32 bits begins anew.
const COUNTER: f64 = 4_294_967_296.0;
/// It has done so when no more than this is missing then, in its own units.
const COUNTER_GAP: f64 = 1e6;

/// Whether a heading names a time, or its unit is one.
pub(super) fn is_called_time(heading: &Heading) -> bool {
    let name = heading.name.to_lowercase();
    let is_time = |text: &str| TimeUnit::of(text).is_some();
    let named = matches!(name.as_str(), "t" | "time" | "timestamp" | "zeit");
    heading.clock
        || (named && heading.unit.as_deref().is_none_or(is_time))
        || is_time(&name)
        || heading.unit.as_deref().is_some_and(is_time)
}

pub(super) fn time_column(
    sheet: &Sheet,
    asked: &Asked,
    notes: &mut Vec<String>,
) -> Result<Option<usize>, SamplesError> {
    match &asked.time {
        TimeColumn::Named(name) => find(sheet, Asks::Time, name).map(Some),
        TimeColumn::Rate(_) => Ok(None),
        TimeColumn::Guessed => {
            let at = guessed(sheet)?;
            notes.push(format!(
                "guessed: column {} is the time",
                called_or_number(sheet, at)
            ));
            Ok(Some(at))
        }
    }
}

/// The column that is called a time, else one that grows with every row.
fn guessed(sheet: &Sheet) -> Result<usize, SamplesError> {
    let called = |at: &usize| {
        let heading = &sheet.headings[*at];
        is_called_time(heading) || heading.name.eq_ignore_ascii_case("time")
    };
    let columns = 0..sheet.headings.len();
    let called: Vec<usize> = columns.clone().filter(called).collect();
    let holds = |at: &usize| !sheet.columns[*at].is_empty();
    if let Some(at) = called.iter().copied().find(holds) {
        return Ok(at);
    }
    if let Some(at) = called.first() {
        return Err(SamplesError::NoTimes(called_or_number(sheet, *at)));
    }
    let grows = |at: &usize| sheet.columns[*at].windows(2).all(|pair| pair[1] > pair[0]);
    let at = columns
        .filter(holds)
        .find(grows)
        .ok_or_else(|| SamplesError::WhichTime(listed(sheet)))?;
    let counts = |pair: &[f64]| (pair[1] - pair[0] - 1.0).abs() <= 0.0;
    if sheet.headings[at].unit.is_none() && sheet.columns[at].windows(2).all(counts) {
        return Err(SamplesError::Counts(called_or_number(sheet, at)));
    }
    Ok(at)
}

/// Times from 0 on, and the samples a second.
pub(super) fn times(
    sheet: &Sheet,
    at: usize,
    taken: &[usize],
    asked: Option<TimeUnit>,
    notes: &mut Vec<String>,
) -> Result<(Vec<u64>, f64), SamplesError> {
    let times = unwrapped(sheet, at, taken)?;
    let unit = match asked {
        Some(asked) => {
            if heading_says(sheet, at).is_some_and(|said| said != asked) {
                notes.push(format!(
                    "the heading of {} says another unit; taken as --time-unit says",
                    called_or_number(sheet, at)
                ));
            }
            asked
        }
        None => unit(sheet, at, &times, notes)?,
    };
    let exact_us: Vec<f64> = times.iter().map(|t| t * unit.microseconds()).collect();
    let lasts_s = exact_us.last().copied().unwrap_or(0.0) * 1e-6;
    if !(SHORTEST_S..=LONGEST_S).contains(&lasts_s) {
        return Err(SamplesError::Duration(to_a_millionth(lasts_s)));
    }
    Ok(spaced(exact_us, lasts_s, notes))
}

/// Times since the first, over midnight and the end of a counter, in the column's own unit.
fn unwrapped(sheet: &Sheet, at: usize, taken: &[usize]) -> Result<Vec<f64>, SamplesError> {
    let column = &sheet.columns[at];
    let values = || taken.iter().map(|row| column[*row]);
    let is_clock = sheet.headings[at].clock;
    let are_whole = values().all(|t| t.fract().abs() <= 0.0);
    let mut before = column[taken[0]];
    let first = before;
    let mut turns = 0.0;
    let mut since_first = Vec::with_capacity(taken.len());
    for (row, time) in taken.iter().zip(values()) {
        if time < before {
            turns += match time - before {
                back if is_clock && back < -43_200.0 => 86_400.0,
                back if are_whole && (0.0..COUNTER_GAP).contains(&(back + COUNTER)) => COUNTER,
                _ => {
                    return Err(SamplesError::Back {
                        name: called_or_number(sheet, at),
                        row: row + 1,
                        from: before,
                        to: time,
                    });
                }
            };
        }
        since_first.push(time + turns - first);
        before = time;
    }
    Ok(since_first)
}

/// The unit in a column's heading, where it has one.
fn heading_says(sheet: &Sheet, at: usize) -> Option<TimeUnit> {
    let heading = &sheet.headings[at];
    let named = || TimeUnit::of(&heading.name);
    heading.unit.as_deref().map_or_else(named, TimeUnit::of)
}

/// The unit that the heading says; seconds where the values can be nothing else.
fn unit(
    sheet: &Sheet,
    at: usize,
    times: &[f64],
    notes: &mut Vec<String>,
) -> Result<TimeUnit, SamplesError> {
    let heading = &sheet.headings[at];
    let name = || called_or_number(sheet, at);
    if heading.clock {
        return Ok(TimeUnit::Seconds);
    }
    if let Some(unit) = &heading.unit {
        return TimeUnit::of(unit).ok_or_else(|| SamplesError::OtherTimeUnit {
            name: name(),
            unit: unit.clone(),
        });
    }
    if let Some(unit) = TimeUnit::of(&heading.name) {
        return Ok(unit);
    }
    let step = median_step(times);
    let are_whole = times.iter().all(|t| t.fract().abs() <= 0.0);
    if are_whole || step * SLOW_HZ > 1.0 {
        return Err(SamplesError::WhichTimeUnit {
            name: name(),
            step: to_a_millionth(step),
        });
    }
    notes.push("guessed: the time is in seconds".to_owned());
    Ok(TimeUnit::Seconds)
}

/// As people are told it.
fn to_a_millionth(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// The time between two samples. Where it differs from one to the next, since whoever wrote it down was late now and then, over some.
fn median_step(times: &[f64]) -> f64 {
    let median = |apart: usize| {
        let mut steps: Vec<f64> = times
            .windows(apart + 1)
            .map(|some| some[apart] - some[0])
            .collect();
        let middle = steps.len() / 2;
        let (_, median, _) = steps.select_nth_unstable_by(middle, f64::total_cmp);
        *median
    };
    let step = median(1);
    let like_it = |pair: &&[f64]| (pair[1] - pair[0] - step).abs() <= 0.1 * step;
    let alike = times.windows(2).filter(like_it).count();
    if alike * 2 > times.len() || times.len() <= 4 * SOME {
        return step;
    }
    #[allow(clippy::cast_precision_loss)] // a few
    let over_some = median(SOME) / SOME as f64;
    over_some
}

/// Times as they stand; evenly spaced where the file wrote them so coarsely that many are the same.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // 0 to 1e12
fn spaced(exact_us: Vec<f64>, lasts_s: f64, notes: &mut Vec<String>) -> (Vec<u64>, f64) {
    let n = exact_us.len();
    let same = exact_us
        .windows(2)
        .filter(|pair| pair[1] <= pair[0])
        .count();
    if same * 10 > n {
        let rate_hz = (n - 1) as f64 / lasts_s;
        notes.push(format!(
            "guessed: its times are too coarse to tell samples apart, so they are taken as evenly spaced, {rate_hz:.1} a second"
        ));
        return (evenly(n, rate_hz), rate_hz);
    }
    let step_us = median_step(&exact_us);
    if step_us <= 0.0 {
        return (
            exact_us.into_iter().map(|us| us.round() as u64).collect(),
            (n - 1) as f64 / lasts_s,
        );
    }
    let periods = |us: &f64| us / step_us;
    let periods: Vec<f64> = exact_us.iter().map(periods).collect();
    let places = places(&periods);
    let last = places.last().copied().unwrap_or(0);
    if last < last_place(&periods) {
        let rate_hz = last as f64 / lasts_s;
        notes.push(format!(
            "guessed: its times are those of arrival, so the samples are taken as evenly spaced, {rate_hz:.1} a second"
        ));
        let us = |place: u64| (place as f64 * 1e6 / rate_hz).round() as u64;
        return (places.into_iter().map(us).collect(), rate_hz);
    }
    (
        exact_us.into_iter().map(|us| us.round() as u64).collect(),
        1e6 / step_us,
    )
}

/// The place of the last sample when every gap of more than one and a half periods is of samples that are missing.
fn last_place(periods: &[f64]) -> u64 {
    let gaps = periods.windows(2).map(|pair| pair[1] - pair[0]);
    gaps.map(|gap| 1 + missing_in(gap)).sum()
}

/// The place of each sample among all that were taken, from times in periods. A gap that the samples behind it make up for is none:
/// whoever wrote down when a line arrived was late.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // counts of rows, and a gap in periods
fn places(periods: &[f64]) -> Vec<u64> {
    let late: Vec<f64> = periods
        .iter()
        .enumerate()
        .map(|(k, at)| at - k as f64)
        .collect();
    let least = |range: &[f64]| range.iter().copied().fold(f64::INFINITY, f64::min);
    let (mut missing, mut since) = (0, 0);
    let mut places = Vec::with_capacity(late.len());
    for at in 0..late.len() {
        if at > 0 && late[at] - late[at - 1] > 0.5 {
            let before = least(&late[since.max(at.saturating_sub(ASIDE))..at]);
            let behind = least(&late[at..(at + ASIDE).min(late.len())]);
            let gap = (behind - before).round().max(0.0) as u64;
            if gap > 0 {
                (missing, since) = (missing + gap, at);
            }
        }
        places.push(at as u64 + missing);
    }
    places
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // counts of rows
pub(super) fn evenly(n: usize, rate_hz: f64) -> Vec<u64> {
    (0..n)
        .map(|k| (k as f64 * 1e6 / rate_hz).round() as u64)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_arrives_late_is_not_missing() {
        let even: Vec<f64> = (0..1000).map(f64::from).collect();
        // Every 7th up to three quarters of a period late, by hand: gaps of up to 1.75 periods, and none that stays.
        let late = |k: i32| {
            if k % 7 == 0 {
                f64::from(1 + k % 3) / 4.0
            } else {
                0.0
            }
        };
        let late: Vec<f64> = (0..1000).map(|k| f64::from(k) + late(k)).collect();
        let gone = |k: &usize| (300..303).contains(k) || *k == 305 || (700..710).contains(k);
        for times in [&even, &late] {
            assert_eq!(places(times), (0..1000).collect::<Vec<_>>());
            let left: Vec<usize> = (0..1000).filter(|k| !gone(k)).collect();
            let times: Vec<f64> = left.iter().map(|k| times[*k]).collect();
            assert_eq!(
                places(&times),
                left.iter().map(|k| *k as u64).collect::<Vec<_>>()
            );
        }
        assert_eq!((last_place(&even), places(&[0.0, 2.0])), (999, vec![0, 2]));
        // Late by three quarters are 14, 35, ... 980: 47 of them.
        assert_eq!(last_place(&late), 999 + 47);
    }
}
