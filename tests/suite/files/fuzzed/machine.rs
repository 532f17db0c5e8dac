//! A machine's file: what it takes is possible, is written and taken again as the same, and has a page of which every part can be
//! shown, whatever of its evidence is missing.

use jiff::Timestamp;
use pedalproof::machine::{Machine, Seen, standing};
use std::path::{Component, Path};

pub fn check(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    let Ok(machine) = Machine::from_json(text) else {
        return;
    };
    assert!((1..=64).contains(&machine.controls.len()));
    let written = machine.to_json();
    let again = Machine::from_json(&written).expect("what was written is read");
    assert_eq!(again.to_json(), written);
    for evidence in &machine.evidence {
        let mut parts = Path::new(&evidence.file).components();
        assert!(
            parts.all(|part| matches!(part, Component::Normal(_))),
            "{}",
            evidence.file
        );
    }
    let stands = standing(
        &machine,
        "machine.json",
        &Seen::default(),
        Timestamp::UNIX_EPOCH,
    );
    assert!(!stands.ready, "nothing of its evidence is there");
    assert!(!stands.next.trim().is_empty());
}
