//! What can be asked for on the command line.
#![allow(clippy::doc_markdown)] // the doc comments here are help texts for the terminal

mod papers;

pub(super) use papers::{Completions, Man, Report, ReportFormat};

use crate::capture::ChannelMeta;
use crate::proof::Fault;
use clap::{Args, Parser, Subcommand, ValueEnum};
use measure::figure::FigureName;
use measure::units::{Role, Step, Track};
use std::path::PathBuf;

/// Bench test for pedals, knobs and levers that are to command a motor.
///
/// Without a command the bench opens on the screen and asks for a source.
#[derive(Debug, Parser)]
#[command(name = "pedalproof", version, about, after_help = SAFETY)]
pub(super) struct Arguments {
    #[command(subcommand)]
    pub(super) command: Option<Command>,
    /// The port to offer first on the screen, also one that `pedalproof ports` does not list
    #[arg(long, value_name = "PATH")]
    pub(super) port: Option<String>,
    #[command(flatten)]
    pub(super) look: Look,
    /// A block to look at and to prove a flashed board against on the screen: C header, Intel HEX or JSON
    #[arg(long, value_name = "FILE")]
    pub(super) block: Option<PathBuf>,
}

const SAFETY: &str = "A throttle can move a machine that weighs a tonne: drive wheels off the ground or motor leads off, \
traction battery isolated while wiring, an emergency stop that does not pass through the board under test. A bench \
verdict is no type approval.

Examples:
  pedalproof demo
  pedalproof ports
  pedalproof assess T1-pedal.csv

