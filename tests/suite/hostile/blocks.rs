//! Blocks that say two things: refused, and what to do.

use crate::support::program::{pedalproof, stderr, stdout};
use pedalproof::bench::trolley_block;
use pedalproof::constants::{formats, layout};

#[test]
fn an_edited_block_is_refused_unless_somebody_answers_for_it() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let block = trolley_block().unwrap();
    let json = formats::to_json(&block, "");
    let sum = layout::sum_of(&block);
    // The last two bytes of the block, low byte first (core/BLOCK.md).
    let bytes = layout::to_bytes(&block);
    let [.., low, high] = bytes[..] else {
        panic!("{bytes:?}")
    };
    assert_eq!(sum, format!("{high:02X}{low:02X}"));
    std::fs::write(dir.join("b.json"), &json).unwrap();
    let read = pedalproof(dir, "constants --read b.json");
    assert!(
        stdout(&read).contains(&format!("check sum {sum}")),
        "{}",
        stdout(&read)
    );
    let persistence = block.numbers().persistence;
    let edited = json.replace(
        &format!("\"persistence\": {persistence}"),
        &format!("\"persistence\": {}", persistence + 1),
    );
    assert_ne!(edited, json);
    std::fs::write(dir.join("b.json"), &edited).unwrap();
    for line in [
        &["constants", "--read", "b.json"][..],
        &["blend", "--block", "b.json"],
        &["constants", "--remake", "b.json"],
    ] {
        let output = pedalproof(dir, line);
        assert_eq!(output.status.code(), Some(2), "{line:?}");
        assert!(
            stderr(&output).contains(&sum) && stderr(&output).contains("--accept"),
            "{}",
            stderr(&output)
        );
    }
    let taken = pedalproof(
        dir,
        &[
            "constants",
            "--remake",
            "b.json",
            "--accept",
            "tried on the bench",
            "--format",
            "json",
            "--out",
            "n.json",
        ],
    );
    assert_eq!(taken.status.code(), Some(0), "{}", stderr(&taken));
    assert!(
        std::fs::read_to_string(dir.join("n.json"))
            .unwrap()
            .contains("ACCEPTED: tried on the bench")
    );
    assert_eq!(
        pedalproof(dir, "constants --read n.json").status.code(),
        Some(0)
    );
}

#[test]
fn two_arrays_in_a_header_are_one_too_many() {
    let header = formats::to_c_header(&trolley_block().unwrap(), "");
    let refused = formats::from_c_header(&header.repeat(2))
        .unwrap_err()
        .to_string();
    assert!(
        refused.contains("second array") && refused.contains("line"),
        "{refused}"
    );
    assert!(formats::from_c_header(&header).is_ok());
}
