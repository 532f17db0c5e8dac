//! `-` in place of a file or a port.

use crate::support::program::{example, program, stderr, stdout};
use pedalproof::bench::trolley_block;
use pedalproof::constants::formats;
use pedalproof::profile::Profile;
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
        assert_eq!(output.status.code(), Some(0), "{line}: {}", stderr(&output));
    }
    let profile = include_str!("../../../profiles/lever-shunting.json");
    assert!(stdout(&fed(dir, profile.as_bytes(), "profile check -")).contains("shunting lever"));
    let csv = example("T4-dial");
    let piped = fed(dir, &both(&csv), "assess -");
    let file = program(dir).arg("assess").arg(&csv).output().unwrap();
    assert_eq!(
        piped.status.code(),
        file.status.code(),
        "{}",
        stderr(&piped)
    );
    assert_eq!(
        stdout(&piped).replace("-: ", "T4-dial.csv: "),
        stdout(&file)
    );
    let refused = fed(dir, b"t_us,step,a\n0,rest,1\n", "assess -");
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        stderr(&refused).contains("cat NAME.csv-metadata.json NAME.csv"),
        "{}",
        stderr(&refused)
    );
}

/// A recording's metadata and its CSV behind it.
fn both(csv: &Path) -> Vec<u8> {
    let mut both = std::fs::read(format!("{}-metadata.json", csv.display())).unwrap();
    both.extend(std::fs::read(csv).unwrap());
    both
}

#[test]
fn recordings_come_through_the_standard_input_wherever_one_may_stand() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let dial = example("T1-dial");
    let dial = dial.to_str().unwrap();
    let line = format!("constants - {dial} --out -");
    let piped = fed(dir, &both(&example("T1-pedal")), &line);
    let pedal = example("T1-pedal");
    let file = fed(dir, b"", &line.replacen('-', pedal.to_str().unwrap(), 1));
    assert_eq!(piped.status.code(), Some(0), "{}", stderr(&piped));
    assert_eq!(
        stdout(&piped).replace("T1-pedal: - (", "T1-pedal: T1-pedal.csv ("),
        stdout(&file)
    );
    assert!(fed(dir, b"", "examples .").status.success());
    for (line, name, code) in [
        ("report - --format md", "T1-dial", 0),
        ("profile new --from - --name our --kind dial", "T1-dial", 0),
        ("prove --block T1.block.json -", "T1-output", 0),
        ("report - --sheet", "T1-dial", 2),
    ] {
        let ran = fed(dir, &both(&dir.join(format!("{name}.csv"))), line);
        assert_eq!(ran.status.code(), Some(code), "{line}: {}", stderr(&ran));
        assert_eq!(stdout(&ran).is_empty(), code == 2, "{line}");
    }
    let empty = fed(dir, b"", "prove --block T1.block.json -");
    assert!(
        stderr(&empty).contains("| pedalproof prove --block FILE -"),
        "{}",
        stderr(&empty)
    );
    let twice = fed(dir, &both(&example("T1-pedal")), "constants - -");
    assert_eq!(twice.status.code(), Some(2));
    assert!(
        stderr(&twice).contains("`-` stands twice"),
        "{}",
        stderr(&twice)
    );
}

#[test]
fn a_file_of_something_else_comes_through_the_standard_input() {
    let dir = tempfile::tempdir().unwrap();
    let mut sheet = "time ms,dial\n".to_owned();
    for k in 0..400 {
        writeln!(sheet, "{},{}", k * 10, 160 + k % 3).unwrap();
    }
    let line = "import - --signal dial=2 --unit code --vref-mv 5000 --bits 10 --out x";
    let taken = fed(dir.path(), sheet.as_bytes(), line);
    assert_eq!(taken.status.code(), Some(0), "{}", stderr(&taken));
    let opened = pedalproof::capture::open(&dir.path().join("x.csv")).unwrap();
    assert_eq!(opened.capture.t_us.len(), 400);
    assert_eq!(opened.capture.meta.imported.unwrap().file, "standard input");
}

