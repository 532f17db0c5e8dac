//! Columns of a sheet -> samples of the board that was stated: times in microseconds, volts as its codes.
//!
//! What is guessed is told.

use super::columns::{Asked, TimeColumn, called_or_number, find, listed};
use super::errors::{Asks, SamplesError};
use super::sheet::{Heading, Sheet};
use super::times::{self, evenly, time_column, times};
use super::units::SignalUnit;
use measure::units::{Code, OWN_COLUMNS, Scale, Volts};

/// Samples as a board would have given them.
#[derive(Debug, Default)]
pub struct Imported {
    /// From 0 on, never decreasing.
    pub t_us: Vec<u64>,
    pub channels: Vec<String>,
    /// A column for each channel.
    pub codes: Vec<Vec<Code>>,
    pub rate_hz: f64,
    /// Whether the file says when each sample was taken.
    pub has_time: bool,
    /// Rows without a value, and lines that were no rows.
    pub left_out: u64,
    /// What was seen, guessed and done, in words.
    pub notes: Vec<String>,
}

/// Above this, samples are left out evenly: boards take a thousand a second or so, and the figures are made for that.
const MOST_HZ: f64 = 5000.0;
/// What is left then, at least, samples a second.
const ENOUGH_HZ: f64 = 1000.0;
/// A part of samples beyond the board's ends that is no accident.
const MANY_BEYOND: f64 = 0.2;

/// Fewest samples of a recording.
const FEWEST: usize = 10;

pub fn samples(sheet: &Sheet, asked: &Asked, scale: Scale) -> Result<Imported, SamplesError> {
    let mut notes = sheet.seen.clone();
    let time = time_column(sheet, asked, &mut notes)?;
    let signals = signals(sheet, asked, time, &mut notes)?;
    let columns: Vec<&[f64]> = signals
        .iter()
        .map(|(_, at)| &sheet.columns[*at][..])
        .collect();
    let taken = complete_rows(sheet, time, &columns);
    if taken.len() < FEWEST {
        return Err(SamplesError::TooFew(taken.len()));
    }
    let (mut t_us, mut rate_hz) = match (time, &asked.time) {
        (Some(at), _) => times(sheet, at, &taken, asked.time_unit, &mut notes)?,
        (None, TimeColumn::Rate(hz)) => (evenly(taken.len(), *hz), *hz),
        (None, _) => return Err(SamplesError::WhichTime(listed(sheet))),
    };
    let mut codes = Vec::new();
    for ((channel, at), column) in signals.iter().zip(&columns) {
        let unit = unit(&sheet.headings[*at], asked, column, channel, &mut notes)?;
        codes.push(coded(channel, column, &taken, unit, scale, &mut notes)?);
    }
    if rate_hz > MOST_HZ {
        let every = thinned(rate_hz);
        let thin = |n: usize| (0..n).step_by(every as usize);
        codes = codes
            .iter()
            .map(|codes| thin(codes.len()).map(|k| codes[k]).collect())
            .collect();
        t_us = thin(t_us.len()).map(|k| t_us[k]).collect();
        notes.push(format!(
            "of {rate_hz:.0} samples a second every {every}th was taken, as a board of {:.0} would have read it",
            rate_hz / f64::from(every)
        ));
        rate_hz /= f64::from(every);
        if t_us.len() < FEWEST {
            return Err(SamplesError::TooFew(t_us.len()));
        }
    }
    Ok(Imported {
        t_us,
        channels: signals.into_iter().map(|(channel, _)| channel).collect(),
        codes,
        rate_hz,
        has_time: time.is_some(),
        left_out: sheet.others + (sheet.rows - taken.len()) as u64,
        notes,
    })
}

/// How many samples become one.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // above 1, and bounded by the rate
fn thinned(rate_hz: f64) -> u32 {
    (rate_hz / ENOUGH_HZ).floor().max(1.0) as u32
}

/// The channels with the columns that they are in.
fn signals(
    sheet: &Sheet,
    asked: &Asked,
    time: Option<usize>,
    notes: &mut Vec<String>,
) -> Result<Vec<(String, usize)>, SamplesError> {
    let mut found: Vec<(String, usize)> = Vec::new();
    let named = |found: &[(String, usize)], at: usize| {
        let name = channel_name(&sheet.headings[at].name, at);
        let twice = found.iter().any(|(known, _)| *known == name);
        if twice {
            format!("{name}_{}", at + 1)
        } else {
            name
        }
    };
    if !asked.signals.is_empty() {
        for signal in &asked.signals {
            let at = find(sheet, Asks::Signals, &signal.column)?;
            let channel = signal.channel.clone();
            let channel = channel.unwrap_or_else(|| named(&found, at));
            found.push((channel, at));
        }
        return Ok(found);
    }
    let numbers = |at: &usize| sheet.columns[*at].iter().any(|x| x.is_finite());
    let others = (0..sheet.columns.len())
        .filter(|at| Some(*at) != time)
        .filter(numbers);
    let are_times = |at: &usize| times::is_called_time(&sheet.headings[*at]);
    let times_alone = others.clone().all(|at| are_times(&at));
    for at in others {
        if !times_alone && are_times(&at) {
            notes.push(format!(
                "guessed: column {} is a time, and left out",
                called_or_number(sheet, at)
            ));
            continue;
        }
        let name = named(&found, at);
        notes.push(format!(
            "guessed: column {} is the signal `{name}`",
            called_or_number(sheet, at)
        ));
        found.push((name, at));
    }
    match found.len() {
        0 => Err(SamplesError::NoSignal(listed(sheet))),
        _ => Ok(found),
    }
}

