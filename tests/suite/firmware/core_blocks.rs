//! Broken blocks against the firmware core, compiled for the host with address and undefined-behaviour sanitizers: it takes what
//! the program takes and nothing else, and then both do the same steps.
//!
//! `PEDALPROOF_BLOCKS` says how many, `PEDALPROOF_SEED` which ones; docs/fuzzing.md has the long run.
#![allow(clippy::cast_possible_truncation)] // of known range, and a test

use super::support::blocks;
use super::support::core_host::{Answer, CoreHost, Orders};
use pedalproof::constants::{Block, Build, DecodeError, Input, TargetBoard, Task, layout};
use pedalproof::twin::{Seen, State, Twin};
use rand::{Rng, RngExt};
use std::collections::BTreeMap;

/// The board that the core runs on; one block in sixteen is for another one.
const BOARD: TargetBoard = TargetBoard {
    adc_bits: 10,
    dac_bits: 12,
    rate_hz: 1000,
};
const OTHER: TargetBoard = TargetBoard {
    adc_bits: 12,
    dac_bits: 10,
    rate_hz: 500,
};

/// Blocks that are worked in one go of the core.
const BATCH: usize = 20_000;

/// Steps that each accepted block is taken through.
const STEPS: usize = 6;

fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).map_or(otherwise, |text| text.parse().expect(name))
}

/// The bytes of a drawn block, most of them changed, most with a check sum that is right again.
fn broken(rng: &mut impl Rng) -> Vec<u8> {
    let board = if rng.random_ratio(1, 16) {
        OTHER
    } else {
        BOARD
    };
    let mut draft = blocks::random(rng, board).numbers().clone();
    draft.start.samples = draft.start.samples.min(3);
    while rng.random_ratio(1, 12) && draft.inputs.len() < 8 {
        draft.inputs.push(draft.inputs[0].clone()); // up to more than the core was built for
    }
    let mut bytes = layout::to_bytes(&blocks::block(draft));
    for _ in 0..rng.random_range(0..3) {
        change(rng, &mut bytes);
    }
    if rng.random_ratio(1, 40) {
        let length = bytes.len() as u16; // what was cut or joined says so
        bytes[6..8].copy_from_slice(&length.to_le_bytes());
    }
    if !rng.random_ratio(1, 40)
        && let Some(sum_at) = said(&bytes)
            .checked_sub(2)
            .filter(|at| (10..=bytes.len() - 2).contains(at))
    {
        let sum = layout::check_sum(&bytes[..sum_at]);
        bytes[sum_at..sum_at + 2].copy_from_slice(&sum.to_le_bytes());
    }
    bytes
}

/// How long the block says it is.
fn said(bytes: &[u8]) -> usize {
    usize::from(u16::from_le_bytes([bytes[6], bytes[7]]))
}

fn change(rng: &mut impl Rng, bytes: &mut Vec<u8>) {
    if rng.random_ratio(1, 30) {
        let length = rng.random_range(20..bytes.len() + 30);
        bytes.resize(length, 0xFF); // behind a block there is erased memory
        return;
    }
    // The first bytes say that it is a block at all: seldom touched.
    let from = if rng.random_ratio(1, 20) {
        0
    } else {
        12.min(bytes.len() - 1)
    };
    let at = rng.random_range(from..bytes.len());
    bytes[at] = match rng.random_range(0..5) {
        0 => 0,
        1 => 0xFF,
        2 => bytes[at] ^ 1 << rng.random_range(0..8),
        3 => bytes[at].wrapping_add(rng.random_range(-2..3_i8).cast_unsigned()),
        _ => rng.random(),
    };
}

/// Codes that are most likely to be told apart wrongly.
fn code(rng: &mut impl Rng, input: &Input) -> u16 {
    let edges = match &input.task {
        Task::Factor(factor) => [factor.rest_edge, factor.full_edge],
        Task::Check(check) => [check.band, check.offset.cast_unsigned()],
    };
    let known = [
        input.window.low,
        input.window.high,
        edges[0],
        edges[1],
        0,
        0xFFFF,
    ];
    match rng.random_range(0..8) {
        n @ 0..6 => known[n].wrapping_add(rng.random_range(-1..2_i16).cast_unsigned()),
        _ => rng.random_range(0..=BOARD_TOP),
    }
}

const BOARD_TOP: u16 = (1 << BOARD.adc_bits) - 1;

/// What the program says of as many bytes as the core reads: behind the last one there is erased memory.
fn read(bytes: &[u8]) -> Result<Block, String> {
    let mut seen = bytes.to_vec();
    seen.resize(said(bytes).max(8), 0xFF);
    if layout::version_of(&seen) == Some(layout::OLD_VERSION) {
        return Err("version".to_owned()); // read, so that it can be made again; the core refuses it
    }
    let block = layout::from_bytes(&seen).map_err(|refusal| {
        let why = match refusal {
            DecodeError::Magic { .. } => "magic",
            DecodeError::Version { .. } => "version",
            DecodeError::Length { .. } => "length",
            DecodeError::CheckSum { .. } => "check sum",
            DecodeError::InvalidBlock(_) => "impossible",
        };
        why.to_owned()
    })?;
    if block.numbers().board != BOARD {
        return Err("board".to_owned());
    }
    block
        .fits(Build::default())
        .map_err(|_| "too big".to_owned())?;
    Ok(block)
}

/// What is to come of one block.
struct Case {
    bytes: Vec<u8>,
    read: Result<Block, String>,
    steps: Vec<(Vec<u16>, Answer)>,
}

