//! `board`: the build page, its drawing, the program's file that needs no compiler, the sketch of the driving board.
#![cfg(target_os = "linux")]

use super::support::avr;
use crate::support::program::{pedalproof, stderr};
use pedalproof::bench::trolley_block;
use pedalproof::constants::formats;
use std::path::Path;
use std::process::Command;

fn written(dir: &Path, arguments: &[&str]) -> std::path::PathBuf {
    let ran = pedalproof(dir, &[&["board", "out"], arguments].concat());
    assert_eq!(ran.status.code(), Some(0), "{}", stderr(&ran));
    dir.join("out")
}

/// The parts, wires and lines that somebody needs who has the board, a DAC module, a relay and an evening.
#[test]
fn the_page_has_what_a_builder_needs() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(
        dir.path().join("T1.hex"),
        formats::to_ihex(&trolley_block().unwrap()),
    )
    .unwrap();
    let out = written(dir.path(), &["--block", "T1.hex"]);
    let page = std::fs::read_to_string(out.join("BUILD.md")).unwrap();
    for part in [
        "Drive wheels off the ground",
        "470 nF",
        "Schottky",
        "| A3 | read-back",
        "| D7 | enable line",
        "-U lfuse:w:0xFF:m -U hfuse:w:0xD9:m -U efuse:w:0xFC:m",
        "-U flash:w:boards/blend.hex:i -U eeprom:w:my_block.hex:i",
        "A serial bootloader writes no EEPROM",
        // Zero code 655 and full code 3440 of 4096 on 5 V, by hand.
        "DAC output 0.80 V",
        "up to 4.20 V",
        "Use three wires wherever there is a third terminal",
    ] {
        assert!(
            page.to_lowercase().contains(&part.to_lowercase()),
            "{part}: {page}"
        );
    }
    assert!(out.join("boards/blend.hex").is_file());
    let svg = std::fs::read_to_string(out.join("board.svg")).unwrap();
    // The hall pedal's pull-downs, the dial's pull-up, the series resistors and filters, the pump, the DAC's load.
    for (value, times) in [
        ("100 kΩ", 2),
        ("4.7 kΩ", 3),
        ("1 kΩ", 3),
        (">10 nF<", 2),
        (">100 nF<", 1),
        ("470 nF", 2),
        ("10 kΩ", 3),
    ] {
        assert!(svg.matches(value).count() >= times, "{value}");
    }
}

#[test]
fn more_wires_than_pins_are_refused() {
    let dir = tempfile::tempdir().unwrap();
    let two = [
        "--profile",
        "pedal-hall-two-track",
        "--profile",
        "pedal-hall-two-track",
    ];
    let ran = pedalproof(dir.path(), &[&["board", "out"], &two[..]].concat());
    assert_eq!(ran.status.code(), Some(2));
    assert!(stderr(&ran).contains("4 signal wires"), "{}", stderr(&ran));
    assert!(!dir.path().join("out").exists());
}

/// What lies in the program is what the sources give: by the compiler that it was made with, another writes other code.
#[test]
fn the_program_for_the_board_is_built_of_its_sources() {
    if !avr::tools_are_here() {
        return;
    }
    let version = Command::new("avr-gcc")
        .arg("-dumpversion")
        .output()
        .unwrap();
    if version.stdout != b"5.4.0\n" {
        eprintln!("SKIPPED: blend.hex was made by avr-gcc 5.4.0");
        return;
    }
    let into = tempfile::tempdir().unwrap();
    let boards = avr::project().join("src/firmware/boards");
    avr::make("boards", &[], into.path()).unwrap();
    let built = std::fs::read(into.path().join("blend.hex")).unwrap();
    let kept = std::fs::read(boards.join("blend.hex")).unwrap();
    assert!(built == kept, "make -C src/firmware/boards usual");
}

/// The mark of running lies at an address of its own: start-up must not clear it with the program's memory.
#[test]
fn memory_that_reaches_the_mark_is_refused_with_what_to_lower() {
    if !avr::tools_are_here() {
        return;
    }
    let into = tempfile::tempdir().unwrap();
    for (part, most, too_many) in [("attiny85", "34", "36"), ("atmega328p", "100", "112")] {
        let options = |segments| [("MCU", part), ("PP_MAX_SEGMENTS", segments)];
        avr::make("boards", &options(most), into.path()).unwrap();
        std::fs::remove_file(into.path().join("blend.hex")).unwrap();
        let refusal = avr::make("boards", &options(too_many), into.path()).unwrap_err();
        assert!(
            refusal.contains("lower PP_MAX_SEGMENTS or INPUTS"),
            "{part}: {refusal}"
        );
        assert!(!into.path().join("blend.hex").exists(), "{part}");
    }
}

