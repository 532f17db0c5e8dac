//! `prove` on real firmware: the board runs on a simulated `ATmega328P` and `ATtiny85`, read through its ADC and heard on
//! its two wires; a measuring board with a clock of its own looks at inputs and output; the binary judges the capture.
#![cfg(target_os = "linux")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // of known range

use super::support::bench;
use super::support::bench::{Bench, Part, Seen};
use super::support::blocks;
use super::support::proofs;
use super::support::proofs::{Take, number, outcome, prove};
use pedalproof::constants::Block;
use pedalproof::proof::{Fault, Mark, MarkKind, Marks};
use rand::RngExt;
use std::fmt::Write as _;

/// Time between two looks of the measuring board, microseconds: not the blending board's 1000.
const PERIOD_US: u64 = 1009;

/// One sample as the measuring board takes it.
#[derive(Clone, Copy)]
struct Look {
    codes: [u16; 2],
    /// What is seen of the inputs: off by noise, or 0 while there is no power.
    seen: [u16; 2],
    power: bool,
}

/// Moves to each pair of codes in 200 samples and stands there, with a code of noise on either board.
fn hand(poses: &[(usize, [u16; 2])], seed: u64) -> Vec<Look> {
    let mut rng = blocks::rng(seed);
    let mut noisy =
        |code: f64| (code.round() as i32 + rng.random_range(-1..=1)).clamp(0, 1023) as u16;
    let mut at = poses[0].1.map(f64::from);
    let mut looks = Vec::new();
    for (samples, to) in poses {
        let from = at;
        for n in 0..*samples {
            let share = (n as f64 / 200.0).min(1.0);
            for i in 0..2 {
                at[i] = from[i] + (f64::from(to[i]) - from[i]) * share;
            }
            looks.push(Look {
                codes: at.map(&mut noisy),
                seen: at.map(&mut noisy),
                power: true,
            });
        }
    }
    looks
}

/// Runs the board through the looks; what else is to be said to the harness before a look is in `orders`.
fn run(
    bench: &Bench,
    flashed: &Block,
    looks: &[Look],
    orders: &[(usize, &str)],
) -> (Vec<Seen>, bench::Answers) {
    let mut script = String::new();
    for (i, look) in looks.iter().enumerate() {
        for (_, order) in orders.iter().filter(|(at, _)| *at == i) {
            let _ = writeln!(script, "{order}");
        }
        bench::codes(&mut script, bench.part, &look.codes);
        let _ = writeln!(script, "us {PERIOD_US}\nlook");
    }
    let answers = bench.run(Some(flashed), &script);
    assert_eq!(answers.steps.len(), looks.len());
    (answers.steps.clone(), answers)
}

/// The capture, at so many bits of the measuring board (10 or more).
fn capture(part: Part, looks: &[Look], seen: &[Seen], bits: u32) -> Take {
    let finer = 1 << (bits - 10);
    let rows = looks.iter().zip(seen).map(|(look, seen)| {
        let t_us = seen.cycle * 1_000_000 / u64::from(part.hz());
        let dac = if look.power { u32::from(seen.dac) } else { 0 };
        let output = if bits >= 12 {
            dac << (bits - 12)
        } else {
            dac >> (12 - bits)
        };
        let inputs = look.seen.map(|code| u32::from(code) * finer + finer / 2);
        (t_us, vec![inputs[0], inputs[1], output])
    });
    Take {
        bits,
        columns: ["pedal", "dial", "output"].map(str::to_owned).to_vec(),
        rows: rows.collect(),
    }
}

/// Twenty places of pedal x dial between these codes, rest first.
fn everywhere(pedal: [u16; 5], dial: [u16; 4]) -> Vec<(usize, [u16; 2])> {
    let mut poses = vec![(400, [pedal[0], dial[0]])];
    for d in dial {
        poses.extend(pedal.map(|p| (760, [p, d])));
    }
    poses
}

#[test]
fn a_board_that_obeys_its_block_passes() {
    for part in Part::ALL {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let looks = hand(
            &everywhere([166, 300, 480, 640, 855], [600, 400, 200, 22]),
            1,
        );
        let (seen, _) = run(&bench, &blocks::fitted(), &looks, &[]);
        for bits in [10, 12] {
            let proof = prove(
                &blocks::fitted(),
                &capture(part, &looks, &seen, bits),
                None,
                &[],
            );
            assert_eq!(
                (proof.code, proof.json["verdict"].as_str()),
                (0, Some("pass")),
                "{part:?} {bits}: {}",
                proof.json
            );
            assert!(
                number(&proof.json["figures"]["settled_places"]["value"]) >= 15.0,
                "{}",
                proof.json
            );
            assert!(number(&proof.json["figures"]["settled_departure"]["value"]) < 0.35);
            assert!((number(&proof.json["figures"]["output_gain"]["value"]) - 1.0).abs() < 0.005);
        }
    }
}