fn case(rng: &mut impl Rng, orders: &mut Orders) -> Case {
    let bytes = broken(rng);
    orders.power_up(BOARD, &bytes, 0);
    let read = read(&bytes);
    let mut steps = Vec::new();
    if let Ok(block) = &read {
        orders.believe(block);
        let mut twin = Twin::new(block);
        for n in 0..STEPS {
            let inputs = block.numbers().inputs.iter();
            let codes: Vec<u16> = match n {
                0..3 => inputs.map(rest).collect(),
                _ => inputs.map(|input| code(rng, input)).collect(),
            };
            let seen = Seen {
                dac_takes: !rng.random_ratio(1, 50),
                ..Seen::default()
            };
            orders.step(&codes, seen);
            let shown = twin.step_seeing(&codes, seen);
            steps.push((codes, Answer::from(shown)));
        }
    }
    Case { bytes, read, steps }
}

fn rest(input: &Input) -> u16 {
    match &input.task {
        Task::Factor(factor) => factor.rest_edge,
        Task::Check(_) => input.window.low,
    }
}

#[test]
fn the_core_takes_what_the_program_takes_and_does_the_same_steps() {
    if let Some(host) = CoreHost::build() {
        takes_and_does_the_same(&host, 40_000);
    }
}

/// At the steepest gain that is possible the core and the twin say the same of the widest departure; a steeper one neither takes.
#[test]
fn the_core_and_the_program_know_the_same_steepest_gain() {
    let Some(host) = CoreHost::build() else {
        return;
    };
    for (gain, is_possible) in [
        (16_385, true),
        (-16_385, true),
        (16_386, false),
        (-16_386, false),
    ] {
        let possible = blocks::block(blocks::steep(if gain > 0 { 16_385 } else { -16_385 }));
        let mut bytes = layout::to_bytes(&possible);
        let [was, is] = [i16::signum(gain) * 16_385, gain].map(i16::to_le_bytes);
        let at = bytes.windows(2).position(|pair| pair == was).unwrap();
        bytes[at..at + 2].copy_from_slice(&is);
        let sum_at = bytes.len() - 2;
        let sum = layout::check_sum(&bytes[..sum_at]);
        bytes[sum_at..].copy_from_slice(&sum.to_le_bytes());
        assert_eq!(layout::from_bytes(&bytes).is_ok(), is_possible, "{gain}");

        let board = possible.numbers().board;
        let mut orders = Orders::default();
        orders.power_up(board, &bytes, 0);
        orders.believe(&possible);
        let seen = Seen::default();
        let codes = [8191, 0];
        orders.step(&codes, seen);
        let answers = host.run(&orders);
        assert_eq!(answers[0].cause == 0, is_possible, "{gain}");
        if is_possible {
            let expected = Answer::from(Twin::new(&possible).step_seeing(&codes, seen));
            assert_eq!(answers[1], expected, "{gain}");
            assert_eq!(expected.state, State::Stopped as u8, "{gain}");
        }
    }
}

/// The arithmetic of a part whose `int` has 32 bits. With the tools of `CoreHost::on_arm`:
/// `PYTHON=... cargo test --test suite core_blocks:: -- --ignored`.
#[test]
#[ignore = "needs a compiler for 32-bit parts and an emulator"]
fn so_does_the_core_on_a_32_bit_part() {
    if let Some(part) = CoreHost::on_arm() {
        takes_and_does_the_same(&part, 40_000);
    }
}

fn takes_and_does_the_same(host: &CoreHost, otherwise: u64) {
    let all = number("PEDALPROOF_BLOCKS", otherwise) as usize;
    let mut rng = blocks::rng(number("PEDALPROOF_SEED", 6));
    let (mut taken, mut ran, mut steps) = (0, 0, 0);
    let mut refused: BTreeMap<String, usize> = BTreeMap::new();
    for begun in (0..all).step_by(BATCH) {
        let mut orders = Orders::default();
        let cases: Vec<Case> = (begun..all.min(begun + BATCH))
            .map(|_| case(&mut rng, &mut orders))
            .collect();
        let answers = host.run(&orders);
        let mut answers = answers.iter();
        for case in &cases {
            let start = answers.next().expect("an answer to each power-up");
            let Case { bytes, read, .. } = case;
            assert_eq!(start.dac, 0);
            assert_eq!(
                start.cause == 0,
                read.is_ok(),
                "core {start:?}, program {read:?}, {bytes:02X?}"
            );
            match read {
                Ok(_) => taken += 1,
                Err(why) => *refused.entry(why.clone()).or_default() += 1,
            }
            for (codes, expected) in &case.steps {
                let answer = answers.next().expect("an answer to each step");
                assert_eq!(answer, expected, "{codes:?}: {read:?}, {bytes:02X?}");
                ran += usize::from(expected.state == State::Running as u8);
                steps += 1;
            }
        }
        assert!(answers.next().is_none());
    }
    println!(
        "{all} blocks: {taken} taken, refused {refused:?}; {steps} steps, {ran} of them running"
    );
    // Everything was seen, or nothing was shown.
    assert!(
        taken > all / 5 && taken < all * 4 / 5,
        "{taken} of {all} taken"
    );
    assert!(ran > all / 5, "{ran} of {steps} steps running");
    for why in [
        "magic",
        "version",
        "length",
        "check sum",
        "impossible",
        "board",
        "too big",
    ] {
        assert!(refused.contains_key(why), "{why}: {refused:?}");
    }
}
