//! What `pedalproof board DIR` writes is ready to build: every `make` line of its README, in the written folder.
#![cfg(target_os = "linux")]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // of known range, and a test

use super::support::avr;
use super::support::blocks;
use crate::support::program::program;
use pedalproof::constants::formats;
use std::path::Path;
use std::process::Command;

/// The command of a line like `    make -C boards MCU=attiny85    what it is for`.
fn command(line: &str) -> Option<&str> {
    let line = line.strip_prefix("    ")?;
    line.starts_with("make ")
        .then(|| line.split("  ").next().unwrap_or(line))
}

fn run(folder: &Path, command: &str) -> String {
    let output = Command::new("sh")
        .args(["-c", command])
        .current_dir(folder)
        .output()
        .unwrap();
    let words = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command}:\n{words}");
    assert!(words.is_empty(), "{command}:\n{words}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_written_folder_builds_as_its_readme_says() {
    if !avr::tools_are_here() {
        return;
    }
    let outer = tempfile::tempdir().unwrap();
    let folder = outer.path().join("board");
    let written = program(outer.path())
        .arg("board")
        .arg(&folder)
        .output()
        .unwrap();
    assert!(
        written.status.success(),
        "{}",
        String::from_utf8_lossy(&written.stderr)
    );
    std::fs::write(
        folder.join("my_block.h"),
        formats::to_c_header(&blocks::fitted(), "a test"),
    )
    .unwrap();

    let readme = std::fs::read_to_string(folder.join("README.md")).unwrap();
    let commands: Vec<&str> = readme.lines().filter_map(command).collect();
    assert_eq!(commands.len(), 7, "{commands:?}");
    for line in &commands {
        let said = run(&folder, line);
        let built = if line.contains("streamer") {
            "streamer/build/streamer.hex"
        } else {
            "boards/build/blend.hex"
        };
        assert!(
            folder.join(built).metadata().unwrap().len() > 1000,
            "{line}"
        );
        std::fs::remove_file(folder.join(built)).unwrap();
        // The sizes that the README speaks of.
        assert!(
            !line.contains("boards") || said.contains("step.o"),
            "{line}: {said}"
        );
    }
    if avr::arduino_core_is_here() {
        run(&folder, "make -C sketch");
    }
}
