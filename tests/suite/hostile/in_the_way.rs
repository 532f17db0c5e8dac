//! Files in the way, and outputs that cannot be written: nothing that was measured is replaced or lost.

use crate::support::program::{example, pedalproof, stderr};
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
        let output = pedalproof(dir, &format!("report T4-dial.csv --format md --out {out}"));
        assert_eq!(output.status.code(), Some(2), "{out}");
        assert!(
            stderr(&output).contains("never replaced"),
            "{}",
            stderr(&output)
        );
    }
    assert!(content() == before);
    std::fs::create_dir(dir.join("man")).unwrap();
    std::fs::write(dir.join("man/pedalproof.1"), "mine").unwrap();
    let output = pedalproof(dir, "man man");
    assert_eq!(output.status.code(), Some(2));
    assert!(
        stderr(&output).contains(&Path::new("man").join("pedalproof.1").display().to_string()),
        "{}",
        stderr(&output)
    );
    assert_eq!(
        std::fs::read(dir.join("man/pedalproof.1")).unwrap(),
        b"mine"
    );
}

/// What may be in the way of a report, by name.
fn no_reports(dir: &Path) -> Vec<(String, Vec<u8>)> {
    let copied = |name: &str| std::fs::read(dir.join(name)).unwrap();
    let profile = include_bytes!("../../../profiles/dial-rheostat.json");
    vec![
        (
            "marks.csv.proof.json".to_owned(),
            copied("T1-faults.csv.proof.json"),
        ),
        ("machine.json".to_owned(), copied("T1.json")),
        ("block.json".to_owned(), copied("T1.block.json")),
        ("profile.json".to_owned(), profile.to_vec()),
        ("b.h".to_owned(), b"/* constants */\n".to_vec()),
        ("b.hex".to_owned(), b":00000001FF\n".to_vec()),
        (
            "notes.txt".to_owned(),
            b"# Bench report: what to do next\n\nbuy wire\n".to_vec(),
        ),
        ("notes.md".to_owned(), b"# Notes\n\n**wire**\n".to_vec()),
        (
            "page.html".to_owned(),
            b"<!DOCTYPE html><html lang=\"en\"><head></head></html>".to_vec(),
        ),
        ("scope.csv".to_owned(), b"Time,CH1\n0,0.5\n".to_vec()),
        ("empty.html".to_owned(), Vec::new()),
    ]
}

#[test]
fn a_report_takes_the_place_of_a_report_alone() {
    let dir = tempfile::tempdir().unwrap();
    assert!(pedalproof(dir.path(), "examples trolley").status.success());
    let dir = &dir.path().join("trolley");
    let lines: [&[&str]; 4] = [
        &["report", "T1-dial.csv", "--out"],
        &["report", "T1-dial.csv", "--format", "md", "--out"],
        &["report", "T1-dial.csv", "--sheet", "--out"],
        &["machine", "T1.json", "--sheet"],
    ];
    for (name, content) in no_reports(dir) {
        std::fs::write(dir.join(&name), &content).unwrap();
        for line in lines {
            let output = pedalproof(dir, &[line, &[&name]].concat());
            let said = stderr(&output);
            assert_eq!(output.status.code(), Some(2), "{line:?} {name}: {said}");
            assert!(
                said.contains("choose another name"),
                "{line:?} {name}: {said}"
            );
            assert!(
                std::fs::read(dir.join(&name)).unwrap() == content,
                "{line:?} {name}"
            );
        }
    }
    // An earlier one is renewed, in whichever form it was written: each over the one before it.
    for line in lines.iter().chain(&lines[..1]) {
        let output = pedalproof(dir, &[line, &["ours"][..]].concat());
        let said = stderr(&output);
        assert!(said.contains("written: ours"), "{line:?}: {said}");
    }
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("nowhere", dir.join("link.html")).unwrap();
        let output = pedalproof(dir, "report T1-dial.csv --out link.html");
        assert_eq!(output.status.code(), Some(2), "{}", stderr(&output));
        assert!(!dir.join("nowhere").exists() && dir.join("link.html").is_symlink());
    }
}

#[test]
fn marks_of_another_round_are_not_replaced() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    std::fs::write(dir.join("m3.csv.proof.json"), "mine").unwrap();
    for round in [&["--faults", "--round", "reset"][..], &[]] {
        let line = [&["prove", "--demo", "--out", "m3"], round].concat();
        let output = pedalproof(dir, &line);
        let said = stderr(&output);
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(
            said.contains("m3.csv.proof.json") && said.contains("choose another name"),
            "{said}"
        );
        assert!(!dir.join("m3.csv").exists(), "nothing was begun");
    }
    assert_eq!(
        std::fs::read(dir.join("m3.csv.proof.json")).unwrap(),
        b"mine"
    );
}

#[cfg(unix)]
#[test]
fn a_machine_keeps_its_permissions_and_its_link_and_a_link_to_nowhere_is_in_the_way() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    copied(dir, "T4-dial");
    let new = [
        "machine",
        "new",
        "M.json",
        "--name",
        "M",
        "--control",
        "dial=dial-rheostat",
    ];
    assert!(pedalproof(dir, &new).status.success());
    let file = dir.join("M.json");
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o600)).unwrap();
    symlink("M.json", dir.join("link.json")).unwrap();
    let output = pedalproof(dir, "machine add link.json T4-dial.csv");
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(dir.join("link.json").is_symlink());
    assert!(
        std::fs::read_to_string(&file)
            .unwrap()
            .contains("T4-dial.csv")
    );
    assert_eq!(file.metadata().unwrap().permissions().mode() & 0o777, 0o600);

    let numbers = (0..400).map(|k| format!("{},{}\n", f64::from(k) / 100.0, 500 + k % 3));
    std::fs::write(dir.join("sheet.txt"), numbers.collect::<String>()).unwrap();
    let import = "import sheet.txt --time 1 --time-unit s --signal dial=2 --unit code --vref-mv 5000 --bits 10 --out x";
    for line in [
        import,
        "demo T1-dial --plain --speed 1000 --out x",
        "record --port - --steps rest=0.1 --out x",
    ] {
        for name in ["x.csv", "x.csv-metadata.json"] {
            symlink("nowhere", dir.join(name)).unwrap();
            let output = pedalproof(dir, line);
            let said = stderr(&output);
            assert_eq!(output.status.code(), Some(2), "{line}: {said}");
            assert!(
                said.contains(name) && said.contains("choose another name"),
                "{line}: {said}"
            );
            assert!(
                dir.join(name).is_symlink() && !dir.join("nowhere").exists(),
                "{line}"
            );
            std::fs::remove_file(dir.join(name)).unwrap();
        }
    }
}

#[test]
fn what_has_a_records_name_and_is_none_is_not_kept_before() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    copied(dir, "T4-dial");
    let keep = || pedalproof(dir, "assess T4-dial.csv --keep");
    assert!(stderr(&keep()).contains("kept: "));
    assert!(stderr(&keep()).contains("kept before"));
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
            stderr(&output).contains("nothing was kept"),
            "{what}: {}",
            stderr(&output)
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
        let nothing_to_say = line == "ports" && stderr(&output).is_empty();
        assert!(
            output.status.code() == Some(2) || nothing_to_say,
            "{line}: {:?} {}",
            output.status,
            stderr(&output)
        );
    }
}