Environment:
  PEDALPROOF_RECORDS  folder of records
  PEDALPROOF_CONFIG   configuration file [default: pedalproof/config.toml in the platform's configuration folder];
                      it may say records = \"FOLDER\", ascii = true, baud = 115200
  NO_COLOR            no colours
An option counts before a variable, a variable before the file.

Exit codes: 0 pass or done, 1 fail, 2 wrong use or bad input, 3 undecided.";

/// How the screen looks.
#[derive(Debug, Clone, Args)]
pub(super) struct Look {
    /// Draw with plain ASCII characters only.
    #[arg(long, global = true)]
    pub(super) ascii: bool,
    /// Clicks choose a figure and the wheel stretches the trace; the terminal's own selection then needs shift
    #[arg(long, global = true)]
    pub(super) mouse: bool,
    /// Speed of the serial port [default: 115200]
    #[arg(long, global = true, value_name = "BAUD")]
    pub(super) baud: Option<u32>,
}

impl Look {
    /// Speed of the serial port when nobody says: what most boards' USB serial is set to.
    const BAUD: u32 = 115_200;

    /// Speed of the serial port.
    pub(super) fn baud(&self) -> u32 {
        self.baud.unwrap_or(Self::BAUD)
    }
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// The bench with a simulated board: no hardware needed
    Demo(Demo),
    /// What could be a board, and what to do if it may not be opened
    #[command(after_help = "Examples:\n  pedalproof ports")]
    Ports,
    /// Take a capture without the screen
    Record(Record),
    // Its own words, and those of `history` and `report`, are at the arguments: the long ones show in `--help`.
    Assess(Assess),
    /// Expected readings, pull-up choice and single faults of a profile's wiring
    Wiring(Wiring),
    /// Hold a flashed board's output against its block, and lead through a round of faults
    Prove(Box<Prove>),
    /// The built-in profiles; check one, start one from captures, or print the schema
    Profile(Profile),
    History(History),
    /// Write out the example captures: simulated controls of four trolleys, and one lever over five seasons
    Examples(Examples),
    Report(Report),
    /// Write out the streamer firmware, ready to build
    Board(Board),
    /// Print the handbook of figures: what each is, its formula, what it needs, its source (Markdown)
    #[command(after_help = "Examples:\n  pedalproof handbook > figures.md")]
    Handbook,
    /// Write manual pages
    Man(Man),
    /// Print completions of the commands for a shell
    Completions(Completions),
    /// Choose the numbers for the blending firmware from captures, or read a block back
    Constants(Constants),
    /// What the board will put out, from a block
    Blend(Blend),
}

/// Choose the numbers for the blending firmware, each with its reason and margin.
///
/// Inputs come in the order of the captures, a second track after its first; the first pedal or lever gives the start
/// condition. The block goes to stdout or --out, the reasons to stderr. A unit that did not pass is refused.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof constants T1-pedal.csv T1-dial.csv --format ihex --out T1.hex\n  pedalproof constants T1-pedal.csv --profile pedal-hall-two-track --tag T1-pedal --json\n  pedalproof constants --read T1.hex"
)]
pub(super) struct Constants {
    /// Captures, one for each control, in the order of the board's pins
    #[arg(required_unless_present = "read", value_name = "CAPTURE")]
    pub(super) captures: Vec<PathBuf>,
    /// The profile, a file or a built-in name: one for all captures, or one for each in order; without it, those that the
    /// captures name
    #[arg(long, value_name = "PROFILE")]
    pub(super) profile: Vec<String>,
    /// The tag that a capture must be of, one for each in order
    #[arg(long, value_name = "TAG")]
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
    #[arg(long, value_name = "WHY")]
    pub(super) accept: Option<String>,
    /// Read a block back from any of the formats and say what is in it
    #[arg(long, value_name = "FILE", conflicts_with_all = ["captures", "out", "accept"])]
    pub(super) read: Option<PathBuf>,
    /// ADC bits of the board that will blend: refuses captures or a block of others
    #[arg(long, value_name = "BITS")]
    pub(super) board_bits: Option<u8>,
    /// Steps a second of the board that will blend
    #[arg(long, value_name = "HZ", default_value_t = super::constants::BOARD_RATE_HZ, value_parser = clap::value_parser!(u16).range(1..))]
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
    /// Least seconds from zero to full command; 0 is no limit
    #[arg(long, value_name = "S", default_value_t = 1.0)]
    pub(super) rise_s: f64,
    /// Least seconds from full to zero command; a stop is not limited
    #[arg(long, value_name = "S", default_value_t = 0.2)]
    pub(super) fall_s: f64,
    /// Largest error of a curve in percent of full command
    #[arg(long, value_name = "PCT", default_value_t = 1.0)]
    pub(super) curve_error: f64,
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

/// What the board will put out: table and picture over two inputs, the first step from zero, both edges.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof blend --block T1.hex\n  pedalproof blend --block T1.hex --at pedal=512,dial=300 --json"
)]
pub(super) struct Blend {
    /// The block, in any of its formats
    #[arg(long, value_name = "FILE")]
    pub(super) block: PathBuf,
    /// Outputs for given input codes; factors that are not named are at full, check tracks agree
    #[arg(long, value_name = "NAME=CODE,...", value_parser = point)]
    pub(super) at: Vec<Point>,
    /// Names of the inputs in the block's order [default: pedal, dial for what multiplies, else inputN, which always works]
    #[arg(long, value_delimiter = ',', value_name = "NAME,...")]
    pub(super) names: Vec<String>,
    /// Print JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Codes of named inputs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Point(pub(super) Vec<(String, u16)>);

fn point(text: &str) -> Result<Point, String> {
    let one = |part: &str| {
        let (name, code) = part
            .split_once('=')
            .ok_or("say NAME=CODE, e.g. pedal=512,dial=300")?;
        let code = code
            .trim()
            .parse()
            .map_err(|_| format!("`{code}` is no code"))?;
        Ok::<_, String>((name.trim().to_owned(), code))
    };
    text.split(',')
        .map(one)
        .collect::<Result<_, _>>()
        .map(Point)
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof demo\n  pedalproof demo T3-lever --speed 4\n  pedalproof demo --plain --json > assessment.json"
)]
pub(super) struct Demo {
    /// Which simulated unit
    #[arg(default_value = "T1-pedal")]
    pub(super) unit: String,
    /// Seed of the simulation: the same seed gives the same stream
    #[arg(long, default_value_t = 1)]
    pub(super) seed: u64,
    /// How much faster than life the board runs [default: 1 on the screen, 4 without]
    #[arg(long)]
    pub(super) speed: Option<f64>,
    /// Run the card without the screen, as when stdout is no terminal
    #[arg(long)]
    pub(super) plain: bool,
    /// Print the assessment as JSON (implies --plain)
    #[arg(long)]
    pub(super) json: bool,
    /// Keep the capture under this name; without it, it goes into a temporary folder
    #[arg(long, value_name = "NAME")]
    pub(super) out: Option<PathBuf>,
    /// A block to look at on the screen, with this unit moving the point: C header, Intel HEX or JSON
    #[arg(long, value_name = "FILE", conflicts_with_all = ["plain", "json"])]
    pub(super) block: Option<PathBuf>,
}

