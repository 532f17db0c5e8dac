//! The sheet to hang at the machine: what stands on it, and that it is one A4 page.

use super::support::{IN_TIME, examples};
use crate::assess::report_browser::Browser;
use crate::support::program::{pedalproof, stderr};

#[test]
fn it_says_what_a_person_at_the_machine_needs() {
    let dir = examples();
    let arguments = ["machine", "T1.json", "--on", IN_TIME, "--sheet", "-"];
    let ran = pedalproof(dir.path(), &arguments);
    assert!(ran.status.success(), "{}", stderr(&ran));
    let page = String::from_utf8(ran.stdout).unwrap();
    if let Some(browser) = Browser::start() {
        let out = dir.path().join("T1.html");
        std::fs::write(&out, &page).unwrap();
        assert_eq!(browser.pages(&out), 1);
    }
    // Rest and full of T1's pedal: 163.7 and 859.9 of 1024 codes at 5 V (constants of the same recording) are 0.80 and 4.20 V.
    for part in [
        "trolley T1",
        "READY",
        "T1-pedal",
        "11 Apr 2026",
        "0.80 V",
        "4.20 V",
        "A0",
        "A2",
        "colour",
        "T1.block.json",
        "check sum ",
        "LED",
        "EMERGENCY",
        "next: Apr 2027",
        "signature",
        // What `constants` lists as dangerous for the same dial.
        "No broken or touching wire gives more than was asked.",
        "dial: poor contact at the wiper (to 100 %)",
        "pedal: ",
        // The whole of what the proof leaves open.
        "but for what the constants cannot notice: when A2",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert!(!page.contains("none that gives more"), "{page}");
    assert!(!page.contains('\u{2026}'), "nothing of it is cut: {page}");
    for foreign in ["<script", "http:", "https:", "<img", "url("] {
        assert!(!page.contains(foreign), "{foreign}: {page}");
    }
}

#[test]
fn every_sheet_prints_on_one_a4_page() {
    let Some(browser) = Browser::start() else {
        return;
    };
    let dir = examples();
    let dir = dir.path();
    // The most that fits a machine: four controls, long names, everything open.
    let long = "an electric inspection trolley with a name that fills its sign ".repeat(3);
    let mut new = vec!["machine", "new", "T9.json", "--name", long.trim()];
    let controls =
        ["a", "b", "c", "d"].map(|n| format!("{}{n}=pedal-hall-two-track", "pedal-".repeat(6)));
    for control in &controls {
        new.extend(["--control", control]);
    }
    let ran = pedalproof(dir, &new);
    assert!(ran.status.success(), "{}", stderr(&ran));
    for machine in ["T3", "T9"] {
        let out = dir.join(format!("{machine}.html"));
        let (file, sheet) = (format!("{machine}.json"), out.to_str().unwrap());
        let ran = pedalproof(dir, &["machine", &file, "--on", IN_TIME, "--sheet", sheet]);
        assert!(out.exists(), "{}", stderr(&ran));
        assert_eq!(browser.pages(&out), 1, "{machine}");
    }
}

/// DESIGN.md 4.9: `machine FILE [--json] [--sheet OUT.html]`.
#[test]
fn a_sheet_and_the_json_come_together_but_not_both_to_the_standard_output() {
    let dir = examples();
    let asked = "machine T1.json --on 2026-06-01 --json --sheet";
    let ran = pedalproof(dir.path(), &format!("{asked} T1.html"));
    assert_eq!(ran.status.code(), Some(0), "{ran:?}");
    let json: serde_json::Value = serde_json::from_slice(&ran.stdout).unwrap();
    assert_eq!(json["ready"], true);
    assert!(dir.path().join("T1.html").exists());
    let ran = pedalproof(dir.path(), &format!("{asked} -"));
    assert_eq!(ran.status.code(), Some(2));
    assert!(ran.stdout.is_empty());
}
