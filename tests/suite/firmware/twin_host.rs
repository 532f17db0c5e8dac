//! The twin against the firmware core, compiled for the host: the same bits, for every pair of inputs and over
//! time. Which blocks both refuse: `core_blocks.rs`.
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // of known range, and a test

use super::support::blocks;
use super::support::core_host::{Answer, CoreHost, Orders};
use pedalproof::constants::{Block, TargetBoard, Task};
use pedalproof::twin::{Seen, State, Twin, settled};
use rand::RngExt;

const BOARD: TargetBoard = TargetBoard {
    adc_bits: 10,
    dac_bits: 12,
    rate_hz: 1000,
};

/// Codes that let a block start: every factor at rest, check tracks in agreement.
fn at_rest(block: &Block) -> Vec<u16> {
    let inputs = &block.numbers().inputs;
    let rest = |i: usize| match &inputs[i].task {
        Task::Factor(factor) => factor.rest_edge,
        Task::Check(_) => 0,
    };
    inputs
        .iter()
        .enumerate()
        .map(|(i, input)| match &input.task {
            Task::Factor(_) => rest(i),
            Task::Check(check) => {
                let partner = f64::from(rest(usize::from(check.partner)));
                (partner * f64::from(check.gain_q12) / 4096.0 + f64::from(check.offset)).round()
                    as u16
            }
        })
        .collect()
}

/// Twin and orders for a core that runs, all inputs at rest.
fn running(block: &Block, orders: &mut Orders) -> (Twin, Vec<Answer>) {
    let mut twin = Twin::new(block);
    orders.load(block);
    let zero = Answer {
        dac: 0,
        state: 0,
        cause: 0,
        command: 0,
    };
    let mut expected = vec![zero];
    let rest = at_rest(block);
    for _ in 0..block.numbers().start.samples {
        orders.step(&rest, Seen::default());
        expected.push(Answer::from(twin.step(&rest)));
    }
    assert_eq!(expected.last().unwrap().state, State::Running as u8);
    (twin, expected)
}

#[test]
fn every_pair_of_inputs_gives_the_same_bits() {
    let Some(host) = CoreHost::build() else {
        return;
    };
    for (name, block) in [
        ("straight", blocks::straight()),
        ("fitted", blocks::fitted()),
        ("steepest", blocks::steepest()),
    ] {
        let mut orders = Orders::default();
        let (twin, expected) = running(&block, &mut orders);
        orders.all_pairs();
        let raw = host.run_raw(&orders);
        let pairs = &raw[expected.len() * 6..];
        assert_eq!(pairs.len(), 3 << 20);
        let (mut differ, mut not_zero) = (0, 0);
        for (n, bytes) in pairs.chunks_exact(3).enumerate() {
            let codes = [(n >> 10) as u16, (n & 1023) as u16];
            let shown = twin.clone().step(&codes);
            let core = (u16::from_le_bytes([bytes[0], bytes[1]]), bytes[2]);
            if core != (shown.dac, shown.state as u8) {
                differ += 1;
                assert!(
                    differ < 5,
                    "{name}: {codes:?}: core {core:?}, twin {shown:?}"
                );
            }
            not_zero += usize::from(shown.command_q15 > 0);
        }
        assert_eq!(differ, 0, "{name}");
        assert!(not_zero > 1000, "{name}: {not_zero} pairs command anything");
    }
}

/// Sequences of hand movements with wire breaks and a DAC that fails now and then, through all states.
#[test]
fn sequences_give_the_same_bits() {
    if let Some(host) = CoreHost::build() {
        the_same_over_time(&host);
    }
}

/// As in `core_blocks.rs`.
#[test]
#[ignore = "needs a compiler for 32-bit parts and an emulator"]
fn sequences_give_the_same_bits_on_a_32_bit_part() {
    if let Some(part) = CoreHost::on_arm() {
        the_same_over_time(&part);
    }
}

