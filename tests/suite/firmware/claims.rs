//! Proof as claims (DESIGN 4.8): every number of a block changed a little and a lot is contradicted or was not exercised, never shown.
//!
//! The recordings are of a simulated board with the right block: what is changed is what it is held against. `cargo test` changes the
//! numbers of one block to one side; all of three blocks to both sides, a little and a lot:
//! `cargo test --release --test suite claims::every_number_of_three_blocks -- --ignored --nocapture`. Its table: `docs/claims.md`.

use super::support::blocks;
use super::support::claims::{Recording, held_against, record, state};
use pedalproof::bench::{Hand, trolley_block};
use pedalproof::constants::{Block, BlockFields};
use pedalproof::proof::{ClaimState, Fault, Trial};
use serde_json::Value;
use std::collections::BTreeMap;

/// The names of DESIGN 4.8 for the trolley: two factors, a check track, the output, the start, the persistence, the stops.
#[test]
fn every_number_of_the_block_is_a_claim() {
    let block = trolley_block().unwrap();
    let proof = held_against(&block, &record(&block, Hand::comparing(), &[]));
    let names: Vec<&str> = proof
        .claims
        .iter()
        .map(|claim| claim.claim.as_str())
        .collect();
    let mut wanted = Vec::new();
    for (i, parts) in [
        (
            0,
            [
                "factor.rest_edge",
                "factor.full_edge",
                "factor.points",
                "factor.filter_shift",
            ]
            .as_slice(),
        ),
        (1, ["check.gain", "check.offset", "check.band"].as_slice()),
        (
            2,
            [
                "factor.rest_edge",
                "factor.full_edge",
                "factor.points",
                "factor.filter_shift",
            ]
            .as_slice(),
        ),
    ] {
        for part in ["window.low", "window.high"].iter().chain(parts) {
            wanted.push(format!("inputs[{i}].{part}"));
        }
    }
    wanted.extend(
        ["zero_dac", "full_dac", "rise_q15", "fall_q15"].map(|part| format!("output.{part}")),
    );
    wanted.extend(["start.samples", "persistence"].map(str::to_owned));
    for i in 0..3 {
        wanted.extend(["open", "ground", "supply"].map(|fault| format!("stops[{i}].{fault}")));
    }
    wanted.extend(
        [
            "tracks_joined",
            "dac_wire",
            "reset_while_pressed",
            "power_dip",
            "enable",
        ]
        .map(|stop| format!("stops.{stop}")),
    );
    assert_eq!(names, wanted);
    let shown = proof
        .claims
        .iter()
        .filter(|claim| claim.state == ClaimState::Shown)
        .count();
    assert_eq!(proof.headline, format!("{shown} of 37 shown"));
    assert!(
        proof
            .claims
            .iter()
            .all(|claim| claim.state != ClaimState::Contradicted),
        "{:?}",
        proof.claims
    );
}

/// What is seen of a stop is seen for the wire that was broken, and for no other.
#[test]
fn a_round_shows_the_stops_that_were_made() {
    let block = trolley_block().unwrap();
    let round = Trial::round(&block, &Fault::ALL);
    let proof = held_against(&block, &record(&block, Hand::faults(&round), &round));
    let stops = proof
        .claims
        .iter()
        .filter(|claim| claim.claim.starts_with("stops"));
    for claim in stops {
        // The dial's window begins at 0: the constants cannot notice a short to ground, which asks for nothing.
        let hidden = claim.claim == "stops[2].ground";
        let wanted = if hidden {
            ClaimState::NotExercised
        } else {
            ClaimState::Shown
        };
        assert_eq!(claim.state, wanted, "{claim:?}");
    }
    assert_eq!(state(&proof, "start.samples"), "shown");
    assert_eq!(
        proof.verdict,
        measure::judge::Verdict::Pass,
        "{:?}",
        proof.findings
    );
}

/// The hand does something else than was asked for: ground for supply, nothing at all, another wire.
#[test]
fn another_fault_than_the_one_asked_for_counts_for_nothing() {
    let block = trolley_block().unwrap();
    let asked = [Fault::Supply.on(0)];
    for made in [
        Fault::Ground.on(0),
        Fault::Ground.on(1),
        Fault::Supply.on(2),
    ] {
        let proof = held_against(&block, &record(&block, Hand::faults(&[made]), &asked));
        assert_eq!(
            state(&proof, "stops[0].supply"),
            "not exercised",
            "{made:?}: {:?}",
            proof.rounds
        );
        assert_eq!(
            proof.verdict,
            measure::judge::Verdict::Undecided,
            "{made:?}"
        );
    }
}

