//! What can be asked for on the command line.
#![allow(clippy::doc_markdown)] // the doc comments here are help texts for the terminal

mod papers;

pub(super) use papers::{Completions, Man, Report, ReportFormat};

use crate::capture::ChannelMeta;
use crate::figure::FigureName;
use crate::units::{Role, Step, Track};
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Bench test for pedals, knobs and levers that are to command a motor.
///
/// Without a command the bench opens on the screen and asks for a source.
#[derive(Debug, Parser)]
#[command(name = "pedalproof", version, about, after_help = SAFETY)]
pub(super) struct Arguments {
    #[command(subcommand)]
    pub(super) command: Option<Command>,
    #[command(flatten)]
    pub(super) look: Look,
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
    /// The built-in profiles; check one, start one from captures, or print the schema
    Profile(Profile),
    History(History),
    /// Write out the example captures: simulated controls of four trolleys, and one lever over five seasons
    Examples(Examples),
    Report(Report),
    /// Write out the streamer firmware, ready to build
    Board(Board),
    /// Write manual pages
    Man(Man),
    /// Print completions of the commands for a shell
    Completions(Completions),
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
