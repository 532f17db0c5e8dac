//! Arguments of `pedalproof constants`.

use crate::cli::input::one_line;
use crate::constants::OWN_REFERENCE_MV;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// Steps a second of the blending firmware, as `boards/config.h` has them; a test compares.
pub(super) const BOARD_RATE_HZ: u16 = 1000;

/// Choose the numbers for the blending firmware, each with its reason and margin.
///
/// Inputs come in the order of the captures, a second track after its first; the first pedal or lever gives the start
/// condition. The block goes to stdout or --out, the reasons to stderr. A unit that did not pass is refused.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof constants T1-pedal.csv T1-dial.csv --format ihex --out T1.hex\n  pedalproof constants T1-pedal.csv --profile pedal-hall-two-track --tag T1-pedal --json\n  pedalproof constants --read T1.hex"
)]
pub(in crate::cli) struct ConstantsArgs {
    /// Captures, one for each control, in the order of the board's pins
    #[arg(required_unless_present_any = ["read", "remake"], value_name = "CAPTURE")]
    pub(super) captures: Vec<PathBuf>,
    /// The profile, a file or a built-in name: one for all captures, or one for each in order; without it, those that the
    /// captures name
    #[arg(long, value_name = "PROFILE")]
    pub(super) profile: Vec<String>,
    /// The tag that a capture must be of, one for each in order
    #[arg(long, value_name = "TAG", value_parser = one_line)]
    pub(super) tag: Vec<String>,
    /// Format of the block
    #[arg(long, value_enum, default_value_t = BlockFormat::C)]
    pub(super) format: BlockFormat,
    /// The file to write, never over another [default: stdout]
    #[arg(long, value_name = "FILE")]
    pub(super) out: Option<PathBuf>,
    /// Print everything as JSON on stdout: block, reasons, margins, hidden faults
    #[arg(long)]
    pub(super) json: bool,
    /// Make the block in spite of what stands against it, and say why; goes into the block's comment
    #[arg(long, value_name = "WHY", value_parser = one_line)]
    pub(super) accept: Option<String>,
    /// Read a block back from any of the formats and say what is in it
    #[arg(long, value_name = "FILE", conflicts_with_all = ["captures", "out", "accept"])]
    pub(super) read: Option<PathBuf>,
    /// Make a block of the version before again, with what is usual where it said nothing
    #[arg(long, value_name = "FILE", conflicts_with_all = ["captures", "read", "json"])]
    pub(super) remake: Option<PathBuf>,
    /// ADC bits of the board that will blend: refuses captures or a block of others
    #[arg(long, value_name = "BITS")]
    pub(super) board_bits: Option<u8>,
    /// Steps a second of the board that will blend
    #[arg(long, value_name = "HZ", default_value_t = BOARD_RATE_HZ, value_parser = clap::value_parser!(u16).range(1..))]
    pub(super) board_rate_hz: u16,
    /// Inputs that its core was built for (PP_MAX_INPUTS)
    #[arg(long, value_name = "N", default_value_t = 3)]
    pub(super) core_inputs: usize,
    /// Curve pieces that its core was built for (PP_MAX_SEGMENTS)
    #[arg(long, value_name = "N", default_value_t = 16)]
    pub(super) core_segments: usize,
    /// Bits of the DAC
    #[arg(long, value_name = "BITS", default_value_t = 12)]
    pub(super) dac_bits: u8,
    /// Full scale of the DAC in millivolts
    #[arg(long, value_name = "MV", default_value_t = 5000.0)]
    pub(super) dac_vref_mv: f64,
    /// Output at zero command in millivolts
    #[arg(long, value_name = "MV", default_value_t = 0.0)]
    pub(super) output_zero_mv: f64,
    /// Output at full command in millivolts [default: the DAC's full scale]
    #[arg(long, value_name = "MV")]
    pub(super) output_full_mv: Option<f64>,
    /// The controller faults on 0 V: wait at the output of zero command (a stop is 0 V all the same)
    #[arg(long)]
    pub(super) wait_at_zero: bool,
    /// The reference inside the board's part in millivolts
    #[arg(long, value_name = "MV", default_value_t = OWN_REFERENCE_MV)]
    pub(super) reference_mv: f64,
    /// Least seconds from zero to full command; 0 is no limit
    #[arg(long, value_name = "S", default_value_t = 1.0)]
    pub(super) rise_s: f64,
    /// Least seconds from full to zero command; a stop is not limited
    #[arg(long, value_name = "S", default_value_t = 0.2)]
    pub(super) fall_s: f64,
    /// Largest error of a curve in percent of full command
    #[arg(long, value_name = "PCT", default_value_t = 1.0)]
    pub(super) curve_error: f64,
    /// Bad samples until the board stops [default: about half of what the profile's stop_within_ms allows]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    pub(super) persistence: Option<u16>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum BlockFormat {
    /// C header, for a core that reads its block from flash
    C,
    /// EEPROM image as Intel HEX
    Ihex,
    /// JSON
    Json,
}
