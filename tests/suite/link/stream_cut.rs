//! The cut cable: a run breaks at wait 1, then 2, then 3, until it completes. What was taken is kept every time.

use super::scripted_source::{Happens, ScriptedSource};
use crate::support::recording::{failure, timed};
use measure::units::Step;
use pedalproof::bench::start;
use pedalproof::capture::{StreamCounts, open};
use pedalproof::link::LinkError;
use std::path::Path;

const HEADER: &[u8] = b"# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,pedal\n";

/// A header and 40 samples in pieces that tear lines, with a pulled cable in the middle.
fn script() -> ScriptedSource {
    let mut text = HEADER.to_vec();
    for i in 0..40 {
        text.extend_from_slice(format!("{},{}\n", 1000 * i, 100 + i).as_bytes());
    }
    let mut happenings: Vec<_> = text
        .chunks(50)
        .map(|piece| Happens::Bytes(piece.to_vec()))
        .collect();
    let pulled = [
        Happens::Nothing,
        Happens::Lost,
        Happens::Nothing,
        Happens::Back,
    ];
    happenings.splice(5..5, pulled);
    ScriptedSource::new(happenings)
}

/// Runs a source into a capture; the words of its failure, if it failed.
fn record(source: ScriptedSource, csv: &Path) -> Option<String> {
    failure(&start(timed(Box::new(source), Step::Rest, 60.0, csv)))
}

/// Codes and counts of a capture; none when no sample was taken.
fn taken(csv: &Path) -> Option<(Vec<u32>, StreamCounts)> {
    csv.exists().then(|| {
        let capture = open(csv).unwrap().capture;
        let codes = capture.codes[0].iter().map(|code| code.0).collect();
        (codes, capture.meta.stream)
    })
}

#[test]
fn cut_at_every_wait_until_the_run_completes() {
    let folder = tempfile::tempdir().unwrap();
    let csv = folder.path().join("whole.csv");
    assert_eq!(record(script(), &csv), None);
    let (whole, counts) = taken(&csv).unwrap();
    // The line torn by the pulled cable is cut at both its ends; one sample is missing in its place.
    assert_eq!(whole.len(), 39);
    assert_eq!(counts.rejected.get("cut"), Some(&2), "{counts:?}");
    assert_eq!(counts.missing, 1, "{counts:?}");

    let mut most = 0;
    for at in 1.. {
        let csv = folder.path().join(format!("cut{at}.csv"));
        let broken = LinkError {
            what: "the port broke".into(),
            next: "look at its cable".into(),
        };
        let Some(words) = record(script().cut_at(at, Happens::Breaks(broken)), &csv) else {
            assert!(at > 10, "it never broke");
            assert_eq!(taken(&csv).unwrap().0, whole);
            break;
        };
        assert!(
            words.contains("the port broke") && words.contains("look at its cable"),
            "{words}"
        );
        let kept = taken(&csv).map_or(Vec::new(), |(codes, _)| codes);
        assert!(whole.starts_with(&kept), "wait {at}");
        assert!(kept.len() >= most, "wait {at}: less than a wait before");
        most = kept.len();
    }
    assert_eq!(most, whole.len());
}
