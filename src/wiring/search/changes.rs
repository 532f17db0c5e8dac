//! Changes of a wiring, and which of them are tried.

use super::super::e_series::Series;
use super::super::network::{Network, Wiring};
use super::super::parts::Resistor;
use std::fmt;

/// One step of a change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// A resistor from signal to ground.
    PullDown(f64),
    /// A resistor from signal to supply.
    PullUp(f64),
    /// A pull-down of another value than the present one.
    OtherPullDown(f64),
    /// A pull-up of another value than the present one.
    OtherPullUp(f64),
    /// The pull-down taken out.
    NoPullDown,
    /// The pull-up taken out.
    NoPullUp,
    /// A fixed resistor in the control at the track's ground end.
    EndLow(f64),
    /// A fixed resistor in the control at the track's supply end.
    EndHigh(f64),
    /// Another resistor at the track's ground end than the present one.
    OtherEndLow(f64),
    /// Another resistor at the track's supply end than the present one.
    OtherEndHigh(f64),
    /// Supply and ground wires of a three-wire control changed over.
    SwapRails,
    /// The other end of a rheostat's track to ground.
    OtherEnd,
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::PullDown(ohm) => write!(f, "pull-down of {}", Ohms(*ohm)),
            Self::PullUp(ohm) => write!(f, "pull-up of {}", Ohms(*ohm)),
            Self::OtherPullDown(ohm) => {
                write!(f, "pull-down of {} in place of the present one", Ohms(*ohm))
            }
            Self::OtherPullUp(ohm) => {
                write!(f, "pull-up of {} in place of the present one", Ohms(*ohm))
            }
            Self::NoPullDown => f.write_str("no pull-down"),
            Self::NoPullUp => f.write_str("no pull-up"),
            Self::EndLow(ohm) => {
                write!(f, "{} in the control at the track's ground end", Ohms(*ohm))
            }
            Self::EndHigh(ohm) => {
                write!(f, "{} in the control at the track's supply end", Ohms(*ohm))
            }
            Self::OtherEndLow(ohm) => write!(
                f,
                "{} at the track's ground end in place of the present resistor",
                Ohms(*ohm)
            ),
            Self::OtherEndHigh(ohm) => write!(
                f,
                "{} at the track's supply end in place of the present resistor",
                Ohms(*ohm)
            ),
            Self::SwapRails => f.write_str(
                "supply and ground wires swapped at the potentiometer (that reverses the readings)",
            ),
            Self::OtherEnd => f.write_str("the other end of the track to ground"),
        }
    }
}

/// A resistance for people: `470 ohm`, `4.7 kohm`.
#[derive(Debug, Clone, Copy)]
pub struct Ohms(pub f64);

impl fmt::Display for Ohms {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let three = |x: f64| {
            let text = format!("{x:.2}");
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        };
        let text = match self.0 {
            ohm if ohm >= 1e6 => format!("{} Mohm", three(ohm / 1e6)),
            ohm if ohm >= 1e3 => format!("{} kohm", three(ohm / 1e3)),
            ohm => format!("{} ohm", three(ohm)),
        };
        f.pad(&text)
    }
}

/// Changes in words, one after the other.
pub(super) fn joined(changes: &[Change]) -> String {
    let words: Vec<String> = changes.iter().map(Change::to_string).collect();
    words.join(" and ")
}

pub(super) fn apply(wiring: &mut Wiring, change: Change) {
    match change {
        Change::PullDown(ohm) | Change::OtherPullDown(ohm) => wiring.pull_down_ohm = Some(ohm),
        Change::PullUp(ohm) | Change::OtherPullUp(ohm) => {
            wiring.network = wiring.network.with_pull_up(Some(ohm));
        }
        Change::NoPullDown => wiring.pull_down_ohm = None,
        Change::NoPullUp => wiring.network = wiring.network.with_pull_up(None),
        Change::EndLow(ohm) | Change::OtherEndLow(ohm) => {
            if let Network::ThreeWire { track, .. } | Network::Rheostat { track, .. } =
                &mut wiring.network
            {
                track.end_low_ohm = Some(ohm);
            }
        }
        Change::EndHigh(ohm) | Change::OtherEndHigh(ohm) => {
            if let Network::ThreeWire { end_high_ohm, .. } = &mut wiring.network {
                *end_high_ohm = Some(ohm);
            }
        }
        Change::SwapRails | Change::OtherEnd => {
            wiring.rest_at = Some(1.0 - wiring.rest_position());
            wiring.full_at = Some(1.0 - wiring.full_position());
            wiring.back_at = wiring.back_at.map(|at| 1.0 - at);
            if let Network::ThreeWire {
                track,
                end_high_ohm,
                ..
            } = &mut wiring.network
            {
                std::mem::swap(&mut track.end_low_ohm, end_high_ohm);
            }
        }
    }
}

