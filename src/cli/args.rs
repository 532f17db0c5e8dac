//! The command line: options for all commands, and the commands.
#![allow(clippy::doc_markdown)] // doc comments here are help texts for the terminal

use super::commands::{
    assess::AssessArgs,
    blend::BlendArgs,
    board::BoardArgs,
    constants::ConstantsArgs,
    demo::DemoArgs,
    examples::ExamplesArgs,
    history::HistoryArgs,
    import::ImportArgs,
    machine::MachineArgs,
    man_pages::{CompletionsArgs, ManArgs},
    profile::ProfileArgs,
    prove::ProveArgs,
    record::RecordArgs,
    report::ReportArgs,
    schema::SchemaArgs,
    wiring::WiringArgs,
};
use super::screen_args::ScreenArgs;
use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use std::path::PathBuf;
use std::sync::LazyLock;

/// Test a pedal, knob or lever before it controls a motor.
///
/// Without a command the bench opens on the screen.
#[derive(Debug, Parser)]
#[command(name = "pedalproof", bin_name = "pedalproof", version = VERSION.as_str(), about, after_help = SAFETY)]
pub(super) struct Arguments {
    #[command(subcommand)]
    pub(super) command: Option<Command>,
    /// Offer this port first on the screen
    #[arg(long, value_name = "PATH", value_parser = super::input::one_line)]
    pub(super) port: Option<String>,
    #[command(flatten)]
    pub(super) screen: ScreenArgs,
    /// Say nothing beside the answer and what went wrong
    #[arg(long, short, global = true)]
    pub(super) quiet: bool,
    /// Say what is done to ports and files
    #[arg(long, short, global = true, conflicts_with = "quiet")]
    pub(super) verbose: bool,
    /// Look at this constants file on the screen, or test a flashed board with it (C header, Intel HEX or JSON)
    #[arg(long, value_name = "FILE")]
    pub(super) block: Option<PathBuf>,
}

/// With the commit that it was built from, where the build says it, and for which system.
static VERSION: LazyLock<String> = LazyLock::new(|| {
    let commit =
        option_env!("BUILT_FROM_COMMIT").map_or(String::new(), |at| format!("commit {at}, "));
    let (system, machine) = (std::env::consts::OS, std::env::consts::ARCH);
    let target = format!("{machine}-{system}{ENVIRONMENT}");
    format!("{} ({commit}{target})", env!("CARGO_PKG_VERSION"))
});

/// What tells two builds for one system apart: `musl` needs nothing of it, the others its libraries.
const ENVIRONMENT: &str = if cfg!(target_env = "musl") {
    "-musl"
} else if cfg!(target_env = "gnu") {
    "-gnu"
} else if cfg!(target_env = "msvc") {
    "-msvc"
} else {
    ""
};

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
                      it may say records = \"FOLDER\", ascii = true, mouse = true, details = true, silent = true, baud = 115200
  NO_COLOR            no colours
Options override variables, which override the configuration file.

Exit codes: 0 pass or done, 1 fail, 2 wrong use or bad input, 3 undecided.";

impl Arguments {
    /// The whole command line, in whose help an option stands only where it does something.
    pub(super) fn tree() -> clap::Command {
        let program = Self::command();
        let options = program
            .get_arguments()
            .filter(|option| option.is_global_set());
        let options: Vec<clap::Arg> = options.cloned().collect();
        program.mut_subcommands(|command| {
            let used: &[&str] = match command.get_name() {
                "demo" => &["quiet", "ascii", "mouse", "details", "color", "silent"],
                "machine" => &[
                    "quiet", "verbose", "ascii", "mouse", "details", "color", "silent", "baud",
                ],
                "record" | "prove" => &["quiet", "verbose", "baud"],
                "handbook" | "schema" | "completions" => &[],
                _ => &["quiet", "verbose"],
            };
            let hidden = |used: &[&str]| -> Vec<clap::Arg> {
                let unused = options.iter();
                let unused = unused.filter(|option| !used.contains(&option.get_id().as_str()));
                unused.map(|option| option.clone().hide(true)).collect()
            };
            // A screen is opened by the command itself, never by what it does with a word behind it.
            let command = command.mut_subcommands(|own| own.args(hidden(&["quiet", "verbose"])));
            command.args(hidden(used))
        })
    }

