//! The real program as on a machine where nobody has used it: no test sees the configuration, records or habits of who runs it.

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

const PROGRAM: &str = env!("CARGO_BIN_EXE_pedalproof");

/// The program, to run in `dir`.
pub fn program(dir: &Path) -> Command {
    isolated(Command::new(PROGRAM), dir)
}

/// A command that ends in starting another one (a shell, `setpriv`) and starts the program in `dir`.
pub fn started_by(mut command: Command, dir: &Path) -> Command {
    command.arg(PROGRAM);
    isolated(command, dir)
}

/// A line for the shell of a [`super::terminal::Terminal`], which is isolated itself.
pub fn line(arguments: &str) -> String {
    format!("{PROGRAM} {arguments}")
}

/// Whether a process runs the program, by its executable.
pub fn is_program(executable: &Path) -> bool {
    executable == Path::new(PROGRAM)
}

/// A command in `dir` whose configuration, records, state and home are there, too: records in `dir/records`, the rest not made yet.
pub fn isolated(mut command: Command, dir: &Path) -> Command {
    let home = dir.join("home");
    command
        .current_dir(dir)
        .stdin(Stdio::null())
        .env_remove("PEDALPROOF_CONFIG")
        .env("PEDALPROOF_RECORDS", dir.join("records"))
        .env("PEDALPROOF_STATE", dir.join("state"))
        .env("HOME", &home);
    for place in ["CONFIG", "DATA", "STATE", "CACHE"] {
        command.env(format!("XDG_{place}_HOME"), &home);
    }
    command
}

/// Runs the program in `dir`.
pub fn pedalproof(dir: &Path, arguments: &(impl Arguments + ?Sized)) -> Output {
    program(dir).args(arguments.each()).output().unwrap()
}

/// A line as it is typed, or its words where one of them holds a blank.
pub trait Arguments {
    fn each(&self) -> Vec<&str>;
}

impl Arguments for str {
    fn each(&self) -> Vec<&str> {
        self.split(' ').collect()
    }
}

impl Arguments for String {
    fn each(&self) -> Vec<&str> {
        self.as_str().each()
    }
}

impl Arguments for [&str] {
    fn each(&self) -> Vec<&str> {
        self.to_vec()
    }
}

impl<const N: usize> Arguments for [&str; N] {
    fn each(&self) -> Vec<&str> {
        self.to_vec()
    }
}

impl Arguments for Vec<&str> {
    fn each(&self) -> Vec<&str> {
        self.clone()
    }
}

pub fn stdout(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

pub fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// One of the example captures of the repository.
pub fn example(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("captures")
        .join(format!("{name}.csv"))
}

/// Copies an example capture into `dir` as `as_name.csv`, its metadata and its table changed.
pub fn changed(
    dir: &Path,
    name: &str,
    as_name: &str,
    metadata: impl Fn(String) -> String,
    table: impl Fn(String) -> String,
) -> PathBuf {
    let beside = |csv: &Path| PathBuf::from(format!("{}-metadata.json", csv.display()));
    let (from, to) = (example(name), dir.join(format!("{as_name}.csv")));
    let text = |path: &Path| std::fs::read_to_string(path).unwrap();
    std::fs::write(&to, table(text(&from))).unwrap();
    std::fs::write(beside(&to), metadata(text(&beside(&from)))).unwrap();
    to
}
