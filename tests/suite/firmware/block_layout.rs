//! One table of "which byte where": the C header and the document must say what the program's table says, and the
//! bytes must be what the table says.
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // of known range, and a test

use super::support::blocks;
use pedalproof::constants::layout::{
    self, MAGIC, MULTIPLIES, OLD_VERSION, PARTS, VERSION, WAITS_AT_ZERO, check_sum,
};
use pedalproof::constants::{Block, Build, DecodeError, Q15_ONE};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

fn core_file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("src/firmware/core")
        .join(name)
}

fn core_text(name: &str) -> String {
    std::fs::read_to_string(core_file(name)).unwrap()
}

/// Every `#define NAME NUMBER`.
fn defines(text: &str) -> BTreeMap<String, u64> {
    text.lines()
        .filter_map(|line| {
            let mut words = line.strip_prefix("#define ")?.split_whitespace();
            let name = words.next()?.to_owned();
            let value = words.next()?.trim_end_matches('u');
            let number = match value.strip_prefix("0x") {
                Some(hex) => u64::from_str_radix(hex, 16).ok()?,
                None => value.parse().ok()?,
            };
            Some((name, number))
        })
        .collect()
}

#[test]
fn the_c_header_says_what_the_table_says() {
    let mut defined = defines(&core_text("layout.h"));
    for (part, bytes, fields) in PARTS {
        assert_eq!(defined.remove(*part), Some(*bytes as u64), "{part}");
        for (name, field) in *fields {
            assert_eq!(defined.remove(*name), Some(field.at as u64), "{name}");
            assert!(field.at + field.bytes <= *bytes, "{name}");
        }
    }
    let rest = [
        ("PP_MAGIC", u64::from(MAGIC)),
        ("PP_MULTIPLIES", u64::from(MULTIPLIES)),
        ("PP_ONE", u64::from(Q15_ONE)),
        ("PP_VERSION", u64::from(VERSION)),
        ("PP_WAITS_AT_ZERO", u64::from(WAITS_AT_ZERO)),
    ];
    let rest = rest.map(|(name, value)| (name.to_owned(), value));
    assert_eq!(
        defined,
        BTreeMap::from(rest),
        "defined in C and not in the table"
    );
}

#[test]
fn the_core_is_built_for_what_the_program_thinks() {
    let defined = defines(&core_text("blend.h"));
    let build = Build::default();
    assert_eq!(defined["PP_MAX_INPUTS"], build.inputs as u64);
    assert_eq!(defined["PP_MAX_SEGMENTS"], build.segments as u64);
}

/// Sizes of the parts from their headings, offset, size and C name of each field from its row.
#[test]
fn the_document_holds_the_table() {
    let text = core_text("BLOCK.md");
    let (_, rest) = text
        .split_once(
            "compares -->
",
        )
        .unwrap();
    let (written, _) = rest.split_once("<!-- end of table -->").unwrap();
    let said: Vec<String> = written
        .lines()
        .filter_map(|line| match line.strip_prefix("### ") {
            Some(heading) => Some(
                heading
                    .split_once('(')?
                    .1
                    .split_once(" bytes")?
                    .0
                    .to_owned(),
            ),
            None => line.contains('`').then(|| {
                let cells: Vec<&str> = line.split('|').map(str::trim).collect();
                cells[1..4].join(" ")
            }),
        })
        .collect();
    let parts = PARTS.iter().flat_map(|(_, bytes, fields)| {
        let rows = fields
            .iter()
            .map(|(name, field)| format!("{} {} `{name}`", field.at, field.bytes));
        std::iter::once(bytes.to_string()).chain(rows)
    });
    assert_eq!(said, parts.collect::<Vec<_>>());
}

