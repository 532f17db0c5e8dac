//! Units at the corners of their tolerances: those that can read most or least, or be taken for most or least.

use super::super::curve::Curve;
use super::super::faults;
use super::super::hookup::{Hookup, Knob};
use super::super::network::Network;
use super::super::parts::{Fault, Resistor};
use super::super::sweep::FaultSweep;
use std::collections::BTreeMap;

/// So many corners are all taken; of more, those that matter.
const ALL_UP_TO: usize = 64;

/// Most corners that are taken of those that matter: the ones that most of what is looked at points to. With the whole list of a
/// track behind a divider, a load and two pulls, all that differ are far below a code (`tests/suite/wiring`).
const MOST: usize = 16;

/// Parts of a track's tolerance that are tried where its extreme may stand between.
const FIVE: [f64; 5] = [-1.0, -0.5, 0.0, 0.5, 1.0];

/// Of each knob one of its ends: a bit says which.
type Corner = u32;

/// The corners of a hookup's tolerances; the nominal hookup alone when nothing has a tolerance.
///
/// A divider of resistors is monotone in each of them, and which way does not depend on the others: between supply and
/// ground every part towards the supply lowers what it feeds by growing, every part towards ground lifts it. So what reads most and least,
/// good or with any fault, stands at the corner that each part's own effect points to, and only these corners are taken where there
/// are many. Two things are more than one resistor in one: a sensor's output resistance against its pulls, whose corner follows from the
/// others', and a track with three wires and something that loads its wiper: there the extreme can
/// stand between, so its track takes five values; what is then missed is less than 1e-4 of the reference, 0.1 code of 10
/// bits (by search; 1e-3 with the two ends alone).
pub fn corners(hookup: &Hookup) -> Vec<Hookup> {
    let knobs = hookup.knobs();
    let w = hookup.wiring();
    let bent = matches!(w.network, Network::ThreeWire { .. }) && w.is_loaded();
    let is_bent = |knob: &Knob| bent && matches!(knob, Knob::Part(Resistor::Track, _));
    let values: usize = knobs
        .iter()
        .map(|knob| if is_bent(knob) { FIVE.len() } else { 2 })
        .product();
    let every: Vec<Corner> = if values <= ALL_UP_TO {
        (0..1 << knobs.len()).collect()
    } else {
        let track = knobs.iter().position(is_bent).map_or(0, |k| 1 << k);
        pointed_to(hookup, &knobs, &all_faults(hookup), track)
    };
    let mut units = Vec::new();
    for corner in every {
        let mut unit = vec![*hookup];
        for (k, knob) in knobs.iter().enumerate() {
            let sign = sign(corner, k);
            if !is_bent(knob) {
                unit = unit.iter().map(|unit| unit.turned(*knob, sign)).collect();
            } else if sign > 0.0 {
                let five = |unit: &Hookup| FIVE.map(|by| unit.turned(*knob, by));
                unit = unit.iter().flat_map(five).collect();
            } else {
                unit.clear(); // once is enough
            }
        }
        units.extend(unit);
    }
    units
}

/// The corners that a good reading points to: quick.
pub fn good_corners(hookup: &Hookup) -> Vec<Hookup> {
    let knobs = hookup.knobs();
    let unit = |corner: Corner| {
        let knobs = knobs.iter().enumerate();
        knobs.fold(*hookup, |unit, (k, knob)| {
            unit.turned(*knob, sign(corner, k))
        })
    };
    let corners = pointed_to(hookup, &knobs, &[None], 0);
    corners.into_iter().map(unit).collect()
}

fn all_faults(hookup: &Hookup) -> Vec<Option<Fault>> {
    let faults = faults::list(hookup.wiring()).into_iter().map(Some);
    faults.chain([None]).collect()
}

fn sign(corner: Corner, knob: usize) -> f64 {
    if corner >> knob & 1 == 1 { 1.0 } else { -1.0 }
}

