//! The stream decoder against DESIGN 4.1: any chunking gives the same result, and every line is accounted for.

use pedalproof::link::{Cause, Counts, Decoder, Event, StreamOptions};
use proptest::prelude::*;

/// An event with its bytes copied, so that two runs can be compared.
#[derive(Debug, Clone, PartialEq)]
enum Seen {
    Header(String),
    Sample(u64, Vec<u32>, u64, bool),
    Comment(Vec<u8>),
    Rejected(Cause, Vec<u8>),
}

fn seen(event: Event<'_>) -> Seen {
    match event {
        Event::Header(header) => Seen::Header(format!("{header:?}")),
        Event::Sample {
            t_us,
            codes,
            missing,
            restarted,
            ..
        } => Seen::Sample(
            t_us,
            codes.iter().map(|code| code.0).collect(),
            missing,
            restarted,
        ),
        Event::Comment(text) => Seen::Comment(text.to_vec()),
        Event::Rejected { cause, line } => Seen::Rejected(cause, line.to_vec()),
    }
}

fn decode<'a>(
    options: &StreamOptions,
    pieces: impl IntoIterator<Item = &'a [u8]>,
) -> (Vec<Seen>, Counts) {
    let mut decoder = Decoder::new(options.clone());
    let mut events = Vec::new();
    let mut sink = |event: Event<'_>| events.push(seen(event));
    for piece in pieces {
        decoder.feed(piece, 0, &mut sink);
    }
    decoder.end(&mut sink);
    (events, *decoder.counts())
}

fn whole(text: &[u8]) -> (Vec<Seen>, Counts) {
    decode(&StreamOptions::default(), [text])
}

fn samples(events: &[Seen]) -> Vec<(u64, Vec<u32>, u64)> {
    let kept = events.iter().filter_map(|event| match event {
        Seen::Sample(t_us, codes, missing, _) => Some((*t_us, codes.clone(), *missing)),
        _ => None,
    });
    kept.collect()
}

fn causes(counts: &Counts) -> Vec<(&'static str, u64)> {
    let by_cause = counts.rejected_by_cause();
    by_cause.map(|(cause, n)| (cause.describe(), n)).collect()
}

fn assert_accounted(counts: &Counts) {
    assert_eq!(
        counts.lines,
        counts.samples + counts.headers + counts.comments + counts.blank + counts.rejected_total(),
        "{counts:?}"
    );
}

/// A stream with everything in it: wrap, gap, sums good and bad, garbage, CR LF, a header change, a reset.
fn everything() -> Vec<u8> {
    let mut text: Vec<u8> = Vec::new();
    text.extend_from_slice(b"5,6,7\r\n"); // before header
    text.extend_from_slice(b"# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,a,b\r\n");
    text.extend_from_slice(b"4294966296,1,2\n4294967295,3,4*0A\n"); // up to the wrap
    text.extend_from_slice(b"999,5,6\n3999,7,8\n"); // over it, then a gap of two
    text.extend_from_slice(b"\n \t\r\n# a word from the board\n");
    text.extend_from_slice(b"4999,1,2*00\n4999,1,1024\n4999,1\n4999,1,2,3\n4999,one,2\n");
    text.extend_from_slice(b"\xff\xfe\x00\x80\n");
    text.extend_from_slice(&[b'1'; 161]);
    text.extend_from_slice(b"\r\n");
    text.extend_from_slice(&[b' '; 300]);
    text.extend_from_slice(b"\n5999;9\t 10 \r\n");
    text.extend_from_slice(b"# pedalproof 1 bits=12 vref_mv=3300 rate_hz=1000 cols=t_us,a\n");
    text.extend_from_slice(b"6999,4095\n1999,4\n7999,4094\n");
    text.extend_from_slice(b"# pedalproof 1 bits=12 vref_mv=3300 rate_hz=1000 cols=t_us,a\n");
    text.extend_from_slice(b"100,12\n1100,13\n2100,1");
    text
}

