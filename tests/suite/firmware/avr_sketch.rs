//! The sketch, compiled with the packaged Arduino core and run on a simulated `ATmega328P`, and compiled for the host
//! as a 12-bit board: does it print the same stream as the streamer?
#![cfg(target_os = "linux")]

use super::support::avr;
use super::support::avr::{AvrBoard, Firmware, Options, Pace};
use super::support::stream_lines::{
    Line, complete_lines, parse, read_until_unplugged, samples, spacings,
};
use std::path::Path;
use std::process::Command;
use std::time::Duration;

#[test]
fn the_sketch_prints_the_same_stream() {
    let options = Options {
        firmware: Firmware::Sketch,
        pace: Pace::Unpaced,
        unplug_after: Some(Duration::from_secs(5)),
        ..Options::default()
    };
    if !avr::arduino_core_is_here() {
        return;
    }
    let Some(board) = AvrBoard::start("0 0 800\n0 1 400\n", &options) else {
        return;
    };
    let lines = complete_lines(&read_until_unplugged(board.path()));
    let Line::Header(header) = &lines[0] else {
        panic!("no header")
    };
    assert_eq!(header["rate_hz"], "500");
    assert_eq!(header["cols"], "t_us,pedal_a,pedal_b");
    let samples = samples(&lines);
    assert!(samples.len() >= 2490, "{} samples", samples.len());
    assert!(samples.iter().all(|(_, codes)| *codes == [163, 81]));
    assert_eq!(lines.len() - samples.len(), 5);
    // loop() is late at times, but nothing is missing: no gap of 1.5 periods, and 0.1 ms is the most.
    let spacings = spacings(&samples);
    assert!(
        spacings.keys().all(|us| us.abs_diff(2000) <= 150),
        "{spacings:?}"
    );
}

/// The sketch compiled for the host as a 12-bit board; what it sends in two seconds.
fn sketch_on_host(into: &Path, arguments: &[&str]) -> String {
    let project = avr::project();
    let sketch = project.join("src/firmware/sketch/streamer/streamer.ino");
    let text = std::fs::read_to_string(sketch).unwrap();
    let twelve_bits = text.replace("adcBits = 10;", "adcBits = 12;");
    assert_ne!(text, twelve_bits);
    let source = into.join("sketch.cpp");
    std::fs::write(&source, twelve_bits).unwrap();
    let program = into.join("sketch");
    let compiled = Command::new("c++")
        .args([
            "-std=c++11",
            "-O1",
            "-Wall",
            "-Wextra",
            "-Werror",
            "-include",
        ])
        .arg(project.join("tests/avr/host_board.h"))
        .args([&source, Path::new("-o"), &program])
        .status()
        .unwrap();
    assert!(compiled.success());
    let output = Command::new(program).args(arguments).output().unwrap();
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_sketch_serves_a_twelve_bit_board() {
    if !avr::tools_are_here() {
        return;
    }
    let into = tempfile::tempdir().unwrap();
    let lines = complete_lines(sketch_on_host(into.path(), &[]).as_bytes());
    let Line::Header(header) = &lines[0] else {
        panic!("no header")
    };
    assert_eq!(header["bits"], "12");
    let samples = samples(&lines);
    assert!((995..=1000).contains(&samples.len()), "{}", samples.len());
    assert!(samples.iter().all(|(_, codes)| *codes == [3000, 1000]));
    // Across the wrap of the clock as well.
    assert!(spacings(&samples).keys().all(|us| us.abs_diff(2000) <= 50));

    // A core that always says "no room": slow, but whole lines.
    let text = sketch_on_host(into.path(), &["cannot tell"]);
    let end = text.rfind('\n').unwrap_or(0);
    for line in text[..end].lines() {
        parse(line).unwrap();
    }
    assert!(text.starts_with("# pedalproof 1 "), "{text:?}");
}