/// The changes that a wiring allows, the cheapest first: one of them, then two, then a pull or a turn with both ends.
///
/// Pulls from E12, largest first (least loading); end resistors from E24, smallest first (least span lost), 1 to 30 % of the
/// track. Together pulls are tried by E3 and ends by E6. A sensor's supply and ground are never changed over: that can destroy it.
pub(super) fn tried(wiring: &Wiring) -> Vec<Vec<Change>> {
    let all = singles(wiring);
    let mut tried: Vec<Vec<Change>> = Vec::new();
    for list in [&all.turn, &all.down, &all.up, &all.low, &all.high] {
        tried.extend(list.iter().map(|change| vec![*change]));
    }
    let both: Vec<Vec<Change>> = all
        .low
        .iter()
        .zip(&all.high)
        .map(|(low, high)| vec![*low, *high])
        .collect();
    tried.extend(both.iter().cloned());
    let fourth = |list: &[Change]| list.iter().step_by(4).copied().collect::<Vec<Change>>();
    let pulls = [fourth(&all.down), fourth(&all.up)];
    let ends = [fourth(&all.low), fourth(&all.high)].concat();
    let [down, up] = &pulls;
    for (first, second) in [
        (&all.turn, down),
        (&all.turn, up),
        (&all.turn, &ends),
        (down, up),
        (down, &ends),
        (up, &ends),
    ] {
        for a in first {
            tried.extend(second.iter().map(|b| vec![*a, *b]));
        }
    }
    for one in all.turn.iter().chain(down).chain(up) {
        tried.extend(
            both.iter()
                .step_by(4)
                .map(|ends| [&[*one], &ends[..]].concat()),
        );
    }
    tried
}

/// What is changed, whatever the value: changes of one kind are looked at together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    PullDown,
    PullUp,
    EndLow,
    EndHigh,
    Turn,
}

impl From<&Change> for Kind {
    fn from(change: &Change) -> Self {
        match change {
            Change::PullDown(_) | Change::OtherPullDown(_) | Change::NoPullDown => Self::PullDown,
            Change::PullUp(_) | Change::OtherPullUp(_) | Change::NoPullUp => Self::PullUp,
            Change::EndLow(_) | Change::OtherEndLow(_) => Self::EndLow,
            Change::EndHigh(_) | Change::OtherEndHigh(_) => Self::EndHigh,
            Change::SwapRails | Change::OtherEnd => Self::Turn,
        }
    }
}

/// What lies around a change, in groups of which one may be the next step: each of its parts at every other value, or left out, and one
/// more part of each kind that it has not.
pub(super) fn around(wiring: &Wiring, changes: &[Change]) -> Vec<Vec<Vec<Change>>> {
    let all = singles(wiring);
    let kinds = [all.turn, all.down, all.up, all.low, all.high];
    let at_kind = |kind: Option<Kind>| {
        let mut parts = changes.iter();
        parts.position(|change| Some(Kind::from(change)) == kind)
    };
    let group = |of_a_kind: Vec<Change>| {
        let kind = of_a_kind.first().map(Kind::from);
        let at = at_kind(kind).unwrap_or(changes.len());
        let rest = [&changes[..at], changes.get(at + 1..).unwrap_or_default()].concat();
        let with = |one: Change| {
            let mut parts = rest.clone();
            parts.insert(at, one);
            parts
        };
        let mut group: Vec<Vec<Change>> = of_a_kind.into_iter().map(with).collect();
        if !rest.is_empty() && at < changes.len() {
            group.push(rest);
        }
        group.retain(|other| other != changes);
        group
    };
    kinds.into_iter().map(group).collect()
}

/// Single changes by kind.
struct SingleChanges {
    turn: Vec<Change>,
    down: Vec<Change>,
    up: Vec<Change>,
    low: Vec<Change>,
    high: Vec<Change>,
}