fn the_same_over_time(host: &CoreHost) {
    let mut rng = blocks::rng(5);
    let boards = [
        BOARD,
        TargetBoard {
            adc_bits: 12,
            dac_bits: 10,
            rate_hz: 500,
        },
        TargetBoard {
            adc_bits: 15,
            dac_bits: 16,
            rate_hz: 100,
        },
        TargetBoard {
            adc_bits: 8,
            dac_bits: 8,
            rate_hz: 1000,
        },
    ];
    let mut drawn: Vec<Block> = vec![blocks::fitted(), blocks::two_track(), blocks::straight()];
    for n in 0..400 {
        drawn.push(blocks::random(&mut rng, boards[n % boards.len()]));
    }
    let (mut waiting, mut ran, mut moved, mut causes) = (0, 0, 0, [0_usize; 17]);
    for (n, block) in drawn.iter().enumerate() {
        let mut orders = Orders::default();
        let mut expected = Vec::new();
        for start in 0..4 {
            orders.load(block);
            let mut twin = Twin::new(block);
            expected.push(None);
            for codes in blocks::handling(&mut rng, block, 500) {
                let seen = seen(&mut rng, block, start % 2 == 1);
                orders.step(&codes, seen);
                let shown = twin.step_seeing(&codes, seen);
                waiting += usize::from(shown.state == State::Waiting);
                ran += usize::from(shown.state == State::Running);
                moved += usize::from(shown.command_q15 > 0);
                causes[shown.cause.map_or(0, |cause| cause as usize)] += 1;
                expected.push(Some((codes, Answer::from(shown))));
            }
        }
        let answers = host.run(&orders);
        assert_eq!(answers.len(), expected.len());
        for (step, (answer, expected)) in answers.iter().zip(&expected).enumerate() {
            if let Some((codes, expected)) = expected {
                assert_eq!(
                    answer, expected,
                    "block {n} step {step} {codes:?}: {block:?}"
                );
            } else {
                assert_eq!(
                    (answer.dac, answer.state, answer.cause),
                    (0, 0, 0),
                    "block {n}"
                );
            }
        }
    }
    // The sequences went everywhere.
    assert!(
        waiting > 10_000 && ran > 10_000 && moved > 10_000,
        "{waiting} {ran} {moved}"
    );
    assert!(
        [8, 9, 10, 14, 15].iter().all(|cause| causes[*cause] > 1000),
        "{causes:?}"
    );
}

/// What a step sees besides its inputs: mostly what it should.
fn seen(rng: &mut impl rand::Rng, block: &Block, trouble: bool) -> Seen {
    let board = block.numbers().board;
    let mut code = |bits: u8| {
        let top = u16::try_from((1_u32 << bits) - 1).unwrap();
        (trouble && rng.random_ratio(1, 60)).then(|| rng.random_range(0..top))
    };
    let (supply, read_back) = (code(board.adc_bits), code(board.dac_bits));
    Seen {
        dac_takes: !(trouble && rng.random_ratio(1, 40)),
        supply,
        read_back,
    }
}

/// Held inputs come to what `settled` says, and rest there.
#[test]
fn held_inputs_settle_where_the_preview_says() {
    let mut rng = blocks::rng(7);
    for _ in 0..300 {
        let block = blocks::random(&mut rng, BOARD);
        let rest = at_rest(&block);
        let mut twin = Twin::new(&block);
        for _ in 0..block.numbers().start.samples {
            twin.step(&rest);
        }
        for _ in 0..4 {
            let codes: Vec<u16> = rest.iter().map(|_| rng.random_range(0..1024)).collect();
            let mut run = twin.clone();
            let Some(expected) = settled(&block, &codes) else {
                continue;
            };
            if run.step(&codes).state != State::Running {
                continue; // some blocks have no agreeing codes at rest and never start
            }
            for _ in 0..40_000 {
                run.step(&codes);
            }
            assert_eq!(run.step(&codes), expected, "{codes:?} {block:?}");
        }
    }
}
