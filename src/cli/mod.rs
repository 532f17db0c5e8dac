//! Arguments, wiring together, exit code. No arithmetic.

mod args;
mod assess;
mod batch;
mod blend;
mod blocks;
mod board;
mod constants;
mod demo;
mod examples;
mod flashed;
mod history;
mod kept;
mod lead;
mod offers;
mod papers;
mod places;
mod ports;
mod profile;
mod prove;
mod recent;
mod record;
mod report;
mod screen;
mod watch;
mod whole;
mod wiring;

use args::{Arguments, Command};
use clap::Parser;
use measure::judge::Verdict;
use std::ffi::OsString;
use std::process::ExitCode;

/// What a command came to; the exit code is part of the contract (DESIGN 4.3).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Outcome {
    /// Pass, or done: 0.
    Good,
    /// Fail: 1.
    Fail,
    /// Undecided: 3.
    Undecided,
}

impl From<Option<Verdict>> for Outcome {
    fn from(verdict: Option<Verdict>) -> Self {
        match verdict {
            None | Some(Verdict::Pass) => Self::Good,
            Some(Verdict::Fail) => Self::Fail,
            Some(Verdict::Undecided) => Self::Undecided,
        }
    }
}

/// Runs the program with these arguments (the first is the program's name) and gives its exit code: 0 pass or
/// done, 1 fail, 2 wrong use or bad input, 3 undecided.
#[must_use]
pub fn run(arguments: impl Iterator<Item = OsString>) -> ExitCode {
    let parsed = match Arguments::try_parse_from(arguments) {
        Ok(parsed) => parsed,
        Err(refusal) => {
            // Help and version go to stdout and are no failure.
            let code = if refusal.use_stderr() { 2 } else { 0 };
            let _ = refusal.print();
            return ExitCode::from(code);
        }
    };
    match dispatch(parsed) {
        Ok(Outcome::Good) => ExitCode::SUCCESS,
        Ok(Outcome::Fail) => ExitCode::from(1),
        Ok(Outcome::Undecided) => ExitCode::from(3),
        Err(refusal) => {
            eprintln!("pedalproof: {}", told(&refusal));
            ExitCode::from(2)
        }
    }
}

fn dispatch(mut arguments: Arguments) -> anyhow::Result<Outcome> {
    let config = places::config()?;
    arguments.look.ascii |= config.ascii.unwrap_or(false);
    arguments.look.mouse |= config.mouse.unwrap_or(false);
    arguments.look.baud = arguments.look.baud.or(config.baud);
    if arguments.command.is_some() && arguments.block.is_some() {
        anyhow::bail!("--block before a command is for the screen alone: put it after the command");
    }
    match arguments.command {
        None => screen::open(&arguments.look, arguments.port, arguments.block.as_deref()),
        Some(Command::Demo(demo)) => demo::run(&demo, &arguments.look),
        Some(Command::Ports) => ports::run(),
        Some(Command::Record(record)) => record::run(record, arguments.look.baud()),
        Some(Command::Assess(assess)) => assess::run(&assess),
        Some(Command::History(wanted)) => history::run(&wanted),
        Some(Command::Examples(wanted)) => examples::run(&wanted),
        Some(Command::Report(wanted)) => report::run(&wanted),
        Some(Command::Board(board)) => board::run(&board),
        Some(Command::Handbook) => {
            print(&crate::report::handbook())?;
            Ok(Outcome::Good)
        }
        Some(Command::Man(wanted)) => papers::man(&wanted),
        Some(Command::Completions(wanted)) => papers::completions(&wanted),
        Some(Command::Wiring(wanted)) => wiring::run(&wanted),
        Some(Command::Prove(wanted)) => prove::run(&wanted, arguments.look.baud()),
        Some(Command::Profile(wanted)) => profile::run(&wanted),
        Some(Command::Constants(wanted)) => constants::run(&wanted),
        Some(Command::Blend(wanted)) => blend::run(&wanted),
    }
}

/// An error with its causes, each said once: many an error names its cause in its own words.
fn told(refusal: &anyhow::Error) -> String {
    refusal.chain().fold(String::new(), |words, cause| {
        let cause = cause.to_string();
        match words {
            words if words.is_empty() => cause,
            words if words.contains(&cause) => words,
            words => format!("{words}: {cause}"),
        }
    })
}

/// Writes to stdout; a reader that has gone away is no error worth telling.
fn print(text: &str) -> anyhow::Result<()> {
    use std::io::Write;
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => Err(anyhow::Error::from(e).context(
            "the answer cannot be written to the standard output, and what is there of it is not whole",
        )),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::told;
    use anyhow::Context;

    #[test]
    fn a_cause_is_said_once() {
        #[derive(Debug, thiserror::Error)]
        #[error("cannot read it: {source}")]
        struct Said {
            source: std::fmt::Error,
        }
        let said = Said {
            source: std::fmt::Error,
        };
        let error = anyhow::Error::from(said).context("first");
        let cause = std::fmt::Error.to_string();
        assert_eq!(told(&error), format!("first: cannot read it: {cause}"));
        let error = Err::<(), _>(std::fmt::Error).context("first").unwrap_err();
        assert_eq!(told(&error), format!("first: {cause}"));
    }
}