fn singles(wiring: &Wiring) -> SingleChanges {
    let pulls: Vec<f64> = Series::E12.between(1e3, 1e6).into_iter().rev().collect();
    let pull = |new: fn(f64) -> Change, other: fn(f64) -> Change, stated: Option<f64>| {
        let change = if stated.is_some() { other } else { new };
        let changes = pulls.iter().filter(|ohm| stated != Some(**ohm));
        changes.map(|ohm| change(*ohm)).collect::<Vec<Change>>()
    };
    let mut down = pull(
        Change::PullDown,
        Change::OtherPullDown,
        wiring.pull_down_ohm,
    );
    if wiring.pull_down_ohm.is_some() {
        down.insert(0, Change::NoPullDown);
    }
    let stated = wiring.network.pull_up_ohm();
    let mut up = pull(Change::PullUp, Change::OtherPullUp, stated);
    if let Network::Rheostat { .. } = wiring.network {
        // It has no reading without one.
        up.retain(|change| matches!(change, Change::OtherPullUp(_)));
    } else if stated.is_some() {
        up.insert(0, Change::NoPullUp);
    }
    let ends: Vec<f64> = wiring.network.track().map_or_else(Vec::new, |track| {
        Series::E24.between(track.ohm * 0.01, track.ohm * 0.3)
    });
    let end = |new: fn(f64) -> Change, other: fn(f64) -> Change, part: Resistor| -> Vec<Change> {
        let stated = wiring.ohm(part);
        let change = if stated.is_some() { other } else { new };
        let other = ends.iter().filter(|ohm| stated != Some(**ohm));
        other.map(|ohm| change(*ohm)).collect()
    };
    let three_wire = matches!(wiring.network, Network::ThreeWire { .. });
    SingleChanges {
        turn: match wiring.network {
            Network::ThreeWire { .. } => vec![Change::SwapRails],
            Network::Rheostat { .. } => vec![Change::OtherEnd],
            Network::Buffered { .. } => Vec::new(),
        },
        down,
        up,
        low: end(Change::EndLow, Change::OtherEndLow, Resistor::EndLow),
        high: if three_wire {
            end(Change::EndHigh, Change::OtherEndHigh, Resistor::EndHigh)
        } else {
            Vec::new()
        },
    }
}

/// What was tried, in words.
pub(super) fn searched(wiring: &Wiring, tried: usize) -> String {
    let turn = match wiring.network {
        Network::ThreeWire { .. } => ", the outer wires swapped",
        Network::Rheostat { .. } => ", the other end of the track",
        Network::Buffered { .. } => "",
    };
    let ends = if wiring.network.track().is_some() {
        ", end resistors (E24, 1 to 30 % of the track)"
    } else {
        ""
    };
    format!(
        "{tried} changes tried: pulls (E12, 1 kohm to 1 Mohm, or none){ends}{turn}, and these together"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn resistances_read_well() {
        let cases = [
            (82.0, "82 ohm"),
            (4700.0, "4.7 kohm"),
            (1e6, "1 Mohm"),
            (1.02e5, "102 kohm"),
        ];
        for (ohm, text) in cases {
            assert_eq!(Ohms(ohm).to_string(), text);
        }
    }

    #[test]
    fn a_sensors_supply_is_never_swapped_and_what_is_there_is_changed_too() {
        let of = |text: &str| tried(&serde_json::from_str(text).unwrap());
        let hall = of(
            r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"pull_down_ohm":100000}"#,
        );
        let swaps = |change: &Change| matches!(change, Change::SwapRails | Change::OtherEnd);
        assert!(hall.iter().flatten().all(|change| !swaps(change)));
        assert!(hall.contains(&vec![Change::NoPullDown]));
        let lever = of(
            r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":10000,"end_low_ohm":470,"pull_down_ohm":100000}"#,
        );
        assert!(lever.contains(&vec![Change::OtherEndLow(1800.0)]));
        assert!(!lever.contains(&vec![Change::OtherEndLow(470.0)]));
        assert!(lever.contains(&vec![Change::EndHigh(470.0)]));
        let turned = |changes: &&Vec<Change>| changes.contains(&Change::SwapRails);
        assert!(
            lever
                .iter()
                .filter(turned)
                .any(|changes| changes.len() == 2)
        );
    }
}