/// What is looked at: with every fault and with none, at three travels, the reading and what it is taken for.
fn goals(unit: &Hookup, faults: &[Option<Fault>]) -> Vec<Option<f64>> {
    let curve = Curve::of(unit);
    let mut goals = Vec::with_capacity(6 * faults.len());
    for fault in faults {
        let sweep = fault.map(|fault| FaultSweep::of(unit, Some(fault)));
        let severities = fault.and_then(Fault::severities);
        let severity = severities.map_or(1.0, |of| (of.mild * of.severe).sqrt().copysign(of.mild));
        for travel in [0.0, 0.5, 1.0] {
            let position = unit.wiring().position(travel);
            let ratio = match &sweep {
                None => curve.at_position(position), // without a fault, the curve itself
                Some(sweep) => sweep.pin(position, severity).ratio(),
            };
            goals.push(ratio);
            goals.push(ratio.map(|ratio| curve.beyond(ratio)));
        }
    }
    goals
}

/// The corners that some goal's most or least points to; bits of `once` are set in all.
fn pointed_to(
    hookup: &Hookup,
    knobs: &[Knob],
    faults: &[Option<Fault>],
    once: Corner,
) -> Vec<Corner> {
    let effects: Vec<Vec<f64>> = knobs
        .iter()
        .map(|knob| {
            let [less, more] = [-1.0, 1.0].map(|by| goals(&hookup.turned(*knob, by), faults));
            let apart = less.into_iter().zip(more);
            apart
                .map(|pair| match pair {
                    (Some(less), Some(more)) => more - less,
                    _ => 0.0,
                })
                .collect()
        })
        .collect();
    let goals = effects.first().map_or(0, Vec::len);
    let mut votes: BTreeMap<Corner, u32> = BTreeMap::new();
    for goal in 0..goals {
        let mut most: Corner = 0;
        for (k, effect) in effects.iter().enumerate() {
            if effect[goal] > 0.0 {
                most |= 1 << k;
            }
        }
        if effects.iter().any(|effect| effect[goal] != 0.0) {
            *votes.entry(most & !once).or_default() += 1;
            *votes
                .entry(!most & ((1 << knobs.len()) - 1) & !once)
                .or_default() += 1;
        }
    }
    let mut corners: Vec<(u32, Corner)> =
        votes.into_iter().map(|(corner, n)| (n, corner)).collect();
    corners.sort_by(|a, b| b.cmp(a));
    corners.truncate(MOST);
    corners
        .into_iter()
        .map(|(_, corner)| corner | once)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::super::network::Wiring;
    use super::*;

    fn dial(tolerance: f64, track: f64) -> Hookup {
        let text = format!(
            r#"{{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":{tolerance},
                "track_tolerance_pct":{track}}}"#
        );
        Hookup::new(serde_json::from_str(&text).unwrap(), 5000.0, 10).unwrap()
    }

    #[test]
    fn corners_of_a_rheostat_by_hand() {
        // Reference 07, rheostat_corners: 4.7 k +-1 %, 10 k +-20 %, at half travel.
        let ratios: Vec<f64> = corners(&dial(1.0, 20.0))
            .iter()
            .map(|corner| corner.pin(0.5, None).ratio().unwrap())
            .collect();
        assert_eq!(ratios.len(), 4);
        let low = ratios.iter().copied().fold(f64::INFINITY, f64::min);
        let high = ratios.iter().copied().fold(0.0, f64::max);
        assert!((low - 0.457_299_645_592_774_64).abs() < 1e-12, "{low}");
        assert!((high - 0.563_221_627_710_504_1).abs() < 1e-12, "{high}");
    }

    #[test]
    fn nothing_with_a_tolerance_is_one_corner() {
        let wiring = r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":20000}"#;
        let hookup = Hookup::new(serde_json::from_str(wiring).unwrap(), 5000.0, 10).unwrap();
        assert_eq!(corners(&hookup), vec![hookup]);
    }

    #[test]
    fn the_curve_gives_back_travel_rising_and_falling() {
        let rising = dial(1.0, 20.0);
        let falling = rising
            .with(Wiring {
                rest_at: Some(1.0),
                full_at: Some(0.0),
                ..*rising.wiring()
            })
            .unwrap();
        for hookup in [rising, falling] {
            let curve = Curve::of(&hookup);
            for travel in [0.0, 0.123, 0.5, 0.777, 1.0] {
                let ratio = hookup.pin(travel, None).ratio().unwrap();
                let back = curve.travel_of(ratio);
                assert!((back - travel).abs() < 1e-4, "{travel} came back as {back}");
            }
        }
        assert!((Curve::of(&rising).travel_of(2.0) - 1.0).abs() < 1e-12);
        assert!(Curve::of(&rising).travel_of(-1.0).abs() < 1e-12);
    }

    proptest::proptest! {
        /// Units anywhere inside the tolerances read inside the corners' band, good or with any one fault; of a loaded track, whose
        /// extremes may stand between the values that are tried, within 1e-4 of it ([`Hookup::corners`]).
        #[test]
        fn corners_hold_every_unit_between_them(
            off in proptest::collection::vec(-1.0_f64..1.0, 6), travel in 0.0_f64..1.0, rheostat: bool, fault in 0_usize..20,
        ) {
            let text = if rheostat {
                r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"end_low_ohm":220,"pull_up_ohm":4700,"pull_down_ohm":100000,
                    "series_ohm":1000,"load_ohm":1000000,"tolerance_pct":5,"track_tolerance_pct":20}"#
            } else {
                r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":20000,"end_low_ohm":1500,"end_high_ohm":1000,"pull_down_ohm":100000,
                    "series_ohm":4700,"load_ohm":470000,"tolerance_pct":10,"track_tolerance_pct":20}"#
            };
            let wiring: Wiring = serde_json::from_str(text).unwrap();
            let hookup = Hookup::new(wiring, 5000.0, 10).unwrap();
            let fault = super::super::super::faults::list(&wiring).get(fault).copied();
            let parts = [
                Resistor::Track, Resistor::EndLow, Resistor::EndHigh, Resistor::PullUp, Resistor::PullDown, Resistor::Series,
            ];
            let mut unit = wiring;
            for (part, off) in parts.into_iter().zip(&off) {
                let pct = if part == Resistor::Track { 20.0 } else { wiring.tolerance_pct.unwrap() };
                if let Some(ohm) = unit.ohm_mut(part) {
                    *ohm *= 1.0 + off * pct / 100.0;
                }
            }
            let unit = hookup.with(unit).unwrap();
            if let Some(ratio) = unit.pin(travel, fault).ratio() {
                let all: Vec<f64> = corners(&hookup).iter().filter_map(|c| c.pin(travel, fault).ratio()).collect();
                let low = all.iter().copied().fold(f64::INFINITY, f64::min);
                let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                let missed = if rheostat { 1e-12 } else { 1e-4 };
                proptest::prop_assert!(ratio >= low - missed && ratio <= high + missed, "{ratio} outside {low}..{high}");
            }
        }
    }

    /// What a search of 3000 units a fault found: with 20 % of track and a loaded wiper the highest reading belongs to a track
    /// between its ends, by up to 1e-3 of the reference.
    #[test]
    fn the_extreme_of_a_loaded_track_can_stand_between_its_ends() {
        let text = r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":20000,"end_high_ohm":1000,"pull_down_ohm":100000,
            "load_ohm":470000,"tolerance_pct":10,"track_tolerance_pct":20}"#;
        let wiring: Wiring = serde_json::from_str(text).unwrap();
        let units = corners(&Hookup::new(wiring, 5000.0, 10).unwrap());
        // Track, end, pull-down; nobody measures a tolerance of the load.
        assert!(units.len().is_multiple_of(5));
        let most = |ohms: &[f64], travel: f64| {
            let here = units.iter().filter(|corner| {
                let track = corner.wiring().ohm(Resistor::Track).unwrap();
                ohms.iter().any(|ohm| (track - ohm).abs() < 1e-6)
            });
            here.filter_map(|corner| corner.pin(travel, None).ratio())
                .fold(f64::NEG_INFINITY, f64::max)
        };
        let beyond = (0..=20).map(|step| {
            let travel = f64::from(step) / 20.0;
            let five = [16_000.0, 18_000.0, 20_000.0, 22_000.0, 24_000.0];
            most(&five, travel) - most(&[16_000.0, 24_000.0], travel)
        });
        let beyond = beyond.fold(0.0, f64::max);
        assert!((1e-4..2e-3).contains(&beyond), "{beyond}");
    }
}
