//! Positions at which the controls dwelt, each with its expected and its measured output.

use crate::constants::Block;
use crate::proof::Scaling;
use crate::twin;
use measure::units::Code;

/// A dwell counts after this long, microseconds: longer than any filter and the usual limits of rise need.
const DWELL_US: u64 = 500_000;
/// The output is averaged over the last of it, microseconds.
const AVERAGED_US: u64 = 100_000;
/// Inputs are steady while they stay within so many measuring codes.
const STEADY_CODES: u32 = 6;
/// Bands of travel of each factor, as the proof counts coverage.
pub const BANDS: usize = 4;

/// A position at which the controls dwelt.
#[derive(Debug, Clone, PartialEq)]
pub struct Dwell {
    /// Command of each factor, percent.
    pub factors_pct: Vec<f64>,
    /// What the block puts out there, millivolts.
    pub expected_mv: f64,
    /// What came, on average over the last tenth of a second, millivolts.
    pub measured_mv: f64,
}

/// Since when the inputs are steady.
#[derive(Debug, Clone, Default)]
pub(super) struct DwellDetector {
    since_us: u64,
    extremes: Vec<(u32, u32)>,
    output: Vec<f64>,
    counted: bool,
}

impl DwellDetector {
    /// Takes a sample; gives the mean output of a dwell that it completes, millivolts.
    pub(super) fn push(&mut self, t_us: u64, inputs: &[Code], mv: f64) -> Option<f64> {
        let within = |((low, high), code): (&(u32, u32), &Code)| {
            (*high).max(code.0) - (*low).min(code.0) <= STEADY_CODES
        };
        let steady =
            self.extremes.len() == inputs.len() && self.extremes.iter().zip(inputs).all(within);
        if !steady {
            *self = Self {
                since_us: t_us,
                extremes: inputs.iter().map(|code| (code.0, code.0)).collect(),
                ..Self::default()
            };
            return None;
        }
        for ((low, high), code) in self.extremes.iter_mut().zip(inputs) {
            (*low, *high) = ((*low).min(code.0), (*high).max(code.0));
        }
        let held_us = t_us - self.since_us;
        if !self.counted && held_us >= DWELL_US - AVERAGED_US {
            self.output.push(mv);
        }
        if self.counted || held_us < DWELL_US {
            return None;
        }
        self.counted = true;
        let output = std::mem::take(&mut self.output);
        #[allow(clippy::cast_precision_loss)] // a tenth of a second of samples
        let mean_mv = output.iter().sum::<f64>() / output.len().max(1) as f64;
        Some(mean_mv)
    }
}

impl Dwell {
    /// A dwell with the blending board's inputs at `codes`; none where the block stops.
    pub(super) fn at(
        block: &Block,
        scaling: &Scaling,
        codes: &[u16],
        measured_mv: f64,
    ) -> Option<Self> {
        let settled = twin::settled(block, codes)?;
        let factors = twin::blend::factors(block);
        let alone = factors.iter().filter_map(|at| {
            let shown = twin::blend::at(block, &[(*at, *codes.get(*at)?)])?;
            Some(twin::blend::percent(shown.command_q15))
        });
        Some(Self {
            factors_pct: alone.collect(),
            expected_mv: scaling.dac(f64::from(settled.dac)),
            measured_mv,
        })
    }
}

/// Cells of travel with a dwell, and how many there are: quarters of each factor's command, halves from three factors on.
pub(super) fn coverage(block: &Block, dwells: &[Dwell]) -> (usize, usize) {
    let factors = twin::blend::factors(block).len().max(1);
    let bands = if factors > 2 { 2 } else { BANDS };
    let cell = |dwell: &Dwell| {
        let each = dwell.factors_pct.iter();
        each.fold(0, |cell, pct| cell * bands + band(*pct, bands))
    };
    let mut seen: Vec<usize> = dwells.iter().map(cell).collect();
    seen.sort_unstable();
    seen.dedup();
    (seen.len(), bands.pow(u32::try_from(factors).unwrap_or(1)))
}

/// The band of a command in percent, from 0.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // 0 to 100, few bands
pub fn band(pct: f64, bands: usize) -> usize {
    ((pct / 100.0 * bands as f64).max(0.0) as usize).min(bands.saturating_sub(1))
}
