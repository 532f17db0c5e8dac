//! The block readers: a block that was read has possible numbers only, is written in every form and read again as the
//! same, and the board's arithmetic runs on it.
//!
//! Bytes: `b` and a binary block, whose length and check sum are put right; else the text of one of the three forms.

use super::Bytes;
use pedalproof::constants::formats::Format;
use pedalproof::constants::{Block, BlockFields, Factor, Q15_ONE, Task, layout};
use pedalproof::twin::{Seen, State, Twin};

pub fn check(data: &[u8]) {
    if let Some(rest) = data.strip_prefix(b"b") {
        binary(rest);
    } else if let Ok(text) = std::str::from_utf8(data)
        && let Ok(block) = Format::of(text).read(text)
    {
        consistent(&block, data);
    }
}

fn binary(data: &[u8]) {
    if layout::version_of(data) != Some(layout::OLD_VERSION) {
        // One of the version before is written as one of this.
        assert!(!matches!(layout::from_bytes(data), Ok(block) if layout::to_bytes(&block) != data));
    }
    // With a good length and check sum, or nothing behind them would be reached.
    let mut bytes = data.to_vec();
    let Some(body) = bytes.len().checked_sub(2).filter(|body| *body > 8) else {
        return;
    };
    bytes[..5].copy_from_slice(b"PPBK\x02");
    let Ok(length) = u16::try_from(bytes.len()) else {
        return;
    };
    bytes[6..8].copy_from_slice(&length.to_le_bytes());
    let sum = layout::check_sum(&bytes[..body]);
    bytes[body..].copy_from_slice(&sum.to_le_bytes());
    let Ok(block) = layout::from_bytes(&bytes) else {
        return;
    };
    // Bytes of a record that mean nothing for its task are not kept: numbers are the same, and so is a second writing.
    let written = layout::to_bytes(&block);
    assert_eq!(written.len(), bytes.len());
    bytes.extend([0xFF; 7]);
    assert_eq!(
        layout::from_memory(&bytes).as_ref(),
        Ok(&block),
        "behind it erased memory"
    );
    consistent(&block, data);
}

fn consistent(block: &Block, data: &[u8]) {
    possible(block.numbers());
    let bytes = layout::to_bytes(block);
    assert_eq!(layout::from_bytes(&bytes).as_ref(), Ok(block));
    for format in [Format::C, Format::Ihex, Format::Json] {
        let text = format.write(block, "made by fuzzing */ /* a line\nanother");
        assert_eq!(Format::of(&text), format);
        assert_eq!(
            format.read(&text).as_ref(),
            Ok(block),
            "{format:?}:\n{text}"
        );
    }
    run(block, data);
}

/// The rules of `src/firmware/core/BLOCK.md`, written down once more.
fn possible(is: &BlockFields) {
    let top = (1_u32 << is.board.adc_bits) - 1;
    assert!((8..=15).contains(&is.board.adc_bits) && (8..=16).contains(&is.board.dac_bits));
    assert!(is.board.rate_hz > 0 && is.persistence > 0 && is.start.samples > 0);
    assert!(is.output.zero_dac < is.output.full_dac);
    assert!(u32::from(is.output.full_dac) < 1 << is.board.dac_bits);
    assert!(
        (1..=Q15_ONE).contains(&is.output.rise_q15) && (1..=Q15_ONE).contains(&is.output.fall_q15)
    );
    let is_factor = |n: u8| {
        matches!(
            is.inputs.get(usize::from(n)).map(|i| &i.task),
            Some(Task::Factor(_))
        )
    };
    assert!(is_factor(is.start.input));
    for input in &is.inputs {
        let (low, high) = (input.window.low, input.window.high);
        assert!(low < high && u32::from(high) <= top);
        match &input.task {
            Task::Check(check) => {
                assert!(
                    is_factor(check.partner) && check.gain_q12 != 0 && u32::from(check.band) <= top
                );
            }
            Task::Factor(factor) => {
                assert!(
                    (low..=high).contains(&factor.rest_edge)
                        && (low..=high).contains(&factor.full_edge)
                );
                assert!(factor.filter_shift <= 16 - is.board.adc_bits);
                rises(factor);
            }
        }
    }
}

/// From the rest edge to the full edge codes go one way and commands never fall.
fn rises(factor: &Factor) {
    let way = (i32::from(factor.full_edge) - i32::from(factor.rest_edge)).signum();
    let codes: Vec<i32> = std::iter::once(factor.rest_edge)
        .chain(factor.points.iter().map(|point| point.code))
        .chain([factor.full_edge])
        .map(|code| way * i32::from(code))
        .collect();
    assert!(codes.windows(2).all(|pair| pair[0] < pair[1]), "{factor:?}");
    let values: Vec<u16> = factor
        .points
        .iter()
        .map(|point| point.q15)
        .chain([Q15_ONE])
        .collect();
    assert!(values.is_sorted(), "{factor:?}");
}

/// Some steps: at rest until it runs, at full, then codes drawn from the data. The output stays within the block's.
fn run(block: &Block, data: &[u8]) {
    let is = block.numbers();
    let mut twin = Twin::new(block);
    let mut drawn = Bytes(data);
    let ends: [fn(&Factor) -> u16; 2] = [|f| f.rest_edge, |f| f.full_edge];
    let held = |end: fn(&Factor) -> u16| -> Vec<u16> {
        let codes = is.inputs.iter().map(|input| match &input.task {
            Task::Factor(factor) => end(factor),
            Task::Check(_) => input.window.low,
        });
        codes.collect()
    };
    let mut before = 0;
    for n in 0..48 {
        let codes = match n {
            0..8 => held(ends[0]),
            8..16 => held(ends[1]),
            _ => is.inputs.iter().map(|_| drawn.two()).collect(),
        };
        let shown = twin.step_seeing(
            &codes,
            Seen {
                dac_takes: n % 31 != 30,
                ..Seen::default()
            },
        );
        assert!(shown.command_q15 <= Q15_ONE);
        assert!(shown.command_q15.saturating_sub(before) <= is.output.rise_q15);
        before = shown.command_q15;
        match shown.state {
            State::Running => {
                assert!((is.output.zero_dac..=is.output.full_dac).contains(&shown.dac));
            }
            State::Waiting => assert_eq!(shown.command_q15, 0),
            State::Stopped => assert_eq!((shown.command_q15, shown.cause.is_some()), (0, true)),
        }
    }
}
