//! What has no end, or no measure: a sentence, exit 2, and little memory.
#![cfg(unix)]

use crate::support::program::{changed, example, pedalproof, program, words};
use rustix::fs::{CWD, FileType, Mode, mknodat};
use std::path::Path;

/// What stands in a folder under the name of a file, its metadata beside it.
fn put(dir: &Path, name: &str, put: impl Fn(&Path)) {
    put(&dir.join(name));
    let metadata = format!("{}-metadata.json", example("T1-pedal").display());
    std::fs::copy(metadata, dir.join(format!("{name}-metadata.json"))).unwrap();
}

#[test]
fn pipes_devices_and_folders_are_refused_in_place_of_files() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    put(dir, "pipe", |path| {
        mknodat(CWD, path, FileType::Fifo, Mode::RUSR | Mode::WUSR, 0).unwrap();
    });
    put(dir, "zero", |path| {
        std::os::unix::fs::symlink("/dev/zero", path).unwrap();
    });
    put(dir, "folder", |path| std::fs::create_dir(path).unwrap());
    for (name, says) in [
        ("pipe", "no file but a pipe"),
        ("zero", "no file but a pipe or a device"),
        ("folder", "folder"),
    ] {
        for line in [
            "assess NAME",
            "profile check NAME",
            "wiring NAME",
            "blend --block NAME",
            "constants --read NAME",
            "import NAME --vref-mv 5000 --bits 10 --out x",
            "history",
        ] {
            let words_of = line.split(' ').map(|word| word.replace("NAME", name));
            let mut command = program(dir);
            if line == "history" {
                command.env("PEDALPROOF_CONFIG", dir.join(name));
            }
            let output = command.args(words_of).output().unwrap();
            let said = words(&output);
            assert_eq!(output.status.code(), Some(2), "{line} {name}: {said}");
            assert!(
                said.contains(says) && said.contains(name),
                "{line} {name}: {said}"
            );
        }
    }
}

#[test]
fn lines_and_headers_without_measure_are_refused() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let same = |text: String| text;
    changed(dir, "T1-pedal", "long", same, |_| "7".repeat(8 << 20));
    changed(dir, "T1-pedal", "wide", same, |_| {
        format!("t_us,step{}\n", ",a".repeat(10_000))
    });
    changed(
        dir,
        "T1-pedal",
        "vref",
        |text| text.replace("5000.0", "1e-320"),
        same,
    );
    changed(
        dir,
        "T1-pedal",
        "rate",
        |text| text.replace("250.0", "1e308"),
        same,
    );
    std::fs::write(
        dir.join("big.json"),
        format!("{{\"format\": \"{}\"}}", "x".repeat(17 << 20)),
    )
    .unwrap();
    for (line, says) in [
        ("assess long.csv", "line 1"),
        ("assess wide.csv", "10002 columns"),
        ("assess vref.csv", "no reference"),
        ("assess rate.csv", "no sampling rate"),
        ("profile check big.json", "longer than 16 MB"),
        (
            "import long.csv --vref-mv 5000 --bits 10 --out x",
            "more than 65536 bytes",
        ),
        (
            "import wide.csv --vref-mv 5000 --bits 10 --out x",
            "no rows of numbers",
        ),
        (
            "record --port /dev/null --out x --steps rest=1e-300",
            "between 0.01 and 86400",
        ),
        (
            "record --baud 0 --port /dev/null --out x --steps rest=1",
            "--baud",
        ),
        ("demo --plain --speed 1e300", "0.01 to 1000"),
    ] {
        let output = pedalproof(dir, &line.split(' ').collect::<Vec<_>>());
        let said = words(&output);
        assert_eq!(output.status.code(), Some(2), "{line}: {said}");
        assert!(said.contains(says) && said.len() < 1500, "{line}: {said}");
    }
}

/// The board's own times know better than what the metadata says of them.
#[test]
fn a_rate_that_the_times_contradict_is_told_and_not_believed() {
    let dir = tempfile::tempdir().unwrap();
    let lie = changed(
        dir.path(),
        "T1-dial",
        "lie",
        |text| text.replace("\"rate_hz\": 250.0", "\"rate_hz\": 9000.0"),
        |text| text,
    );
    let opened = pedalproof::capture::open(&lie).unwrap();
    assert!((opened.capture.meta.board.rate_hz - 250.0).abs() < 1.0);
    let said = opened.capture.lost.unwrap();
    assert!(said.contains("9000") && said.contains("250"), "{said}");
}
