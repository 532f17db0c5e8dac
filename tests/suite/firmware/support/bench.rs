//! The blending firmware on a simulated board, for tests: builds it, preloads its EEPROM, puts codes on its ADC and reads
//! what its DAC was told. See `tests/avr/bench_harness.c` for the commands.

use super::avr;
use pedalproof::constants::{Block, formats};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use tempfile::TempDir;

/// The boards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    Mega,
    /// With two inputs: no pin is left to look at the DAC's output.
    Tiny,
    /// The same part with one input and the read-back.
    TinyAlone,
}

impl Part {
    pub const ALL: [Part; 2] = [Part::Mega, Part::Tiny];

    pub fn mcu(self) -> &'static str {
        match self {
            Self::Mega => "atmega328p",
            Self::Tiny | Self::TinyAlone => "attiny85",
        }
    }

    pub fn hz(self) -> u32 {
        match self {
            Self::Mega => 16_000_000,
            Self::Tiny | Self::TinyAlone => 8_000_000,
        }
    }

    /// Inputs on the board.
    pub fn inputs(self) -> usize {
        match self {
            Self::Mega => 3,
            Self::Tiny => 2,
            Self::TinyAlone => 1,
        }
    }

    /// As `src/firmware/boards/config.h` has them: ADC channels, DAC wires, enable line, LED, read-back.
    fn pins(self) -> &'static str {
        match self {
            Self::Mega => {
                "--channels 0,1,2 --dac C,4,5,0x28 --enable 0x2B,7 --led 0x25,5 --readback 3"
            }
            Self::Tiny => "--channels 3,2 --dac B,0,2,0x38 --enable 0x38,1",
            Self::TinyAlone => "--channels 3 --dac B,0,2,0x38 --enable 0x38,1 --readback 2",
        }
    }

    /// Whether the DAC's output is looked at.
    pub fn reads_back(self) -> bool {
        self != Self::Tiny
    }
}

/// A built firmware with its harness.
pub struct Bench {
    pub part: Part,
    workshop: TempDir,
    harness: PathBuf,
    symbols: BTreeMap<String, u32>,
    /// A bootloader and where it lies, which is where a reset begins.
    boot: Option<(String, u32)>,
    every_turn: bool,
}

/// What the core calls on the board: its time is not the core's.
const DRIVERS: [&str; 6] = [
    "pp_input_code",
    "pp_supply_code",
    "pp_read_back",
    "pp_write_dac",
    "pp_pulse",
    "pp_kick_watchdog",
];

/// One step as the bench saw it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seen {
    pub dac: u16,
    pub state: u8,
    pub cause: u8,
    pub cycle: u64,
}

/// What a fault did, since `mark`. Times in simulated microseconds; `None`: not yet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Report {
    pub was: u16,
    pub peak: u16,
    pub zero_us: Option<u64>,
    pub latch_us: Option<u64>,
    /// Since when the drive is off: the output at zero, or the enable line let go.
    pub off_us: Option<u64>,
    pub dac: u16,
    /// The DAC's output, which need not be what was written.
    pub out: u16,
    /// The relay behind the enable line is held.
    pub enabled: bool,
    pub state: u8,
    pub cause: u8,
    pub writes: u64,
}

/// What a script answered.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Answers {
    pub steps: Vec<Seen>,
    pub reports: Vec<Report>,
    pub stats: Vec<BTreeMap<String, i64>>,
    pub led: Vec<bool>,
}

impl Bench {
    /// Builds firmware and harness. `None` when a tool is missing: then it has said so.
    pub fn build(part: Part, variables: &[(&str, &str)]) -> Option<Self> {
        if !avr::tools_are_here() {
            return None;
        }
        let workshop = tempfile::tempdir().unwrap();
        let inputs = part.inputs().to_string();
        let mut options = vec![("MCU", part.mcu()), ("INPUTS", inputs.as_str())];
        options.extend(variables);
        if let Err(words) = avr::make("boards", &options, workshop.path()) {
            panic!(
                "src/firmware/boards does not build for {}:\n{words}",
                part.mcu()
            );
        }
        Some(Self::of(part, workshop))
    }

    /// The same with a firmware that is wrong on purpose: in a copy of `src/firmware`, `from` in `file` is replaced.
    pub fn build_spoilt(part: Part, file: &str, from: &str, to: &str) -> Option<Self> {
        if !avr::tools_are_here() {
            return None;
        }
        let workshop = tempfile::tempdir().unwrap();
        let copy = workshop.path().join("firmware");
        let copied = Command::new("cp")
            .arg("-r")
            .arg(avr::project().join("src/firmware"))
            .arg(&copy)
            .status()
            .unwrap();
        assert!(copied.success());
        let text = std::fs::read_to_string(copy.join(file)).unwrap();
        assert!(text.contains(from), "{file} has no {from:?} to be spoilt");
        std::fs::write(copy.join(file), text.replace(from, to)).unwrap();
        let inputs = part.inputs().to_string();
        let options = [("MCU", part.mcu()), ("INPUTS", inputs.as_str())];
        avr::make(copy.join("boards"), &options, workshop.path()).unwrap();
        Some(Self::of(part, workshop))
    }

    fn of(part: Part, workshop: TempDir) -> Self {
        let harness = avr::harness("bench_harness", &["bench_dac", "bench_pump", "bench_polls"]);
        let symbols = read_symbols(&workshop.path().join("blend.elf"));
        Self {
            part,
            workshop,
            harness,
            symbols,
            boot: None,
            every_turn: false,
        }
    }

    /// The same board with a bootloader in its flash.
    pub fn with_boot(mut self, file: &str, address: u32) -> Self {
        self.boot = Some((file.to_owned(), address));
        self
    }

