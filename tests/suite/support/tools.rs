//! Programs that some tests need and a machine with Rust alone has not. Without them a test is skipped and says so past the test
//! runner's capture; with `PEDALPROOF_NO_SKIP=1` it fails.

use std::io::Write;
use std::process::{Command, Stdio};

/// Whether something is there; `missing` is what it is and how it is installed.
///
/// # Panics
/// When it is not and no test may be skipped.
pub fn is_here(there: bool, missing: &str) -> bool {
    if !there {
        let test = std::thread::current().name().unwrap_or("a test").to_owned();
        let words = format!("SKIPPED: {test}: not installed: {missing}");
        let may_skip = std::env::var_os("PEDALPROOF_NO_SKIP").is_none_or(|value| value != "1");
        assert!(may_skip, "{words}");
        let _ = writeln!(std::io::stderr(), "{words}");
    }
    there
}

/// Whether a command ends well.
pub fn runs(program: &str, arguments: &[&str]) -> bool {
    Command::new(program)
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

pub fn c_compiler_is_here() -> bool {
    is_here(
        runs("cc", &["--version"]),
        "a C compiler (apt-get install gcc)",
    )
}

/// The Python that has the packages of a test.
pub fn python() -> String {
    std::env::var("PYTHON").unwrap_or_else(|_| "python3".to_owned())
}