/// A whole block, byte by byte by hand: the two-track pedal with its dial.
#[test]
fn a_block_byte_by_byte() {
    let bytes = layout::to_bytes(&blocks::two_track());
    #[rustfmt::skip]
    let expected = [
        b'P', b'P', b'B', b'K', 2, 3, 71, 0, // version, inputs, length = 32 + 3 x 11 + 4 + 2
        10, 12, 0xE8, 0x03,                  // 1000 Hz
        0, 0, 0xFF, 0x0F,                    // 0, 4095
        0x90, 0x01, 0x00, 0x80,              // 400, 32768
        3, 0, 3, 0, 0,                       // start samples, persistence, start input
        0, 204, 0, 251, 0, 130, 0,           // flags; 1100 of 5500 and of 4500 mV: 204.8 down, 250.3 up; 122.9 + 8
        82, 0, 0xAE, 0x03, 170, 0, 0x52, 0x03, 1, 1, 0xFF, // 942; 850; shift 1, one point
        41, 0, 0xD7, 0x01, 0x00, 0x08, 3, 0, 12, 0, 0,     // 471; 0.5 is 2048; partner 0
        10, 0, 0xE8, 0x03, 30, 0, 0xD4, 0x03, 0, 0, 0xFF,  // 1000; 980
        0xF4, 0x01, 0xE0, 0x2E,              // 500, 12000
    ];
    assert_eq!(bytes[..69], expected);
    assert_eq!(bytes[69..], bitwise_crc(&expected).to_le_bytes());
    assert_eq!(layout::from_bytes(&bytes), Ok(blocks::two_track()));
}

/// A block of version 1, byte by byte by hand: read with what is usual where it said nothing, and written as one of today.
#[test]
fn a_block_of_version_1_can_be_made_again() {
    #[rustfmt::skip]
    let old = [
        b'P', b'P', b'B', b'K', OLD_VERSION, 3, 64, 0, // length = 25 + 3 x 11 + 4 + 2
        10, 12, 0xE8, 0x03, 0, 0, 0xFF, 0x0F, 0x90, 0x01, 0x00, 0x80, 3, 0, 3, 0, 0,
        82, 0, 0xAE, 0x03, 170, 0, 0x52, 0x03, 1, 1, 0xFF,
        41, 0, 0xD7, 0x01, 0x00, 0x08, 3, 0, 12, 0, 0,
        10, 0, 0xE8, 0x03, 30, 0, 0xD4, 0x03, 0, 0, 0xFF,
        0xF4, 0x01, 0xE0, 0x2E,
    ];
    let old = with_sum(old.to_vec());
    let block = layout::from_bytes(&old).unwrap();
    assert_eq!(block, blocks::two_track());
    assert_eq!(layout::to_bytes(&block)[4], VERSION);
    let mut flagged = layout::to_bytes(&block);
    flagged.truncate(flagged.len() - 2);
    flagged[25] = 2;
    assert!(said(&with_sum(flagged)).contains("flags"));
}

/// CRC-16/IBM-3740 bit by bit, from its catalogue parameters: 0x1021 from 0xFFFF, nothing reflected.
fn bitwise_crc(bytes: &[u8]) -> u16 {
    bytes.iter().fold(0xFFFF, |crc, byte| {
        (0..8).fold(crc ^ u16::from(*byte) << 8, |crc: u16, _| {
            if crc & 0x8000 == 0 {
                crc << 1
            } else {
                crc << 1 ^ 0x1021
            }
        })
    })
}

/// Every message of the reference file, whose sums were computed outside this project.
#[test]
fn check_sums_are_those_of_the_catalogue() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/09-checksums.json");
    let reference: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let sums = reference["expected"]["crc"]["CRC-16/IBM-3740"]["crc"]
        .as_object()
        .unwrap();
    assert_eq!(sums.len(), 10);
    for (name, sum) in sums {
        let message = reference["inputs"][name].as_str().unwrap();
        let bytes: Vec<u8> = (0..message.len() / 2)
            .map(|i| u8::from_str_radix(&message[2 * i..2 * i + 2], 16).unwrap())
            .collect();
        assert_eq!(
            format!("0x{:04X}", check_sum(&bytes)),
            sum.as_str().unwrap(),
            "{name}"
        );
    }
}

fn with_sum(mut body: Vec<u8>) -> Vec<u8> {
    let sum = check_sum(&body);
    body.extend(sum.to_le_bytes());
    body
}

fn said(bytes: &[u8]) -> String {
    layout::from_bytes(bytes).unwrap_err().to_string()
}

