//! The link fails at its first operation, its second, and so on until the run completes; and a hundred pulled cables in
//! one run, exact to the sample. (Breaking for good at every wait: `tests/suite/link/stream_cut.rs`.)

use crate::link::scripted_source::{Happens, ScriptedSource};
use crate::link::setting::{HEADER, header, numbered, samples, taken};
use crate::support::recording::{failure, timed};
use measure::units::Step;
use pedalproof::bench::start;
use std::path::Path;

/// Runs a script into a capture; the words of its failure, if it failed.
fn record(script: Vec<Happens>, csv: &Path) -> Option<String> {
    let source = Box::new(ScriptedSource::new(script));
    failure(&start(timed(source, Step::Rest, 600.0, csv)))
}

/// Bytes of the lines, in pieces that tear them.
fn pieces(lines: impl Iterator<Item = (u64, Vec<u8>)>) -> Vec<Happens> {
    let bytes: Vec<u8> = lines.flat_map(|(_, line)| line).collect();
    let pieces = bytes.chunks(40);
    pieces.map(|piece| Happens::Bytes(piece.to_vec())).collect()
}

/// A board that talks for longer than a pipe may, and is flashed meanwhile: its samples are taken.
#[test]
fn a_port_is_listened_to_however_long_it_talks() {
    let folder = tempfile::tempdir().unwrap();
    let csv = folder.path().join("talks.csv");
    let mut board: Vec<Happens> = (0..80)
        .map(|_| Happens::Bytes(b"hello, I am a board\r\n".repeat(3000)))
        .collect();
    board.extend(script());
    assert_eq!(record(board, &csv), None);
    assert_eq!(taken(&csv).1.len(), 90);
}

/// A header at the start, in the middle and near the end, between 90 samples.
fn script() -> Vec<Happens> {
    let third = |at: u64| {
        std::iter::once(header(at * 1000, HEADER)).chain(samples(at..at + 30, 0, numbered))
    };
    pieces(third(0).chain(third(30)).chain(third(60)))
}

#[test]
fn a_pulled_cable_at_every_operation_costs_what_was_torn_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let waits = script().len();
    assert!(waits > 20);
    for at in 0..=waits {
        let csv = folder.path().join(format!("{at}.csv"));
        let mut torn = script();
        torn.splice(at..at, [Happens::Lost, Happens::Nothing, Happens::Back]);
        assert_eq!(record(torn, &csv), None, "wait {at}");
        let (t_us, codes, counts) = taken(&csv);
        // A line that lies over the cut is lost; so is the next, when the cut falls between two lines. A torn first header
        // leaves nobody to say what the first 30 samples mean.
        let least = if at == 1 { 60 } else { 88 };
        assert!(codes.len() >= least, "wait {at}: {}", codes.len());
        for (t, code) in t_us.iter().zip(&codes) {
            assert_eq!(*code, numbered(t / 1000), "wait {at}");
        }
        let first_and_last = t_us[t_us.len() - 1] - t_us[0];
        let all = codes.len() as u64 + counts.missing;
        assert_eq!(all, first_and_last / 1000 + 1, "wait {at}: {counts:?}");
        assert_eq!(counts.samples, codes.len() as u64, "wait {at}");
    }
}

#[test]
fn a_source_that_goes_and_never_comes_back_keeps_what_came() {
    let folder = tempfile::tempdir().unwrap();
    let waits = script().len();
    let mut most = 0;
    for at in 1..=waits {
        let csv = folder.path().join(format!("{at}.csv"));
        let mut short = script();
        short.truncate(at);
        short.extend([Happens::Lost, Happens::Nothing]);
        assert_eq!(record(short, &csv), None);
        if csv.exists() {
            let (_, codes, _) = taken(&csv);
            assert!(codes.len() >= most, "wait {at}");
            most = codes.len();
        }
    }
    assert_eq!(most, 90);
}

/// A hundred times: 20 samples and half a line arrive, the cable is pulled, 30 samples go nowhere, it comes back in the
/// middle of a line.
#[test]
fn a_hundred_pulled_cables_in_one_run_lose_what_was_sent_meanwhile_to_the_sample() {
    let folder = tempfile::tempdir().unwrap();
    let csv = folder.path().join("x.csv");
    let mut script = Vec::new();
    for round in 0..100 {
        let at = round * 50;
        let arriving =
            std::iter::once(header(at * 1000, HEADER)).chain(samples(at..at + 20, 0, numbered));
        script.extend(pieces(arriving));
        script.extend([
            Happens::Bytes(format!("{},", (at + 20) * 1000).into_bytes()),
            Happens::Lost,
            Happens::Nothing,
            Happens::Back,
            Happens::Bytes(b"0,17\n".to_vec()),
        ]);
    }
    // The last cable comes back to a board that prints on.
    script.extend(pieces(std::iter::once(header(0, HEADER)).chain(samples(
        5000..5001,
        0,
        numbered,
    ))));
    assert_eq!(record(script, &csv), None);
    let (t_us, codes, counts) = taken(&csv);
    assert_eq!(codes.len(), 100 * 20 + 1);
    assert_eq!(counts.missing, 100 * 30, "{counts:?}");
    // The half lines on both sides of each cut.
    assert_eq!(counts.rejected.get("cut"), Some(&200), "{counts:?}");
    assert_eq!((counts.rejected_total(), counts.restarts), (200, 0));
    for (t, code) in t_us.iter().zip(&codes) {
        assert_eq!(*code, numbered(t / 1000));
    }
}

/// A board that says only at its start what its numbers mean cannot be asked again after a pulled cable: it is waited for
/// two seconds, then believed, and nothing is lost by that.
#[test]
fn a_board_that_says_its_header_once_is_believed_after_a_pulled_cable() {
    let folder = tempfile::tempdir().unwrap();
    let csv = folder.path().join("x.csv");
    let mut script = pieces(std::iter::once(header(0, HEADER)).chain(samples(0..100, 0, numbered)));
    script.extend([Happens::Lost, Happens::Nothing, Happens::Back]);
    script.extend(pieces(samples(200..5000, 0, numbered)));
    assert_eq!(record(script, &csv), None);
    let (t_us, codes, counts) = taken(&csv);
    // The first line after the cable came back may have lost its beginning, and is left out.
    assert_eq!((codes.len(), counts.missing), (100 + 4799, 101));
    for (t, code) in t_us.iter().zip(&codes) {
        assert_eq!(*code, numbered(t / 1000));
    }
}
