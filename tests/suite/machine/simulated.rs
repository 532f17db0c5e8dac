//! What was recorded from a simulated board counts, and says everywhere that it was simulated.

use super::support::{add, examples, page, page_on};
use crate::support::program::{pedalproof, stderr};
use std::path::Path;

fn ran(dir: &Path, command: &str) -> String {
    let ran = pedalproof(dir, command);
    assert!(ran.status.success(), "{command}: {}", stderr(&ran));
    String::from_utf8(ran.stdout).unwrap()
}

#[test]
fn a_simulated_board_proves_a_machine_and_the_page_says_so() {
    let dir = examples();
    let dir = dir.path();
    ran(dir, "prove --demo --block T1.block.json --out D-out");
    ran(
        dir,
        "prove --demo --faults --block T1.block.json --out D-faults",
    );
    let proof = ran(dir, "prove D-out.csv --block T1.block.json");
    assert!(proof.contains("D-out.csv, simulated: "), "{proof}");
    let meta = std::fs::read_to_string(dir.join("D-out.csv-metadata.json")).unwrap();
    let meta: serde_json::Value = serde_json::from_str(&meta).unwrap();
    assert_eq!(meta["pedalproof"]["simulated"], true, "{meta}");

    // One of a board says nothing of it.
    let before = page(dir, "T1.json");
    assert!(
        !before.json.to_string().contains("simulated"),
        "{}",
        before.json
    );
    let (code, message) = add(dir, "T1.json", &["D-out.csv", "D-faults.csv"]);
    assert_eq!(code, 0, "{message}");
    let now = page(dir, "T1.json");
    assert_eq!(
        (now.code, &now.json["ready"]),
        (0, &true.into()),
        "{}",
        now.json
    );
    for link in ["output proof", "fault proof"] {
        assert!(
            now.why(link).starts_with("simulated: "),
            "{}",
            now.why(link)
        );
    }
    assert!(!now.why("control pedal").contains("simulated"));
    assert!(
        now.next().contains("at the machine itself"),
        "{}",
        now.next()
    );
    let words = ran(dir, "machine T1.json --on 2026-06-01");
    let first = "trolley T1: READY, with simulated recordings";
    assert!(words.starts_with(first), "{words}");
    let sheet = ran(dir, "machine T1.json --on 2026-06-01 --sheet -");
    assert!(sheet.contains("READY, but simulated: do not drive it"));
}

#[test]
fn a_part_of_the_demo_says_so_and_so_do_the_constants_made_of_it() {
    let dir = examples();
    let dir = dir.path();
    let shown = ran(dir, "demo T1-pedal --plain --speed 100 --out D-pedal");
    assert!(shown.contains("D-pedal.csv, simulated: "), "{shown}");
    let again = ran(dir, "assess D-pedal.csv");
    assert!(again.contains("D-pedal.csv, simulated: "), "{again}");
    let json = ran(dir, "assess D-pedal.csv --json");
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["capture"]["simulated"], true);
    ran(
        dir,
        "constants D-pedal.csv T1-dial.csv --format json --out D.block.json",
    );
    let (code, message) = add(dir, "T1.json", &["D-pedal.csv", "D.block.json"]);
    assert_eq!(code, 0, "{message}");
    // The demo's recording is of today.
    let now = page_on(dir, "T1.json", "2099-01-01");
    for link in ["control pedal", "constants"] {
        assert_eq!(now.state(link), "done", "{}", now.json);
        assert!(
            now.why(link).starts_with("simulated: "),
            "{}",
            now.why(link)
        );
    }
    assert!(!now.why("control dial").contains("simulated"));
}
