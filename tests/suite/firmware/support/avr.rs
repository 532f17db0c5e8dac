//! Real firmware on a simulated microcontroller, for tests: builds it, runs it in a child process and
//! hands over a pseudo-terminal that any serial code can open.
//!
//! Belongs here: tools, building, starting, stopping. Does not belong here: what the firmware should say.
//!
//! ```ignore
//! #[path = "support/avr.rs"]
//! mod avr;
//! let Some(board) = avr::AvrBoard::start("0 0 800\n0 1 400\n", &avr::Options::default()) else { return };
//! // board.path() is the port
//! ```

use crate::support::tools;
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;
use tempfile::TempDir;

/// What to install when a tool is missing (Debian names).
pub const INSTALL: &str = "apt-get install -y --no-install-recommends \
    gcc g++ make libc6-dev gcc-avr avr-libc binutils-avr libsimavr-dev arduino-core-avr";

/// Which firmware the board carries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Firmware {
    /// `src/firmware/streamer`, with these variables given to make, such as `("BAUD", "115200")`.
    Streamer(Vec<(&'static str, &'static str)>),
    /// `src/firmware/sketch/streamer`, with the Arduino core, compiled for the same part.
    Sketch,
}

/// How fast simulated time goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    /// One simulated second a second.
    RealTime,
    /// As fast as the machine can: about eight times real time.
    Unpaced,
}

/// When the board gets power.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Power {
    /// When the harness starts: a program that opens the port later joins a running stream.
    AtOnce,
    /// 0.1 s after a program first opens the port: that program sees every byte from boot.
    OnOpen,
}

/// How the board is built and run.
#[derive(Debug, Clone)]
pub struct Options {
    /// What it runs.
    pub firmware: Firmware,
    /// How fast.
    pub pace: Pace,
    /// From when.
    pub power: Power,
    /// Every further opening of the port resets the board.
    pub reset_on_open: bool,
    /// The board is unplugged after this much simulated time, once everything was read.
    pub unplug_after: Option<Duration>,
    /// Supply and reference, millivolts.
    pub vref_mv: u32,
    /// Seed of the script's noise.
    pub seed: u64,
}

impl Default for Options {
    /// The 1 Mbaud, 1 kHz streamer in real time, powered when the port is opened.
    fn default() -> Self {
        Self {
            firmware: Firmware::Streamer(Vec::new()),
            pace: Pace::RealTime,
            power: Power::OnOpen,
            reset_on_open: false,
            unplug_after: None,
            vref_mv: 5000,
            seed: 1,
        }
    }
}

/// What the simulator saw of the sampling, in CPU cycles of 1/16 us. Only the streamer in C samples on timer 1: of
/// the sketch this says nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Record {
    /// From power-up to the first timer tick; the script's time starts at power-up.
    pub first_tick_cycle: u64,
    /// Timer ticks.
    pub ticks: u64,
    /// The pins that were sampled, lowest first.
    pub pins: Vec<SampledPin>,
}

/// When one ADC pin was sampled, in CPU cycles.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SampledPin {
    /// ADC pin.
    pub pin: u32,
    /// Conversions.
    pub n: u64,
    /// Shortest and longest time between two samplings of this pin.
    pub gap_cycles: (u64, u64),
    /// Shortest and longest time from the timer tick to this pin's sampling.
    pub after_tick_cycles: (u64, u64),
}

/// A running board. Dropping it pulls the cable.
pub struct AvrBoard {
    path: String,
    child: Child,
    stdin: Option<ChildStdin>,
    stdout: BufReader<ChildStdout>,
    _workshop: TempDir,
}

