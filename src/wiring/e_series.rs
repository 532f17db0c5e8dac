//! Preferred resistor values of IEC 60063, E3 to E192.
//!
//! E24 and below are the standard's own table (rounding 10^(k/24) would give other values in places); E192 is
//! `round(100 x 10^(k/192))` with the standard's one exception, 920 for 919; E96 and E48 are every second and fourth of it.

use serde::Serialize;

/// The two-digit values of E24. E12, E6 and E3 are every second, fourth and eighth of them.
const E24: [f64; 24] = [
    10.0, 11.0, 12.0, 13.0, 15.0, 16.0, 18.0, 20.0, 22.0, 24.0, 27.0, 30.0, 33.0, 36.0, 39.0, 43.0,
    47.0, 51.0, 56.0, 62.0, 68.0, 75.0, 82.0, 91.0,
];

/// One series.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Series {
    /// 3 a decade.
    E3,
    /// 6 a decade.
    E6,
    /// 12 a decade.
    E12,
    /// 24 a decade.
    E24,
    /// 48 a decade.
    E48,
    /// 96 a decade.
    E96,
    /// 192 a decade.
    E192,
}

/// Which way to leave an asked value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pick {
    /// The nearest by ratio.
    Nearest,
    /// The next at or above.
    Up,
    /// The next at or below.
    Down,
}

impl Series {
    /// The values of one decade, rising: two digits (10 to 91) up to E24, three (100 to 988) above.
    #[must_use]
    pub fn digits(self) -> Vec<f64> {
        match self {
            Self::E3 => E24.iter().copied().step_by(8).collect(),
            Self::E6 => E24.iter().copied().step_by(4).collect(),
            Self::E12 => E24.iter().copied().step_by(2).collect(),
            Self::E24 => E24.to_vec(),
            Self::E48 => e192().step_by(4).collect(),
            Self::E96 => e192().step_by(2).collect(),
            Self::E192 => e192().collect(),
        }
    }

    /// Every value from `low` to `high` ohms, rising. Empty when there is none.
    #[must_use]
    pub fn between(self, low: f64, high: f64) -> Vec<f64> {
        let digits = self.digits();
        let unit = digits.first().copied().unwrap_or(1.0);
        (-3..9)
            .flat_map(|decade| {
                let digits = &digits;
                digits.iter().map(move |d| scaled(*d, unit, decade))
            })
            .filter(|ohm| (low..=high).contains(ohm))
            .collect()
    }

    /// The value of the series for an asked one between 10 milliohm and 10 megohm; `None` outside.
    #[must_use]
    pub fn pick(self, ohm: f64, pick: Pick) -> Option<f64> {
        if !(0.01..=1e7).contains(&ohm) {
            return None;
        }
        let near = self.between(ohm / 3.0, ohm * 3.0);
        let above = near.iter().copied().find(|v| *v >= ohm);
        let below = near.iter().copied().rfind(|v| *v <= ohm);
        match pick {
            Pick::Up => above,
            Pick::Down => below,
            Pick::Nearest => match (below, above) {
                (Some(b), Some(a)) => Some(if ohm / b <= a / ohm { b } else { a }),
                (one, other) => one.or(other),
            },
        }
    }
}

fn e192() -> impl Iterator<Item = f64> + Clone {
    (0..192).map(|k| {
        let exact = (100.0 * 10_f64.powf(f64::from(k) / 192.0)).round();
        if k == 185 { 920.0 } else { exact }
    })
}

/// `digit / unit x 10^decade`, rounded so that 4.7 k is 4700 and not 4699.999.
fn scaled(digit: f64, unit: f64, decade: i32) -> f64 {
    // Whole digits times or over a whole power of ten: one correctly rounded operation.
    let shift = decade - if unit >= 100.0 { 2 } else { 1 };
    if shift >= 0 {
        digit * 10_f64.powi(shift)
    } else {
        digit / 10_f64.powi(-shift)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [(&str, Series); 7] = [
        ("E3", Series::E3),
        ("E6", Series::E6),
        ("E12", Series::E12),
        ("E24", Series::E24),
        ("E48", Series::E48),
        ("E96", Series::E96),
        ("E192", Series::E192),
    ];

    /// Reference 08 (IEC 60063).
    fn reference() -> serde_json::Value {
        serde_json::from_str(include_str!("../../tests/reference/08-e-series.json")).unwrap()
    }

    #[test]
    fn every_series_is_the_standards() {
        for (word, series) in ALL {
            let want: Vec<f64> =
                serde_json::from_value(reference()["expected"][word].clone()).unwrap();
            assert_eq!(series.digits(), want, "{word}");
        }
    }

    #[test]
    fn picks_of_file_08() {
        let file = reference();
        let mut seen = 0;
        for (asked, picks) in file["expected"]["picks"].as_object().unwrap() {
            let asked: f64 = asked.parse().unwrap();
            for (words, want) in picks.as_object().unwrap() {
                let (series, mode) = words.split_once(' ').unwrap();
                let series = ALL.iter().find(|(word, _)| *word == series).unwrap().1;
                let mode = match mode {
                    "ratio" => Pick::Nearest,
                    "up" => Pick::Up,
                    _ => Pick::Down,
                };
                let got = series.pick(asked, mode);
                assert_eq!(got, want.as_f64(), "{asked}: {words}");
                seen += 1;
            }
        }
        assert!(seen >= 90, "{seen}");
    }

    #[test]
    fn values_that_no_resistor_has_pick_nothing() {
        for ohm in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e-9] {
            assert_eq!(Series::E24.pick(ohm, Pick::Nearest), None);
        }
        assert!(Series::E24.between(101.0, 109.0).is_empty());
    }
}
