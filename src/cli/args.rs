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
use clap::{Parser, Subcommand};
use std::path::PathBuf;
use std::sync::LazyLock;

/// Bench test for pedals, knobs and levers that are to command a motor.
///
/// Without a command the bench opens on the screen and asks for a source.
#[derive(Debug, Parser)]
#[command(name = "pedalproof", version = VERSION.as_str(), about, after_help = SAFETY)]
pub(super) struct Arguments {
    #[command(subcommand)]
    pub(super) command: Option<Command>,
    /// The port to offer first on the screen, also one that `pedalproof ports` does not list
    #[arg(long, value_name = "PATH", value_parser = super::input::one_line)]
    pub(super) port: Option<String>,
    #[command(flatten)]
    pub(super) screen: ScreenArgs,
    /// A block to look at and to prove a flashed board against on the screen: C header, Intel HEX or JSON
    #[arg(long, value_name = "FILE")]
    pub(super) block: Option<PathBuf>,
}

/// With the commit that it was built from, where the build says it, and for which system.
static VERSION: LazyLock<String> = LazyLock::new(|| {
    let commit =
        option_env!("BUILT_FROM_COMMIT").map_or(String::new(), |at| format!("commit {at}, "));
    let (system, machine) = (std::env::consts::OS, std::env::consts::ARCH);
    format!("{} ({commit}{machine} {system})", env!("CARGO_PKG_VERSION"))
});

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
An option counts before a variable, a variable before the file.

Exit codes: 0 pass or done, 1 fail, 2 wrong use or bad input, 3 undecided.";

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// The bench with a simulated board: no hardware needed
    Demo(DemoArgs),
    /// What could be a board, and what to do if it may not be opened
    #[command(after_help = "Examples:\n  pedalproof ports")]
    Ports,
    /// Take a capture without the screen
    Record(RecordArgs),
    // Its own words, and those of `history` and `report`, are at the arguments: the long ones show in `--help`.
    Assess(AssessArgs),
    /// Expected readings, pull-up choice and single faults of a profile's wiring
    Wiring(WiringArgs),
    /// Hold a flashed board's output against its block, and lead through a round of faults
    Prove(Box<ProveArgs>),
    /// The built-in profiles; check one, start one from captures, or print the schema
    Profile(ProfileArgs),
    History(HistoryArgs),
    Machine(MachineArgs),
    /// Write out the example captures: simulated controls of four trolleys, and one lever over five seasons
    Examples(ExamplesArgs),
    Report(ReportArgs),
    Import(Box<ImportArgs>),
    /// Write out the streamer firmware, ready to build
    Board(BoardArgs),
    /// Print the handbook of figures: what each is, its formula, what it needs, its source (Markdown)
    #[command(after_help = "Examples:\n  pedalproof handbook > figures.md")]
    Handbook,
    /// Write manual pages
    Man(ManArgs),
    /// Print completions of the commands for a shell
    Completions(CompletionsArgs),
    /// Print the JSON Schema of any format that is written
    Schema(SchemaArgs),
    /// Choose the numbers for the blending firmware from captures, or read a block back
    Constants(ConstantsArgs),
    /// What the board will put out, from a block
    Blend(BlendArgs),
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
}