impl AvrBoard {
    /// Builds firmware and harness and starts the board with a script of voltages (`T_MS PIN MV` a line,
    /// see `tests/avr/script.h`).
    ///
    /// `None` when a tool is missing: then it has said so on stderr and the test should return.
    ///
    /// # Panics
    /// When a build fails, or when a tool is missing and `PEDALPROOF_NO_SKIP` is `1`.
    pub fn start(script: &str, options: &Options) -> Option<Self> {
        if !tools_are_here() {
            return None;
        }
        let workshop = tempfile::tempdir().expect("a temporary directory");
        let elf = build_firmware(&options.firmware, workshop.path());
        let harness = harness("streamer_harness", &["script", "cable"]);
        let script_path = workshop.path().join("script.txt");
        std::fs::write(&script_path, script).expect("the script is written");

        let mut child = Command::new(&harness)
            .args(harness_arguments(&elf, &script_path, options))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("the harness starts");
        let stdin = child.stdin.take();
        let mut stdout = BufReader::new(child.stdout.take().expect("stdout is piped"));
        let mut first = String::new();
        stdout.read_line(&mut first).expect("stdout can be read");
        let Some(path) = first.trim_end().strip_prefix("PTY ") else {
            panic!("the harness did not start, it said {first:?}")
        };
        Some(Self {
            path: path.to_owned(),
            child,
            stdin,
            stdout,
            _workshop: workshop,
        })
    }

    /// The port to open.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Pulls the cable, unless the board was already unplugged, and tells how the sampling went.
    ///
    /// # Panics
    /// When the harness ended with an error (bad script, crashed firmware).
    pub fn finish(mut self) -> Record {
        drop(self.stdin.take());
        let mut said = String::new();
        self.stdout
            .read_to_string(&mut said)
            .expect("stdout can be read");
        let status = self.child.wait().expect("the harness ends");
        assert!(status.success(), "the harness ended with {status}");
        let mut lines = said.lines();
        let ticked = lines.next().expect("the harness says TICKED");
        Record {
            first_tick_cycle: number(field(ticked, "first_cycle")),
            ticks: number(field(ticked, "n")),
            pins: lines.map(read_sampled).collect(),
        }
    }
}

impl Drop for AvrBoard {
    fn drop(&mut self) {
        drop(self.stdin.take()); // the harness ends by itself, but a test should not leave a race behind
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn harness_arguments(elf: &Path, script: &Path, options: &Options) -> Vec<OsString> {
    let mut arguments: Vec<OsString> = vec!["--elf".into(), elf.into()];
    arguments.extend(["--script".into(), script.into()]);
    arguments.extend(["--seed".into(), options.seed.to_string().into()]);
    arguments.extend(["--vref-mv".into(), options.vref_mv.to_string().into()]);
    if options.pace == Pace::Unpaced {
        arguments.push("--unpaced".into());
    }
    if options.power == Power::OnOpen {
        arguments.push("--wait-open".into());
    }
    if options.reset_on_open {
        arguments.push("--reset-on-open".into());
    }
    if let Some(after) = options.unplug_after {
        arguments.extend(["--stop-ms".into(), after.as_millis().to_string().into()]);
    }
    arguments
}

/// `SAMPLED pin=0 n=9 gap_cycles=16000..16000 after_tick_cycles=0..0`
fn read_sampled(line: &str) -> SampledPin {
    SampledPin {
        pin: field(line, "pin").parse().expect("a pin"),
        n: number(field(line, "n")),
        gap_cycles: range(field(line, "gap_cycles")),
        after_tick_cycles: range(field(line, "after_tick_cycles")),
    }
}

fn field<'a>(line: &'a str, name: &str) -> &'a str {
    line.split(' ')
        .find_map(|word| word.strip_prefix(name)?.strip_prefix('='))
        .unwrap_or_else(|| panic!("no {name} in {line:?}"))
}

fn number(text: &str) -> u64 {
    text.parse().expect("a number from the harness")
}

fn range(text: &str) -> (u64, u64) {
    let (low, high) = text.split_once("..").expect("a range from the harness");
    (number(low), number(high))
}