    /// The same board, whose waiting the simulator goes through turn by turn.
    pub fn turn_by_turn(mut self) -> Self {
        self.every_turn = true;
        self
    }

    pub fn symbol(&self, name: &str) -> u32 {
        *self
            .symbols
            .get(name)
            .unwrap_or_else(|| panic!("no symbol {name} in the firmware"))
    }

    /// Bytes of a variable.
    pub fn size_of(&self, name: &str) -> u32 {
        let output = Command::new("avr-nm")
            .arg("-S")
            .arg(self.built("blend.elf"))
            .output()
            .unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        let line = text
            .lines()
            .find(|line| line.ends_with(&format!(" {name}")));
        let size = line.and_then(|line| line.split_whitespace().nth(1));
        u32::from_str_radix(size.unwrap(), 16).unwrap()
    }

    pub fn built(&self, file: &str) -> PathBuf {
        self.workshop.path().join(file)
    }

    /// Runs a script on a board with this block in its EEPROM (`None`: erased), from power-up.
    pub fn run(&self, block: Option<&Block>, script: &str) -> Answers {
        self.run_image(block.map(formats::to_ihex).as_deref(), script)
    }

    /// The same with any image.
    pub fn run_image(&self, image: Option<&str>, script: &str) -> Answers {
        let mut command = Command::new(&self.harness);
        let drivers: Vec<String> = DRIVERS
            .iter()
            .filter_map(|name| self.symbols.get(*name).map(u32::to_string))
            .collect();
        command
            .args([
                "--mcu",
                self.part.mcu(),
                "--hz",
                &self.part.hz().to_string(),
            ])
            .arg("--elf")
            .arg(self.built("blend.elf"))
            .args(self.part.pins().split(' '))
            .args(["--core", &(self.symbol("core") & 0xFFFF).to_string()])
            .args(["--step", &self.symbol("pp_step").to_string()])
            .args(["--drivers", &drivers.join(",")])
            .args(["--end", &(self.symbol("_end") & 0xFFFF).to_string()]);
        if let Some((file, address)) = &self.boot {
            command.arg("--boot").arg(format!("{file},{address}"));
        }
        if self.every_turn {
            command.arg("--every-turn");
        }
        if let Some(image) = image {
            let path = self.built("eeprom.hex");
            std::fs::write(&path, image).unwrap();
            command.arg("--eeprom").arg(path);
        }
        let mut child = command
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut stdin = child.stdin.take().unwrap();
        let script = script.to_owned();
        // A thread of its own: script and answers are both longer than a pipe.
        let writer = std::thread::spawn(move || stdin.write_all(script.as_bytes()));
        let mut said = String::new();
        child
            .stdout
            .take()
            .unwrap()
            .read_to_string(&mut said)
            .unwrap();
        let status = child.wait().unwrap();
        let written = writer.join().unwrap();
        assert!(
            status.success(),
            "the harness ended with {status}, said {said:.300}"
        );
        written.unwrap();
        read_answers(&said)
    }
}

/// `avr-nm`: address, kind, name.
fn read_symbols(elf: &Path) -> BTreeMap<String, u32> {
    let output = Command::new("avr-nm").arg(elf).output().unwrap();
    String::from_utf8(output.stdout)
        .unwrap()
        .lines()
        .filter_map(|line| {
            let mut words = line.split_whitespace();
            let address = u32::from_str_radix(words.next()?, 16).ok()?;
            Some((words.nth(1)?.to_owned(), address))
        })
        .collect()
}

fn read_answers(said: &str) -> Answers {
    let mut answers = Answers::default();
    for line in said.lines() {
        let (kind, rest) = line.split_once(' ').unwrap();
        match kind {
            "S" => {
                let numbers: Vec<u64> = rest.split(' ').map(|word| word.parse().unwrap()).collect();
                answers.steps.push(Seen {
                    dac: numbers[0] as u16,
                    state: numbers[1] as u8,
                    cause: numbers[2] as u8,
                    cycle: numbers[3],
                });
            }
            "R" => {
                let is = fields(rest);
                answers.reports.push(Report {
                    was: is["was"] as u16,
                    peak: is["peak"] as u16,
                    zero_us: u64::try_from(is["zero_us"]).ok(),
                    latch_us: u64::try_from(is["latch_us"]).ok(),
                    off_us: u64::try_from(is["off_us"]).ok(),
                    dac: is["dac"] as u16,
                    out: is["out"] as u16,
                    enabled: is["enabled"] == 1,
                    state: is["state"] as u8,
                    cause: is["cause"] as u8,
                    writes: is["writes"] as u64,
                });
            }
            "T" => answers.stats.push(fields(rest)),
            "L" => answers.led.push(rest == "1"),
            _ => panic!("the harness said {line:?}"),
        }
    }
    answers
}

fn fields(text: &str) -> BTreeMap<String, i64> {
    text.split_whitespace()
        .map(|word| {
            let (name, value) = word.split_once('=').unwrap();
            (name.to_owned(), value.parse().unwrap())
        })
        .collect()
}

/// A `codes` line; inputs that the block does not have are at 0.
pub fn codes(script: &mut String, part: Part, codes: &[u16]) {
    script.push_str("codes");
    for i in 0..part.inputs() {
        let _ = write!(script, " {}", codes.get(i).copied().unwrap_or(0));
    }
    script.push('\n');
}

/// Flash and RAM of a built file, in bytes, as `avr-size` says: (flash, static RAM).
pub fn size(file: &Path) -> (u32, u32) {
    let output = Command::new("avr-size").arg(file).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    let numbers: Vec<u32> = text
        .lines()
        .nth(1)
        .unwrap()
        .split_whitespace()
        .take(3)
        .map(|word| word.parse().unwrap())
        .collect();
    (numbers[0] + numbers[1], numbers[1] + numbers[2])
}
