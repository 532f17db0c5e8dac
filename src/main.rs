//! The thin binary: arguments in, exit code out. Everything else is in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    pedalproof::run(std::env::args_os())
}
