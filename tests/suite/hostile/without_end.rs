//! What has no end, or no measure: a sentence, exit 2, and little memory.
#![cfg(unix)]

use crate::support::program::{changed, example, pedalproof, program, stderr};
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
            let said = stderr(&output);
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
        let output = pedalproof(dir, line);
        let said = stderr(&output);
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

/// What a gigabyte of nothing is, wherever a file is asked for: told at once, and not read. The file has no bytes on the disk.
#[test]
fn a_gigabyte_is_no_file_of_ours() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    put(dir, "big", |path| {
        std::fs::File::create(path)
            .unwrap()
            .set_len(1 << 30)
            .unwrap();
    });
    for (line, says) in [
        ("assess big", "more than a megabyte"),
        ("profile check big", "longer than 16 MB"),
        ("constants --read big", "longer than 16 MB"),
        ("blend --block big", "longer than 16 MB"),
        ("machine big", "is a recording"), // its metadata lie beside it
        (
            "import big --vref-mv 5000 --bits 10 --out x",
            "is it the right file?",
        ),
    ] {
        let output = pedalproof(dir, line);
        let said = stderr(&output);
        assert_eq!(output.status.code(), Some(2), "{line}: {said}");
        assert!(
            said.contains(says) && said.contains("big"),
            "{line}: {said}"
        );
    }
}

#[test]
fn records_and_metadata_that_are_none_are_left_out_and_told() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    std::fs::create_dir(dir.join("records")).unwrap();
    let record = dir.join("records/T1.20260101T000000Z.0123456789ab.json");
    let csv = changed(dir, "T1-dial", "c", |text| text, |text| text);
    let metadata = format!("{}-metadata.json", csv.display());
    let put: [&dyn Fn(&Path); 3] = [
        &|path| mknodat(CWD, path, FileType::Fifo, Mode::RUSR | Mode::WUSR, 0).unwrap(),
        &|path| std::os::unix::fs::symlink("/dev/urandom", path).unwrap(),
        &|path| {
            std::fs::File::create(path)
                .unwrap()
                .set_len(1 << 30)
                .unwrap();
        },
    ];
    for put in put {
        put(&record);
        for line in ["history", "history T1", "history --json"] {
            let output = pedalproof(dir, line);
            assert_eq!(output.status.code(), Some(2), "{line}: {}", stderr(&output));
            assert!(
                stderr(&output).contains("left out: cannot read"),
                "{}",
                stderr(&output)
            );
        }
        std::fs::remove_file(&record).unwrap();
        std::fs::remove_file(&metadata).unwrap();
        put(Path::new(&metadata));
        let output = pedalproof(dir, "assess c.csv");
        assert_eq!(output.status.code(), Some(2), "{}", stderr(&output));
        assert!(
            stderr(&output).contains("c.csv-metadata.json"),
            "{}",
            stderr(&output)
        );
    }
}

/// A machine of a hundred thousand controls took more than twenty seconds to refuse, and so did every `history` beside its file.
#[test]
fn a_machine_has_controls_that_can_be_counted() {
    let dir = tempfile::tempdir().unwrap();
    let controls: Vec<_> = (0..100_000)
        .map(|k| serde_json::json!({ "name": format!("c{k}"), "profile": "dial-rheostat" }))
        .collect();
    let machine = serde_json::json!({ "format": "machine/1", "name": "x", "board": null, "controls": controls, "evidence": [] });
    std::fs::write(dir.path().join("m.json"), machine.to_string()).unwrap();
    let output = pedalproof(dir.path(), "machine m.json");
    assert_eq!(output.status.code(), Some(2));
    assert!(
        stderr(&output).contains("at most 64"),
        "{}",
        stderr(&output)
    );
    assert_eq!(pedalproof(dir.path(), "history").status.code(), Some(0));
}

#[test]
fn a_board_that_sends_too_much_on_a_line_is_told_so() {
    let dir = tempfile::tempdir().unwrap();
    for channels in [64, 100_000] {
        let names: Vec<String> = (0..channels).map(|k| format!(",c{k}")).collect();
        let names = names.concat();
        let line = ",1".repeat(channels);
        let rows: Vec<String> = (0..5).map(|k| format!("{}{line}\n", k * 10_000)).collect();
        let rows = rows.concat();
        let stream =
            format!("# pedalproof 1 bits=10 vref_mv=5000 rate_hz=100 cols=t_us{names}\n{rows}");
        std::fs::write(dir.path().join("stream"), stream).unwrap();
        let output = program(dir.path())
            .args(["record", "--port", "-", "--out", "x", "--steps", "rest=1"])
            .stdin(std::fs::File::open(dir.path().join("stream")).unwrap())
            .output()
            .unwrap();
        let said = stderr(&output);
        assert_eq!(output.status.code(), Some(2), "{channels}: {said}");
        assert!(
            said.contains("more than 160 bytes") && said.len() < 1500,
            "{channels}: {said}"
        );
    }
}

#[test]
fn numbers_that_no_circuit_has_are_refused_with_their_place() {
    let dir = tempfile::tempdir().unwrap();
    let lever = include_str!("../../../profiles/lever-shunting.json");
    let lever: serde_json::Value = serde_json::from_str(lever).unwrap();
    for (place, value, says) in [
        ("wiring/pull_up_ohm", 1e-6, "0.001 to 1e12 ohm"),
        ("wiring/track_ohm", 1e300, "0.001 to 1e12 ohm"),
        ("limits/rest_ratio/max", 1e19, "lies between 0 and 1"),
        ("limits/rest_ratio/max", -0.1, "never below 0"),
        ("limits/full_ratio/min", 1.5, "never above 1"),
    ] {
        let mut profile = lever.clone();
        let (part, number) = place.rsplit_once('/').unwrap();
        let part = profile.pointer_mut(&format!("/tracks/1/{part}")).unwrap();
        let others: &[&str] = if place.starts_with("limits") {
            &["min", "max"]
        } else {
            &[]
        };
        for other in others {
            part.as_object_mut().unwrap().remove(*other);
        }
        part[number] = value.into();
        std::fs::write(dir.path().join("p.json"), profile.to_string()).unwrap();
        let output = pedalproof(dir.path(), "wiring p.json");
        let said = stderr(&output);
        assert_eq!(output.status.code(), Some(2), "{place} {value}: {said}");
        assert!(
            said.contains(says) && said.contains(place.split('/').next().unwrap()),
            "{place} {value}: {said}"
        );
    }
    // The edge of what can be, in no time either.
    for limit in [0.0, 1.0] {
        let mut profile = lever.clone();
        *profile
            .pointer_mut("/tracks/1/limits/rest_ratio/max")
            .unwrap() = limit.into();
        *profile
            .pointer_mut("/tracks/1/limits/rest_ratio/min")
            .unwrap() = 0.into();
        std::fs::write(dir.path().join("p.json"), profile.to_string()).unwrap();
        let output = pedalproof(dir.path(), "profile check p.json");
        assert_eq!(
            output.status.code(),
            Some(0),
            "{limit}: {}",
            stderr(&output)
        );
    }
}
