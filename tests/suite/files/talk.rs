//! What is said beside the answer: nothing, the usual, or everything that is done to files and ports.

use crate::support::program::{example, line, pedalproof, stderr, stdout};
use crate::support::terminal::Terminal;

#[test]
fn quiet_leaves_the_answer_and_the_errors() {
    let folder = tempfile::tempdir().unwrap();
    let run = |words: &[&str]| pedalproof(folder.path(), words);
    assert!(run(&["examples", "."]).status.success());
    let usual = stderr(&run(&["assess", "T1-dial.csv", "--keep"]));
    assert!(usual.contains("kept"), "{usual}");
    let quiet = run(&["-q", "assess", "T1-dial.csv", "--keep"]);
    assert_eq!(String::from_utf8_lossy(&quiet.stderr), "");
    assert!(!quiet.stdout.is_empty() && quiet.status.success());
    let refused = run(&["--quiet", "assess", "nowhere.csv"]);
    assert!(stderr(&refused).contains("nowhere.csv") && refused.status.code() == Some(2));
}

/// What stands against a constants file is said in any case.
#[test]
fn quiet_leaves_of_constants_what_stands_against_them() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    let (good, bad) = (example("T1-pedal"), example("T2-pedal"));
    let (good, bad) = (good.to_str().unwrap(), bad.to_str().unwrap());
    for with in [&["--out", "-"][..], &["--json"], &["--why"]] {
        let run = pedalproof(dir, &[&["-q", "constants", good], with].concat());
        assert_eq!(stderr(&run), "", "{with:?}");
        assert!(run.status.success() && !run.stdout.is_empty());
    }
    let refused = pedalproof(dir, &format!("-q constants {bad}"));
    let said = stderr(&refused);
    assert_eq!(refused.status.code(), Some(1), "{said}");
    assert!(
        said.starts_with("AGAINST IT: T2-pedal.csv fails")
            && said.contains("No constants written")
            && said.lines().count() == 2
            && stdout(&refused).is_empty(),
        "{said}"
    );
    let hex = [
        "-q",
        "constants",
        bad,
        "--format",
        "ihex",
        "--accept",
        "a toy",
    ];
    let said = stderr(&pedalproof(dir, &hex));
    assert!(said.contains("keep this with the board"), "{said}");
}

/// The screen does not stand still for seconds without a word, and what was said is gone before the answer.
#[cfg(unix)]
#[test]
fn one_long_recording_is_said_to_be_worked_at() {
    let folder = tempfile::tempdir().unwrap();
    let csv = example("T1-dial");
    let slow = format!("(sleep 4; cat {0}-metadata.json {0})", csv.display());
    let command = format!("{slow} | {} > answer", line("assess -"));
    let Some(terminal) = Terminal::start(folder.path(), 90, 10, &command) else {
        return;
    };
    terminal.sees("reading the recording and working it out ... 2 s");
    let end = terminal.wait_for("ended=0");
    assert!(!end.contains("reading"), "{end}");
    let answer = std::fs::read_to_string(folder.path().join("answer")).unwrap();
    assert!(answer.starts_with("FIT IT"), "{answer}");
}

#[test]
fn verbose_says_which_files_are_read_and_written() {
    let folder = tempfile::tempdir().unwrap();
    let run = |words: &[&str]| pedalproof(folder.path(), words);
    assert!(run(&["examples", "."]).status.success());
    let plain = run(&["report", "T1-dial.csv", "--out", "page.html"]);
    assert!(!stderr(&plain).contains("read: "), "{}", stderr(&plain));
    let loud = run(&["report", "T1-dial.csv", "--out", "page.html", "--verbose"]);
    let words = String::from_utf8(loud.stderr).unwrap();
    assert!(
        words.contains("read: ") && words.contains("T1-dial.csv"),
        "{words}"
    );
    assert!(words.contains("written: page.html"), "{words}");
    assert!(run(&["-q", "-v", "ports"]).status.code() == Some(2));
}
