//! Blocks for this room's tests.

use super::ProofConditions;
use crate::constants::{
    Block, BlockFields, Factor, Input, Output, Q15_ONE, Start, TargetBoard, Task, Window,
};

fn factor(low: u16, high: u16, rest_edge: u16, full_edge: u16, filter_shift: u8) -> Input {
    Input {
        window: Window { low, high },
        task: Task::Factor(Factor {
            rest_edge,
            full_edge,
            points: Vec::new(),
            filter_shift,
        }),
    }
}

fn of(inputs: Vec<Input>, zero_dac: u16) -> Block {
    Block::new(BlockFields {
        board: TargetBoard {
            adc_bits: 10,
            dac_bits: 12,
            rate_hz: 1000,
        },
        output: Output {
            zero_dac,
            full_dac: 4095,
            rise_q15: Q15_ONE,
            fall_q15: Q15_ONE,
        },
        start: Start {
            input: 0,
            samples: 3,
        },
        persistence: 5,
        inputs,
    })
    .unwrap()
}

/// One input, 164 to 860, no windows, no filter.
pub fn block() -> Block {
    of(vec![factor(0, 1023, 164, 860, 0)], 0)
}

/// Pedal and falling dial with windows; zero is DAC code 100.
pub fn guarded() -> Block {
    of(
        vec![factor(82, 942, 170, 850, 0), factor(10, 720, 695, 25, 2)],
        100,
    )
}

/// Both boards on this reference, 1 %.
pub fn on(vref_mv: f64) -> ProofConditions {
    ProofConditions {
        board_vref_mv: vref_mv,
        dac_vref_mv: vref_mv,
        within_pct: 1.0,
        stop_within_ms: None,
    }
}