#[test]
fn everything_is_seen_and_counted() {
    let (events, counts) = whole(&everything());
    let wrap = 1_u64 << 32;
    assert_eq!(
        samples(&events),
        [
            (wrap - 1000, vec![1, 2], 0),
            (wrap - 1, vec![3, 4], 0),
            (wrap + 999, vec![5, 6], 0),
            (wrap + 3999, vec![7, 8], 2),
            (wrap + 5999, vec![9, 10], 1),
            (wrap + 6999, vec![4095], 0),
            (wrap + 7999, vec![4094], 0),
            (wrap + 8999, vec![12], 0),
            (wrap + 9999, vec![13], 0),
        ]
    );
    assert_eq!(
        causes(&counts),
        [
            ("too long", 2),
            ("cut", 1),
            ("bad sum", 1),
            ("not a number", 2),
            ("before header", 1),
            ("wrong field count", 2),
            ("code above full scale", 1),
            ("time went back", 1),
        ]
    );
    assert_eq!((counts.headers, counts.comments, counts.blank), (3, 1, 2));
    assert_eq!((counts.missing, counts.restarts), (3, 1));
    assert_eq!(counts.bytes, everything().len() as u64);
    assert_accounted(&counts);
    let headers = events.iter().filter(|e| matches!(e, Seen::Header(_)));
    assert_eq!(headers.count(), 2, "a repeated header is no event");
}

#[test]
fn byte_by_byte_and_cut_at_every_offset() {
    let text = everything();
    let expected = whole(&text);
    assert_eq!(
        decode(&StreamOptions::default(), text.chunks(1)),
        expected,
        "byte by byte"
    );
    for cut in 0..=text.len() {
        let (head, tail) = text.split_at(cut);
        let got = decode(&StreamOptions::default(), [head, tail]);
        assert_eq!(got, expected, "cut at {cut}");
    }
}

#[test]
fn the_longest_line_is_a_line_with_lf_and_with_cr_lf() {
    let sample = format!("{:>160}", "7,1");
    for (line, good) in [
        (format!("{sample}\n"), true),
        (format!("{sample}\r\n"), true),
        (format!(" {sample}\n"), false),
        (format!(" {sample}\r\n"), false),
        (format!("{sample}\r\r\n"), false),
    ] {
        let text = format!("# pedalproof 1 bits=10 vref_mv=5000 cols=t_us,a\n{line}");
        for pieces in [1, 160, 161, 162, 163, 4096] {
            let (_, counts) = decode(&StreamOptions::default(), text.as_bytes().chunks(pieces));
            assert_eq!(counts.samples, u64::from(good), "{pieces} {line:?}");
            assert_eq!(
                counts.rejected(Cause::TooLong),
                u64::from(!good),
                "{pieces} {line:?}"
            );
        }
    }
}

#[test]
fn a_late_listener_does_not_believe_half_a_line() {
    let options = StreamOptions {
        joined_mid_line: true,
        bits: Some(10),
        vref_mv: Some(5000.0),
        columns: Some(vec!["t_us".into(), "a".into()]),
        ..StreamOptions::default()
    };
    let (events, counts) = decode(&options, [b"567,164\n1235567,165\n".as_slice()]);
    assert_eq!(samples(&events), [(1_235_567, vec![165], 0)]);
    assert_eq!(causes(&counts), [("cut", 1)]);
    // A header is whole when its beginning is there.
    let text = b"# pedalproof 1 bits=10 vref_mv=5000 cols=t_us,a\n7,8\n".as_slice();
    let (events, counts) = decode(&options, [text]);
    assert_eq!((samples(&events).len(), counts.rejected_total()), (1, 0));
}

