//! Constants blocks for tests: a few that stand for something, and seeded random ones over the whole range.

use pedalproof::constants::{
    Block, BlockFields, Check, Factor, Input, Output, Point, Q15_ONE, Start, TargetBoard, Task,
    Watch, Window,
};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

pub fn rng(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

pub fn window(low: u16, high: u16) -> Window {
    Window { low, high }
}

pub fn factor(
    low: u16,
    high: u16,
    rest: u16,
    full: u16,
    points: &[(u16, u16)],
    shift: u8,
) -> Input {
    Input {
        window: window(low, high),
        task: Task::Factor(Factor {
            rest_edge: rest,
            full_edge: full,
            points: points
                .iter()
                .map(|&(code, q15)| Point { code, q15 })
                .collect(),
            filter_shift: shift,
        }),
    }
}

pub fn check(low: u16, high: u16, partner: u8, gain: f64, offset: i16, band: u16) -> Input {
    Input {
        window: window(low, high),
        task: Task::Check(Check {
            partner,
            gain_q12: (gain * 4096.0).round() as i16,
            offset,
            band,
        }),
    }
}

/// 10-bit board with a 12-bit output over its whole range, 1 kHz, no limits, start after 3 samples of input 0, stop
/// with the third bad sample.
pub fn draft(inputs: Vec<Input>) -> BlockFields {
    BlockFields {
        board: TargetBoard {
            adc_bits: 10,
            dac_bits: 12,
            rate_hz: 1000,
        },
        output: Output {
            zero_dac: 0,
            full_dac: 4095,
            rise_q15: Q15_ONE,
            fall_q15: Q15_ONE,
            waits_at_zero: false,
        },
        start: Start {
            input: 0,
            samples: 3,
        },
        persistence: 3,
        watch: Watch::usual((10, 12), 5000.0, 1100.0),
        inputs,
    }
}

pub fn block(draft: BlockFields) -> Block {
    Block::new(draft).expect("a possible block")
}

/// Pedal of 0.8 to 4.2 V (codes 164 to 860) times a dial that falls with travel: straight lines, nothing in the way.
pub fn straight() -> Block {
    block(draft(vec![
        factor(0, 1023, 164, 860, &[], 0),
        factor(0, 1023, 700, 20, &[], 0),
    ]))
}

/// The trolley's pedal and dial as they would be fitted: windows, curves, filters, limits, an offset output.
pub fn fitted() -> Block {
    let mut draft = draft(vec![
        factor(
            82,
            942,
            170,
            850,
            &[(340, 4000), (510, 11_000), (700, 21_500)],
            2,
        ),
        factor(
            10,
            720,
            695,
            25,
            &[(600, 2_500), (400, 9_000), (200, 19_000), (90, 26_500)],
            3,
        ),
    ]);
    draft.output = Output {
        zero_dac: 655,
        full_dac: 3440,
        rise_q15: 120,
        fall_q15: 900,
        waits_at_zero: false,
    };
    draft.start.samples = 50;
    draft.persistence = 8;
    block(draft)
}

/// Two-track pedal (the second at half slope) and a dial.
pub fn two_track() -> Block {
    let mut draft = draft(vec![
        factor(82, 942, 170, 850, &[(500, 12_000)], 1),
        check(41, 471, 0, 0.5, 3, 12),
        factor(10, 1000, 30, 980, &[], 0),
    ]);
    draft.output.rise_q15 = 400;
    block(draft)
}

/// The steepest curve that a block can have, on single codes.
pub fn steepest() -> Block {
    block(draft(vec![
        factor(0, 1023, 500, 501, &[], 0),
        factor(0, 1023, 0, 1023, &[(1, 0), (2, 32_768)], 0),
    ]))
}

fn between(rng: &mut impl Rng, low: u16, high: u16) -> u16 {
    rng.random_range(low..=high)
}

/// Some curve points strictly between the edges, never falling.
fn random_points(rng: &mut impl Rng, rest: u16, full: u16, most: usize) -> Vec<Point> {
    let (low, high) = (rest.min(full), rest.max(full));
    let mut codes: Vec<u16> = (0..rng.random_range(0..=most))
        .filter(|_| high - low > 1)
        .map(|_| rng.random_range(low + 1..high))
        .collect();
    codes.sort_unstable();
    codes.dedup();
    if full < rest {
        codes.reverse();
    }
    let mut values: Vec<u16> = codes.iter().map(|_| between(rng, 0, Q15_ONE)).collect();
    values.sort_unstable();
    codes
        .into_iter()
        .zip(values)
        .map(|(code, q15)| Point { code, q15 })
        .collect()
}

fn random_window(rng: &mut impl Rng, top: u16) -> Window {
    if rng.random_ratio(1, 3) {
        return window(0, top);
    }
    let low = between(rng, 0, top / 3);
    window(low, between(rng, low + 10, top))
}

fn random_factor(rng: &mut impl Rng, board: TargetBoard, most_points: usize) -> Input {
    let top = (1 << board.adc_bits) - 1;
    let window = random_window(rng, top);
    let rest = between(rng, window.low, window.high);
    let mut full = rest;
    while full == rest {
        full = between(rng, window.low, window.high);
    }
    Input {
        window,
        task: Task::Factor(Factor {
            rest_edge: rest,
            full_edge: full,
            points: random_points(rng, rest, full, most_points),
            filter_shift: rng.random_range(0..=16 - board.adc_bits),
        }),
    }
}

fn random_limit(rng: &mut impl Rng) -> u16 {
    match rng.random_range(0..3) {
        0 => Q15_ONE,
        1 => rng.random_range(1..200),
        _ => rng.random_range(1..=Q15_ONE),
    }
}

/// A pair of 13 bits whose second track rises as steeply as this, where everything is believed and the first bad sample stops.
pub fn steep(gain_q12: i16) -> BlockFields {
    let mut draft = two_track().numbers().clone();
    draft.board.adc_bits = 13;
    draft.persistence = 1;
    draft.inputs.truncate(2);
    for input in &mut draft.inputs {
        input.window = window(0, 8191);
        match &mut input.task {
            Task::Factor(factor) => factor.filter_shift = 0,
            Task::Check(check) => {
                check.gain_q12 = gain_q12;
                check.offset = gain_q12.signum() * i16::MAX;
                check.band = 12;
            }
        }
    }
    draft
}

/// A possible block for this board, of 1 to 3 inputs, all of whose numbers are drawn.
pub fn random(rng: &mut impl Rng, board: TargetBoard) -> Block {
    let top_dac = u16::try_from((1_u32 << board.dac_bits) - 1).unwrap();
    let top = (1_u16 << board.adc_bits) - 1;
    let count = rng.random_range(1..=3_u8);
    let first = rng.random_range(0..count); // surely a factor
    let mut is_factor: Vec<bool> = (0..count).map(|_| rng.random_ratio(2, 3)).collect();
    is_factor[usize::from(first)] = true;
    let inputs = is_factor
        .iter()
        .map(|is_factor| {
            if *is_factor {
                return random_factor(rng, board, 4);
            }
            Input {
                window: random_window(rng, top),
                task: Task::Check(Check {
                    partner: first,
                    // The steepest that the core takes with these bits, too.
                    gain_q12: *[4096, 2048, -4096, -2000, 9000, i16::MIN, i16::MAX, 1]
                        .get(rng.random_range(0..8_usize))
                        .filter(|gain| i32::from(**gain).abs() * i32::from(top) + 2048 < 1 << 27)
                        .unwrap_or(&-4095),
                    offset: rng.random_range(-500..1500),
                    band: between(rng, 0, top),
                }),
            }
        })
        .collect();
    let zero_dac = between(rng, 0, top_dac - 1);
    block(BlockFields {
        board,
        output: Output {
            zero_dac,
            full_dac: between(rng, zero_dac + 1, top_dac),
            rise_q15: random_limit(rng),
            fall_q15: random_limit(rng),
            waits_at_zero: rng.random_ratio(1, 4),
        },
        start: Start {
            input: first,
            samples: rng.random_range(1..20),
        },
        persistence: rng.random_range(1..12),
        watch: Watch {
            supply: random_window(rng, top),
            read_back: between(rng, 0, top_dac),
        },
        inputs,
    })
}

/// What a hand and bad luck do to the inputs of a block: rests, presses, dials turned, tracks that follow their
/// partner, and now and then a wire that breaks for a while. One row of codes a sample.
pub fn handling(rng: &mut impl Rng, block: &Block, samples: usize) -> Vec<Vec<u16>> {
    let inputs = &block.numbers().inputs;
    let top = (1_i32 << block.numbers().board.adc_bits) - 1;
    let mut at: Vec<i32> = inputs.iter().map(rest_of).collect();
    let mut goal = at.clone();
    let mut pace: Vec<i32> = vec![5; at.len()];
    let mut broken: Vec<(usize, u16)> = vec![(0, 0); at.len()];
    let mut rows = Vec::with_capacity(samples);
    for _ in 0..samples {
        for (i, input) in inputs.iter().enumerate() {
            if let Task::Factor(factor) = &input.task {
                if rng.random_ratio(1, 60) {
                    goal[i] = match rng.random_range(0..4) {
                        0 | 1 => i32::from(factor.rest_edge),
                        2 => i32::from(factor.full_edge),
                        _ => i32::from(between(rng, input.window.low, input.window.high)),
                    };
                    pace[i] = rng.random_range(1..60);
                }
                let step = (goal[i] - at[i]).clamp(-pace[i], pace[i]);
                at[i] += step;
            }
        }
        for (i, input) in inputs.iter().enumerate() {
            if let Task::Check(check) = &input.task {
                let partner = at[usize::from(check.partner)];
                at[i] = partner * i32::from(check.gain_q12) / 4096 + i32::from(check.offset);
            }
        }
        let mut row = Vec::new();
        for i in 0..inputs.len() {
            if rng.random_ratio(1, 400) {
                let code = [
                    0,
                    1023,
                    u16::try_from(top).unwrap(),
                    0xFFFF,
                    between(rng, 0, 1023),
                ];
                broken[i] = (
                    rng.random_range(1..16),
                    code[rng.random_range(0..code.len())],
                );
            }
            let noisy = (at[i] + rng.random_range(-2..=2)).clamp(0, top);
            row.push(if broken[i].0 > 0 {
                broken[i].0 -= 1;
                broken[i].1
            } else {
                u16::try_from(noisy).unwrap()
            });
        }
        rows.push(row);
    }
    rows
}

/// A code at the rest edge, of a check track anything.
fn rest_of(input: &Input) -> i32 {
    match &input.task {
        Task::Factor(factor) => i32::from(factor.rest_edge),
        Task::Check(_) => 0,
    }
}

/// Pedal and dial that stop on a broken wire, without a filter; 12-bit output.
pub fn guarded() -> Block {
    let mut draft = draft(vec![
        factor(82, 942, 170, 850, &[(500, 12_000)], 0),
        factor(10, 720, 695, 25, &[], 2),
    ]);
    draft.output.zero_dac = 100;
    draft.output.rise_q15 = 2000;
    draft.persistence = 10;
    block(draft)
}