/// What the user says of the stream of a board that does not say it itself.
#[derive(Debug, Clone, Args)]
pub(super) struct StreamArgs {
    /// ADC resolution of a board that prints bare numbers
    #[arg(long)]
    pub(super) bits: Option<u32>,
    /// ADC reference in millivolts of a board that prints bare numbers
    #[arg(long, value_name = "MV")]
    pub(super) vref_mv: Option<f64>,
    /// Samples a second of a board that prints bare numbers
    #[arg(long, value_name = "HZ")]
    pub(super) rate_hz: Option<f64>,
    /// Columns of a board that prints bare numbers, e.g. t_us,pedal_a,pedal_b
    #[arg(long, value_delimiter = ',', value_name = "NAME,...")]
    pub(super) columns: Option<Vec<String>>,
    /// What a column carries: NAME=signal:1, NAME=signal:2, NAME=supply, NAME=output
    #[arg(long = "channel", value_name = "NAME=ROLE[:TRACK]", value_parser = channel)]
    pub(super) channels: Vec<(String, ChannelMeta)>,
    /// What to do when the cable is pulled: wait for it to come back, or end
    #[arg(long, value_enum, default_value_t = OnUnplug::Wait)]
    pub(super) on_unplug: OnUnplug,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum OnUnplug {
    /// Wait for it to come back
    Wait,
    /// End the run and keep what was taken
    End,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof record --port /dev/ttyUSB0 --out T1-pedal --steps rest=2,full=2,strokes=10,release=12\n  pedalproof record --port /dev/ttyACM0 --out knob --steps rest=3,strokes=10 --bits 12 --vref-mv 3300 --columns knob"
)]
pub(super) struct Record {
    /// The port the board is on: see `pedalproof ports`
    #[arg(long, value_name = "PATH")]
    pub(super) port: String,
    /// Name of the capture: writes NAME.csv and NAME.csv-metadata.json
    #[arg(long, value_name = "NAME")]
    pub(super) out: PathBuf,
    /// Steps with their seconds; without it, the profile's card with its steps recognised from the signal
    #[arg(long, value_delimiter = ',', value_name = "STEP=SECONDS,...", value_parser = timed_step)]
    pub(super) steps: Vec<(Step, f64)>,
    /// The profile: a file, or the name of a built-in one
    #[arg(long)]
    pub(super) profile: Option<String>,
    /// What is written on the unit's sticker
    #[arg(long)]
    pub(super) tag: Option<String>,
    #[command(flatten)]
    pub(super) stream: StreamArgs,
}

