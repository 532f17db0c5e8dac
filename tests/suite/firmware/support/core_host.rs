//! The firmware core compiled for the host, worked in batches.
#![allow(dead_code)]

use crate::support::tools;
use pedalproof::constants::{Block, TargetBoard, layout};
use pedalproof::twin::{Seen, StepOutput};
use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use tempfile::TempDir;

/// What the core was built for.
pub const INPUTS: usize = 3;

/// What the core answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Answer {
    pub dac: u16,
    pub state: u8,
    pub cause: u8,
    pub command: u16,
}

impl From<StepOutput> for Answer {
    /// What the twin says, as the core would.
    fn from(shown: StepOutput) -> Self {
        Self {
            dac: shown.dac,
            state: shown.state as u8,
            cause: shown.cause.map_or(0, |cause| cause as u8),
            command: shown.command_q15,
        }
    }
}

/// The compiled program; `None` without a C compiler, said loudly.
pub struct CoreHost {
    program: PathBuf,
    workshop: TempDir,
    /// Python and the script that runs the program of another part.
    emulator: Option<(String, PathBuf)>,
}

/// What the core is to do.
#[derive(Default)]
pub struct Orders {
    bytes: Vec<u8>,
    /// A code of the part's own reference that the block believes.
    reference: u16,
}

impl Orders {
    pub fn power_up(&mut self, board: TargetBoard, block: &[u8], latched: u8) {
        self.bytes.extend([b'L', board.adc_bits, board.dac_bits]);
        self.bytes.extend(board.rate_hz.to_le_bytes());
        self.bytes.push(latched);
        self.bytes
            .extend(u16::try_from(block.len()).unwrap().to_le_bytes());
        self.bytes.extend(block);
    }

    pub fn load(&mut self, block: &Block) {
        self.believe(block);
        self.power_up(block.numbers().board, &layout::to_bytes(block), 0);
    }

    /// The supply is what this block believes.
    pub fn believe(&mut self, block: &Block) {
        self.reference = block.numbers().watch.supply.low;
    }

    pub fn step(&mut self, codes: &[u16], seen: Seen) {
        self.bytes.push(b'S');
        self.seen(codes, seen);
    }

    /// A step that is undone.
    pub fn try_step(&mut self, codes: &[u16]) {
        self.bytes.push(b'T');
        self.seen(codes, Seen::default());
    }

    /// A bit of the core's memory changes.
    pub fn flip(&mut self, byte: u16, bit: u8) {
        self.bytes.push(b'F');
        self.bytes.extend(byte.to_le_bytes());
        self.bytes.push(bit);
    }

    fn seen(&mut self, codes: &[u16], seen: Seen) {
        self.bytes.push(u8::from(seen.dac_takes));
        let reference = seen.supply.unwrap_or(self.reference);
        self.bytes.extend(reference.to_le_bytes());
        self.bytes
            .extend(seen.read_back.unwrap_or(0xFFFF).to_le_bytes());
        self.codes(codes);
    }

    pub fn all_pairs(&mut self) {
        self.bytes.push(b'A');
    }

    fn codes(&mut self, codes: &[u16]) {
        for i in 0..INPUTS {
            let code = codes.get(i).copied().unwrap_or(0);
            self.bytes.extend(code.to_le_bytes());
        }
    }
}

impl CoreHost {
    pub fn build() -> Option<Self> {
        if !tools::c_compiler_is_here() {
            return None;
        }
        let workshop = tempfile::tempdir().unwrap();
        let program = workshop.path().join("core_host");
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let core = root.join("src/firmware/core");
        let output = Command::new("cc")
            .args([
                "-std=c99",
                "-pedantic",
                "-O2",
                "-Wall",
                "-Wextra",
                "-Wconversion",
                "-Werror",
            ])
            .args([
                "-fsanitize=address,undefined",
                "-fno-sanitize-recover",
                "-I",
            ])
            .arg(&core)
            .arg(root.join("tests/avr/core_host.c"))
            .args([core.join("load.c"), core.join("step.c")])
            .arg("-o")
            .arg(&program)
            .output()
            .unwrap();
        assert!(
            output.status.success(),
            "the core does not build for the host:\n{}",
            String::from_utf8_lossy(&output.stderr)
        );
        Some(Self {
            program,
            workshop,
            emulator: None,
        })
    }

    /// The same for a 32-bit part, run in an emulator: `arm-none-eabi-gcc` and `unicorn` from `PyPI` (`PYTHON` names the Python that has it).
    pub fn on_arm() -> Option<Self> {
        let python = tools::python();
        let compiler = tools::runs("arm-none-eabi-gcc", &["--version"]);
        let emulator = tools::runs(&python, &["-c", "import unicorn"]);
        if !tools::is_here(
            compiler,
            "arm-none-eabi-gcc (apt-get install gcc-arm-none-eabi libnewlib-arm-none-eabi)",
        ) || !tools::is_here(emulator, "PyPI unicorn, for the Python that PYTHON names")
        {
            return None;
        }
        let workshop = tempfile::tempdir().unwrap();
        let program = workshop.path().join("core.elf");
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let core = root.join("src/firmware/core");
        let output = Command::new("arm-none-eabi-gcc")
            .args([
                "-mcpu=cortex-m3",
                "-mthumb",
                "-std=c99",
                "-O2",
                "-Wall",
                "-Wextra",
                "-Wconversion",
                "-Werror",
                "-I",
            ])
            .arg(&core)
            .args(["tests/avr/core_host.c", "tests/arm/part.c"].map(|file| root.join(file)))
            .args([core.join("load.c"), core.join("step.c")])
            .arg("-o")
            .arg(&program)
            .output()
            .unwrap();
        assert!(
            output.status.success(),
            "the core does not build for the part:\n{}",
            String::from_utf8_lossy(&output.stderr)
        );
        Some(Self {
            program,
            workshop,
            emulator: Some((python, root.join("tests/arm/run.py"))),
        })
    }

    /// The raw answers to these orders.
    pub fn run_raw(&self, orders: &Orders) -> Vec<u8> {
        let path = self.workshop.path().join("orders");
        std::fs::write(&path, &orders.bytes).unwrap();
        let mut command = match &self.emulator {
            Some((python, script)) => {
                let mut command = Command::new(python);
                command.arg(script).arg(&self.program);
                command
            }
            None => Command::new(&self.program),
        };
        let output = command
            .stdin(File::open(&path).unwrap())
            .stderr(Stdio::inherit())
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", output.status);
        output.stdout
    }

    /// The answers to these orders.
    pub fn run(&self, orders: &Orders) -> Vec<Answer> {
        let raw = self.run_raw(orders);
        assert_eq!(raw.len() % 6, 0);
        raw.chunks_exact(6)
            .map(|bytes| Answer {
                dac: u16::from_le_bytes([bytes[0], bytes[1]]),
                state: bytes[2],
                cause: bytes[3],
                command: u16::from_le_bytes([bytes[4], bytes[5]]),
            })
            .collect()
    }
}
