//! The streamers for scripting boards, and the five lines of `docs/boards.md`, run here with stand-ins for their boards, into the program.

use crate::support::program::{program, stderr};
use crate::support::tools;
use pedalproof::capture::Capture;
use std::path::Path;
use std::process::{Command, Stdio};

/// Stand-ins for what `MicroPython` and `CircuitPython` have. Input `k` reads 1000 (k + 1) + 10 of 16 bits, and a little of the time; the clock
/// moves by what is slept, and by 100 us a look; ticks wrap at 2^30, close to the start. After so many readings the board is unplugged.
const STAND_INS: &str = r#"
import sys, types
clock = types.ModuleType("time")
now, readings = [(1 << 30) * 1000 - 500_000_000], [0]
def look():
    now[0] += 100_000
    return now[0]
clock.ticks_us = lambda: look() // 1000 % (1 << 30)
clock.ticks_add = lambda a, b: (a + b) % (1 << 30)
clock.ticks_diff = lambda a, b: (a - b + (1 << 29)) % (1 << 30) - (1 << 29)
clock.monotonic_ns = look
def sleep_ns(ns):
    now[0] += int(ns)
clock.sleep_us = lambda us: sleep_ns(us * 1000)
clock.sleep_ms = lambda ms: sleep_ns(ms * 1_000_000)
clock.sleep = lambda s: sleep_ns(s * 1e9)
def read(k):
    readings[0] += 1
    if readings[0] > int(sys.argv[2]):
        sys.stdout.flush()
        sys.exit(0)
    return 16000 * (k + 1) + 16 + readings[0] % 3 * 16
machine = types.ModuleType("machine")
machine.Pin = lambda pin: pin
class ADC:
    def __init__(self, pin): self.k = pin - 26
    def read_u16(self): return read(self.k)
machine.ADC = ADC
analogio = types.ModuleType("analogio")
class AnalogIn:
    def __init__(self, pin): self.k = pin
    value = property(lambda self: read(self.k))
analogio.AnalogIn = AnalogIn
board = types.ModuleType("board")
board.A0, board.A1, board.A2 = 0, 1, 2
sys.modules.update(time=clock, machine=machine, analogio=analogio, board=board)
exec(compile(open(sys.argv[1]).read(), sys.argv[1], "exec"), {"__name__": "__main__"})
"#;

/// An Arduino core's share of what five lines need.
const CORE: &str = r#"
#include <cstdio>
#include <cstdlib>
static int readings;
struct { void begin(long) {} void println(int n) { printf("%d\n", n); } } Serial;
const int A0 = 0;
int analogRead(int) { if (readings++ == 500) exit(0); return 1001 + readings % 3; }
void delay(int) {}
BLOCK
int main() { setup(); for (;;) loop(); }
"#;

/// A board's script, until so many readings were taken.
fn scripted(dir: &Path, script: &str, readings: u32) -> Command {
    let path = dir.join("main.py");
    std::fs::write(&path, script).unwrap();
    let mut python = Command::new("python3");
    python
        .args(["-c", STAND_INS])
        .arg(path)
        .arg(readings.to_string());
    python
}

/// What a command prints, into `record`.
fn recorded(dir: &Path, mut board: Command, line: &str) -> Capture {
    let mut board = board
        .current_dir(dir)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let recorded = program(dir)
        .args(["record", "--port", "-", "--steps", "idle=3600"])
        .args(line.split(' '))
        .stdin(board.stdout.take().unwrap())
        .output()
        .unwrap();
    assert!(board.wait().unwrap().success());
    assert_eq!(recorded.status.code(), Some(0), "{}", stderr(&recorded));
    let name = line.split(' ').next_back().unwrap();
    pedalproof::capture::open(&dir.join(format!("{name}.csv")))
        .unwrap()
        .capture
}

#[test]
fn streamers_of_scripting_boards_are_read_whole() {
    let dir = tempfile::tempdir().unwrap();
    for (name, script, rate_hz) in [
        (
            "micro",
            include_str!("../../../src/firmware/scripted/micropython.py"),
            250.0,
        ),
        (
            "circuit",
            include_str!("../../../src/firmware/scripted/circuitpython.py"),
            100.0,
        ),
    ] {
        let capture = recorded(
            dir.path(),
            scripted(dir.path(), script, 3 * 600),
            &format!("--out {name}"),
        );
        let (meta, stream) = (&capture.meta, &capture.meta.stream);
        assert_eq!(capture.t_us.len(), 600, "{name}");
        assert!(
            stream.rejected.is_empty() && stream.missing == 0,
            "{name}: {stream:?}"
        );
        assert_eq!((meta.board.bits, meta.board.rate_hz), (12, rate_hz));
        let names: Vec<&str> = meta.channels.iter().map(|(name, _)| &name[..]).collect();
        assert_eq!(names, ["pedal_a", "pedal_b", "dial"]);
        // The ticks wrapped meanwhile: a period each is 1e6 / rate, and the looks at the clock move it a little.
        let period = 1e6 / rate_hz;
        for pair in capture.t_us.windows(2) {
            let step = (pair[1] - pair[0]) as f64;
            assert!((step - period).abs() < 0.25 * period, "{name}: {step}");
        }
        for (k, codes) in (1..).zip(&capture.codes) {
            let least = k * 1000 + 1;
            assert!(
                codes
                    .iter()
                    .all(|code| (least..=least + 2).contains(&code.0)),
                "{name}"
            );
        }
    }
}

/// The blocks of `docs/boards.md`.
#[test]
fn five_lines_are_enough() {
    let dir = tempfile::tempdir().unwrap();
    let page = include_str!("../../../docs/boards.md");
    let blocks = |language: &str| -> Vec<&str> {
        let begun = page.split(language).skip(1);
        begun
            .map(|rest| rest.split("```").next().unwrap())
            .collect()
    };
    let mut boards: Vec<Command> = Vec::new();
    let [cpp] = blocks("```cpp\n")[..] else {
        panic!("one block of C++")
    };
    std::fs::write(dir.path().join("five.cpp"), CORE.replace("BLOCK", cpp)).unwrap();
    if tools::is_here(
        tools::runs("c++", &["--version"]),
        "a C++ compiler (apt-get install g++)",
    ) {
        let compiled = Command::new("c++")
            .args(["-o", "five", "five.cpp"])
            .current_dir(dir.path())
            .status();
        assert!(compiled.unwrap().success());
        boards.push(Command::new(dir.path().join("five")));
    }
    let python = blocks("```python\n");
    assert_eq!(python.len(), 2);
    for (k, block) in python.iter().enumerate() {
        assert!(block.lines().count() <= 7, "{block}");
        let folder = dir.path().join(k.to_string());
        std::fs::create_dir(&folder).unwrap();
        boards.push(scripted(&folder, block, 500));
    }
    for (k, board) in boards.into_iter().enumerate() {
        let line = format!("--bits 12 --vref-mv 3300 --columns lever --out five{k}");
        let capture = recorded(dir.path(), board, &line);
        // Who joins a stream of bare numbers cannot know that the first line is whole.
        assert!(
            (499..=500).contains(&capture.t_us.len()),
            "{}",
            capture.t_us.len()
        );
        assert!(
            capture.codes[0]
                .iter()
                .all(|code| (1001..=1003).contains(&code.0))
        );
    }
}
