//! What is stated of a board's straightness when a recording is assessed holds for its report and its constants as well; and where the
//! kept record of the same recording says otherwise, the report's headline says so.

use crate::support::program::{example, pedalproof, stderr, stdout};
use serde_json::Value;
use std::path::Path;
use std::process::Output;

/// So bowed a board leaves the pedal's rest open: its limit is 40 codes away.
const BOWED: &str = "--inl-codes 45";

fn of_pedal(dir: &Path, before: &str, behind: &str) -> Output {
    let pedal = example("T1-pedal");
    let words = before.split(' ').chain([pedal.to_str().unwrap()]);
    let words: Vec<&str> = words.chain(behind.split_whitespace()).collect();
    pedalproof(dir, &words)
}

fn joined(output: &Output) -> String {
    let said = stdout(output);
    said.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_stated_bow_holds_for_report_and_constants() {
    let dir = tempfile::tempdir().unwrap();
    let assessed = of_pedal(dir.path(), "assess", BOWED);
    assert_eq!(assessed.status.code(), Some(3));
    let headline = stdout(&assessed).lines().next().unwrap().to_owned();
    assert!(headline.starts_with("MEASURE MORE"), "{headline}");
    let page = of_pedal(dir.path(), "report --format md --out -", BOWED);
    assert!(
        joined(&page).contains("MEASURE MORE") && !joined(&page).contains("FIT IT"),
        "{}{}",
        stderr(&page),
        stdout(&page)
    );
    let constants = of_pedal(dir.path(), "constants", BOWED);
    assert_eq!(constants.status.code(), Some(3), "{}", stderr(&constants));
    assert!(
        stdout(&constants).is_empty() && stderr(&constants).contains("No constants written"),
        "{}",
        stderr(&constants)
    );
    let constants = of_pedal(dir.path(), "constants", "--inl-codes 1");
    assert!(constants.status.success(), "{}", stderr(&constants));
    // The page about a part works it out from the recording's file alone.
    let sheet = of_pedal(dir.path(), "report --sheet --out -", BOWED);
    assert_eq!(sheet.status.code(), Some(2), "{}", stderr(&sheet));
}

#[test]
fn the_headline_says_that_the_kept_record_says_otherwise() {
    let dir = tempfile::tempdir().unwrap();
    let page = |behind: &str| of_pedal(dir.path(), "report --format md --out -", behind);
    assert!(!joined(&page("")).contains("record of this recording"));
    let kept = of_pedal(dir.path(), "assess", &format!("{BOWED} --keep"));
    assert!(stderr(&kept).contains("kept:"), "{}", stderr(&kept));
    let record = std::fs::read_dir(dir.path().join("records"))
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    let record: Value = serde_json::from_slice(&std::fs::read(record).unwrap()).unwrap();
    let day = &record["kept"].as_str().unwrap()[..10];
    let says = format!("FIT IT, but the kept record of this recording says MEASURE MORE ({day}):");
    for behind in ["", "--records records"] {
        let said = joined(&page(behind));
        assert!(said.contains(&says), "{says}: {said}");
    }
    // The same verdict: nothing to say.
    assert!(!joined(&page(BOWED)).contains("record of this recording"));
    // As assessed last.
    let kept = of_pedal(dir.path(), "assess", "--keep");
    assert!(stderr(&kept).contains("kept:"), "{}", stderr(&kept));
    let said = joined(&page(""));
    assert!(
        said.contains("FIT IT") && !said.contains("record of this recording"),
        "{said}"
    );
}
