//! What a block makes of its inputs: outputs over two of them, the first step from zero, both edges. For previews.

use super::{StepOutput, settled};
use crate::constants::{Block, Check, Factor, Q15_ONE, Task};
use schemars::JsonSchema;
use serde::Serialize;

/// Indices of the inputs that the command is multiplied by, in order.
pub fn factors(block: &Block) -> Vec<usize> {
    let inputs = block.numbers().inputs.iter().enumerate();
    inputs
        .filter(|(_, input)| input.factor().is_some())
        .map(|(i, _)| i)
        .collect()
}

fn factor(block: &Block, input: usize) -> Option<&Factor> {
    block.numbers().inputs.get(input)?.factor()
}

/// Every input's code when the stated ones read so: other factors at their full edge, check tracks in agreement with their
/// partners.
pub fn codes(block: &Block, stated: &[(usize, u16)]) -> Vec<u16> {
    let inputs = &block.numbers().inputs;
    let said = |i: usize| {
        stated
            .iter()
            .find(|(at, _)| *at == i)
            .map(|(_, code)| *code)
    };
    let of_factor = |i: usize| {
        let full = factor(block, i).map_or(0, |factor| factor.full_edge);
        said(i).unwrap_or(full)
    };
    let code = |(i, input): (usize, &crate::constants::Input)| match &input.task {
        Task::Factor(_) => of_factor(i),
        Task::Check(check) => {
            said(i).unwrap_or_else(|| agreeing(*check, of_factor(usize::from(check.partner))))
        }
    };
    inputs.iter().enumerate().map(code).collect()
}

/// The code at which a check track agrees best.
fn agreeing(check: Check, partner: u16) -> u16 {
    let exact = i32::from(check.gain_q12) * i32::from(partner);
    let code = ((exact + 2048) >> 12) + i32::from(check.offset);
    u16::try_from(code.max(0)).unwrap_or(u16::MAX)
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct BlendCell {
    pub first: u16,
    /// Code of the second factor; absent when there is one only.
    pub second: Option<u16>,
    /// Settled output; absent where the board stops.
    pub dac: Option<u16>,
    /// Command behind it, Q15.
    pub command_q15: Option<u16>,
}

/// What the edges of one factor do, the others at full.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct EdgeView {
    pub input: usize,
    /// Outputs around its zero edge: one code before, on it, one and two codes beyond.
    pub zero: Vec<(u16, Option<u16>)>,
    /// Outputs around its full edge: two codes and one before, on it, one beyond.
    pub full: Vec<(u16, Option<u16>)>,
    /// Smallest output above zero and the code where it comes.
    pub first_step: Option<(u16, u16)>,
}

pub fn at(block: &Block, stated: &[(usize, u16)]) -> Option<StepOutput> {
    settled(block, &codes(block, stated))
}

/// Codes from one side of a factor's travel to the other, `steps` pieces: from its zero edge to its full edge, both in.
pub fn axis(block: &Block, input: usize, steps: u16) -> Vec<u16> {
    let Some(factor) = factor(block, input) else {
        return Vec::new();
    };
    let (from, to) = (u32::from(factor.rest_edge), u32::from(factor.full_edge));
    let steps = u32::from(steps.max(1));
    (0..=steps)
        .map(|i| (from * (steps - i) + to * i + steps / 2) / steps)
        .filter_map(|code| u16::try_from(code).ok())
        .collect()
}

/// Outputs over the first two factors: a row for each code of the second, first factor across. With one factor a single row.
pub fn table(block: &Block, across: u16, down: u16) -> Vec<Vec<BlendCell>> {
    let factors = factors(block);
    let Some(&first) = factors.first() else {
        return Vec::new();
    };
    let put = |a: u16, second: Option<(usize, u16)>| {
        let mut stated = vec![(first, a)];
        stated.extend(second);
        let shown = at(block, &stated);
        BlendCell {
            first: a,
            second: second.map(|(_, code)| code),
            dac: shown.map(|shown| shown.dac),
            command_q15: shown.map(|shown| shown.command_q15),
        }
    };
    let row = |second: Option<(usize, u16)>| -> Vec<BlendCell> {
        axis(block, first, across)
            .into_iter()
            .map(|a| put(a, second))
            .collect()
    };
    match factors.get(1) {
        None => vec![row(None)],
        Some(&input) => axis(block, input, down)
            .into_iter()
            .map(|b| row(Some((input, b))))
            .collect(),
    }
}

