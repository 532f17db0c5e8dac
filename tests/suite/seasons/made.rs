//! Parts over years, made of nothing but formulas and chance of its own: what a figure truly is at each visit, and what a record of the
//! visit would say of it. Time in years, levels in codes of ten bits.

use pedalproof::record::{Record, UnitHistory, unit_history};
use serde_json::{Value, json};

/// `SplitMix64` (Steele, Lea, Flood 2014), and a normal value from two of its numbers (Box and Muller 1958).
pub struct Chance(pub u64);

impl Chance {
    pub fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.even()
    }

    pub fn normal(&mut self, sd: f64) -> f64 {
        let (a, b) = (self.even().max(1e-300), self.even());
        sd * (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}

/// A figure at a visit, as its record says it.
pub struct Said {
    pub figure: &'static str,
    pub unit: &'static str,
    pub value: f64,
    pub u: f64,
}

/// A visit.
pub struct Made {
    pub years: f64,
    pub board: (&'static str, u32, f64),
    pub said: Vec<Said>,
    /// From, to, times the noise.
    pub zone: Option<(f64, f64, f64)>,
}

/// Limits of a unit: figure, least, most.
pub type Allowed = [(&'static str, Option<f64>, Option<f64>)];

pub const BOARD: (&str, u32, f64) = ("bench", 10, 5000.0);

/// Seconds from 1970 of the first visit, 2015-03-01, and of a mean year.
const BEGIN_S: f64 = 1_425_168_000.0;
const YEAR_S: f64 = 365.25 * 86_400.0;

pub fn years_of(when: jiff::Timestamp) -> f64 {
    (when.as_second() as f64 - BEGIN_S) / YEAR_S
}

fn day(years: f64) -> String {
    jiff::Timestamp::from_second((BEGIN_S + years * YEAR_S) as i64)
        .unwrap()
        .to_string()
}

pub fn record(visit: &Made, allowed: &Allowed) -> Record {
    let figures: serde_json::Map<String, Value> = visit
        .said
        .iter()
        .map(|s| {
            let half = 1.959_963_985 * s.u;
            let figure = json!({ "value": s.value, "unit": s.unit, "u": s.u, "low": s.value - half, "high": s.value + half, "n": 12, "method": "made" });
            (s.figure.to_owned(), figure)
        })
        .collect();
    let findings: Vec<Value> = allowed
        .iter()
        .map(|(figure, min, max)| json!({ "channel": "lever", "figure": figure, "min": min, "max": max, "outcome": "pass", "reason": "", "advice": null }))
        .collect();
    let zones: Vec<Value> = visit
        .zone
        .iter()
        .map(|(from, to, times)| json!({ "from_pct": from, "to_pct": to, "noise_ratio": times, "strokes_seen": 8, "strokes": 8 }))
        .collect();
    let (name, bits, vref_mv) = visit.board;
    let when = day(visit.years);
    let text = json!({
        "format": "record/1", "kept": when, "taken": when, "program": "made",
        "board": { "name": name, "bits": bits, "vref_mv": vref_mv, "rate_hz": 1000.0 },
        "assessment": {
            "format": "assessment/1", "verdict": "pass",
            "capture": { "file": "a.csv", "sha256": when, "samples": 10, "duration_s": 1.0, "rejected": {}, "missing": 0 },
            "unit": { "tag": "T1", "profile": "made" },
            "channels": { "lever": { "figures": figures, "worn_zones": zones, "dropouts": [] } },
            "pairs": {}, "findings": findings,
        },
    });
    Record::from_json(text.to_string().as_bytes()).unwrap()
}

pub fn history(visits: &[Made], allowed: &Allowed) -> UnitHistory {
    let records = visits.iter().map(|visit| record(visit, allowed)).collect();
    let now = jiff::Timestamp::from_second((BEGIN_S + 40.0 * YEAR_S) as i64).unwrap();
    unit_history("T1", records, now)
}