/// Figures, findings and verdict of one capture or of many
///
/// Several captures, or a folder, are done side by side and give a line each (with --json an assessment a line). One that
/// cannot be read does not stop the others and is named on stderr. Exit code then: 2 if any could not be assessed, else 1 if any
/// failed, else 3 if any is undecided, else 0.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof assess T1-pedal.csv\n  pedalproof assess T1-pedal.csv --profile pedal-hall-two-track --json\n  pedalproof assess captures T4-dial.csv --keep\n  pedalproof assess T1-pedal.csv --explain return_scatter\n  pedalproof assess --explain hysteresis"
)]
pub(super) struct Assess {
    /// The captures' CSV files, their metadata beside them; or folders of such
    #[arg(required_unless_present = "explain", value_name = "CAPTURE")]
    pub(super) captures: Vec<PathBuf>,
    /// The profile: a file, or the name of a built-in one; without it, the one that the capture names
    #[arg(long)]
    pub(super) profile: Option<String>,
    /// Print JSON
    #[arg(long)]
    pub(super) json: bool,
    /// Keep the assessment as a record of the unit, for comparison with the next one
    #[arg(long)]
    pub(super) keep: bool,
    /// Where records are kept [default: PEDALPROOF_RECORDS, the configuration file, the platform's data folder]
    #[arg(long, value_name = "FOLDER", requires = "keep")]
    pub(super) records: Option<PathBuf>,
    /// Explain one figure instead: definition, formula, source, and what the capture used for it or lacks. Without a
    /// capture, the figure alone. No verdict: the exit code is 0
    #[arg(long, value_name = "FIGURE", conflicts_with = "json")]
    pub(super) explain: Option<FigureName>,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof wiring dial-rheostat\n  pedalproof wiring pedal-three-wire --bits 12 --json"
)]
pub(super) struct Wiring {
    /// The profile: a file, or the name of a built-in one
    pub(super) profile: String,
    /// Resolution of the board, for readings in codes
    #[arg(long, default_value_t = 10, value_parser = clap::value_parser!(u32).range(1..=24))]
    pub(super) bits: u32,
    /// Print JSON
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof profile\n  pedalproof profile check lever-shunting\n  pedalproof profile new --from T1.csv T2.csv T4.csv --name \"our pedal\" --kind pedal --out our-pedal.json\n  pedalproof profile schema > profile.schema.json"
)]
pub(super) struct Profile {
    #[command(subcommand)]
    pub(super) what: Option<ProfileCommand>,
}

#[derive(Debug, Subcommand)]
pub(super) enum ProfileCommand {
    /// Check and explain one profile
    #[command(
        after_help = "Examples:\n  pedalproof profile check lever-shunting\n  pedalproof profile check our-pedal.json"
    )]
    Check {
        /// A file, or the name of a built-in one
        profile: String,
    },
    /// Start a profile from captures of good units
    New(NewProfile),
    /// The JSON Schema of profiles, for editors
    #[command(after_help = "Examples:\n  pedalproof profile schema > profile.schema.json")]
    Schema,
}

