//! The example captures of DESIGN section 6: which unit, which hand, which seed, when.

use super::board::Board;
use super::control::Control;
use super::defects::Wear;
use super::network::Sensor;
use super::run::SimUnit;
use super::scenario::{scenario, with_script};
use super::script::{Card, Repeat, ReturnBy, Script};

/// Samples a second of the example captures: files that are small enough to be kept with the source.
const RATE_HZ: f64 = 250.0;

/// One capture to be made.
#[derive(Debug, Clone, PartialEq)]
pub struct Example {
    /// Its file's name, without `.csv`.
    pub name: String,
    /// What it shows, in one sentence.
    pub note: &'static str,
    /// Name of the built-in profile that its unit is held against.
    pub profile: &'static str,
    /// When it is said to have been begun, RFC 3339.
    pub started: String,
    /// The unit and the hand.
    pub unit: SimUnit,
    /// The seed.
    pub seed: u64,
}

/// Day, rest position of the wiper as travel, and the rough place: noise in codes, half width as travel.
type Season = (&'static str, f64, Option<(f64, f64)>);

/// The shunting lever of T3 wears from season to season: the wiper's track gets rough and the rest stop gives way.
const SEASONS: [Season; 5] = [
    ("2022-04-09", 0.0400, None),
    ("2023-04-15", 0.0365, None),
    ("2024-04-13", 0.0330, Some((2.3, 0.03))),
    ("2025-04-12", 0.0295, Some((2.5, 0.045))),
    ("2026-04-11", 0.0260, Some((2.7, 0.06))),
];

/// Every example capture.
#[must_use]
pub fn examples() -> Vec<Example> {
    let plain = [
        (
            "T1-pedal",
            "pedal-hall-two-track",
            "A pedal as it should be.",
        ),
        (
            "T2-pedal",
            "pedal-hall-two-track",
            "A new pedal with a sticky return.",
        ),
        (
            "T1-dial",
            "dial-rheostat",
            "A speed-limit dial as it should be.",
        ),
        (
            "T4-dial",
            "dial-rheostat",
            "A speed-limit dial with a loose wiper.",
        ),
    ];
    let mut all: Vec<Example> = plain
        .into_iter()
        .filter_map(|(tag, profile, note)| {
            Some(Example {
                name: tag.to_owned(),
                note,
                profile,
                started: "2026-04-11T09:30:00Z".to_owned(),
                unit: once(scenario(tag)?, by(tag)),
                seed: 11,
            })
        })
        .collect();
    all.extend(stations());
    all.extend(
        SEASONS
            .iter()
            .zip(1..)
            .filter_map(|(season, seed)| lever(season, seed)),
    );
    all
}

fn by(tag: &str) -> ReturnBy {
    if tag.ends_with("dial") {
        ReturnBy::Hand(0.35)
    } else {
        ReturnBy::Spring
    }
}

/// The unit with its card gone through once.
fn once(unit: SimUnit, return_by: ReturnBy) -> SimUnit {
    let tremor = unit.script.tremor;
    let card = Card {
        rest_s: 3.0,
        return_by,
        tremor,
        ..Card::default()
    };
    let script = Script {
        repeat: Repeat::Once,
        ..card.script()
    };
    slow(with_script(unit, script))
}

fn slow(unit: SimUnit) -> SimUnit {
    SimUnit {
        board: Board {
            rate_hz: RATE_HZ,
            ..unit.board
        },
        ..unit
    }
}

/// The good lever held at stated angles.
fn stations() -> Option<Example> {
    Some(Example {
        name: "T1-lever-stations".to_owned(),
        note: "A lever held at eleven stated angles, up and down.",
        profile: "lever-shunting",
        started: "2026-04-11T11:00:00Z".to_owned(),
        unit: slow(with_script(
            scenario("T1-lever")?,
            Script::stations(0.0, 60.0),
        )),
        seed: 11,
    })
}

/// The lever of T3 in one season.
fn lever(&(day, rest_at, rough): &Season, seed: u64) -> Option<Example> {
    let unit = scenario("T1-lever")?;
    let good = scenario("T3-lever")?;
    let control = Control {
        serial: good.control.serial,
        ..worn(unit.control, rest_at, rough)
    };
    let unit = SimUnit {
        tag: good.tag,
        control,
        ..unit
    };
    Some(Example {
        name: format!("T3-lever-{}", &day[..4]),
        note: "The shunting lever of T3, which wears from season to season.",
        profile: "lever-shunting",
        started: format!("{day}T10:00:00Z"),
        unit: once(unit, ReturnBy::Spring),
        seed,
    })
}

fn worn(mut control: Control, rest: f64, rough: Option<(f64, f64)>) -> Control {
    for channel in &mut control.channels {
        if let Sensor::Potentiometer { rest_at, .. } = &mut channel.network.sensor {
            *rest_at = rest;
        }
        if let Some((rms_code, half)) = rough {
            channel.wear.push(Wear {
                from: 0.36 - half,
                to: 0.36 + half,
                rms_code,
                pattern_share: 0.4,
            });
        }
    }
    control
}
