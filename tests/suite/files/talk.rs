//! What is said beside the answer: nothing, the usual, or everything that is done to files and ports.

use crate::support::program::{pedalproof, words};

#[test]
fn quiet_leaves_the_answer_and_the_errors() {
    let folder = tempfile::tempdir().unwrap();
    let run = |words: &[&str]| pedalproof(folder.path(), words);
    assert!(run(&["examples", "."]).status.success());
    let usual = words(&run(&["assess", "T1-dial.csv", "--keep"]));
    assert!(usual.contains("kept"), "{usual}");
    let quiet = run(&["-q", "assess", "T1-dial.csv", "--keep"]);
    assert_eq!(String::from_utf8_lossy(&quiet.stderr), "");
    assert!(!quiet.stdout.is_empty() && quiet.status.success());
    let refused = run(&["--quiet", "assess", "nowhere.csv"]);
    assert!(words(&refused).contains("nowhere.csv") && refused.status.code() == Some(2));
}

#[test]
fn verbose_says_which_files_are_read_and_written() {
    let folder = tempfile::tempdir().unwrap();
    let run = |words: &[&str]| pedalproof(folder.path(), words);
    assert!(run(&["examples", "."]).status.success());
    let plain = run(&["report", "T1-dial.csv", "--out", "page.html"]);
    assert!(!words(&plain).contains("read: "), "{}", words(&plain));
    let loud = run(&["report", "T1-dial.csv", "--out", "page.html", "--verbose"]);
    let words = String::from_utf8(loud.stderr).unwrap();
    assert!(
        words.contains("read: ") && words.contains("T1-dial.csv"),
        "{words}"
    );
    assert!(words.contains("written: page.html"), "{words}");
    assert!(run(&["-q", "-v", "ports"]).status.code() == Some(2));
}