/// Worked by hand. Rest edge 164 -> 178 of a straight pedal, 164 to 860, the dial at its full end: at code 178 the block
/// asks (178 - 164) / 696 = 2.011 % and the board gives 0; elsewhere the difference is smaller. Full code 4095 -> 3900: at
/// full command 195 / 4095 = 4.762 % are missing, the gain is 3900 / 4095 = 0.9524.
#[test]
fn a_board_with_another_block_fails_by_as_much_as_it_is_off() {
    let asked = blocks::straight();
    let mut edge = asked.numbers().clone();
    edge.inputs[0] = blocks::factor(0, 1023, 178, 860, &[], 0);
    let mut gain = asked.numbers().clone();
    gain.output.full_dac = 3900;
    for part in Part::ALL {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let looks = hand(
            &everywhere([150, 178, 400, 640, 870], [600, 400, 200, 15]),
            2,
        );
        for (flashed, off) in [(&edge, 2.011), (&gain, 4.762)] {
            let (seen, _) = run(&bench, &blocks::block(flashed.clone()), &looks, &[]);
            let proof = prove(&asked, &capture(part, &looks, &seen, 12), None, &[]);
            assert_eq!(proof.code, 1, "{}", proof.json);
            assert_eq!(outcome(&proof.json, "output", "settled_departure"), "fail");
            let worst = &proof.json["figures"]["settled_departure"];
            let (low, value, high) = (
                number(&worst["low"]),
                number(&worst["value"]),
                number(&worst["high"]),
            );
            assert!(
                low <= off && off <= high && (value - off).abs() < 0.25,
                "{part:?} {off}: {worst}"
            );
        }
    }
}

/// A round: held, broken, whole, at rest, pressed again, power off. Gives looks, orders for the harness and marks as
/// (place, what).
type Round = (
    Vec<Look>,
    Vec<(usize, &'static str)>,
    Vec<(usize, MarkKind, Option<Fault>)>,
);

fn round() -> Round {
    let (rest, held) = ([160, 100], [500, 100]);
    let (mut looks, mut orders, mut marks) = (vec![], vec![], vec![]);
    for (fault, code) in [(Fault::Open, 0), (Fault::Ground, 0), (Fault::Supply, 1023)] {
        looks.extend(hand(&[(700, rest), (900, held)], looks.len() as u64));
        marks.push((looks.len() - 100, MarkKind::Asked, Some(fault)));
        orders.extend([(looks.len(), "zero 100"), (looks.len(), "mark")]);
        let mut broken = hand(&[(400, held)], 7);
        for look in &mut broken {
            (look.codes[0], look.seen[0]) = (code, code);
        }
        looks.extend(broken);
        orders.push((looks.len(), "report"));
        looks.extend(hand(
            &[(500, held), (900, rest), (800, held), (300, rest)],
            8,
        ));
        let off = Look {
            codes: [0, 0],
            seen: [0, 0],
            power: false,
        };
        looks.extend([off; 300]);
        orders.push((looks.len(), "reset por"));
        marks.push((looks.len(), MarkKind::Power, None));
    }
    looks.extend(hand(&[(300, rest)], 10));
    (looks, orders, marks)
}

#[test]
fn every_fault_stops_the_board_in_the_time_that_the_harness_clock_says() {
    for part in Part::ALL {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let (proof, answers) = proved_round(&bench);
        assert_eq!(proof.code, 0, "{part:?} {}", proof.json);
        let rounds = proof.json["rounds"].as_array().unwrap();
        assert_eq!((rounds.len(), answers.reports.len()), (3, 3));
        for (round, report) in rounds.iter().zip(&answers.reports) {
            let time = &round["figures"]["time_to_zero"];
            let truth = report.zero_us.unwrap() as f64 / 1000.0;
            let period = PERIOD_US as f64 / 1000.0;
            assert!(
                (number(&time["value"]) - truth).abs() <= period,
                "{truth} {time}"
            );
            assert!(
                number(&time["low"]) <= truth && truth <= number(&time["high"]),
                "{truth} {time}"
            );
            assert_eq!(round["latched"], true);
        }
    }
}

#[test]
fn a_firmware_that_does_not_latch_fails_the_round() {
    let Some(bench) = Bench::build_spoilt(
        Part::Mega,
        "core/step.c",
        "pp_become(core, PP_STOPPED, cause);",
        "pp_become(core, PP_WAITING, cause); core->suspicion = 0;",
    ) else {
        return;
    };
    let (proof, _) = proved_round(&bench);
    assert_eq!(proof.code, 1);
    for fault in ["open", "ground", "supply"] {
        assert_eq!(
            outcome(&proof.json, fault, "latched"),
            "fail",
            "{}",
            proof.json
        );
        assert_eq!(outcome(&proof.json, fault, "time_to_zero"), "pass");
    }
}

fn proved_round(bench: &Bench) -> (proofs::Proved, bench::Answers) {
    let (looks, orders, marks) = round();
    let (seen, answers) = run(bench, &blocks::guarded(), &looks, &orders);
    let take = capture(bench.part, &looks, &seen, 10);
    let marks = marks.into_iter().map(|(at, what, fault)| Mark {
        t_us: take.rows[at].0,
        what,
        fault,
        input: fault.map(|_| 0),
    });
    (
        prove(
            &blocks::guarded(),
            &take,
            Some(&Marks(marks.collect())),
            &[],
        ),
        answers,
    )
}
