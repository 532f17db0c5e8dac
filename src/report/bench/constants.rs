//! The numbers that the board works with, and how far they are from each other.

use super::source::BenchReport;
use crate::constants::{
    Block as Constants, BlockFields, Check, Factor, Input, Q15_ONE, Task, Window,
};
use crate::report::document::{Block, Section, Table, columns};
use measure::figure::numbers::four_digits;

/// Nothing without a block.
pub(super) fn section(report: &BenchReport<'_>) -> Option<Section<'static>> {
    let used = report.block.as_ref()?;
    let blocks = vec![
        Block::paragraph(
            "Read from the constants file that was given. Inputs are counted from 0 in the order of the board's pins; nothing \
             here says that this part is on one of them.",
        ),
        terms(used.block.numbers()),
        Block::Table(inputs(used.block)),
    ];
    Some(Section::new("Constants of the board", blocks).at("constants"))
}

fn terms(numbers: &BlockFields) -> Block<'static> {
    let (board, output, start) = (numbers.board, numbers.output, numbers.start);
    let millis = |samples: u16| four_digits(f64::from(samples) / f64::from(board.rate_hz) * 1000.0);
    Block::terms([
        (
            "board",
            format!(
                "inputs of {} bits, output of {} bits, {} steps a second",
                board.adc_bits, board.dac_bits, board.rate_hz
            ),
        ),
        (
            "output",
            format!(
                "command 0 is code {}, command 1 code {}",
                output.zero_dac, output.full_dac
            ),
        ),
        (
            "rise and fall",
            format!(
                "at most {} and {} of full command a step",
                q15(output.rise_q15),
                q15(output.fall_q15)
            ),
        ),
        (
            "start",
            format!(
                "input {} at or before its rest edge for {} samples, {} ms",
                start.input,
                start.samples,
                millis(start.samples)
            ),
        ),
        (
            "fault persistence",
            format!(
                "{} bad samples, {} ms",
                numbers.persistence,
                millis(numbers.persistence)
            ),
        ),
    ])
}

fn q15(value: u16) -> String {
    four_digits(f64::from(value) / f64::from(Q15_ONE))
}

fn inputs(block: &Constants) -> Table {
    let numbers = block.numbers();
    let top = (1_u32 << numbers.board.adc_bits) - 1;
    let row = |(i, input): (usize, &Input)| {
        let [does, margins] = match &input.task {
            Task::Factor(factor) => of_factor(factor, input.window),
            Task::Check(check) => of_check(*check),
        };
        let Window { low, high } = input.window;
        vec![
            i.to_string().into(),
            format!("{low} .. {high}").into(),
            room(input.window, top).into(),
            does.into(),
            margins.into(),
        ]
    };
    Table {
        caption: "Inputs, with the margins between their numbers".to_owned(),
        columns: columns([">input", ">believed", "left for faults", "does", "margins"]),
        rows: numbers.inputs.iter().enumerate().map(row).collect(),
        ..Table::default()
    }
}

fn room(window: Window, top: u32) -> String {
    format!(
        "{} codes below, {} above",
        window.low,
        top.saturating_sub(u32::from(window.high))
    )
}

fn of_factor(factor: &Factor, window: Window) -> [String; 2] {
    let does = format!(
        "command 0 at code {}, command 1 at {}, {} curve points between, filter shift {}",
        factor.rest_edge,
        factor.full_edge,
        factor.points.len(),
        factor.filter_shift
    );
    let (low, high) = (
        factor.rest_edge.min(factor.full_edge),
        factor.rest_edge.max(factor.full_edge),
    );
    let margins = format!(
        "from the edges to the window: {} codes below, {} above",
        low.saturating_sub(window.low),
        window.high.saturating_sub(high)
    );
    [does, margins]
}

fn of_check(check: Check) -> [String; 2] {
    let does = format!(
        "must agree with input {}: {} times its code, {:+} codes",
        check.partner,
        four_digits(f64::from(check.gain_q12) / 4096.0),
        check.offset
    );
    [does, format!("may differ by {} codes", check.band)]
}
