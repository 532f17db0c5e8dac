//! The stages of `assess` on two million rows of two tracks: the example pedal's card, gone through 183 times.
//!
//! `cargo bench --bench assess`; the whole program against Python: `benches/whole_programs.py`.
#![allow(missing_docs, clippy::unwrap_used, clippy::cast_precision_loss)]

mod ratios;

use measure::units::Passage;
use pedalproof::bench::{self, write_capture};
use pedalproof::capture::{self, Capture};
use pedalproof::profile;
use pedalproof::report;
use sha2::{Digest, Sha256};
use std::path::Path;

const CARDS: u64 = 183;

/// The capture again and again, its time going on.
fn again(once: &Capture) -> Capture {
    let rows = once.t_us.len();
    let lasts = once.t_us[rows - 1] + once.t_us[1] - once.t_us[0];
    let mut all = Capture {
        t_us: Vec::new(),
        passages: Vec::new(),
        codes: vec![Vec::new(); once.codes.len()],
        ..once.clone()
    };
    for card in 0..CARDS {
        let before = all.t_us.len();
        all.t_us.extend(once.t_us.iter().map(|t| t + card * lasts));
        for (all, once) in all.codes.iter_mut().zip(&once.codes) {
            all.extend(once);
        }
        all.passages
            .extend(once.passages.iter().map(|passage| Passage {
                step: passage.step,
                range: passage.range.start + before..passage.range.end + before,
            }));
    }
    all
}

fn main() {
    let example = Path::new(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/captures/T1-pedal.csv"
    ));
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("capture.csv");
    write_capture(&again(&capture::open(example).unwrap().capture), &path).unwrap();
    let bytes = usize::try_from(std::fs::metadata(&path).unwrap().len()).unwrap();
    let profile = profile::find("pedal-hall-two-track");
    let mut opened = capture::open(&path).unwrap();
    let assessment = bench::assess_file(&mut opened, &path, profile.as_ref()).unwrap();
    let recording = opened.capture.recording().unwrap();
    let mut ways: Vec<ratios::Way<'_>> = vec![
        (
            "read and hashed, no more",
            Box::new(|| u64::from(Sha256::digest(std::fs::read(&path).unwrap())[0])),
        ),
        (
            "capture::open",
            Box::new(|| capture::open(&path).unwrap().capture.t_us.len() as u64),
        ),
        (
            "measure::figures, one thread",
            Box::new(|| measure::figures(&recording).channels.len() as u64),
        ),
        (
            "bench::assess, a thread a track",
            Box::new(|| {
                bench::assess(&opened.capture, profile.as_ref())
                    .unwrap()
                    .findings
                    .len() as u64
            }),
        ),
        (
            "open and assess",
            Box::new(|| {
                let mut opened = capture::open(&path).unwrap();
                bench::assess_file(&mut opened, &path, profile.as_ref())
                    .unwrap()
                    .findings
                    .len() as u64
            }),
        ),
        (
            "text",
            Box::new(|| report::assessment(&assessment).text().len() as u64),
        ),
        (
            "JSON",
            Box::new(|| serde_json::to_string_pretty(&assessment).unwrap().len() as u64),
        ),
    ];
    let title = format!("{} rows, two tracks", opened.capture.t_us.len());
    ratios::table(&title, bytes, 9, &mut ways);
}