/// Start a profile from captures of good units.
///
/// Limits are tolerance limits (ISO 16269-6): they are to hold 95 % of good units with 95 % confidence, and are wide when the
/// units are few. Captures of one tag count as one unit. The card is the steps that all captures have.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof profile new --from T1.csv T2.csv T4.csv --name \"our pedal\" --kind pedal --out our-pedal.json\n  pedalproof profile new --from T1.csv T2.csv --base pedal-hall-two-track --name \"our pedal\""
)]
pub(super) struct NewProfile {
    /// Captures of two or more good units
    #[arg(long, required = true, num_args = 1.., value_name = "CAPTURE")]
    pub(super) from: Vec<PathBuf>,
    /// What this kind of control is called
    #[arg(long)]
    pub(super) name: String,
    /// What sort of control [default: that of the base]
    #[arg(long, value_enum, required_unless_present = "base")]
    pub(super) kind: Option<Kind>,
    /// A profile that gives wiring, supply, start rule, and limits where the captures say nothing
    #[arg(long, value_name = "PROFILE")]
    pub(super) base: Option<String>,
    /// The file to write, never over another [default: stdout]
    #[arg(long, value_name = "FILE")]
    pub(super) out: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Kind {
    /// Worked by foot
    Pedal,
    /// Turned by hand
    Dial,
    /// Moved by hand
    Lever,
}

impl From<Kind> for crate::profile::Kind {
    fn from(kind: Kind) -> Self {
        match kind {
            Kind::Pedal => Self::Pedal,
            Kind::Dial => Self::Dial,
            Kind::Lever => Self::Lever,
        }
    }
}

/// The records that were kept: the list of units, or one unit over time
///
/// A unit's figures with their intervals at each record, which changes stand out from their uncertainties, the trend with when
/// it reaches a limit, and worn zones that grow.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof history\n  pedalproof history T3-lever\n  pedalproof history T3-lever --all --json\n  pedalproof history --records /srv/bench/records"
)]
pub(super) struct History {
    /// What is written on the unit's sticker; without it, all units
    pub(super) tag: Option<String>,
    /// Where records are kept [default: PEDALPROOF_RECORDS, the configuration file, the platform's data folder]
    #[arg(long, value_name = "FOLDER")]
    pub(super) records: Option<PathBuf>,
    /// Every figure, not only those with a limit and those that changed
    #[arg(long)]
    pub(super) all: bool,
    /// Print JSON
    #[arg(long)]
    pub(super) json: bool,
    /// Print the JSON Schema of records instead
    #[arg(long, conflicts_with_all = ["tag", "json", "all"])]
    pub(super) schema: bool,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof examples trolleys\n  pedalproof assess trolleys/T2-pedal.csv"
)]
pub(super) struct Examples {
    /// Where to write; is made when it is not there
    #[arg(default_value = "examples")]
    pub(super) folder: PathBuf,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  pedalproof board\n  pedalproof board firmware")]
pub(super) struct Board {
    /// Where to write; is made when it is not there
    #[arg(default_value = "board")]
    pub(super) folder: PathBuf,
}

/// Hold a flashed board's output against its block.
///
/// A measuring board samples the blending board's inputs and its output. Everywhere that the readings leave no doubt the output
/// must be what the block says, and with --faults every fault must bring it to zero, in time and for good.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof prove --demo\n  pedalproof prove --demo --faults\n  pedalproof prove --block T1.json T1-board.csv\n  pedalproof prove --block T1.hex --port /dev/ttyUSB0 --baud 1000000 --out T1-board\n  pedalproof prove --block T1.json --port /dev/ttyUSB0 --faults --profile pedal-hall-two-track --out T1-faults"
)]
#[allow(clippy::struct_excessive_bools)] // each is a flag of its own
pub(super) struct Prove {
    /// A capture of inputs and output; with --faults taken, the file of marks beside it is read, too
    #[arg(value_name = "CAPTURE", conflicts_with_all = ["port", "demo", "faults"], required_unless_present_any = ["port", "demo"])]
    pub(super) capture: Option<PathBuf>,
    /// The block that the board was flashed with: C header, Intel HEX or JSON
    #[arg(long, value_name = "FILE", required_unless_present = "demo")]
    pub(super) block: Option<PathBuf>,
    /// Measure now, on this port
    #[arg(long, value_name = "PATH", conflicts_with = "demo")]
    pub(super) port: Option<String>,
    /// Measure a simulated flashed board: no hardware needed
    #[arg(long)]
    pub(super) demo: bool,
    /// Keep the capture under this name (and the demo's block beside it); without it, it goes into a temporary folder
    #[arg(long, value_name = "NAME")]
    pub(super) out: Option<PathBuf>,
    /// How long to measure, without --faults [default: 60]
    #[arg(long, value_name = "S", value_parser = clap::value_parser!(u32).range(1..=86_400))]
    pub(super) seconds: Option<u32>,
    /// Lead through faults: pull the signal wire, short it to ground, short it to the supply. Enter leaves one out
    #[arg(long)]
    pub(super) faults: bool,
    /// The faults to make, in order
    #[arg(
        long,
        value_delimiter = ',',
        value_name = "FAULT,...",
        default_value = "open,ground,supply",
        requires = "faults"
    )]
    pub(super) round: Vec<Fault>,
    /// The wheels are off the ground or the motor leads off: do not ask
    #[arg(long)]
    pub(super) yes: bool,
    /// The columns of the block's inputs, in its order [default: the signal columns as they stand]
    #[arg(long, value_delimiter = ',', value_name = "NAME,...")]
    pub(super) inputs: Option<Vec<String>>,
    /// The column of the board's output [default: the one called output, out or dac]
    #[arg(long, value_name = "NAME")]
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
    /// A profile: its stop_within_ms, and what its wiring hides [default: what the block's persistence allows]
    #[arg(long)]
    pub(super) profile: Option<String>,
    /// Print JSON
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) stream: StreamArgs,
}

