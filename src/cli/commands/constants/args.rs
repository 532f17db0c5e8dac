//! Arguments of `pedalproof constants`.

use crate::cli::inl_args::InlArgs;
use crate::cli::input::one_line;
use crate::constants::OWN_REFERENCE_MV;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// Steps a second of the blending firmware, as `boards/config.h` has them; a test compares.
pub(super) const BOARD_RATE_HZ: u16 = 1000;

/// Choose the numbers for the throttle board, or read a constants file back
///
/// Inputs come in the order of the recordings, a second track after its first; the first pedal or lever gives the start
/// condition. The constants file goes to stdout or --out, what to do to stderr. A part that did not pass is refused.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof constants T1-pedal.csv T1-dial.csv --format ihex --out T1.hex\n  pedalproof constants T1-pedal.csv --profile pedal-hall-two-track --tag T1-pedal --json\n  pedalproof constants --read T1.hex"
)]
pub(in crate::cli) struct ConstantsArgs {
    /// Recordings, one for each control, in the order of the board's pins; `-` is stdin: the metadata and then the CSV
    #[arg(required_unless_present_any = ["read", "remake"], value_name = "RECORDING")]
    pub(super) captures: Vec<PathBuf>,
    /// The profile, a file or a built-in name: one for all recordings, or one for each in order; without it, those that the
    /// recordings name
    #[arg(long, value_name = "PROFILE")]
    pub(super) profile: Vec<String>,
    #[command(flatten)]
    pub(super) inl: InlArgs,
    /// The tag that a recording must be of, one for each in order
    #[arg(long, value_name = "TAG", value_parser = one_line)]
    pub(super) tag: Vec<String>,
    /// Format of the constants file [default: as --out ends, .h, .hex or .json; else c]
    #[arg(long, value_enum)]
    pub(super) format: Option<BlockFormat>,
    /// The file to write, never over another [default: stdout]
    #[arg(long, value_name = "FILE")]
    pub(super) out: Option<PathBuf>,
    /// Say why each number is what it is, and how far it is from where it would be wrong
    #[arg(long)]
    pub(super) why: bool,
    /// Print everything as JSON on stdout: numbers, reasons, margins, hidden faults
    #[arg(long)]
    pub(super) json: bool,
    /// Write the constants anyway; give your reason (stored in the file)
    #[arg(long, value_name = "WHY", value_parser = one_line)]
    pub(super) accept: Option<String>,
    /// Read a constants file back, of any format, and say what is in it
    #[arg(long, value_name = "FILE", conflicts_with_all = ["captures", "out", "accept", "inl_codes"])]
    pub(super) read: Option<PathBuf>,
    /// Make an old constants file (version 1) anew, with the usual values where it said nothing
    #[arg(long, value_name = "FILE", conflicts_with_all = ["captures", "read", "json", "inl_codes"])]
    pub(super) remake: Option<PathBuf>,
    /// ADC bits of the board that will blend: refuses recordings or a constants file of others
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
    /// Ramp-up time from zero to full, at least (s); 0 = no ramp
    #[arg(long, value_name = "S", default_value_t = 1.0)]
    pub(super) rise_s: f64,
    /// Ramp-down time from full to zero, at least (s); a stop has no ramp
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
    /// C header, for a core that reads its constants file from flash
    C,
    /// EEPROM image as Intel HEX
    Ihex,
    /// JSON
    Json,
}