/// A board that begins anew after its stop is contradicted by name.
#[test]
fn a_number_that_is_far_off_is_named_and_a_better_one_told() {
    let block = trolley_block().unwrap();
    let recording = record(&block, Hand::comparing(), &[]);
    let mut fields = block.numbers().clone();
    fields.output.full_dac = 3000; // flashed with 3440
    let proof = held_against(&Block::new(fields).unwrap(), &recording);
    let claim = proof
        .claims
        .iter()
        .find(|claim| claim.claim == "output.full_dac")
        .unwrap();
    assert_eq!(claim.state, ClaimState::Contradicted);
    let told = claim
        .evidence
        .split("; ")
        .nth(1)
        .unwrap()
        .split(' ')
        .next()
        .unwrap();
    let told: f64 = told.parse().unwrap();
    assert!((told - 3440.0).abs() < 14.0, "{}", claim.evidence);
}

/// Numbers of a block in JSON, with their places.
fn numbers(value: &Value, place: String, found: &mut Vec<(String, i64)>) {
    match value {
        Value::Object(members) => {
            for (name, member) in members {
                let place = if place.is_empty() {
                    name.clone()
                } else {
                    format!("{place}.{name}")
                };
                numbers(member, place, found);
            }
        }
        Value::Array(members) => {
            for (n, member) in members.iter().enumerate() {
                numbers(member, format!("{place}[{n}]"), found);
            }
        }
        Value::Number(number) => found.push((place, number.as_i64().unwrap())),
        _ => {}
    }
}

/// The claim that covers a number; what the board is and watches has none.
fn claim_of(place: &str) -> Option<String> {
    if place.starts_with("board")
        || place.starts_with("watch")
        || place == "start.input"
        || place.ends_with("partner")
    {
        return None;
    }
    let place = place.replace("gain_q12", "gain");
    Some(
        place
            .split(".points")
            .next()
            .map_or(place.clone(), |before| {
                if place.contains(".points") {
                    format!("{before}.points")
                } else {
                    place.clone()
                }
            }),
    )
}

/// What a little and a lot is for a number, in its own unit.
fn amounts(place: &str, is: i64, block: &BlockFields) -> [i64; 2] {
    let output = block.output;
    let span = |place: &str| {
        let at = place.split(['[', ']']).nth(1)?.parse::<usize>().ok()?;
        let factor = block.inputs.get(at)?.factor()?;
        Some((f64::from(factor.full_edge) - f64::from(factor.rest_edge)).abs())
    };
    let share = |whole: f64, little: f64, lot: f64| {
        [(whole * little).ceil() as i64, (whole * lot).ceil() as i64]
    };
    let whole = is as f64;
    match place {
        _ if place.contains("window") => [10, 100],
        _ if place.ends_with("edge") => share(span(place).unwrap(), 0.025, 0.2),
        _ if place.ends_with("q15") && place.contains("points") => share(32_768.0, 0.025, 0.2),
        _ if place.ends_with("code") => share(span(place).unwrap(), 0.1, 0.2),
        _ if place.ends_with("shift") => [1, 3],
        _ if place.ends_with("gain_q12") => share(whole, 0.01, 0.3),
        _ if place.ends_with("offset") => [3, 60],
        _ if place.ends_with("band") => [2, 388],
        _ if place.ends_with("_dac") => {
            share(f64::from(output.full_dac - output.zero_dac), 0.025, 0.2)
        }
        _ if place.starts_with("output") => share(whole, 0.2, 0.6),
        "start.samples" => share(whole, 0.1, 0.6),
        _ => [1, (is / 2).max(3)],
    }
}

fn with(block: &Block, place: &str, number: i64) -> Option<Block> {
    let mut value = serde_json::to_value(block.numbers()).unwrap();
    let pointer = format!(
        "/{}",
        place
            .replace("].", "/")
            .replace(['.', '['], "/")
            .replace(']', "")
    );
    *value.pointer_mut(&pointer).unwrap() = number.into();
    Block::new(serde_json::from_value(value).ok()?).ok()
}