#[test]
fn what_is_no_block_is_refused_by_name() {
    let good = layout::to_bytes(&blocks::fitted());
    let body = good[..good.len() - 2].to_vec();
    assert!(said(&[]).contains("begins with nothing"), "{}", said(&[]));
    assert!(said(&[0xFF; 80]).contains("begins with FF FF FF FF"));

    let mut newer = body.clone();
    newer[4] = 3;
    let words = said(&with_sum(newer));
    assert!(
        words.contains("version 3") && words.contains("newer pedalproof"),
        "{words}"
    );
    let mut older = body.clone();
    older[4] = 0;
    assert!(said(&with_sum(older)).contains("make the constants file again"));

    for cut in 5..good.len() {
        let refusal = layout::from_bytes(&good[..cut]).unwrap_err();
        assert!(
            matches!(refusal, DecodeError::Length { .. }),
            "{cut}: {refusal}"
        );
    }
    let mut joined = good.clone();
    joined.push(0);
    assert!(
        said(&joined).contains("to have 84 bytes and has 85"),
        "{}",
        said(&joined)
    );

    // Says 84 bytes and has them, but its inputs need more.
    let mut more = body.clone();
    more[5] = 8;
    let words = said(&with_sum(more));
    assert!(words.contains("cut off"), "{words}");
    let mut fewer = body.clone();
    fewer[5] = 1;
    assert!(said(&with_sum(fewer)).contains("something is joined"));
}

/// Any one flipped bit, and any two next to each other, anywhere.
#[test]
fn every_flipped_bit_is_found() {
    let good = layout::to_bytes(&blocks::two_track());
    for bit in 0..good.len() * 8 {
        for width in 1..=2 {
            let mut bad = good.clone();
            for flipped in bit..(bit + width).min(good.len() * 8) {
                bad[flipped / 8] ^= 1 << (flipped % 8);
            }
            let refusal = layout::from_bytes(&bad).unwrap_err();
            let expected = match bit / 8 {
                0..=3 => matches!(refusal, DecodeError::Magic { .. }),
                // Two bits make a 1 of a 2: that version is read, and its sum is wrong.
                4 => matches!(
                    refusal,
                    DecodeError::Version { .. } | DecodeError::CheckSum { .. }
                ),
                5 => matches!(
                    refusal,
                    DecodeError::CheckSum { .. } | DecodeError::Length { .. }
                ),
                6..=7 => matches!(refusal, DecodeError::Length { .. }),
                _ => matches!(refusal, DecodeError::CheckSum { .. }),
            };
            assert!(expected, "bit {bit}: {refusal}");
        }
    }
}

type Change<'a> = &'a dyn Fn(&mut pedalproof::constants::Factor);