fn positive(text: &str, most: f64) -> Option<f64> {
    let number = text.trim().parse::<f64>().ok()?;
    (number.is_finite() && number > 0.0 && number <= most).then_some(number)
}

fn millivolts(text: &str) -> Result<f64, String> {
    positive(text, 100_000.0)
        .ok_or_else(|| format!("`{text}` is no reference in millivolts, e.g. 5000"))
}

fn percent(text: &str) -> Result<f64, String> {
    positive(text, 100.0).ok_or_else(|| format!("`{text}` is no percentage above 0, at most 100"))
}

fn timed_step(text: &str) -> Result<(Step, f64), String> {
    let (word, seconds) = text
        .split_once('=')
        .ok_or("say STEP=SECONDS, e.g. rest=2")?;
    let step = word.trim().parse::<Step>().map_err(|e| e.to_string())?;
    let number = seconds
        .trim()
        .parse::<f64>()
        .ok()
        .filter(|s| s.is_finite() && *s > 0.0 && *s <= 86_400.0);
    let seconds =
        number.ok_or_else(|| format!("`{seconds}` is no number of seconds between 0 and 86400"))?;
    Ok((step, seconds))
}

fn channel(text: &str) -> Result<(String, ChannelMeta), String> {
    let (name, what) = text
        .split_once('=')
        .ok_or("say NAME=ROLE or NAME=ROLE:TRACK, e.g. pedal_b=signal:2")?;
    let (role, track) = match what.split_once(':') {
        Some((role, track)) => (role, Some(track)),
        None => (what, None),
    };
    let role = role.parse::<Role>().map_err(|e| e.to_string())?;
    let track = track
        .map(|number| {
            number
                .parse::<u8>()
                .ok()
                .and_then(|n| Track::try_from(n).ok())
                .ok_or("a track is 1 or 2")
        })
        .transpose()?;
    let track = track.or((role == Role::Signal).then_some(Track::One));
    Ok((name.to_owned(), ChannelMeta { role, track }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_arguments_are_consistent() {
        Arguments::command().debug_assert();
    }

    /// The examples of a command's help.
    fn examples(command: &clap::Command) -> Vec<String> {
        let help = command.get_after_help().map(ToString::to_string);
        let help = help.unwrap_or_default();
        let lines = help.lines().map(str::trim);
        let lines = lines.filter(|line| line.starts_with("pedalproof ") && !line.contains(": "));
        lines.map(str::to_owned).collect()
    }

    /// An example's words as a shell would part them: quotes hold, what follows `>` is a file.
    fn words(example: &str) -> Vec<String> {
        let command = example.split(" > ").next().unwrap();
        let parts = command.split('"').enumerate();
        parts
            .flat_map(|(k, part)| match k % 2 {
                0 => part.split_whitespace().map(str::to_owned).collect(),
                _ => vec![part.to_owned()],
            })
            .collect()
    }

    #[test]
    fn every_command_shows_examples_and_every_example_is_taken() {
        let mut commands = vec![Arguments::command()];
        while let Some(command) = commands.pop() {
            let examples = examples(&command);
            assert!(!examples.is_empty(), "no example: {}", command.get_name());
            for example in examples {
                let taken = Arguments::try_parse_from(words(&example));
                assert!(taken.is_ok(), "{example}: {:?}", taken.err());
            }
            commands.extend(command.get_subcommands().cloned());
        }
    }

    #[test]
    fn steps_and_channels_are_read() {
        assert_eq!(timed_step("rest=2"), Ok((Step::Rest, 2.0)));
        assert!(
            timed_step("rest=-2").is_err()
                && timed_step("rest").is_err()
                && timed_step("nap=2").is_err()
        );
        assert_eq!(
            channel("b=signal:2").unwrap().1,
            ChannelMeta {
                role: Role::Signal,
                track: Some(Track::Two)
            }
        );
        assert_eq!(
            channel("v=supply").unwrap().1,
            ChannelMeta {
                role: Role::Supply,
                track: None
            }
        );
        assert!(channel("b=signal:3").is_err() && channel("b").is_err());
    }
}
