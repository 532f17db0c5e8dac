//! Files in the way, and outputs that cannot be written: nothing that was measured is replaced or lost.

use crate::support::program::{example, pedalproof, words};
use std::path::{Path, PathBuf};

fn copied(dir: &Path, name: &str) {
    for end in ["", "-metadata.json"] {
        let from = format!("{}{end}", example(name).display());
        std::fs::copy(from, dir.join(format!("{name}.csv{end}"))).unwrap();
    }
}

#[test]
fn no_report_takes_the_place_of_a_recording() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    copied(dir, "T4-dial");
    let content = || {
        ["T4-dial.csv", "T4-dial.csv-metadata.json"]
            .map(|file| std::fs::read(dir.join(file)).unwrap())
    };
    let before = content();
    for out in ["T4-dial.csv", "./T4-dial.csv-metadata.json"] {
        let output = pedalproof(
            dir,
            &["report", "T4-dial.csv", "--format", "md", "--out", out],
        );
        assert_eq!(output.status.code(), Some(2), "{out}");
        assert!(
            words(&output).contains("never replaced"),
            "{}",
            words(&output)
        );
    }
    assert!(content() == before);
    std::fs::create_dir(dir.join("man")).unwrap();
    std::fs::write(dir.join("man/pedalproof.1"), "mine").unwrap();
    let output = pedalproof(dir, &["man", "man"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        words(&output).contains(&Path::new("man").join("pedalproof.1").display().to_string()),
        "{}",
        words(&output)
    );
    assert_eq!(
        std::fs::read(dir.join("man/pedalproof.1")).unwrap(),
        b"mine"
    );
}

#[test]
fn what_has_a_records_name_and_is_none_is_not_kept_before() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    copied(dir, "T4-dial");
    let keep = || pedalproof(dir, &["assess", "T4-dial.csv", "--keep"]);
    assert!(words(&keep()).contains("kept: "));
    assert!(words(&keep()).contains("kept before"));
    let record: PathBuf = std::fs::read_dir(dir.join("records"))
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    let in_the_way = |what: &str| {
        let output = keep();
        assert_eq!(output.status.code(), Some(2), "{what}");
        assert!(
            words(&output).contains("nothing was kept"),
            "{what}: {}",
            words(&output)
        );
    };
    std::fs::write(&record, "").unwrap();
    in_the_way("a file of no length");
    std::fs::remove_file(&record).unwrap();
    std::fs::create_dir(&record).unwrap();
    in_the_way("a folder");
    std::fs::remove_dir(&record).unwrap();
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(dir.join("nowhere"), &record).unwrap();
        in_the_way("a link to nowhere");
        assert!(!dir.join("nowhere").exists());
    }
}

#[cfg(target_os = "linux")]
#[test]
fn who_does_not_listen_does_not_end_a_recording_and_an_answer_that_is_lost_is_no_success() {
    use crate::support::program::program;
    use std::fs::File;
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let full = || File::options().write(true).open("/dev/full").unwrap();
    let demo = program(dir)
        .args(["demo", "T1-dial", "--plain", "--speed", "40", "--out", "d"])
        .stderr(full())
        .output()
        .unwrap();
    assert!(
        matches!(demo.status.code(), Some(0 | 1 | 3)),
        "{:?}",
        demo.status
    );
    let rows = std::fs::read_to_string(dir.join("d.csv"))
        .unwrap()
        .lines()
        .count();
    assert!(rows > 1000, "{rows}");
    for line in [
        "--help",
        "history --schema",
        "assess d.csv",
        "assess d.csv --json",
        "profile",
        "ports",
    ] {
        let output = program(dir)
            .args(line.split(' '))
            .stdout(full())
            .output()
            .unwrap();
        let nothing_to_say = line == "ports" && words(&output).is_empty();
        assert!(
            output.status.code() == Some(2) || nothing_to_say,
            "{line}: {:?} {}",
            output.status,
            words(&output)
        );
    }
}