#[test]
fn a_machine_comes_through_the_standard_input_and_is_not_changed_there() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    assert!(fed(dir, b"", "examples .").status.success());
    let machine = std::fs::read(dir.join("T1.json")).unwrap();
    let piped = fed(dir, &machine, "machine - --json");
    let file = fed(dir, b"", "machine T1.json --json");
    assert_eq!(
        piped.status.code(),
        file.status.code(),
        "{}",
        stderr(&piped)
    );
    assert_eq!(stdout(&piped).replace(" FILE", " T1.json"), stdout(&file));
    for line in [
        "machine add - T1-dial.csv",
        "machine add T1.json -",
        "machine - --screen",
    ] {
        let refused = fed(dir, &machine, line);
        let said = stderr(&refused);
        assert_eq!(refused.status.code(), Some(2), "{line}: {said}");
        assert!(said.contains("`-`"), "{line}: {said}");
    }
    let new = fed(
        dir,
        b"",
        "machine new - --name N --control dial=dial-rheostat",
    );
    assert_eq!(new.status.code(), Some(0), "{}", stderr(&new));
    pedalproof::machine::Machine::from_json(&stdout(&new)).unwrap();
}

#[test]
fn files_go_to_the_standard_output() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    for line in [
        "profile write dial-rheostat --track-ohm 5000 --out -",
        "profile new --from PART --name our --kind dial --out -",
        "wiring dial-rheostat --profile-out -",
    ] {
        let dial = example("T1-dial");
        let ran = fed(dir, b"", &line.replace("PART", dial.to_str().unwrap()));
        assert_eq!(ran.status.code(), Some(0), "{line}: {}", stderr(&ran));
        Profile::from_json(&stdout(&ran)).unwrap();
    }
    // Kilohms as people write them; 5 kohm typed as 5 is asked about.
    let kilo = fed(
        dir,
        b"",
        "profile write dial-rheostat --track-ohm 5k --out -",
    );
    let plain = fed(
        dir,
        b"",
        "profile write dial-rheostat --track-ohm 5000 --out -",
    );
    assert_eq!(stdout(&kilo), stdout(&plain));
    let few = fed(
        dir,
        b"",
        "profile write dial-rheostat --track-ohm 5 --out -",
    );
    assert_eq!(few.status.code(), Some(2));
    let asked = "5 ohm? A dial has 1000 to 100000. Type 5000 for 5 kohm.";
    assert!(stderr(&few).contains(asked), "{}", stderr(&few));
    for line in [
        "wiring dial-rheostat --json --profile-out -",
        "wiring --json",
        "wiring --profile-out x.json",
        "record --port - --out - --steps rest=1",
    ] {
        let refused = fed(dir, b"", line);
        assert_eq!(refused.status.code(), Some(2), "{line}");
        assert!(refused.stdout.is_empty() && !refused.stderr.is_empty());
    }
    let names = std::fs::read_dir(dir).unwrap();
    let names: Vec<_> = names.map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(names, ["fed"], "{names:?}");
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
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let opened = pedalproof::capture::open(&dir.join("r.csv")).unwrap();
    // The first line after joining is no evidence only when it is no header.
    assert_eq!(opened.capture.t_us.len(), 500);
    assert_eq!(opened.capture.meta.board.name, "standard input");
    let none = fed(dir, b"", "record --port - --out n --steps rest=2");
    assert_eq!(none.status.code(), Some(2));
    assert!(
        stderr(&none).contains("standard input"),
        "{}",
        stderr(&none)
    );
    let early = fed(
        dir,
        stream.as_bytes(),
        "record --port - --out e --steps rest=60",
    );
    assert_eq!(early.status.code(), Some(0));
    assert!(
        stderr(&early).contains("the stream ended before the test was over"),
        "{}",
        stderr(&early)
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
    let said = stderr(&endless);
    assert_eq!(endless.status.code(), Some(2), "{said}");
    assert!(
        said.contains("not one sample") && said.contains("stty") && said.len() < 1500,
        "{said}"
    );
}
