//! C header, EEPROM image and JSON: each carries every block and back, and refuses what is not one by its line.
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // of known range, and a test

use super::support::blocks;
use crate::support::tools;
use pedalproof::constants::formats::{
    Format, from_c_header, from_ihex, from_json, to_c_header, to_ihex, to_json,
};
use pedalproof::constants::{Block, TargetBoard, layout};
use proptest::prelude::*;
use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;

fn any_block() -> impl Strategy<Value = Block> {
    (any::<u64>(), 8..=15_u8, 8..=16_u8, 1..u16::MAX).prop_map(
        |(seed, adc_bits, dac_bits, rate_hz)| {
            let board = TargetBoard {
                adc_bits,
                dac_bits,
                rate_hz,
            };
            blocks::random(&mut blocks::rng(seed), board)
        },
    )
}

proptest! {
    #[test]
    fn every_format_carries_every_block(block in any_block(), comment in "\\PC{0,40}(\n\\PC{0,40}){0,3}") {
        prop_assert_eq!(layout::from_bytes(&layout::to_bytes(&block)), Ok(block.clone()));
        for format in [Format::C, Format::Ihex, Format::Json] {
            let text = format.write(&block, &comment);
            prop_assert_eq!(Format::of(&text), format);
            prop_assert_eq!(format.read(&text), Ok(block.clone()), "{}", text);
        }
    }

    /// One changed character of an image is found, wherever it is: by the record's sum or by the block's.
    #[test]
    fn a_changed_image_is_never_another_block(block in any_block(), at in any::<prop::sample::Index>(), to in "[0-9A-F]") {
        let mut text = to_ihex(&block);
        let at = at.index(text.len());
        text.replace_range(at..=at, &to);
        if let Ok(read) = from_ihex(&text) {
            prop_assert_eq!(read, block);
        }
    }
}

/// Records that the specification calls good and bad, with sums computed outside this project.
#[test]
fn image_records_are_those_of_the_specification() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/09-checksums.json");
    let reference: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let record = |entry: &serde_json::Value| entry["record"].as_str().unwrap().to_owned();
    let bad = reference["expected"]["intel_hex_bad"].as_array().unwrap();
    assert_eq!(bad.len(), 6);
    for entry in bad {
        let words = from_ihex(&format!("{}\n:00000001FF\n", record(entry)))
            .unwrap_err()
            .to_string();
        assert!(
            words.starts_with("line 1: no good record"),
            "{entry}: {words}"
        );
    }
    for entry in reference["expected"]["intel_hex_good"].as_array().unwrap() {
        // Good as records; none of them is an image from address 0 with a block in it.
        let words = from_ihex(&format!("{}\n:00000001FF\n", record(entry)))
            .unwrap_err()
            .to_string();
        let expected = match (
            entry["type"].as_str().unwrap(),
            entry["address"].as_u64().unwrap(),
        ) {
            ("end of file", _) => "something follows",
            (kind, 0) if kind.starts_with("data") => "no constants file",
            (kind, _) if kind.starts_with("data") => "a part is missing",
            _ => "no EEPROM image",
        };
        assert!(words.contains(expected), "{entry}: {words}");
    }
}

#[test]
fn an_image_is_read_whole_or_not_at_all() {
    let good = to_ihex(&blocks::fitted());
    let lines: Vec<&str> = good.lines().collect();
    for cut in 0..lines.len() {
        let words = from_ihex(&lines[..cut].join("\n")).unwrap_err().to_string();
        assert!(words.contains("cut off"), "{words}");
    }
    for gone in 0..lines.len() - 1 {
        let mut fewer = lines.clone();
        fewer.remove(gone);
        assert!(from_ihex(&fewer.join("\n")).is_err(), "without line {gone}");
        let mut twice = lines.clone();
        twice.insert(gone, lines[gone]);
        assert!(from_ihex(&twice.join("\n")).is_err(), "line {gone} twice");
    }
    assert_eq!(from_ihex(&lines.join("\r\n")), Ok(blocks::fitted()));
    assert!(from_ihex("").unwrap_err().to_string().contains("cut off"));
}

