//! Preferred resistor values of IEC 60063: E12, E24, E96.
//!
//! E24 and E12 are the standard's own table (rounding 10^(k/24) would give other values in places); E96 is every second of
//! E192, `round(100 x 10^(k/192))`. The standard's one exception, 920 for 919, is not among them.

use measure::units::maths;
use schemars::JsonSchema;
use serde::Serialize;

/// Two digits; E12 is every second of them.
const E24: [f64; 24] = [
    10.0, 11.0, 12.0, 13.0, 15.0, 16.0, 18.0, 20.0, 22.0, 24.0, 27.0, 30.0, 33.0, 36.0, 39.0, 43.0,
    47.0, 51.0, 56.0, 62.0, 68.0, 75.0, 82.0, 91.0,
];

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub enum Series {
    E12,
    E24,
    E96,
}

/// Which way to leave an asked value; the nearest is by ratio.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pick {
    Nearest,
    Up,
}

impl Series {
    /// The values of one decade, rising: two digits (10 to 91) up to E24, three (100 to 976) above.
    pub fn digits(self) -> Vec<f64> {
        match self {
            Self::E12 => E24.iter().copied().step_by(2).collect(),
            Self::E24 => E24.to_vec(),
            Self::E96 => (0..96)
                .map(|k| (100.0 * maths::pow(10.0, f64::from(k) / 96.0)).round())
                .collect(),
        }
    }

    /// Every value from `low` to `high` ohms, rising. Empty when there is none.
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
    pub fn pick(self, ohm: f64, pick: Pick) -> Option<f64> {
        if !(0.01..=1e7).contains(&ohm) {
            return None;
        }
        let near = self.between(ohm / 3.0, ohm * 3.0);
        let above = near.iter().copied().find(|v| *v >= ohm);
        let below = near.iter().copied().rfind(|v| *v <= ohm);
        match pick {
            Pick::Up => above,
            Pick::Nearest => match (below, above) {
                (Some(b), Some(a)) => Some(if ohm / b <= a / ohm { b } else { a }),
                (one, other) => one.or(other),
            },
        }
    }
}

/// `digit / unit x 10^decade`, rounded so that 4.7 k is 4700 and not 4699.999.
fn scaled(digit: f64, unit: f64, decade: i32) -> f64 {
    maths::times_power_of_ten(digit, decade - if unit >= 100.0 { 2 } else { 1 })
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [(&str, Series); 3] = [
        ("E12", Series::E12),
        ("E24", Series::E24),
        ("E96", Series::E96),
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
                    _ => continue, // nothing here asks for the next below
                };
                let got = series.pick(asked, mode);
                assert_eq!(got, want.as_f64(), "{asked}: {words}");
                seen += 1;
            }
        }
        assert_eq!(seen, 60);
    }

    #[test]
    fn values_that_no_resistor_has_pick_nothing() {
        for ohm in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e-9] {
            assert_eq!(Series::E24.pick(ohm, Pick::Nearest), None);
        }
        assert!(Series::E24.between(101.0, 109.0).is_empty());
    }
}
