//! Reading a capture against the `csv` crate reading the same columns, and against reading and hashing the file alone.
//!
//! `cargo bench --bench capture`; against polars: `benches/whole_programs.py`.
#![allow(missing_docs, clippy::unwrap_used, clippy::cast_precision_loss)]

mod ratios;

use csv::ByteRecord;
use measure::units::{Code, Passage, Step};
use pedalproof::bench::write_capture;
use pedalproof::capture::{self, Capture, Metadata};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use sha2::{Digest, Sha256};
use std::io::Read;
use std::path::Path;

const ROWS: u64 = 1_000_000;

const META: &str = r#"{"pedalproof": {"format": "capture/1",
    "board": {"bits": 12, "vref_mv": 5000, "rate_hz": 1000},
    "channels": {"pedal_a": {"role": "signal", "track": 1}, "pedal_b": {"role": "signal", "track": 2}}}}"#;

/// Two tracks; steps of ten seconds.
fn made() -> Capture {
    let mut random = ChaCha8Rng::seed_from_u64(8);
    let rows = usize::try_from(ROWS).unwrap();
    let passages = (0..rows).step_by(10_000).enumerate();
    let mut codes = |most| {
        (0..rows)
            .map(|_| Code(random.random_range(0..most)))
            .collect()
    };
    Capture {
        meta: Metadata::from_json(META).unwrap(),
        t_us: (0..ROWS).map(|i| i * 1000).collect(),
        passages: passages
            .map(|(k, from)| Passage {
                step: Step::ALL[k % 5],
                range: from..(from + 10_000).min(rows),
            })
            .collect(),
        codes: vec![codes(4096), codes(2048)],
        reference: None,
        lost: None,
    }
}

fn ours(path: &Path) -> u64 {
    let opened = capture::open(path).unwrap();
    assert_eq!(opened.capture.t_us.len() as u64, ROWS);
    *opened.capture.t_us.last().unwrap()
}

/// What one would write with the `csv` crate: a record that is used again, columns as they are.
fn by_csv(path: &Path) -> u64 {
    let mut reader = csv::Reader::from_path(path).unwrap();
    let mut row = ByteRecord::new();
    let (mut t_us, mut steps) = (Vec::<u64>::new(), Vec::<Step>::new());
    let mut codes = [Vec::<u32>::new(), Vec::new()];
    let number = |cell: &[u8]| std::str::from_utf8(cell).unwrap().parse::<u64>().unwrap();
    while reader.read_byte_record(&mut row).unwrap() {
        t_us.push(number(&row[0]));
        steps.push(std::str::from_utf8(&row[1]).unwrap().parse().unwrap());
        for (at, codes) in codes.iter_mut().enumerate() {
            codes.push(u32::try_from(number(&row[2 + at])).unwrap());
        }
    }
    assert_eq!(t_us.len() as u64, ROWS);
    *t_us.last().unwrap()
}

/// The floor under every reader: all bytes, and their SHA-256.
fn hashed(path: &Path) -> u64 {
    let mut file = std::fs::File::open(path).unwrap();
    let mut block = vec![0; 1 << 18];
    let mut sum = Sha256::new();
    loop {
        let read = file.read(&mut block).unwrap();
        if read == 0 {
            return u64::from(sum.finalize()[0]);
        }
        sum.update(&block[..read]);
    }
}

fn main() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("capture.csv");
    write_capture(&made(), &path).unwrap();
    let bytes = usize::try_from(std::fs::metadata(&path).unwrap().len()).unwrap();
    let mut ways: Vec<ratios::Way<'_>> = vec![
        ("read and hashed, no more", Box::new(|| hashed(&path))),
        ("capture::open, hashed as well", Box::new(|| ours(&path))),
        ("csv crate, not hashed", Box::new(|| by_csv(&path))),
    ];
    ratios::table(
        "a capture of a million rows, two tracks",
        bytes,
        15,
        &mut ways,
    );
}