#[test]
fn an_eeprom_that_was_read_out_is_read_back() {
    let mut memory = layout::to_bytes(&blocks::two_track());
    memory.resize(1024, 0xFF);
    let mut text = String::new();
    for (n, line) in memory.chunks(32).enumerate() {
        let mut record = vec![32, ((n * 32) >> 8) as u8, (n * 32) as u8, 0];
        record.extend(line);
        let sum = record
            .iter()
            .fold(0_u8, |sum, byte| sum.wrapping_sub(*byte));
        text.push(':');
        record
            .iter()
            .chain([&sum])
            .for_each(|byte| write!(text, "{byte:02X}").unwrap());
        text.push('\n');
    }
    text.push_str(":00000001FF\n");
    assert_eq!(from_ihex(&text), Ok(blocks::two_track()));
}

/// The header compiles without a warning, whatever the comment, and the compiler sees the block's bytes.
#[test]
fn a_compiler_reads_the_header() {
    if !tools::c_compiler_is_here() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let block = blocks::fitted();
    let comment =
        "accepted: \"hidden */ fault\" /* see note */ **//**/\nends in a backslash \\\n??/ and /*";
    std::fs::write(folder.path().join("block.h"), to_c_header(&block, comment)).unwrap();
    std::fs::write(
        folder.path().join("main.c"),
        "#include <stdio.h>\n#include \"block.h\"\nint main(void) { return fwrite(pp_block, 1, sizeof pp_block, stdout) == 0; }\n",
    )
    .unwrap();
    let program = folder.path().join("main");
    let output = Command::new("cc")
        .args([
            "-std=c99",
            "-pedantic",
            "-Wall",
            "-Wextra",
            "-Wconversion",
            "-Wcomment",
            "-Werror",
            "-o",
        ])
        .arg(&program)
        .arg(folder.path().join("main.c"))
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let said = Command::new(&program).output().unwrap().stdout;
    assert_eq!(said, layout::to_bytes(&block));
    assert_eq!(from_c_header(&to_c_header(&block, comment)), Ok(block));
}

#[test]
fn a_spoilt_header_is_refused_by_its_line() {
    let good = to_c_header(&blocks::straight(), "T1, pedal and dial");
    assert!(good.contains("\n * T1, pedal and dial\n"));
    for (from, to, words) in [
        ("0x50, 0x50", "0x150, 0x50", "`0x150` is no byte"),
        ("0x50, 0x50", "0x5O, 0x50", "`0x5O` is no byte"),
        ("0x50, 0x50", "0x50, , 0x50", "`` is no byte"),
        ("0x50, 0x50", "0x50", "has 55 bytes"),
        ("0x50, 0x50", "0x51, 0x50", "no constants file"),
        ("pp_block[", "block[", "no array pp_block"),
        ("};", "", "does not end"),
        ("PROGMEM on AVR. */", "PROGMEM on AVR.", "does not end"),
    ] {
        assert!(good.contains(from), "{from}");
        let said = from_c_header(&good.replacen(from, to, 1))
            .unwrap_err()
            .to_string();
        assert!(said.contains(words), "{from} -> {to}: {said}");
    }
    let line = 1 + good[..good.find("0x50, 0x50").unwrap()]
        .matches('\n')
        .count();
    let said = from_c_header(&good.replacen("0x50, 0x50", "0x50, x", 1))
        .unwrap_err()
        .to_string();
    assert!(said.starts_with(&format!("line {line}:")), "{said}");
}

#[test]
fn json_is_read_by_name() {
    let good = to_json(&blocks::two_track(), "accepted: short to supply is hidden");
    assert!(good.contains("accepted: short to supply"));
    for (from, to, words) in [
        ("block/2", "block/3", "`block/3` is not `block/2`"),
        (
            "\"rise_q15\": 400",
            "\"rise_q15\": 0",
            "at `output.rise_q15`",
        ),
        ("\"rise_q15\": 400", "\"rise_q15\": 70000", "line"),
        ("\"rise_q15\": 400", "\"rize_q15\": 400", "rize_q15"),
        ("\"persistence\": 3,", "", "missing field"),
        ("\"partner\": 0", "\"partner\": 2, \"extra\": 1", "extra"),
    ] {
        assert!(good.contains(from), "{from} in {good}");
        let said = from_json(&good.replacen(from, to, 1))
            .unwrap_err()
            .to_string();
        assert!(said.contains(words), "{from} -> {to}: {said}");
    }
}

