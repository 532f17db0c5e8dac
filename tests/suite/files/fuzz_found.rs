//! What fuzzing found, each as a plain test. `fuzz_seeds.rs` is the search, this is the catch.

use measure::units::Scale;
use pedalproof::bench::assess;
use pedalproof::capture::{Capture, Metadata};
use pedalproof::import::{Asked, SignalUnit, Source, TimeColumn, samples};
use pedalproof::link::{Decoder, StreamOptions};
use pedalproof::profile::{BUILT_IN, Profile};
use pedalproof::record::Record;
use serde_json::{Value, json};

/// Two numbers that were read with the last digit wrong, so that what was written was not what was read again: the JSON reader rounds
/// unless it is told not to.
#[test]
#[allow(clippy::float_cmp)] // to the last bit, on purpose
fn a_number_is_read_to_its_last_digit() {
    let (_, text) = BUILT_IN[0];
    let tight = text.replace(
        "\"stop_within_ms\": 50",
        "\"stop_within_ms\": 4.264556441177499e-307",
    );
    let profile = Profile::from_json(&tight).unwrap();
    assert_eq!(profile.stop_within_ms, 4.264_556_441_177_499e-307);
    assert_eq!(Profile::from_json(&profile.to_json()).unwrap(), profile);

    let figure =
        json!({"value": 2, "unit": "code", "u": 0.1, "low": 1, "high": 3, "n": 9, "method": "m"});
    let record = json!({
        "format": "record/1", "kept": "2026-01-01T00:00:00Z", "taken": null,
        "board": { "bits": 10, "vref_mv": 5000, "rate_hz": 1000 },
        "assessment": {
            "format": "assessment/1", "verdict": null, "capture": { "file": null, "sha256": null, "samples": 1, "duration_s": 1 },
            "unit": { "tag": null, "profile": null }, "channels": { "a": { "figures": { "rest_code": figure } } },
            "pairs": {}, "findings": []
        }
    });
    let text = record
        .to_string()
        .replace("\"low\":1,", "\"low\":1.8540838975983065,");
    let record = Record::from_json(text.as_bytes()).unwrap();
    let figure = record.assessment.channels["a"].figures["rest_code"]
        .as_ref()
        .unwrap();
    assert_eq!(figure.low, Some(1.854_083_897_598_306_5));
}

fn metadata(stream: &Value) -> Metadata {
    let text = json!({"pedalproof": {
        "format": "capture/1", "board": { "bits": 10, "vref_mv": 5000, "rate_hz": 1000 },
        "channels": { "a": { "role": "signal" } }, "stream": stream
    }});
    Metadata::from_json(&text.to_string()).unwrap()
}

/// Counts that no stream has: their sums overflowed.
#[test]
fn counts_beyond_all_bounds_are_only_many() {
    let most = u64::MAX;
    let stream = json!({ "lines": 1, "samples": most, "missing": 2, "rejected": { "bad sum": most, "too long": 7, "cut": 9 } });
    let meta = metadata(&stream);
    assert_eq!(meta.stream.rejected_total(), most);
    assert_eq!(meta.stream.lost(), most);
    let capture = Capture::from_csv(b"t_us,step,a\n0,rest,100\n1000,rest,101\n", meta).unwrap();
    let profile = Profile::from_json(BUILT_IN[0].1).unwrap();
    let assessment = assess(&capture, Some(&profile)).unwrap();
    assert!(
        assessment
            .findings
            .iter()
            .any(|finding| finding.channel == "stream")
    );
}

/// A header that states a rate no board has: each step held more missing samples than can be counted, and their sum overflowed. It
/// is no header now; at the highest rate that can be stated the count stays one.
#[test]
fn a_rate_beyond_all_bounds_loses_many_samples_and_no_more() {
    let stream =
        b"# pedalproof 1 bits=10 vref_mv=5000 rate_hz=3e57 cols=t_us,a\n0,1\n1000,1\n2000,1\n";
    let mut decoder = Decoder::new(StreamOptions::default());
    decoder.feed(stream, 0, &mut |_| {});
    assert_eq!(decoder.counts().samples, 0);
    let stream = String::from_utf8_lossy(stream).replace("3e57", "1e7");
    let mut decoder = Decoder::new(StreamOptions::default());
    decoder.feed(stream.as_bytes(), 0, &mut |_| {});
    // 1 ms is ten thousand periods, twice.
    assert_eq!(
        (decoder.counts().samples, decoder.counts().missing),
        (3, 2 * 9999)
    );
}

/// A dozen rows a tenth of a millisecond apart, and one a second later: of ten thousand samples a second every tenth is taken, which
/// left two.
#[test]
fn what_is_left_of_a_quick_file_is_a_recording_or_too_few() {
    let rows: Vec<String> = (0..12)
        .map(|row| format!("{:.4},2.5\n", f64::from(row) * 1e-4))
        .collect();
    let text = format!("t [s],lever [V]\n{}1.0,2.5\n", rows.concat());
    let source = Source::of(text.as_bytes()).unwrap();
    let asked = Asked {
        time: TimeColumn::Guessed,
        time_unit: None,
        signals: Vec::new(),
        unit: Some(SignalUnit::Volts),
    };
    let taken = samples(&source.sheet, &asked, Scale::new(10, 5000.0).unwrap());
    let words = taken.map(|taken| taken.t_us.len()).unwrap_err().to_string();
    assert!(
        words.contains("make 2 samples: too few for a recording"),
        "{words}"
    );
}