/// A heading as a channel's name: letters, digits, `_`.
fn channel_name(heading: &str, at: usize) -> String {
    let plain = |c: char| {
        if c.is_ascii_alphanumeric() {
            c.to_ascii_lowercase()
        } else {
            '_'
        }
    };
    let name: String = heading.chars().map(plain).collect();
    match name.trim_matches('_') {
        name if name.is_empty() || OWN_COLUMNS.contains(&name) => format!("signal_{}", at + 1),
        name => name.chars().take(40).collect(),
    }
}

/// The rows in which time and every signal have a value.
fn complete_rows(sheet: &Sheet, time: Option<usize>, signals: &[&[f64]]) -> Vec<usize> {
    let time = time.map(|at| &sheet.columns[at]);
    let complete = |row: &usize| {
        time.is_none_or(|time| time[*row].is_finite())
            && signals.iter().all(|column| column[*row].is_finite())
    };
    (0..sheet.rows).filter(complete).collect()
}

/// The unit as stated, as its heading says, else as its values look.
fn unit(
    heading: &Heading,
    asked: &Asked,
    column: &[f64],
    channel: &str,
    notes: &mut Vec<String>,
) -> Result<SignalUnit, SamplesError> {
    if let Some(asked) = asked.unit {
        let said = heading.unit.as_deref().and_then(SignalUnit::of);
        return match (&heading.unit, said) {
            (Some(unit), Some(said)) if said != asked => Err(SamplesError::UnitsDiffer {
                name: match heading.name.as_str() {
                    "" => channel.to_owned(),
                    name => name.to_owned(),
                },
                heading: unit.clone(),
                asked: asked.word(),
            }),
            _ => Ok(asked),
        };
    }
    if let Some(unit) = &heading.unit {
        return SignalUnit::of(unit).ok_or_else(|| SamplesError::OtherUnit {
            name: channel.to_owned(),
            unit: unit.clone(),
        });
    }
    let values = || column.iter().filter(|x| x.is_finite());
    let most = values().fold(0.0_f64, |most, x| most.max(x.abs()));
    // Fractions below any bench supply are volts; whole numbers may be codes or millivolts.
    if values().any(|x| x.fract().abs() > 0.0) && most <= 30.0 {
        notes.push(format!("guessed: `{channel}` is in volts"));
        return Ok(SignalUnit::Volts);
    }
    Err(SamplesError::WhichUnit)
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // checked to be codes
fn coded(
    channel: &str,
    column: &[f64],
    taken: &[usize],
    unit: SignalUnit,
    scale: Scale,
    notes: &mut Vec<String>,
) -> Result<Vec<Code>, SamplesError> {
    if unit == SignalUnit::Codes {
        let code = |row: &usize| {
            let (value, most) = (column[*row], scale.max_code().0);
            let is_code = value.fract().abs() <= 0.0 && (0.0..=f64::from(most)).contains(&value);
            is_code
                .then_some(Code(value as u32))
                .ok_or_else(|| SamplesError::NoCode {
                    name: channel.to_owned(),
                    value,
                    row: row + 1,
                    most,
                })
        };
        return taken.iter().map(code).collect();
    }
    let in_volts = if unit == SignalUnit::Millivolts {
        1e-3
    } else {
        1.0
    };
    let vref = scale.vref_mv() * 1e-3;
    let volts = || taken.iter().map(|row| column[*row] * in_volts);
    // A tenth of the reference beyond either end is an offset of the instrument, or the ringing of its lead.
    let beyond = volts()
        .filter(|v| *v < -0.1 * vref || *v > 1.1 * vref)
        .count();
    if beyond as f64 > MANY_BEYOND * taken.len() as f64 {
        return Err(SamplesError::OffTheRuler {
            name: channel.to_owned(),
            low: volts().fold(f64::INFINITY, f64::min) / in_volts,
            high: volts().fold(f64::NEG_INFINITY, f64::max) / in_volts,
            unit: unit.word(),
            vref_mv: scale.vref_mv(),
        });
    }
    let step = vref / f64::from(scale.codes());
    let held = volts()
        .filter(|v| *v < -0.5 * step || *v >= vref + 0.5 * step)
        .count();
    if held > 0 {
        notes.push(format!(
            "{held} samples of `{channel}` beyond the board's ends read as its end"
        ));
    }
    Ok(volts().map(|v| scale.code(Volts(v))).collect())
}