/// What the compiler would see is what is read, or nothing is.
#[test]
fn a_header_in_which_the_compiler_may_see_another_array_is_refused() {
    let good = to_c_header(&blocks::straight(), "T1, pedal and dial");
    let other = to_c_header(&blocks::two_track(), "another");
    let array = |text: &str| {
        let begins = text.find("static const").unwrap();
        text[begins..=text.find("};").unwrap() + 1].to_owned()
    };
    let (own, other) = (array(&good), array(&other));
    for both in [
        format!(
            "#if 0\n{own}\n#else\n{}\n#endif\n",
            other.replace("pp_block[", "pp_block [")
        ),
        format!("{own}\n{}\n", other.replace("pp_block[", "pp_block/**/\n[")),
        format!("{own}\n{}\n", other.replace("pp_block[", "pp_blo\\\nck[")),
        format!("// /*\n{other}\n// */\n#if 0\n{own}\n#endif\n"),
        format!("// goes on \\\n{own}\n{other}\n"),
        format!("#define mine pp_block\n{own}\n"),
        format!("#ifdef OTHER\n{own}\n#endif\n"),
    ] {
        assert!(from_c_header(&both).is_err(), "{both}");
    }
    // What only looks like it is no second array.
    let looks = good.replace(
        "#endif",
        "/* pp_block[ */ // pp_block[\nextern int my_pp_block[2], pp_block_size;\n#endif",
    );
    assert_eq!(from_c_header(&looks), Ok(blocks::straight()));
    let said = from_c_header(&good.replacen('{', "{ 0x0\n\nFIT IT: all 14 checks passed\nz,", 1));
    let said = said.unwrap_err().to_string();
    assert!(said.contains("FIT IT") && !said.contains('\n'), "{said}");
}

/// A JSON block that is not what was written is taken with a reason only.
#[test]
fn json_that_was_changed_is_refused_whatever_was_changed() {
    let good = to_json(&blocks::two_track(), "missed: DANGEROUS: x\ncheck");
    let changed = |change: fn(&mut serde_json::Value)| {
        let mut value: serde_json::Value = serde_json::from_str(&good).unwrap();
        change(&mut value);
        value.to_string()
    };
    for (text, words) in [
        (
            changed(|v| v["block"]["persistence"] = 250.into()),
            "numbers were changed",
        ),
        (
            changed(|v| {
                v["block"]["persistence"] = 250.into();
                v.as_object_mut().unwrap().remove("check_sum");
            }),
            "check sum is missing",
        ),
        (
            changed(|v| {
                v["block"]["persistence"] = 250.into();
                v["format"] = "block/1".into();
            }),
            "says block/1",
        ),
        (
            changed(|v| v["comment"] = serde_json::json!(["check"])),
            "comment was changed",
        ),
        (
            good.replacen("\"persistence\"", "\"persistence\": 3, \"persistence\"", 1),
            "`persistence` stands twice",
        ),
    ] {
        let said = from_json(&text).unwrap_err().to_string();
        assert!(said.contains(words), "{words} in {said}");
    }
    assert_eq!(from_json(&good), Ok(blocks::two_track()));
    // Written before the comment had a sum.
    let before = changed(|v| {
        v.as_object_mut().unwrap().remove("comment_sum");
    });
    assert_eq!(from_json(&before), Ok(blocks::two_track()));
    let bare = to_json(&blocks::two_track(), "");
    assert_eq!(from_json(&bare), Ok(blocks::two_track()));
}

/// The format before it said nothing of what is watched: read with what is usual.
#[test]
fn json_of_the_format_before_can_be_made_again() {
    let mut old: serde_json::Value =
        serde_json::from_str(&to_json(&blocks::two_track(), "old")).unwrap();
    old["format"] = "block/1".into();
    for sum in ["check_sum", "comment_sum"] {
        assert!(old.as_object_mut().unwrap().remove(sum).is_some());
    }
    let block = old["block"].as_object_mut().unwrap();
    assert!(block.remove("watch").is_some());
    let output = block["output"].as_object_mut().unwrap();
    assert!(output.remove("waits_at_zero").is_some());
    assert_eq!(from_json(&old.to_string()), Ok(blocks::two_track()));
    old["block"] = 3.into();
    assert!(from_json(&old.to_string()).is_err());
}