/// Settings with which the board would do something else than what the constants say.
#[test]
fn settings_that_do_not_fit_together_do_not_build() {
    if !avr::tools_are_here() {
        return;
    }
    let into = tempfile::tempdir().unwrap();
    for (option, words) in [
        (("INPUTS", "4"), "pins_for_all_inputs"),
        (("RATE_HZ", "500"), "RATE_HZ must be 1000 or more"),
        (("F_CPU", "1000000UL"), "F_CPU must be 6.4 to 25.6 MHz"),
        (("MCU", "attiny45"), "no pins are given for this part"),
    ] {
        let refusal = avr::make("boards", &[option], into.path()).unwrap_err();
        assert!(refusal.contains(words), "{option:?}: {refusal}");
    }
    let four = [("INPUTS", "4"), ("INPUT_PINS", "0,1,2,6")];
    avr::make("boards", &four, into.path()).unwrap();
}

/// The sketch as it is written out, with constants of its rate.
fn written_sketch(dir: &Path) -> std::path::PathBuf {
    let out = written(dir, &[]);
    let mut numbers = trolley_block().unwrap().numbers().clone();
    numbers.board.rate_hz = 500;
    numbers.start.samples /= 2;
    let block = pedalproof::constants::Block::new(numbers).unwrap();
    std::fs::write(
        out.join("sketch/drive/my_block.h"),
        formats::to_c_header(&block, ""),
    )
    .unwrap();
    out
}

/// A bus that hangs under way and comes free again, the pedal still pressed: the sketch has no watchdog, and does not go on. One that hangs
/// for less than ten steps is let pass. Run against stand-ins (`tests/avr/host_drive.h`).
#[test]
fn the_sketch_does_not_go_on_after_a_hang() {
    if !crate::support::tools::c_compiler_is_here() {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let sketch = written_sketch(dir.path()).join("sketch/drive");
    std::fs::write(sketch.join("Wire.h"), "").unwrap();
    let stand_ins = avr::project().join("tests/avr/host_drive.h");
    let program = sketch.join("drive");
    let cores = ["block.c", "load.c", "step.c"].map(|file| sketch.join("src/core").join(file));
    for core in &cores {
        let compiled = Command::new("cc")
            .args(["-std=c99", "-O1", "-c"])
            .arg(core)
            .current_dir(&sketch)
            .status();
        assert!(compiled.unwrap().success());
    }
    let compiled = Command::new("c++")
        .args(["-std=c++11", "-O1", "-Wall", "-Wextra", "-I.", "-include"])
        .arg(stand_ins)
        .args([
            "-x",
            "c++",
            "drive.ino",
            "-x",
            "none",
            "block.o",
            "load.o",
            "step.o",
            "-o",
        ])
        .arg(&program)
        .current_dir(&sketch)
        .status();
    assert!(compiled.unwrap().success());
    // Rising edges and DAC code: pressed, during the hang, after it with the pedal still pressed, let go and pressed again.
    let ran = |hang_us: &str| -> Vec<[u32; 2]> {
        let pedal = ["120", "60", "670", "/", "840", "420", "670", "/", hang_us];
        let output = Command::new(&program).args(pedal).output().unwrap();
        let lines = String::from_utf8(output.stdout).unwrap();
        let numbers = |line: &str| {
            line.split(' ')
                .map(|n| n.parse().unwrap())
                .collect::<Vec<u32>>()
        };
        lines
            .lines()
            .map(|line| numbers(line).try_into().unwrap())
            .collect()
    };
    let [before, _, after, again] = ran("100000")[..] else {
        panic!()
    };
    assert!(before[0] > 240 && before[1] > 1000, "{before:?}");
    assert_eq!((after, again), ([0, 0], [0, 0]));
    let [_, _, after, again] = ran("10000")[..] else {
        panic!()
    };
    assert!(after[0] > 480 && again[0] > 900, "{after:?} {again:?}");
}

/// As it is written out, with constants of its rate.
#[test]
fn the_sketch_of_the_driving_board_compiles_as_it_is_written_out() {
    if !avr::arduino_core_is_here() || !avr::tools_are_here() {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let out = written_sketch(dir.path());
    let made = Command::new("make")
        .arg("-C")
        .arg(out.join("sketch"))
        .arg("drive")
        .output()
        .unwrap();
    assert!(
        made.status.success(),
        "{}",
        String::from_utf8_lossy(&made.stderr)
    );
}
