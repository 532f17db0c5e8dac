//! The stream decoder: however the bytes are cut, the same events; every line is accounted for.
//!
//! Bytes: one of options, one of where a gap is, four lengths of pieces, then the stream.

use super::Bytes;
use pedalproof::link::{Counts, Decoder, Event, MAX_LINE, StreamOptions};
use std::collections::hash_map::DefaultHasher;
use std::hash::{Hash, Hasher};

/// What a decoder made of a stream, small enough to be compared ten million times.
#[derive(Debug, PartialEq)]
struct Seen {
    events: u64,
    samples: u64,
    missing: u64,
    restarted: u64,
    comments: u64,
    rejected: u64,
    counts: Counts,
}

pub fn check(data: &[u8]) {
    let mut plan = Bytes(data);
    let options = options(plan.byte());
    let gap = plan.byte();
    let cuts = [plan.byte(), plan.byte(), plan.byte(), plan.byte()];
    let stream = plan.0;
    // A gap in what the host received, now and then, at a place of its own.
    let before = (gap < 64)
        .then(|| usize::from(gap) * 4)
        .filter(|at| *at < stream.len());
    let whole = decode(&options, stream, before, &[]);
    let cut = decode(&options, stream, before, &cuts);
    let bytewise = decode(&options, stream, before, &[1; 24]);
    assert_eq!(whole, cut, "cut at {cuts:?}");
    assert_eq!(whole, bytewise, "the first ones a byte at a time");
}

fn options(choice: u8) -> StreamOptions {
    let columns = |names: &[&str]| Some(names.iter().map(|name| (*name).to_owned()).collect());
    let mut options = StreamOptions {
        joined_mid_line: choice & 1 != 0,
        ..StreamOptions::default()
    };
    match choice >> 1 & 7 {
        1 => {
            options.bits = Some(10);
            options.vref_mv = Some(5000.0);
            options.columns = columns(&["a"]);
        }
        2 => {
            options.bits = Some(12);
            options.vref_mv = Some(3300.0);
            options.rate_hz = Some(1000.0);
            options.columns = columns(&["t_us", "a", "b"]);
        }
        3 => options.rate_hz = Some(f64::NAN),
        4 => options.bits = Some(24),
        _ => {}
    }
    options
}

/// Feeds the stream, cut into pieces of these lengths (and the rest), and checks what must hold for any stream.
fn decode(options: &StreamOptions, stream: &[u8], gap: Option<usize>, cuts: &[u8]) -> Seen {
    let mut decoder = Decoder::new(options.clone());
    let mut hash = DefaultHasher::new();
    let mut seen = Tally::default();
    let (early, late) = stream.split_at(gap.unwrap_or(stream.len()));
    let mut see = |event: Event<'_>| seen.take(event, &mut hash);
    feed(&mut decoder, early, cuts, 1000, &mut see);
    if gap.is_some() {
        decoder.resume_after_gap(5_000_000, &mut see);
        feed(&mut decoder, late, cuts, 5_001_000, &mut see);
    }
    decoder.end(&mut see);
    let counts = *decoder.counts();
    let ends = |bytes: &[u8]| {
        let unended = bytes.last().is_some_and(|last| *last != b'\n');
        memchr_count(bytes) + u64::from(unended)
    };
    assert_eq!(counts.bytes, stream.len() as u64);
    assert_eq!(counts.lines, ends(early) + ends(late), "lines");
    assert_eq!(
        counts.lines,
        counts.samples + counts.headers + counts.comments + counts.blank + counts.rejected_total(),
        "every line is accounted for: {counts:?}"
    );
    assert_eq!(
        counts.rejected_total(),
        counts.rejected_by_cause().map(|(_, n)| n).sum::<u64>()
    );
    assert_eq!(
        (
            counts.samples,
            counts.missing + counts.made_up,
            counts.restarts,
            counts.comments,
            counts.rejected_total()
        ),
        (
            seen.samples,
            seen.missing,
            seen.restarted,
            seen.comments,
            seen.rejected
        ),
        "what is told is what is counted"
    );
    Seen {
        events: hash.finish(),
        samples: seen.samples,
        missing: seen.missing,
        restarted: seen.restarted,
        comments: seen.comments,
        rejected: seen.rejected,
        counts,
    }
}

fn memchr_count(bytes: &[u8]) -> u64 {
    bytes.iter().map(|byte| u64::from(*byte == b'\n')).sum()
}

fn feed(
    decoder: &mut Decoder,
    mut bytes: &[u8],
    cuts: &[u8],
    host_us: u64,
    sink: &mut impl FnMut(Event<'_>),
) {
    for length in cuts {
        let (piece, rest) = bytes.split_at(usize::from(*length).min(bytes.len()));
        decoder.feed(piece, host_us, sink);
        bytes = rest;
    }
    decoder.feed(bytes, host_us, sink);
}

#[derive(Default)]
struct Tally {
    samples: u64,
    missing: u64,
    restarted: u64,
    comments: u64,
    rejected: u64,
    channels: Option<(usize, u32)>,
    last_us: u64,
}

impl Tally {
    fn take(&mut self, event: Event<'_>, hash: &mut DefaultHasher) {
        match event {
            Event::Header(header) => {
                assert!(!header.columns.is_empty());
                assert!((1..=24).contains(&header.bits()));
                assert!(header.vref_mv() > 0.0);
                assert!(
                    header
                        .rate_hz
                        .is_none_or(|rate| rate > 0.0 && rate.is_finite())
                );
                self.channels = Some((header.columns.len(), (1 << header.bits()) - 1));
                format!("{header:?}").hash(hash);
            }
            Event::Sample {
                t_us,
                codes,
                missing,
                restarted,
                in_doubt,
            } => {
                let (channels, most) = self
                    .channels
                    .expect("a header comes before the first sample");
                assert_eq!(codes.len(), channels);
                assert!(codes.iter().all(|code| code.0 <= most));
                assert!(t_us >= self.last_us, "{t_us} after {}", self.last_us);
                self.last_us = t_us;
                self.samples += 1;
                self.missing = self.missing.saturating_add(missing);
                self.restarted += u64::from(restarted);
                (t_us, missing, restarted, in_doubt).hash(hash);
                for code in codes {
                    code.0.hash(hash);
                }
            }
            Event::Comment(text) => {
                assert!(text.len() < MAX_LINE);
                self.comments += 1;
                (1, text).hash(hash);
            }
            Event::Rejected { cause, line } => {
                assert!(line.len() <= MAX_LINE);
                self.rejected += 1;
                (2, cause, line).hash(hash);
            }
        }
    }
}
