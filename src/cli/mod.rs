//! Arguments, wiring together, exit code. No arithmetic.

mod args;
mod commands;
mod imported;
mod inl_args;
mod input;
mod outcome;
mod output;
mod paths;
mod progress;
mod records;
mod screen;
mod screen_args;
mod simulated;
mod stream_args;
mod wildcards;

use crate::outlet::{self, Shown, Talk, say_part, tell};
use args::{Arguments, Command};
use commands::{
    assess, blend, board, constants, demo, examples, history, import, machine, man_pages, ports,
    profile, prove, record, report, schema, wiring,
};
use outcome::{Outcome, error_message, in_line};
use std::ffi::OsString;
use std::path::Path;
use std::process::ExitCode;

/// Runs the program with these arguments (the first is the program's name) and gives its exit code: 0 pass or
/// done, 1 fail, 2 wrong use or bad input, 3 undecided.
pub fn run(arguments: impl Iterator<Item = OsString>) -> ExitCode {
    let arguments: Vec<OsString> = if cfg!(windows) {
        wildcards::expanded(arguments) // elsewhere the shell has done it
    } else {
        arguments.collect()
    };
    let parsed = match Arguments::read(arguments.clone()) {
        Ok(parsed) => parsed,
        Err(refusal) => return refused(&refusal, &arguments),
    };
    match dispatch(parsed) {
        Ok(Outcome::Good) => ExitCode::SUCCESS,
        Ok(Outcome::Fail) => ExitCode::from(1),
        Ok(Outcome::Undecided) => ExitCode::from(3),
        Err(error) => {
            let said = in_line(error_message(&error), &arguments);
            say_part(&format!("pedalproof: {said}\n"));
            ExitCode::from(2)
        }
    }
}

/// Help and version, which are no failure, and what is wrong with the arguments.
fn refused(refusal: &clap::Error, arguments: &[OsString]) -> ExitCode {
    if !refusal.use_stderr() {
        return match refusal.print() {
            Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => {
                tell!("pedalproof: the standard output cannot be written: {e}");
                ExitCode::from(2)
            }
            _ => ExitCode::SUCCESS,
        };
    }
    // It repeats what was given: as it can be shown.
    let shown = arguments
        .iter()
        .map(|argument| Path::new(argument).shown().into_owned().into());
    match Arguments::read(shown) {
        Err(refusal) if refusal.use_stderr() => say_part(&refusal.render().to_string()),
        _ => say_part(&refusal.render().to_string()),
    }
    ExitCode::from(2)
}

fn dispatch(mut arguments: Arguments) -> anyhow::Result<Outcome> {
    outlet::talk(match (arguments.quiet, arguments.verbose) {
        (true, _) => Talk::Errors,
        (_, true) => Talk::All,
        _ => Talk::Usual,
    });
    let config = paths::config()?;
    arguments.screen.ascii |= config.ascii.unwrap_or(false);
    arguments.screen.mouse |= config.mouse.unwrap_or(false);
    arguments.screen.details |= config.details.unwrap_or(false);
    arguments.screen.silent |= config.silent.unwrap_or(false);
    arguments.screen.baud = arguments.screen.baud.or(config.baud);
    if arguments.command.is_some() && arguments.block.is_some() {
        anyhow::bail!("--block before a command is for the screen alone: put it after the command");
    }
    match arguments.command {
        None => screen::open(
            &arguments.screen,
            arguments.port,
            arguments.block.as_deref(),
        ),
        Some(Command::Demo(args)) => demo::run(&args, &arguments.screen),
        Some(Command::Ports) => ports::run(),
        Some(Command::Record(args)) => record::run(args, arguments.screen.baud),
        Some(Command::Assess(args)) => assess::run(&args),
        Some(Command::History(args)) => history::run(&args),
        Some(Command::Machine(args)) => machine::run(&args, &arguments.screen),
        Some(Command::Examples(args)) => examples::run(&args),
        Some(Command::Report(args)) => report::run(&args),
        Some(Command::Import(args)) => import::run(*args),
        Some(Command::Board(args)) => board::run(&args),
        Some(Command::Handbook) => {
            output::print(&crate::report::handbook())?;
            Ok(Outcome::Good)
        }
        Some(Command::Man(args)) => man_pages::man(&args, Arguments::tree()),
        Some(Command::Completions(args)) => man_pages::completions(&args, Arguments::tree()),
        Some(Command::Schema(args)) => schema::run(&args),
        Some(Command::Wiring(args)) => wiring::run(&args),
        Some(Command::Prove(args)) => prove::run(&args, arguments.screen.baud),
        Some(Command::Profile(args)) => profile::run(&args),
        Some(Command::Constants(args)) => constants::run(&args),
        Some(Command::Blend(args)) => blend::run(&args),
    }
}
