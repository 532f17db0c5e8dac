//! The reader of other programs' files: whatever it is, columns of one length or of words, and of what becomes samples a time that never goes back
//! and codes that the board has.
//!
//! Bytes: one of the board and of what the person says, the rest is the file.

use super::Bytes;
use measure::units::Scale;
use pedalproof::import::{Asked, SignalUnit, Source, TimeColumn, TimeUnit, samples};

const UNITS: [Option<SignalUnit>; 4] = [
    None,
    Some(SignalUnit::Volts),
    Some(SignalUnit::Millivolts),
    Some(SignalUnit::Codes),
];

pub fn check(data: &[u8]) {
    let mut plan = Bytes(data);
    let said = plan.byte();
    let Ok(source) = Source::of(plan.0) else {
        return;
    };
    let rows = source.sheet.rows;
    assert_eq!(source.sheet.headings.len(), source.sheet.columns.len());
    for column in &source.sheet.columns {
        assert!(column.is_empty() || column.len() == rows);
        assert!(column.iter().all(|value| !value.is_infinite()));
    }
    let asked = Asked {
        time: match said & 3 {
            0 => TimeColumn::Guessed,
            1 => TimeColumn::Named("1".to_owned()),
            2 => TimeColumn::Named("t".to_owned()),
            _ => TimeColumn::Rate(250.0),
        },
        time_unit: [
            None,
            Some(TimeUnit::Seconds),
            Some(TimeUnit::Milliseconds),
            Some(TimeUnit::Microseconds),
        ][usize::from(said >> 2 & 3)],
        signals: Vec::new(),
        unit: UNITS[usize::from(said >> 4 & 3)],
    };
    let bits = if said & 64 == 0 { 10 } else { 16 };
    let scale = Scale::new(bits, 5000.0).expect("a board");
    let Ok(taken) = samples(&source.sheet, &asked, scale) else {
        return;
    };
    assert!(taken.t_us.is_sorted() && taken.t_us.first() == Some(&0));
    assert!(
        taken.rate_hz.is_finite() && taken.rate_hz > 0.0,
        "{}",
        taken.rate_hz
    );
    assert!(taken.t_us.len() <= rows && taken.t_us.len() >= 10);
    assert_eq!(taken.channels.len(), taken.codes.len());
    for codes in &taken.codes {
        assert_eq!(codes.len(), taken.t_us.len());
        assert!(codes.iter().all(|code| code.0 < scale.codes()));
    }
}
