//! A control's wires to a board as a picture in text: plain ASCII, at most 70 columns.

use super::board::scaled_ohms;
use crate::profile::Profile;
use crate::wiring::{Network, Wiring};

/// Columns of a wire, its ends left out.
const WIRE: usize = 28;
/// Where along it a pull resistor joins.
const JOINT: usize = 18;

/// How every track of a control is wired; `pins` are the board's, one for each track, as far as they are known.
pub fn picture(profile: &Profile, pins: &[String]) -> String {
    let mut lines = Vec::new();
    let mut before: Option<Wiring> = None;
    for ((track, part), n) in profile.tracks.iter().zip(0..) {
        let pin = pins.get(n).cloned();
        let pin = pin.unwrap_or_else(|| format!("A{n}"));
        let Some(wiring) = part.wiring else {
            lines.push("how it is wired its profile does not say".to_owned());
            continue;
        };
        if before.is_some_and(|before| same_parts(&before, &wiring)) {
            lines.push(format!("track {track}: the same once more, to {pin}"));
            continue;
        }
        before = Some(wiring);
        if profile.tracks.len() > 1 {
            lines.push(format!("track {track}"));
        }
        lines.extend(rows(&wiring, &pin));
    }
    lines.join("\n") + "\n"
}

/// Whether two tracks are drawn alike.
fn same_parts(a: &Wiring, b: &Wiring) -> bool {
    rows(a, "") == rows(b, "")
}

fn rows(wiring: &Wiring, pin: &str) -> Vec<String> {
    let mut rows = Vec::new();
    let (signal, ground, end) = match &wiring.network {
        Network::Rheostat { track, .. } => ("wiper", "one end", track.end_low_ohm),
        Network::ThreeWire { track, .. } => ("wiper", "low end", track.end_low_ohm),
        Network::Buffered { .. } => ("signal", "ground", None),
    };
    match &wiring.network {
        Network::ThreeWire { end_high_ohm, .. } => {
            rows.push(wire("high end", *end_high_ohm, false, "5V"));
        }
        Network::Buffered { .. } => rows.push(wire("supply", None, false, "5V")),
        Network::Rheostat { .. } => {}
    }
    if let Some(ohm) = wiring.network.pull_up_ohm() {
        rows.push(pull(ohm, "to 5V"));
    }
    let divided = wiring.divider.map(|of| of.bottom_ohm);
    let down = [wiring.pull_down_ohm, divided];
    let joined = wiring.network.pull_up_ohm().is_some() || down.iter().any(Option::is_some);
    let in_wire = wiring.divider.map(|of| of.top_ohm).or(wiring.series_ohm);
    rows.push(wire(signal, in_wire, joined, pin));
    rows.extend(down.into_iter().flatten().map(|ohm| pull(ohm, "to GND")));
    rows.push(wire(ground, end, false, "GND"));
    if matches!(wiring.network, Network::Rheostat { .. }) {
        // Joined, a wiper that lifts would read as the whole track: full command instead of a fault.
        rows.push("(leave its third terminal open: joined, a lost contact reads full)".to_owned());
    }
    rows
}

/// `signal   o-------[10k]-----+---------o A0`
fn wire(name: &str, ohm: Option<f64>, joined: bool, pin: &str) -> String {
    let mut line = "-".repeat(WIRE);
    if let Some(ohm) = ohm {
        let part = format!("[{}]", ohms(ohm));
        line.replace_range(4..4 + part.len(), &part);
    }
    if joined {
        line.replace_range(JOINT..=JOINT, "+");
    }
    format!("{name:<9}o{line}o {pin}")
}

fn pull(ohm: f64, to: &str) -> String {
    let part = format!("[{}]", ohms(ohm));
    let at = 10 + JOINT - part.len() / 2;
    format!("{}{part} {to}", " ".repeat(at))
}

/// `4.7k`, `100k`, `330`.
fn ohms(ohm: f64) -> String {
    let (value, prefix) = scaled_ohms(ohm);
    value + prefix
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::{BUILT_IN, find};

    /// Every resistor at the board and every pin is drawn, in plain ASCII within 70 columns.
    #[test]
    fn every_kind_is_drawn_with_its_resistors() {
        for (name, _) in BUILT_IN {
            let profile = find(name).unwrap();
            let pins = ["A4".to_owned(), "A5".to_owned()];
            let drawn = picture(&profile, &pins);
            assert!(drawn.is_ascii(), "{name}: {drawn}");
            assert!(
                drawn.lines().all(|line| line.len() <= 70),
                "{name}: {drawn}"
            );
            for (part, pin) in profile.tracks.values().zip(&pins) {
                assert!(drawn.contains(pin.as_str()), "{name}: {drawn}");
                let wiring = part.wiring.unwrap();
                let pulls = [wiring.network.pull_up_ohm(), wiring.pull_down_ohm];
                for ohm in pulls.into_iter().flatten() {
                    assert!(
                        drawn.contains(&format!("[{}] to", ohms(ohm))),
                        "{name}: {drawn}"
                    );
                }
            }
        }
    }

    /// Drawn by hand: DESIGN's dial, its pull-up at the board.
    #[test]
    fn the_dial_as_drawn_by_hand() {
        let dial = find("dial-rheostat").unwrap();
        let drawn = picture(&dial, &["A2".to_owned()]);
        let rows: Vec<&str> = drawn.lines().collect();
        assert_eq!(rows[0].trim_start(), "[4.7k] to 5V");
        assert_eq!(rows[1], "wiper    o------------------+---------o A2");
        assert_eq!(rows[2], "one end  o----------------------------o GND");
        assert_eq!(rows[0].find('[').unwrap() + 3, rows[1].find('+').unwrap());
    }
}