    /// What was given on the command line.
    pub(super) fn read(
        given: impl IntoIterator<Item = std::ffi::OsString>,
    ) -> Result<Self, clap::Error> {
        Self::from_arg_matches(&Self::tree().try_get_matches_from(given)?)
    }
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Try the bench on a simulated part: no hardware needed
    Demo(DemoArgs),
    /// Write example recordings to try things on
    Examples(ExamplesArgs),
    /// Check the wiring: which broken wire would go unnoticed, and what to change
    Wiring(WiringArgs),
    /// List serial ports (and fix "permission denied")
    #[command(after_help = "Examples:\n  pedalproof ports")]
    Ports,
    /// Record without the screen
    Record(RecordArgs),
    // Its own words, and those of `history` and `report`, are at the arguments: the long ones show in `--help`.
    Assess(AssessArgs),
    Report(ReportArgs),
    /// Choose the numbers for the throttle board, or read a constants file back
    Constants(ConstantsArgs),
    /// Show what the board will put out
    Blend(BlendArgs),
    /// Write the firmware for the boards, with a page on how to build it
    Board(BoardArgs),
    /// Test a flashed board: right output everywhere, stop at every fault
    Prove(Box<ProveArgs>),
    Machine(MachineArgs),
    History(HistoryArgs),
    /// Kinds of controls that are built in; check one, or make one from good parts
    Profile(ProfileArgs),
    Import(Box<ImportArgs>),
    /// Print the handbook: what each result is, its formula, its source (Markdown)
    #[command(after_help = "Examples:\n  pedalproof handbook > figures.md")]
    Handbook,
    /// Print the JSON Schema of a format
    Schema(SchemaArgs),
    /// Print completions for a shell
    Completions(CompletionsArgs),
    /// Write manual pages
    Man(ManArgs),
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_arguments_are_consistent() {
        Arguments::tree().debug_assert();
    }

    /// A static build and one that needs the system's libraries do not read alike.
    #[test]
    fn the_version_says_what_it_was_built_for() {
        let triple = VERSION.rsplit([' ', '(', ')']).nth(1).unwrap();
        let parts: Vec<&str> = triple.split('-').collect();
        let want = [std::env::consts::ARCH, std::env::consts::OS];
        assert_eq!(parts[..2], want, "{triple}");
        let musl = cfg!(target_env = "musl");
        assert_eq!(parts.get(2) == Some(&"musl"), musl, "{triple}");
        let none = cfg!(not(any(
            target_env = "musl",
            target_env = "gnu",
            target_env = "msvc"
        )));
        assert_eq!(parts.len() == 2, none, "{triple}");
    }

    #[test]
    fn an_option_stands_in_the_help_where_it_does_something() {
        let help = |name: &str| {
            let mut program = Arguments::tree();
            program.build();
            let command = program.find_subcommand_mut(name).unwrap();
            command.render_long_help().to_string()
        };
        assert!(help("record").contains("--baud") && !help("record").contains("--mouse"));
        assert!(help("demo").contains("--mouse") && !help("demo").contains("--baud"));
        let mut program = Arguments::tree();
        program.build();
        let machine = program.find_subcommand_mut("machine").unwrap();
        let add = machine.find_subcommand_mut("add").unwrap();
        let add = add.render_long_help().to_string();
        for option in ["--baud", "--mouse", "--details", "--silent", "--ascii"] {
            assert!(!help("completions").contains(option), "{option}");
            assert!(!add.contains(option), "{option}");
        }
        assert!(help("machine").contains("--mouse") && add.contains("--quiet"));
        // It is taken all the same, before the command or behind it.
        let read =
            |words: &[&str]| Arguments::read(words.iter().map(|word| (*word).into())).unwrap();
        assert!(read(&["pedalproof", "ports", "--ascii"]).screen.ascii);
        assert!(
            read(&[
                "pedalproof",
                "--baud",
                "9600",
                "record",
                "--port",
                "x",
                "--out",
                "y"
            ])
            .screen
            .baud
                == Some(9600)
        );
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
                let taken = Arguments::read(words(&example).into_iter().map(Into::into));
                assert!(taken.is_ok(), "{example}: {:?}", taken.err());
            }
            commands.extend(command.get_subcommands().cloned());
        }
    }
}