#[test]
fn bare_numbers_with_and_without_time() {
    let options = StreamOptions {
        bits: Some(12),
        vref_mv: Some(3300.0),
        rate_hz: Some(100.0),
        columns: Some(vec!["lever".into(), "dial".into()]),
        ..StreamOptions::default()
    };
    let mut decoder = Decoder::new(options.clone());
    assert!(!decoder.header().unwrap().has_time());
    let mut events = Vec::new();
    let mut sink = |event: Event<'_>| events.push(seen(event));
    decoder.feed(b"1 2\n3 4\n5", 1_000_000, &mut sink);
    decoder.feed(b" 6\n", 1_020_000, &mut sink);
    decoder.feed(b"7 8\n", 1_019_000, &mut sink);
    assert!(
        matches!(events[0], Seen::Header(_)),
        "the meaning comes before the first sample"
    );
    assert_eq!(
        samples(&events),
        [
            (1_000_000, vec![1, 2], 0),
            (1_000_000, vec![3, 4], 0),
            (1_020_000, vec![5, 6], 0),
            (1_020_000, vec![7, 8], 0),
        ]
    );

    let with_time = StreamOptions {
        columns: Some(vec!["lever".into(), "t_us".into()]),
        ..options
    };
    let (events, counts) = decode(&with_time, [b"1,10000\n2,20000\n3,50000\n".as_slice()]);
    assert_eq!(
        samples(&events),
        [
            (10_000, vec![1], 0),
            (20_000, vec![2], 0),
            (50_000, vec![3], 2)
        ]
    );
    assert_eq!(counts.missing, 2);
}

#[test]
fn a_board_that_resets_does_not_lose_its_run() {
    let header = b"# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,a\n".as_slice();
    let mut decoder = Decoder::new(StreamOptions::default());
    let mut events = Vec::new();
    let mut sink = |event: Event<'_>| events.push(seen(event));
    decoder.feed(header, 0, &mut sink);
    decoder.feed(b"60000000,1\n60001000,2\n", 1000, &mut sink);
    decoder.feed(header, 801_000, &mut sink);
    decoder.feed(b"7000500,3\n7001500,4\n", 801_000, &mut sink);
    // And again without its header reaching us.
    decoder.feed(b"100,5\n1100,6\n2100,7\n3100,8\n", 1_601_000, &mut sink);
    let counts = *decoder.counts();
    assert_eq!(
        samples(&events),
        [
            (60_000_000, vec![1], 0),
            (60_001_000, vec![2], 0),
            (60_801_000, vec![3], 799),
            (60_802_000, vec![4], 0),
            (61_602_000, vec![7], 799),
            (61_603_000, vec![8], 0),
        ]
    );
    assert_eq!(causes(&counts), [("time went back", 2)]);
    assert_eq!((counts.restarts, counts.missing), (2, 1598));
    assert_accounted(&counts);
}

#[test]
fn a_replug_counts_its_gap_and_its_torn_lines() {
    let mut decoder = Decoder::new(StreamOptions::default());
    let mut events = Vec::new();
    let mut sink = |event: Event<'_>| events.push(seen(event));
    decoder.feed(
        b"# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,a\n1000,1\n2000,2\n30",
        0,
        &mut sink,
    );
    decoder.resume_after_gap(3_000_000, &mut sink);
    decoder.feed(b"2000,9\n3002000,3\n", 3_000_000, &mut sink);
    let counts = *decoder.counts();
    assert_eq!(samples(&events).last(), Some(&(3_002_000, vec![3], 2999)));
    assert_eq!(causes(&counts), [("cut", 2)]);
    assert_eq!((counts.missing, counts.restarts), (2999, 0));
    assert_accounted(&counts);
}

#[test]
fn a_damaged_header_changes_nothing() {
    let text = b"# pedalproof 1 bits=10 vref_mv=5000 cols=a\n1\n# pedalproof 1 bits=99 vref_mv=5000 cols=a,b\n2\n\
                 # pedalproof 1 bits=8 vref_mv=5000 cols=a*00\n3\n# pedalproof 2 bits=8\n4\n";
    let (events, counts) = whole(text);
    let codes: Vec<_> = samples(&events).into_iter().map(|s| s.1[0]).collect();
    assert_eq!(codes, [1, 2, 3, 4]);
    assert_eq!(causes(&counts), [("bad sum", 1), ("not a number", 1)]);
    assert_eq!(
        counts.comments, 1,
        "another version of the header is no header"
    );
}

