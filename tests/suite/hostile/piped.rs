//! `-` in place of a file or a port.

use crate::support::program::{example, program, told, words};
use pedalproof::bench::trolley_block;
use pedalproof::constants::formats;
use std::fmt::Write as _;
use std::fs::File;
use std::path::Path;
use std::process::Output;

fn fed(dir: &Path, bytes: &[u8], line: &str) -> Output {
    std::fs::write(dir.join("fed"), bytes).unwrap();
    let from = File::open(dir.join("fed")).unwrap();
    program(dir)
        .args(line.split(' '))
        .stdin(from)
        .output()
        .unwrap()
}

#[test]
fn files_come_through_the_standard_input() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let block = formats::to_json(&trolley_block().unwrap(), "");
    for line in ["constants --read -", "blend --block -"] {
        let output = fed(dir, block.as_bytes(), line);
        assert_eq!(output.status.code(), Some(0), "{line}: {}", words(&output));
    }
    let profile = include_str!("../../../profiles/lever-shunting.json");
    assert!(told(&fed(dir, profile.as_bytes(), "profile check -")).contains("shunting lever"));
    let csv = example("T4-dial");
    let mut both = std::fs::read(format!("{}-metadata.json", csv.display())).unwrap();
    both.extend(std::fs::read(&csv).unwrap());
    let piped = fed(dir, &both, "assess -");
    let file = program(dir).arg("assess").arg(&csv).output().unwrap();
    assert_eq!(piped.status.code(), file.status.code(), "{}", words(&piped));
    assert_eq!(told(&piped).replace("-: ", "T4-dial.csv: "), told(&file));
    let refused = fed(dir, b"t_us,step,a\n0,rest,1\n", "assess -");
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        words(&refused).contains("cat NAME.csv-metadata.json NAME.csv"),
        "{}",
        words(&refused)
    );
}

#[test]
fn a_stream_comes_through_the_standard_input() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let mut stream = "# pedalproof 1 bits=10 vref_mv=5000 rate_hz=100 cols=t_us,lever\n".to_owned();
    for k in 0..500 {
        writeln!(stream, "{},{}", k * 10_000, 160 + k % 3).unwrap();
    }
    let output = fed(
        dir,
        stream.as_bytes(),
        "record --port - --out r --steps rest=2,idle=60",
    );
    assert_eq!(output.status.code(), Some(0), "{}", words(&output));
    let opened = pedalproof::capture::open(&dir.join("r.csv")).unwrap();
    // The first line after joining is no evidence only when it is no header.
    assert_eq!(opened.capture.t_us.len(), 500);
    assert_eq!(opened.capture.meta.board.name, "standard input");
    let none = fed(dir, b"", "record --port - --out n --steps rest=2");
    assert_eq!(none.status.code(), Some(2));
    assert!(words(&none).contains("standard input"), "{}", words(&none));
    let early = fed(
        dir,
        stream.as_bytes(),
        "record --port - --out e --steps rest=60",
    );
    assert_eq!(early.status.code(), Some(0));
    assert!(
        words(&early).contains("the stream ended before the test was over"),
        "{}",
        words(&early)
    );
}

/// What has no end and no sample in it is not waited for.
#[cfg(unix)]
#[test]
fn noise_without_an_end_is_no_stream() {
    let dir = tempfile::tempdir().unwrap();
    let endless = program(dir.path())
        .args(["record", "--port", "-", "--out", "z", "--steps", "rest=1"])
        .stdin(File::open("/dev/zero").unwrap())
        .output()
        .unwrap();
    let said = words(&endless);
    assert_eq!(endless.status.code(), Some(2), "{said}");
    assert!(
        said.contains("not one sample") && said.contains("stty") && said.len() < 1500,
        "{said}"
    );
}
