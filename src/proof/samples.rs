//! Samples of a measuring board, and what its codes can mean to the blending board.

use super::setup::ProofConditions;
use crate::constants::{Block, BlockFields, InvalidBlock, Task};
use measure::units::{Code, Scale};
use thiserror::Error;

/// Codes of inputs and output as one measuring board sampled them. Columns of equal length.
#[derive(Debug, Clone, Copy)]
pub struct Samples<'a> {
    /// Board time in microseconds, not decreasing.
    pub t_us: &'a [u64],
    /// One column for each input of the block, in the block's order.
    pub inputs: &'a [&'a [Code]],
    /// The blending board's output.
    pub output: &'a [Code],
    /// The measuring board's scale.
    pub scale: Scale,
}

/// Block and capture do not go together.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum Mismatch {
    #[error(
        "the constants file has {block} inputs, the recording {capture} signal columns ({columns}): name the columns in the order of the constants file's inputs with --inputs"
    )]
    Inputs {
        block: usize,
        capture: usize,
        columns: String,
    },
    #[error(
        "{what} reaches {reaches} mV, the measuring board reads up to {reads} mV: measure with a board of a higher reference"
    )]
    Range {
        what: String,
        reaches: f64,
        reads: f64,
    },
    #[error(
        "this is a fault of the program: without its windows the constants file is impossible {0}"
    )]
    Block(#[from] InvalidBlock),
    #[error("the recording has {0} samples: a proof needs at least two")]
    TooShort(usize),
}

/// The measuring board's codes as codes and millivolts of the blending board.
#[derive(Debug, Clone, Copy)]
pub struct Scaling {
    /// Measuring codes -> blending board's codes.
    ratio: f64,
    top_in: u16,
    /// Millivolts of one measuring code.
    code_mv: f64,
    top_measured: u32,
    /// Millivolts of one DAC code.
    dac_mv: f64,
    dac_vref_mv: f64,
    zero_dac: u16,
    full_dac: u16,
}

/// A measured voltage: as low and as high as its code allows, millivolts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VoltageRange {
    pub low: f64,
    pub high: f64,
}

impl Scaling {
    /// The scaling for a block under these conditions.
    pub fn new(block: &Block, scale: Scale, conditions: ProofConditions) -> Result<Self, Mismatch> {
        let numbers = block.numbers();
        let codes_in = f64::from(1_u32 << numbers.board.adc_bits);
        let dac_mv = conditions.dac_vref_mv / f64::from(1_u32 << numbers.board.dac_bits);
        let scaling = Self {
            ratio: scale.vref_mv() / conditions.board_vref_mv * codes_in / f64::from(scale.codes()),
            top_in: top(numbers),
            code_mv: scale.vref_mv() / f64::from(scale.codes()),
            top_measured: scale.max_code().0,
            dac_mv,
            dac_vref_mv: conditions.dac_vref_mv,
            zero_dac: numbers.output.zero_dac,
            full_dac: numbers.output.full_dac,
        };
        let reads = scale.vref_mv();
        let refuse = |what: String, reaches: f64| Mismatch::Range {
            what,
            reaches: reaches.round(),
            reads,
        };
        if scaling.full_mv() > reads {
            return Err(refuse(
                "the constants file's full output".to_owned(),
                scaling.full_mv(),
            ));
        }
        let code_mv = conditions.board_vref_mv / codes_in;
        for (i, input) in numbers.inputs.iter().enumerate() {
            if let Task::Factor(factor) = &input.task {
                let highest = f64::from(factor.rest_edge.max(factor.full_edge)) * code_mv;
                if highest > reads {
                    return Err(refuse(format!("input {i} of the constants file"), highest));
                }
            }
        }
        Ok(scaling)
    }

    /// What the blending board may read where the measuring board reads this code, lowest and highest code, `noise`
    /// measuring codes allowed on top. Whether either board rounds or cuts off is not known: the voltage lies between
    /// half a code below and one code above, the other board's code likewise.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to 0 ..= 32767
    pub fn input(&self, code: Code, noise: f64) -> (u16, u16) {
        let most = f64::from(self.top_in);
        let low = ((code.as_f64() - 0.5 - noise) * self.ratio).floor();
        let high = ((code.as_f64() + 1.0 + noise) * self.ratio + 0.5).floor();
        // At the end of its scale the measuring board does not know how far beyond the voltage is.
        let high = if code.0 >= self.top_measured {
            most
        } else {
            high
        };
        (low.clamp(0.0, most) as u16, high.clamp(0.0, most) as u16)
    }

