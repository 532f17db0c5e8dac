//! Arguments of `pedalproof prove`.

use crate::bench::ProofOptions;
use crate::capture::ChannelMeta;
use crate::cli::input::one_line;
use crate::cli::stream_args::StreamArgs;
use crate::constants::Block;
use crate::proof::{Fault, Marks};
use clap::Args;
use measure::units::{REFERENCE_MV, Role};
use std::path::PathBuf;

/// Hold a flashed board's output against its constants file.
///
/// A measuring board samples the blending board's inputs and its output. Everywhere that the readings leave no doubt the output
/// must be what the constants file says, and with --faults every fault must bring it to zero, in time and for good.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof prove --demo\n  pedalproof prove --demo --faults\n  pedalproof prove --block T1.hex T1-board.csv\n  pedalproof prove --block T1.hex --port /dev/ttyUSB0 --out T1-board\n  pedalproof prove --block T1.hex --port /dev/ttyUSB0 --faults --profile pedal-hall-two-track --out T1-faults"
)]
#[allow(clippy::struct_excessive_bools)] // each is a flag of its own
pub(in crate::cli) struct ProveArgs {
    /// A recording of inputs and output, `-` is stdin; with --faults taken, the file of marks beside it is read, too
    #[arg(value_name = "RECORDING", conflicts_with_all = ["port", "demo", "faults"])]
    pub(super) capture: Option<PathBuf>,
    /// The constants file that the board was flashed with: C header, Intel HEX or JSON
    #[arg(long, value_name = "FILE")]
    pub(super) block: Option<PathBuf>,
    /// Measure now, on this port; `-` takes the stream from stdin
    #[arg(long, value_name = "PATH", conflicts_with = "demo", value_parser = one_line)]
    pub(super) port: Option<String>,
    /// Measure a simulated board flashed with the constants file: no hardware needed
    #[arg(long)]
    pub(super) demo: bool,
    /// Keep the recording under this name (and the demo's constants file beside it); without it, it goes into a temporary folder
    #[arg(long, value_name = "NAME")]
    pub(super) out: Option<PathBuf>,
    /// How long to measure, without --faults [default: 60]
    #[arg(long, value_name = "S", value_parser = clap::value_parser!(u32).range(1..=86_400))]
    pub(super) seconds: Option<u32>,
    /// Lead through faults, each with its wire and pin: every signal wire pulled, on ground, on the supply; tracks joined, the DAC's
    /// wire, a reset, a dip of the supply. Enter leaves one out: it then counts as not tested
    #[arg(long)]
    pub(super) faults: bool,
    /// The faults to make, in order: those of a wire on every input
    #[arg(
        long,
        value_delimiter = ',',
        value_name = "FAULT,...",
        default_value = "open,ground,supply,tracks-joined,dac-wire,reset,power-dip",
        requires = "faults"
    )]
    pub(super) round: Vec<Fault>,
    /// The wheels are off the ground or the motor leads off: do not ask
    #[arg(long)]
    pub(super) yes: bool,
    /// The columns of the constants file's inputs, in its order [default: the signal columns as they stand]
    #[arg(long, value_delimiter = ',', value_name = "NAME,...", value_parser = one_line)]
    pub(super) inputs: Option<Vec<String>>,
    /// The column of the board's output [default: the one called output, out or dac]
    #[arg(long, value_name = "NAME", value_parser = one_line)]
    pub(super) output: Option<String>,
    /// ADC reference of the blending board in millivolts [default: the measuring board's]
    #[arg(long, value_name = "MV", value_parser = millivolts)]
    pub(super) board_vref_mv: Option<f64>,
    /// Reference of its DAC in millivolts [default: its ADC's]
    #[arg(long, value_name = "MV", value_parser = millivolts)]
    pub(super) dac_vref_mv: Option<f64>,
    /// Largest departure of the output, percent of full output. 1 % is above what the readings of two 10-bit boards leave open
    /// and below an edge that is off by 2 % of the travel
    #[arg(long, value_name = "PCT", default_value_t = 1.0, value_parser = percent)]
    pub(super) within_pct: f64,
    /// A profile: its stop_within_ms, and what its wiring hides. One for each control in the constants file's order, or that of the
    /// pedal or lever alone [default: what the constants file's persistence allows]
    #[arg(long)]
    pub(super) profile: Vec<String>,
    /// Print JSON
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) stream: StreamArgs,
}

impl ProveArgs {
    pub(super) fn options<'a>(&'a self, block: &'a Block) -> ProofOptions<'a> {
        ProofOptions {
            block,
            inputs: self.inputs.as_deref(),
            output: self.output.as_deref(),
            board_vref_mv: self.board_vref_mv,
            dac_vref_mv: self.dac_vref_mv,
            within_pct: self.within_pct,
            profiles: Vec::new(),
            marks: Marks::default(),
        }
    }

    /// What was said of the columns: the output's role goes into the recording.
    pub(super) fn stated(&self) -> Vec<(String, ChannelMeta)> {
        let mut channels = self.stream.channels.clone();
        if let Some(name) = &self.output {
            channels.retain(|(known, _)| known != name);
            channels.push((
                name.clone(),
                ChannelMeta {
                    role: Role::Output,
                    track: None,
                },
            ));
        }
        channels
    }
}

fn positive(text: &str, most: f64) -> Option<f64> {
    let number = text.trim().parse::<f64>().ok()?;
    (number.is_finite() && number > 0.0 && number <= most).then_some(number)
}

fn millivolts(text: &str) -> Result<f64, String> {
    let mv = text.trim().parse::<f64>().ok();
    mv.filter(|mv| REFERENCE_MV.contains(mv)).ok_or_else(|| {
        format!("`{text}` is no reference in millivolts from 1 to 1000000, e.g. 5000")
    })
}

fn percent(text: &str) -> Result<f64, String> {
    positive(text, 100.0).ok_or_else(|| format!("`{text}` is no percentage above 0, at most 100"))
}
