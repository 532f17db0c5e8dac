//! Every output on a disk that takes nothing, and on a terminal that takes nothing: exit 2 and a sentence, nothing half written,
//! nothing that was there before lost.
#![cfg(target_os = "linux")]

use super::leaving::files;
use crate::support::program::{example, pedalproof, program, started_by, stderr};
use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::Command;

/// What writes files, with the file that its words name.
const FILES: &[(&str, &str)] = &[
    ("report T1-dial.csv --out x.html", "x.html"),
    ("report T1-dial.csv --format md --out x.md", "x.md"),
    ("constants T1-pedal.csv T1-dial.csv --out x.h", "x.h"),
    (
        "profile new --from T1-dial.csv --name our --kind dial --out x.json",
        "x.json",
    ),
    (
        "profile write dial-rheostat --track-ohm 5000 --out x.json",
        "x.json",
    ),
    ("wiring dial-rheostat --profile-out x.json", "x.json"),
    (
        "machine new x.json --name N --control dial=dial-rheostat",
        "x.json",
    ),
    ("machine add machine.json T1-dial.csv", "machine.json"),
    ("machine machine.json --sheet x.html", "x.html"),
    ("board firmware", "firmware"),
    ("man manual", "manual"),
    ("examples folder", "folder"),
    (
        "import sheet.txt --time 1 --time-unit s --signal dial=2 --unit code --vref-mv 5000 --bits 10 --out x",
        "x.csv",
    ),
    ("assess T1-pedal.csv --keep", "records"),
    ("demo T1-dial --plain --speed 1000 --out x", "x.csv"),
    ("record --port - --steps rest=0.1 --out x", "x.csv"),
    ("prove --demo --block block.json --out x", "x.csv"),
    (
        "constants --remake block.json --accept why --format json --out x.json",
        "x.json",
    ),
];

fn contents(dir: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let found = files(dir).into_iter();
    let mut found: Vec<_> = found
        .map(|path| (path.clone(), std::fs::read(path).unwrap()))
        .collect();
    found.sort();
    found
}

fn bench(dir: &Path) {
    for name in ["T1-dial", "T1-pedal"] {
        for end in ["", "-metadata.json"] {
            let from = format!("{}{end}", example(name).display());
            std::fs::copy(from, dir.join(format!("{name}.csv{end}"))).unwrap();
        }
    }
    for made in [
        "machine new machine.json --name M --control dial=dial-rheostat",
        "assess T1-dial.csv --keep",
    ] {
        assert!(pedalproof(dir, made).status.success());
    }
    let numbers = (0..200).map(|k| format!("{},{}\n", f64::from(k) / 100.0, 500 + k % 3));
    std::fs::write(dir.join("sheet.txt"), numbers.collect::<String>()).unwrap();
    let block = pedalproof::bench::trolley_block().unwrap();
    let block = pedalproof::constants::formats::to_json(&block, "");
    std::fs::write(dir.join("block.json"), block).unwrap();
    let rows = (0..300).map(|k| format!("{},500\n", k * 10_000));
    let stream = "# pedalproof 1 bits=10 vref_mv=5000 rate_hz=100 cols=t_us,dial\n".to_owned();
    std::fs::write(dir.join("stream"), stream + &rows.collect::<String>()).unwrap();
}

/// The program where no file may get a byte (POSIX `ulimit -f 0`), and the system says so instead of killing.
fn on_a_full_disk(dir: &Path, line: &str) -> Command {
    let mut shell = Command::new("sh");
    shell.args(["-c", "trap '' XFSZ; ulimit -f 0; exec \"$0\" \"$@\""]);
    let mut command = started_by(shell, dir);
    command
        .args(line.split(' '))
        .stdin(File::open(dir.join("stream")).unwrap());
    command
}

#[test]
fn a_disk_that_takes_nothing_is_told_and_leaves_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    bench(dir);
    let before = contents(dir);
    for (line, name) in FILES {
        let output = on_a_full_disk(dir, line).output().unwrap();
        let said = stderr(&output);
        assert_eq!(output.status.code(), Some(2), "{line}: {said}");
        assert!(
            said.contains("File too large") && said.contains(name),
            "{line}: {said}"
        );
        assert!(
            !said.contains(".writing-"),
            "{line}: a name that nobody knows: {said}"
        );
        let left = contents(dir);
        let new: Vec<_> = left
            .iter()
            .filter(|file| !before.contains(file))
            .map(|(path, _)| path)
            .collect();
        assert!(
            new.is_empty() && left.len() == before.len(),
            "{line}: {new:?}"
        );
    }
}

#[test]
fn an_answer_that_nobody_gets_is_no_success_and_who_does_not_listen_changes_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    bench(dir);
    let full = || File::options().write(true).open("/dev/full").unwrap();
    for line in [
        "--version",
        "assess --help",
        "assess T1-dial.csv --explain rest_code",
        "wiring dial-rheostat",
        "constants --read block.json",
        "blend --block block.json",
        "report T1-dial.csv --out -",
        "profile",
        "profile schema",
        "schema blend/1",
        "constants T1-pedal.csv T1-dial.csv",
        "profile new --from T1-dial.csv --name our --kind dial",
        "history",
        "history T1-dial",
        "history --json",
        "machine machine.json",
        "machine machine.json --sheet -",
        "handbook",
        "completions bash",
    ] {
        let run = || {
            let mut command = program(dir);
            command.args(line.split(' '));
            command
        };
        let good = run().output().unwrap();
        assert!(!good.stdout.is_empty(), "{line}: {}", stderr(&good));
        let lost = run().stdout(full()).output().unwrap();
        assert_eq!(lost.status.code(), Some(2), "{line}: {}", stderr(&lost));
        let unheard = run().stderr(full()).output().unwrap();
        assert_eq!(unheard.status.code(), good.status.code(), "{line}");
        // A report says in which minute it was made, a machine's page on which day: it may have changed after the first.
        let same =
            unheard.stdout == good.stdout || unheard.stdout == run().output().unwrap().stdout;
        assert!(same, "{line}");
    }
}