    /// The voltage behind an output code, or behind the mean of several.
    pub fn output(&self, code: f64) -> VoltageRange {
        let beyond = code >= f64::from(self.top_measured);
        VoltageRange {
            low: ((code - 0.5) * self.code_mv).max(0.0),
            high: if beyond {
                self.dac_vref_mv.max((code + 1.0) * self.code_mv)
            } else {
                (code + 1.0) * self.code_mv
            },
        }
    }

    pub fn dac(&self, code: f64) -> f64 {
        code * self.dac_mv
    }

    pub fn zero_mv(&self) -> f64 {
        self.dac(f64::from(self.zero_dac))
    }

    pub fn full_mv(&self) -> f64 {
        self.dac(f64::from(self.full_dac))
    }

    /// Percent of the full output, which is from zero to full.
    pub fn percent(&self, mv: f64) -> f64 {
        mv / (self.full_mv() - self.zero_mv()) * 100.0
    }

    /// One code of the measuring board, millivolts.
    pub fn code_mv(&self) -> f64 {
        self.code_mv
    }

    /// Up to here an output counts as zero: the zero command, two codes of the measuring board and two of the DAC.
    pub fn zero_band_mv(&self) -> f64 {
        self.zero_mv() + 2.0 * self.code_mv + 2.0 * self.dac_mv
    }

    /// Whether this output code may be zero output.
    pub fn may_be_zero(&self, code: Code) -> bool {
        code.as_f64() * self.code_mv <= self.zero_band_mv()
    }

    /// Whether this output code may be that of a stop, which is DAC code 0 and not the zero command: where the two can be told apart,
    /// nearer to 0.
    pub fn may_be_off(&self, code: Code) -> bool {
        let own = 2.0 * self.code_mv + 2.0 * self.dac_mv;
        code.as_f64() * self.code_mv <= own.max(self.zero_mv() / 2.0)
    }

    /// Blending board's codes in one measuring code.
    pub fn ratio(&self) -> f64 {
        self.ratio
    }
}

fn top(numbers: &BlockFields) -> u16 {
    (1_u16 << numbers.board.adc_bits) - 1
}

#[cfg(test)]
mod tests {
    use super::super::testing::{block, on};
    use super::*;

    /// Worked by hand. 10 bits on 10 bits, 5 V both: code 500 may be 499 (volts of 499.5 rounded down .. cut off) to 501
    /// (501 exactly, or 501.0 + 0.5 cut off).
    #[test]
    fn the_same_bits_are_one_code_apart() {
        let scaling = Scaling::new(&block(), Scale::new(10, 5000.0).unwrap(), on(5000.0)).unwrap();
        assert_eq!(scaling.input(Code(500), 0.0), (499, 501));
        assert_eq!(scaling.input(Code(0), 0.0), (0, 1));
        assert_eq!(scaling.input(Code(1023), 0.0), (1022, 1023));
        assert_eq!(scaling.input(Code(500), 2.0), (497, 503));
    }

    /// 12 bits measured, 10 bits blended: 2003 is 500.6 to 501.0 (+0.5): 500 or 501. The other way: 4 codes to one.
    #[test]
    fn other_bits_are_scaled() {
        let scaling = Scaling::new(&block(), Scale::new(12, 5000.0).unwrap(), on(5000.0)).unwrap();
        assert_eq!(scaling.input(Code(2003), 0.0), (500, 501));
        let coarse = Scaling::new(&block(), Scale::new(8, 5000.0).unwrap(), on(5000.0)).unwrap();
        assert_eq!(coarse.input(Code(125), 0.0), (498, 504));
    }

    /// One code of ten bits on 5 V is 4.8828125 mV; the DAC's 4095 of 4096 is 4998.78 mV.
    #[test]
    fn output_is_in_millivolts() {
        let scaling = Scaling::new(&block(), Scale::new(10, 5000.0).unwrap(), on(5000.0)).unwrap();
        let VoltageRange { low, high } = scaling.output(512.0);
        assert!((low - 2_497.558_593_75).abs() < 1e-9 && (high - 2_504.882_812_5).abs() < 1e-9);
        assert!(scaling.output(0.0).low.abs() < 1e-12);
        assert!((scaling.full_mv() - 4_998.779_296_875).abs() < 1e-9);
        assert!(
            scaling.output(1023.0).high >= 5000.0,
            "at the end of the scale"
        );
    }

    #[test]
    fn what_cannot_be_read_is_refused_with_both_sides() {
        let refused =
            Scaling::new(&block(), Scale::new(12, 3300.0).unwrap(), on(5000.0)).unwrap_err();
        let words = refused.to_string();
        assert!(
            words.contains("4999 mV") && words.contains("3300 mV"),
            "{words}"
        );
    }
}
