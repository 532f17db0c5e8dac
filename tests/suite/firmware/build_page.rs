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
        (">100 nF<", 3),
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

/// As it is written out, with constants of its rate.
#[test]
fn the_sketch_of_the_driving_board_compiles_as_it_is_written_out() {
    if !avr::arduino_core_is_here() || !avr::tools_are_here() {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let out = written(dir.path(), &[]);
    let mut numbers = trolley_block().unwrap().numbers().clone();
    numbers.board.rate_hz = 500;
    let block = pedalproof::constants::Block::new(numbers).unwrap();
    std::fs::write(
        out.join("sketch/drive/my_block.h"),
        formats::to_c_header(&block, ""),
    )
    .unwrap();
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