/// The project's directory.
pub fn project() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Whether the cross compiler and the simulator are installed. If not, says loudly what to install; with
/// `PEDALPROOF_NO_SKIP=1` it panics instead.
pub fn tools_are_here() -> bool {
    let probes: [(&str, &str, &[&str]); 5] = [
        ("make", "make", &["--version"]),
        ("a C compiler", "cc", &["--version"]),
        (
            "avr-gcc with avr-libc",
            "avr-gcc",
            &[
                "-mmcu=atmega328p",
                "-include",
                "avr/io.h",
                "-E",
                "-x",
                "c",
                "/dev/null",
            ],
        ),
        ("avr-objcopy", "avr-objcopy", &["--version"]),
        (
            "the simavr headers",
            "cc",
            &["-include", "simavr/sim_avr.h", "-E", "-x", "c", "/dev/null"],
        ),
    ];
    let missing: Vec<&str> = probes
        .iter()
        .filter(|(_, program, arguments)| !tools::runs(program, arguments))
        .map(|(name, ..)| *name)
        .collect();
    are_here(&missing)
}

/// Whether the packaged Arduino core is installed; speaks up like [`tools_are_here`].
pub fn arduino_core_is_here() -> bool {
    let core = "/usr/share/arduino/hardware/arduino/avr/cores/arduino/Arduino.h";
    Path::new(core).exists() || are_here(&["the Arduino core for AVR"])
}

fn are_here(missing: &[&str]) -> bool {
    let words = format!("{}; install with: {INSTALL}", missing.join(", "));
    tools::is_here(missing.is_empty(), &words)
}

/// Builds a firmware into `into` and gives the ELF.
///
/// # Panics
/// With the compiler's words when it does not build.
pub fn build_firmware(firmware: &Firmware, into: &Path) -> PathBuf {
    let (room, variables) = match firmware {
        Firmware::Streamer(variables) => ("streamer", variables.as_slice()),
        Firmware::Sketch => ("sketch", &[][..]),
    };
    if let Err(words) = make(room, variables, into) {
        panic!("src/firmware/{room} does not build:\n{words}")
    }
    into.join("streamer.elf")
}

/// Runs make in `src/firmware/<room>`, or in a folder elsewhere; the compiler's words when it fails.
///
/// # Errors
/// What make wrote on stderr.
pub fn make(room: impl AsRef<Path>, variables: &[(&str, &str)], into: &Path) -> Result<(), String> {
    let output = Command::new("make")
        .arg("-C")
        .arg(project().join("src/firmware").join(room))
        .arg(format!("BUILD={}", into.display()))
        .args(
            variables
                .iter()
                .map(|(name, value)| format!("{name}={value}")),
        )
        .output()
        .expect("make starts");
    if output.status.success() {
        Ok(())
    } else {
        Err(String::from_utf8_lossy(&output.stderr).into_owned())
    }
}

/// A harness of `tests/avr`, `NAME.c` and these: built once by each run of the tests, for all that use it.
///
/// # Panics
/// With the compiler's words when it does not build.
pub fn harness(name: &str, others: &[&str]) -> PathBuf {
    static BUILT: Mutex<BTreeMap<String, PathBuf>> = Mutex::new(BTreeMap::new());
    let mut built = BUILT.lock().unwrap_or_else(PoisonError::into_inner);
    let program = built.entry(name.to_owned());
    program
        .or_insert_with(|| build_harness(name, others))
        .clone()
}

/// In a folder of its own first: another run of the tests may be using the one that stands there.
fn build_harness(name: &str, others: &[&str]) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    std::fs::create_dir_all(folder).unwrap();
    let workshop = tempfile::tempdir_in(folder).unwrap();
    let program = workshop.path().join(name);
    let source = |file: &&str| project().join("tests/avr").join(format!("{file}.c"));
    let output = Command::new("cc")
        .args(["-std=gnu11", "-O2", "-Wall", "-Wextra", "-Werror", "-o"])
        .arg(&program)
        .arg(source(&name))
        .args(others.iter().map(source))
        .args(["-lsimavr", "-lutil", "-lm"])
        .output()
        .expect("cc starts");
    assert!(
        output.status.success(),
        "tests/avr/{name}.c does not build:\n{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let built = folder.join(name);
    std::fs::rename(&program, &built).unwrap();
    built
}
