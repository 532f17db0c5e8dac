//! What one capture is to prove: the block, the two boards, the marks.

use super::marks::{Fault, Marks};
use crate::constants::Block;
use crate::record::CaptureFacts;
use measure::units::Code;

/// What is known of the two boards beside the block and the capture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProofConditions {
    /// ADC reference of the blending board, millivolts.
    pub board_vref_mv: f64,
    /// Reference of its DAC, millivolts.
    pub dac_vref_mv: f64,
    /// Largest departure allowed, percent of the full output.
    pub within_pct: f64,
    /// Longest time from a fault to zero output, milliseconds; `None`: what the block itself allows.
    pub stop_within_ms: Option<f64>,
}

/// What is asked of one capture.
#[derive(Debug, Clone)]
pub struct ProofSetup<'a> {
    /// The block that the board was flashed with.
    pub block: &'a Block,
    /// Names of the columns taken as inputs, in the block's order.
    pub inputs: Vec<String>,
    /// Name of the column taken as output.
    pub output: String,
    pub conditions: ProofConditions,
    /// Which faults were made when; none: no rounds.
    pub marks: Marks,
    pub capture: CaptureFacts,
    /// What the profile's wiring says beforehand of the faults.
    pub foretold: Vec<Foretold>,
    /// The enable line behind its pump, where it was recorded.
    pub enable: Option<&'a [Code]>,
}

/// What a wiring says beforehand of a fault.
#[derive(Debug, Clone, PartialEq)]
pub struct Foretold {
    pub fault: Fault,
    /// The input whose wire it is, counted as in the block.
    pub input: u8,
    /// Lowest and highest reading with the fault there, fractions of the reference; `None`: it is not known.
    pub reads: Option<[f64; 2]>,
    /// What is to be said beforehand when its windows miss it.
    pub missed: Option<String>,
}