#[test]
fn an_end_without_line_end_is_counted_once() {
    let mut decoder = Decoder::new(StreamOptions::default());
    let mut sink = |_: Event<'_>| {};
    decoder.end(&mut sink);
    assert_eq!(decoder.counts().lines, 0, "nothing held, nothing cut");
    decoder.feed(b"12,3", 0, &mut sink);
    assert_eq!(decoder.counts().lines, 0);
    decoder.end(&mut sink);
    decoder.end(&mut sink);
    assert_eq!(decoder.counts().rejected(Cause::Cut), 1);
    decoder.feed(&[b'x'; 500], 0, &mut sink);
    decoder.end(&mut sink);
    assert_eq!(decoder.counts().rejected(Cause::TooLong), 1);
    assert_accounted(decoder.counts());
}

/// Lines of all kinds, whole and damaged.
fn any_line() -> impl Strategy<Value = Vec<u8>> {
    let header = prop::sample::select(vec![
        "# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,a,b",
        "# pedalproof 1 bits=12 vref_mv=3300 rate_hz=500 cols=a,t_us",
        "# pedalproof 1 bits=8 vref_mv=3300 cols=a,b,c",
        "# pedalproof 1 bits=8",
        "# hello",
        "#",
    ]);
    prop_oneof![
        4 => (any::<u32>(), 0_u32..1100, 0_u32..1100).prop_map(|(t, a, b)| format!("{t},{a},{b}").into_bytes()),
        4 => (0_u32..20, 0_u32..9).prop_map(|(t, a)| format!("{} {a} {a}", t * 1000).into_bytes()),
        2 => header.prop_map(|line| line.as_bytes().to_vec()),
        1 => prop::collection::vec(any::<u8>(), 0..200),
        1 => "[0-9,; \t*A-F]{0,40}".prop_map(String::into_bytes),
        1 => Just(vec![b' '; 161]),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_in_any_pieces_give_the_same_and_every_line_is_accounted_for(
        lines in prop::collection::vec((any_line(), any::<bool>()), 0..40),
        sizes in prop::collection::vec(1_usize..60, 1..60),
        joined_mid_line in any::<bool>(),
        ended in any::<bool>(),
    ) {
        let mut text = Vec::new();
        for (line, crlf) in lines {
            text.extend_from_slice(&line);
            text.extend_from_slice(if crlf { b"\r\n" } else { b"\n" });
        }
        if !ended {
            text.pop();
        }
        let options = StreamOptions { joined_mid_line, ..StreamOptions::default() };
        let expected = decode(&options, [text.as_slice()]);

        let mut rest = text.as_slice();
        let mut pieces = Vec::new();
        for size in sizes.iter().cycle() {
            if rest.is_empty() { break; }
            let (piece, after) = rest.split_at((*size).min(rest.len()));
            pieces.push(piece);
            rest = after;
        }
        prop_assert_eq!(&decode(&options, pieces), &expected);

        let (events, counts) = expected;
        assert_accounted(&counts);
        let ends = memchr::memchr_iter(b'\n', &text).count();
        let unfinished = usize::from(text.last().is_some_and(|byte| *byte != b'\n'));
        prop_assert_eq!(counts.lines, (ends + unfinished) as u64);
        let taken = samples(&events);
        prop_assert_eq!(taken.len() as u64, counts.samples);
        prop_assert!(taken.windows(2).all(|two| two[0].0 <= two[1].0), "time never runs back");
        // Of a long step less is missing in the end when the stamps behind it make it up.
        prop_assert!(taken.iter().map(|s| s.2).sum::<u64>() >= counts.missing);
    }
}
