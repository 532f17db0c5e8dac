//! Blocks for tests.

use super::{
    BlockFields, Factor, Input, OWN_REFERENCE_MV, Output, Point, Q15_ONE, Start, TargetBoard, Task,
    Watch, Window,
};

/// A factor: where it is believed, its edges, its points, its filter.
pub fn factor(
    window: [u16; 2],
    [rest_edge, full_edge]: [u16; 2],
    points: &[(u16, u16)],
    filter_shift: u8,
) -> Input {
    let points = points.iter().map(|&(code, q15)| Point { code, q15 });
    Input {
        window: Window {
            low: window[0],
            high: window[1],
        },
        task: Task::Factor(Factor {
            rest_edge,
            full_edge,
            points: points.collect(),
            filter_shift,
        }),
    }
}

/// 10 bits, a thousand steps a second, rise and fall not limited.
pub fn numbers(inputs: Vec<Input>, zero_dac: u16, full_dac: u16) -> BlockFields {
    BlockFields {
        board: TargetBoard {
            adc_bits: 10,
            dac_bits: 12,
            rate_hz: 1000,
        },
        output: Output {
            zero_dac,
            full_dac,
            rise_q15: Q15_ONE,
            fall_q15: Q15_ONE,
            waits_at_zero: false,
        },
        start: Start {
            input: 0,
            samples: 1,
        },
        persistence: 3,
        watch: Watch::usual((10, 12), 5000.0, OWN_REFERENCE_MV),
        inputs,
    }
}