/// One bad number at a time; the refusal names its place.
#[test]
fn impossible_numbers_are_refused_by_place() {
    use pedalproof::constants::{BlockFields, Point, Task};
    type Spoil = fn(&mut BlockFields);
    let pedal = |draft: &mut BlockFields, change: &dyn Fn(&mut pedalproof::constants::Factor)| {
        if let Task::Factor(factor) = &mut draft.inputs[0].task {
            change(factor);
        }
    };
    let spoils: &[(&str, Spoil)] = &[
        ("board.adc_bits", |d| d.board.adc_bits = 7),
        ("board.adc_bits", |d| d.board.adc_bits = 16),
        ("board.dac_bits", |d| d.board.dac_bits = 17),
        ("board.rate_hz", |d| d.board.rate_hz = 0),
        ("output.zero_dac", |d| d.output.zero_dac = 4095),
        ("output.full_dac", |d| d.output.full_dac = 4096),
        ("output.rise_q15", |d| d.output.rise_q15 = 0),
        ("output.fall_q15", |d| d.output.fall_q15 = 32_769),
        ("inputs", |d| d.inputs.clear()),
        ("inputs", |d| {
            let one = d.inputs[0].clone();
            d.inputs = vec![one; 9];
        }),
        ("persistence", |d| d.persistence = 0),
        ("watch.supply", |d| d.watch.supply.low = 251),
        ("watch.supply", |d| d.watch.supply.high = 1024),
        ("watch.read_back", |d| d.watch.read_back = 4096),
        ("start.samples", |d| d.start.samples = 0),
        ("start.input", |d| d.start.input = 3),
        ("start.input", |d| d.start.input = 1),
        ("inputs[2].window", |d| {
            d.inputs[2].window = blocks::window(10, 10);
        }),
        ("inputs[2].window", |d| d.inputs[2].window.high = 1024),
        ("inputs[0].factor.rest_edge", |d| {
            d.inputs[0].window.low = 171;
        }),
        ("inputs[0].factor.full_edge", |d| {
            d.inputs[0].window.high = 849;
        }),
        ("inputs[1].check.gain_q12", |d| {
            d.inputs[1] = blocks::check(41, 471, 0, 0.0, 3, 12);
        }),
        ("inputs[1].check.gain_q12", |d| {
            // 15 bits and a gain of more than 1: the core's 32 bits do not hold it.
            d.board.adc_bits = 15;
            for input in &mut d.inputs {
                if let Task::Factor(factor) = &mut input.task {
                    factor.filter_shift = 0;
                }
            }
            d.inputs[1] = blocks::check(41, 471, 0, 1.001, 3, 12);
        }),
        ("inputs[1].check.partner", |d| {
            d.inputs[1] = blocks::check(41, 471, 1, 0.5, 3, 12);
        }),
        ("inputs[1].check.partner", |d| {
            d.inputs[1] = blocks::check(41, 471, 9, 0.5, 3, 12);
        }),
        ("inputs[1].check.band", |d| {
            d.inputs[1] = blocks::check(41, 471, 0, 0.5, 3, 1024);
        }),
    ];
    for (place, spoil) in spoils {
        let mut draft = blocks::two_track().numbers().clone();
        spoil(&mut draft);
        assert_eq!(Block::new(draft).unwrap_err().place, *place);
    }
    let points = |points: &[(u16, u16)]| -> Vec<Point> {
        points
            .iter()
            .map(|&(code, q15)| Point { code, q15 })
            .collect()
    };
    let changes: &[(&str, Change<'_>)] = &[
        ("full_edge", &|f| f.full_edge = 170),
        ("filter_shift", &|f| f.filter_shift = 7),
        ("points[0]", &|f| f.points = points(&[(170, 0)])),
        ("points[0]", &|f| f.points = points(&[(850, 0)])),
        ("points[1]", &|f| f.points = points(&[(300, 0), (300, 0)])),
        ("points[1]", &|f| f.points = points(&[(300, 9), (301, 8)])),
        ("points[0]", &|f| f.points = points(&[(300, 32_769)])),
        ("points", &|f| {
            f.points = (171..202).map(|code| Point { code, q15: 0 }).collect();
        }),
    ];
    for (part, change) in changes {
        let mut draft = blocks::two_track().numbers().clone();
        pedal(&mut draft, *change);
        assert_eq!(
            Block::new(draft).unwrap_err().place,
            format!("inputs[0].factor.{part}")
        );
    }
}

/// Half a code is added before the rounding: by hand, 16385 x 8191 + 2048 is 134 211 583, below 2^27 = 134 217 728; one more in the gain
/// makes 134 219 774.
#[test]
fn the_steepest_gain_leaves_room_to_round() {
    for (gain_q12, is_possible) in [
        (16385, true),
        (16386, false),
        (-16385, true),
        (-16386, false),
    ] {
        let draft = blocks::steep(gain_q12);
        match Block::new(draft) {
            Ok(_) => assert!(is_possible, "{gain_q12}"),
            Err(refusal) => {
                assert!(!is_possible, "{gain_q12}: {refusal}");
                assert_eq!(refusal.place, "inputs[1].check.gain_q12");
            }
        }
    }
}

#[test]
fn a_block_for_more_than_the_core_was_built_for_names_both_sides() {
    let mut draft = blocks::two_track().numbers().clone();
    draft.inputs.push(draft.inputs[2].clone());
    let block = Block::new(draft).unwrap();
    let words = block.fits(Build::default()).unwrap_err().to_string();
    assert!(
        words.contains("4 inputs") && words.contains("built for 3"),
        "{words}"
    );
    let small = Build {
        inputs: 3,
        segments: 2,
    };
    let words = blocks::two_track().fits(small).unwrap_err().to_string();
    assert!(
        words.contains("3 curve pieces") && words.contains("PP_MAX_SEGMENTS=3"),
        "{words}"
    );
    assert_eq!(blocks::two_track().fits(Build::default()), Ok(()));
}

#[test]
fn a_memory_may_be_erased_behind_its_block() {
    let mut memory = layout::to_bytes(&blocks::fitted());
    memory.resize(512, 0xFF);
    assert_eq!(layout::from_memory(&memory), Ok(blocks::fitted()));
    memory[300] = 0;
    assert!(matches!(
        layout::from_memory(&memory),
        Err(DecodeError::Length { .. })
    ));
    assert!(matches!(
        layout::from_memory(&[0xFF; 512]),
        Err(DecodeError::Magic { .. })
    ));
}
