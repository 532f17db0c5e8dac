//! What the board is made of: each part with its value, where it goes and why.

use crate::profile::Profile;
use crate::wiring::{Network, Wiring};

/// Resistor between the signal wire and its pin, ohm, unless the profile says otherwise. Common practice: it keeps the pin alive when
/// the wire touches the wrong place.
pub const SERIES_OHM: f64 = 1000.0;
/// Capacitor from a pin to ground: with [`SERIES_OHM`] 1.6 kHz (common practice, no source).
const FILTER_NF: f64 = 100.0;
/// The same where only a weak pull is left when the signal wire breaks: the pin must leave its window within some milliseconds.
const WEAKLY_PULLED_NF: f64 = 10.0;
/// A pull above this is weak: with 100 nF it takes 2.5 ms and more to fall to a twelfth.
const WEAK_PULL_OHM: f64 = 10_000.0;

/// One signal wire of a control, from the control to its pin.
pub struct Line {
    /// `pedal 1`: the control, and which of its tracks.
    pub name: String,
    pub pin: String,
    pub wiring: Option<Wiring>,
    /// Volts at the pin at rest and fully operated that the profile allows.
    pub rest_v: Option<[f64; 2]>,
    pub full_v: Option<[f64; 2]>,
}

impl Line {
    /// The capacitor from the pin to ground, nF.
    pub fn filter_nf(&self) -> f64 {
        let wiring = self.wiring.as_ref();
        let pulls = wiring.map(|wiring| {
            let divider = wiring.divider.map(|divider| divider.bottom_ohm);
            [wiring.network.pull_up_ohm(), wiring.pull_down_ohm, divider]
        });
        let strongest = pulls.into_iter().flatten().flatten().reduce(f64::min);
        match strongest {
            Some(ohm) if ohm > WEAK_PULL_OHM => WEAKLY_PULLED_NF,
            _ => FILTER_NF,
        }
    }
}

/// A control with its wires.
pub struct Control {
    pub name: String,
    /// It has no supply wire: two terminals of a potentiometer.
    pub two_wires: bool,
    pub lines: Vec<Line>,
}

/// The controls in the order of the pins.
pub fn controls(profiles: &[Profile]) -> Vec<Control> {
    use measure::figure::FigureName::{FullRatio, RestRatio};
    let mut pin = 0;
    profiles
        .iter()
        .map(|profile| {
            let several = profile.tracks.len() > 1;
            let volts = profile.supply_mv / 1000.0;
            let lines = profile.tracks.iter().map(|(track, part)| {
                let limit = |name| {
                    let limit = part.limits.get(&name)?;
                    Some([
                        limit.min().unwrap_or(0.0) * volts,
                        limit.max().unwrap_or(1.0) * volts,
                    ])
                };
                let line = Line {
                    name: if several {
                        format!("{} track {track}", profile.kind.word())
                    } else {
                        profile.kind.word().to_owned()
                    },
                    pin: format!("A{pin}"),
                    wiring: part.wiring,
                    rest_v: limit(RestRatio),
                    full_v: limit(FullRatio),
                };
                pin += 1;
                line
            });
            let lines: Vec<Line> = lines.collect();
            Control {
                name: profile.name.clone(),
                two_wires: lines.iter().any(|line| {
                    line.wiring
                        .is_some_and(|wiring| matches!(wiring.network, Network::Rheostat { .. }))
                }),
                lines,
            }
        })
        .collect()
}

/// A resistor's value as it is printed on a drawing: `4.7 kOhm`, with the sign for ohm.
pub fn ohms(ohm: f64) -> String {
    let (value, prefix) = scaled_ohms(ohm);
    format!("{value} {prefix}\u{3a9}")
}

/// A resistor's value to two decimals, and the prefix of its unit: `4.7`, `k`.
pub fn scaled_ohms(ohm: f64) -> (String, &'static str) {
    let (value, prefix) = if ohm >= 1e6 {
        (ohm / 1e6, "M")
    } else if ohm >= 1000.0 {
        (ohm / 1000.0, "k")
    } else {
        (ohm, "")
    };
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    (text.to_owned(), prefix)
}

/// What every board has besides, whatever its controls.
const BESIDES: [(&str, &str, &str); 8] = [
    (
        "2",
        "100 \u{3a9}",
        "DAC output to the controller; enable line",
    ),
    (
        "3",
        "10 k\u{3a9}",
        "DAC output to ground; DAC output to A3 (read-back); gate to ground",
    ),
    ("2", "470 nF, film or ceramic", "the pump"),
    ("2", "small Schottky diode (BAT85 or like it)", "the pump"),
    (
        "1",
        "logic-level N-channel MOSFET, gate threshold at most 1.5 V",
        "drives the relay",
    ),
    (
        "1",
        "relay, 5 V coil, with a diode (1N4148) across the coil",
        "in the controller's enable (key, brake or interlock) wire",
    ),
    (
        "3",
        "100 nF",
        "5 V to ground at the board, at the DAC, at the relay",
    ),
    (
        "1",
        "100 \u{b5}F, 10 V",
        "5 V to ground where the supply comes in",
    ),
];

/// Every part: how many, what, where.
pub fn list(controls: &[Control]) -> Vec<(String, String, String)> {
    let mut parts: Vec<(String, String, String)> = Vec::new();
    let mut add = |n: &str, what: &str, place: &str| {
        parts.push((n.to_owned(), what.to_owned(), place.to_owned()));
    };
    add(
        "1",
        "board with an ATmega328P, 16 MHz crystal, 5 V",
        "the brain",
    );
    add(
        "1",
        "12-bit DAC module, two wires, memory of its own for its power-up value",
        "A4 (SDA), A5 (SCL), 5 V, ground",
    );
    add(
        "2",
        "4.7 k\u{3a9}",
        "SDA to 5 V, SCL to 5 V (many modules carry them: measure first)",
    );
    for control in controls {
        for line in &control.lines {
            let place = format!("{}, pin {}", line.name, line.pin);
            if let Some(wiring) = &line.wiring {
                let pulls = [
                    (wiring.network.pull_up_ohm(), "to 5 V, at the board"),
                    (wiring.pull_down_ohm, "to ground, at the board"),
                    (
                        wiring.divider.map(|divider| divider.top_ohm),
                        "divider, in the signal wire",
                    ),
                    (
                        wiring.divider.map(|divider| divider.bottom_ohm),
                        "divider, to ground",
                    ),
                ];
                for (ohm, where_to) in pulls {
                    if let Some(ohm) = ohm {
                        add(
                            "1",
                            &ohms(ohm),
                            &format!("{place}: {where_to}. **The fault limits rest on it**"),
                        );
                    }
                }
            }
            let series = line.wiring.and_then(|wiring| wiring.series_ohm);
            add(
                "1",
                &ohms(series.unwrap_or(SERIES_OHM)),
                &format!("{place}: in the wire to the pin"),
            );
            add(
                "1",
                &format!("{} nF", line.filter_nf()),
                &format!("{place}: pin to ground"),
            );
        }
        if !control.two_wires {
            add(
                "1",
                "100 nF",
                &format!(
                    "{}: 5 V to ground at its plug",
                    control.lines.first().map_or("control", |line| &line.name)
                ),
            );
        }
    }
    for (n, what, place) in BESIDES {
        add(n, what, place);
    }
    parts
}