pub fn edges(block: &Block) -> Vec<EdgeView> {
    let view = |input: usize| {
        let factor = factor(block, input)?;
        let inwards: i32 = if factor.full_edge < factor.rest_edge {
            -1
        } else {
            1
        };
        let output = |code: u16| at(block, &[(input, code)]).map(|shown| shown.dac);
        let around = |edge: u16, offsets: std::ops::RangeInclusive<i32>| {
            offsets
                .filter_map(|off| u16::try_from(i32::from(edge) + inwards * off).ok())
                .map(|code| (code, output(code)))
                .collect()
        };
        let zero = block.numbers().output.zero_dac;
        let reach = i32::from(factor.full_edge.abs_diff(factor.rest_edge));
        let first_step = (1..=reach)
            .filter_map(|off| u16::try_from(i32::from(factor.rest_edge) + inwards * off).ok())
            .find_map(|code| Some((code, output(code).filter(|dac| *dac > zero)?)));
        Some(EdgeView {
            input,
            zero: around(factor.rest_edge, -1..=2),
            full: around(factor.full_edge, -2..=1),
            first_step,
        })
    };
    factors(block).into_iter().filter_map(view).collect()
}

pub fn percent(command_q15: u16) -> f64 {
    100.0 * f64::from(command_q15) / f64::from(Q15_ONE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::constants::{Input, testing};

    fn block() -> Block {
        let factor = |rest, full| testing::factor([10, 1000], [rest, full], &[], 0);
        let check = Input {
            task: Task::Check(Check {
                partner: 0,
                gain_q12: 2048,
                offset: 3,
                band: 5,
            }),
            ..factor(100, 500)
        };
        let inputs = vec![factor(100, 500), check, factor(900, 100)];
        Block::new(testing::numbers(inputs, 0, 4000)).unwrap()
    }

    /// By hand: half of one and half of the other of 4000 is 1000; one code of 400 is 10 DAC codes.
    #[test]
    fn a_product_of_two_and_their_edges() {
        let block = block();
        assert_eq!(factors(&block), [0, 2]);
        assert_eq!(codes(&block, &[(0, 300)]), [300, 153, 100]);
        assert_eq!(at(&block, &[(0, 300), (2, 500)]).unwrap().dac, 1000);
        assert_eq!(axis(&block, 2, 4), [900, 700, 500, 300, 100]);
        let table = table(&block, 2, 2);
        let dacs: Vec<Vec<u16>> = table
            .iter()
            .map(|row| row.iter().map(|put| put.dac.unwrap()).collect())
            .collect();
        assert_eq!(dacs, [[0, 0, 0], [0, 1000, 2000], [0, 2000, 4000]]);
        let edges = edges(&block);
        assert_eq!(
            edges[0].zero,
            [
                (99, Some(0)),
                (100, Some(0)),
                (101, Some(10)),
                (102, Some(20))
            ]
        );
        assert_eq!(
            edges[0].full,
            [
                (498, Some(3980)),
                (499, Some(3990)),
                (500, Some(4000)),
                (501, Some(4000))
            ]
        );
        assert_eq!(edges[0].first_step, Some((101, 10)));
        assert_eq!(edges[1].first_step, Some((899, 5)));
    }

    #[test]
    fn outside_a_window_the_board_stops() {
        assert_eq!(at(&block(), &[(0, 1001)]), None);
        assert_eq!(
            at(&block(), &[(0, 300), (1, 159)]),
            None,
            "six codes off, five allowed"
        );
        assert!(at(&block(), &[(0, 300), (1, 158)]).is_some());
    }
}
