//! Arguments, wiring together, exit code.

use std::ffi::OsString;
use std::process::ExitCode;

/// Runs the program with these arguments (the first is the program's name) and gives its exit code.
#[must_use]
pub fn run(_arguments: impl Iterator<Item = OsString>) -> ExitCode {
    ExitCode::from(2)
}