/// Counts of states by claim, and everything that was passed over.
#[derive(Default)]
struct Tally {
    states: BTreeMap<String, [usize; 3]>,
    passed_over: Vec<String>,
}

impl Tally {
    fn change(
        &mut self,
        block: &Block,
        recordings: &[&Recording],
        signs: &[i64],
        which: &[usize],
        claims: impl Fn(&str) -> bool,
    ) {
        let mut all = Vec::new();
        numbers(
            &serde_json::to_value(block.numbers()).unwrap(),
            String::new(),
            &mut all,
        );
        for (place, is) in all {
            let Some(claim) = claim_of(&place).filter(|claim| claims(claim)) else {
                continue;
            };
            let amounts = amounts(&place, is, block.numbers());
            for by in which
                .iter()
                .flat_map(|at| signs.iter().map(|sign| sign * amounts[*at]))
            {
                let Some(changed) = with(block, &place, is + by) else {
                    continue;
                };
                for recording in recordings {
                    let state = state(&held_against(&changed, recording), &claim);
                    let at = ["contradicted", "not exercised", "shown"]
                        .iter()
                        .position(|word| *word == state);
                    let kind = claim.split('.').skip(1).collect::<Vec<_>>().join(".");
                    let kind = if kind.is_empty() { claim.clone() } else { kind };
                    self.states.entry(kind).or_default()[at.unwrap()] += 1;
                    if state == "shown" {
                        self.passed_over.push(format!("{place} {is} {by:+}"));
                    }
                }
            }
        }
    }
}

/// Few places, quick presses: seven seconds.
fn short() -> Vec<Hand> {
    let at = |s: f64, pedal: f64, dial: f64| Hand {
        s,
        pedal,
        dial,
        move_s: 0.1,
        fault: None,
        power: true,
    };
    let places = [(0.07, 1.0), (0.4, 1.0), (1.0, 1.0), (1.0, 0.2), (0.7, 0.5)];
    let mut script = vec![at(0.8, 0.0, 1.0)];
    script.extend(places.map(|(pedal, dial)| at(0.7, pedal, dial)));
    script.extend(
        [(0.0, 1.0), (1.0, 1.0), (0.0, 1.0), (1.0, 1.0), (0.0, 1.0)]
            .map(|(pedal, dial)| at(0.5, pedal, dial)),
    );
    script
}

#[test]
fn no_changed_number_is_passed_over() {
    let block = trolley_block().unwrap();
    let comparing = record(&block, short(), &[]);
    let round = [Fault::Open.on(0), Fault::PowerDip.alone()];
    let faults = record(&block, Hand::faults(&round), &round);
    let mut tally = Tally::default();
    let moves = |claim: &str| claim.contains("factor") || claim.starts_with("output");
    tally.change(&block, &[&comparing], &[1], &[0], moves);
    tally.change(&block, &[&faults], &[-1], &[1], |claim| !moves(claim));
    assert_eq!(tally.passed_over, Vec::<String>::new());
    let contradicted: usize = tally.states.values().map(|counts| counts[0]).sum();
    assert!(contradicted >= 10, "{:?}", tally.states);
}

#[test]
#[ignore = "minutes: all numbers of three blocks, a little and a lot, both sides"]
fn every_number_of_three_blocks() {
    let mut one = blocks::draft(vec![blocks::factor(60, 960, 164, 860, &[], 2)]);
    (
        one.output.zero_dac,
        one.output.rise_q15,
        one.start.samples,
        one.persistence,
    ) = (400, 400, 50, 25);
    let blocks = [
        trolley_block().unwrap(),
        blocks::block(one),
        blocks::fitted(),
    ];
    let mut tally = Tally::default();
    for block in &blocks {
        let round = Trial::round(block, &Fault::ALL);
        let recordings = [
            record(block, Hand::comparing(), &[]),
            record(block, Hand::faults(&round), &round),
        ];
        tally.change(
            block,
            &[&recordings[0], &recordings[1]],
            &[-1, 1],
            &[0, 1],
            |_| true,
        );
    }
    println!("| claim | contradicted | not exercised | passed over |\n| --- | --- | --- | --- |");
    for (claim, [contradicted, not_exercised, shown]) in &tally.states {
        println!("| {claim} | {contradicted} | {not_exercised} | {shown} |");
    }
    assert_eq!(tally.passed_over, Vec::<String>::new());
}
