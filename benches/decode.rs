//! The stream decoder against a bare loop that finds line ends with `memchr`, reads the numbers of a line and adds them up: no sum
//! checked, no clock unwrapped, no full scale, nothing counted.
//!
//! `cargo bench --bench decode`; asked for: at least 60 % of the bare loop's speed (a ratio of at most 1.67) and 400 MB/s.
#![allow(missing_docs, clippy::unwrap_used, clippy::cast_precision_loss)]

mod ratios;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group};
use pedalproof::link::{Decoder, Event, StreamOptions};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::fmt::Write;

const LINES: usize = 100_000;

/// A stream of three channels at 1 kHz, a header each second; codes of one to four digits in no order.
fn stream(sums: bool) -> Vec<u8> {
    let mut random = ChaCha8Rng::seed_from_u64(8);
    let mut text = String::new();
    let mut line = String::new();
    for i in 0..LINES {
        if i % 1000 == 0 {
            text +=
                "# pedalproof 1 bits=12 vref_mv=5000 rate_hz=1000 cols=t_us,pedal_a,pedal_b,dial\n";
        }
        let mut code = || random.random_range(0..4096) >> random.random_range(0..4);
        line.clear();
        write!(
            line,
            "{},{},{},{}",
            1_000_000 + i * 1000,
            code(),
            code(),
            code()
        )
        .unwrap();
        if sums {
            let sum = line.bytes().fold(0, |sum, byte| sum ^ byte);
            write!(line, "*{sum:02X}").unwrap();
        }
        text += &line;
        text += "\r\n";
    }
    text.into_bytes()
}

/// The bare loop: everything of a line up to a star or its end is numbers.
fn bare(text: &[u8]) -> u64 {
    let (mut total, mut start) = (0_u64, 0);
    for end in memchr::memchr_iter(b'\n', text) {
        let line = &text[start..end];
        start = end + 1;
        if line.first() == Some(&b'#') {
            continue;
        }
        let mut number = 0;
        for byte in line {
            match byte {
                b'0'..=b'9' => number = number * 10 + u64::from(byte - b'0'),
                b'*' | b'\r' => break,
                _ => {
                    total = total.wrapping_add(number);
                    number = 0;
                }
            }
        }
        total = total.wrapping_add(number);
    }
    total
}

/// The same, and the sum behind a star checked.
fn bare_with_sums(text: &[u8]) -> u64 {
    let (mut total, mut start) = (0_u64, 0);
    for end in memchr::memchr_iter(b'\n', text) {
        let line = &text[start..end];
        start = end + 1;
        if line.first() == Some(&b'#') {
            continue;
        }
        let (mut number, mut own, mut sum) = (0, 0_u64, 0_u8);
        for (at, byte) in line.iter().enumerate() {
            match byte {
                b'0'..=b'9' => number = number * 10 + u64::from(byte - b'0'),
                b'*' => {
                    let digit = |at: usize| line.get(at).and_then(|b| char::from(*b).to_digit(16));
                    if digit(at + 1).zip(digit(at + 2)).map(|(h, l)| h * 16 + l)
                        != Some(u32::from(sum))
                    {
                        (own, number) = (0, 0);
                    }
                    break;
                }
                b'\r' => break,
                _ => {
                    own = own.wrapping_add(number);
                    number = 0;
                }
            }
            sum ^= byte;
        }
        total = total.wrapping_add(own).wrapping_add(number);
    }
    total
}

fn decoded(text: &[u8], piece: usize) -> u64 {
    let mut decoder = Decoder::new(StreamOptions::default());
    let mut total = 0_u64;
    for piece in text.chunks(piece) {
        decoder.feed(piece, 0, &mut |event| {
            if let Event::Sample { t_us, codes, .. } = event {
                total = total.wrapping_add(t_us);
                for code in codes {
                    total = total.wrapping_add(u64::from(code.0));
                }
            }
        });
    }
    assert_eq!(decoder.counts().samples, LINES as u64);
    total
}

const PIECES: [usize; 3] = [64, 4096, 65_536];

fn decode(criterion: &mut Criterion) {
    for (name, sums) in [("with sums", true), ("without sums", false)] {
        let text = stream(sums);
        assert_eq!(bare(&text), decoded(&text, 4096));
        assert_eq!(bare(&text), bare_with_sums(&text));
        let mut group = criterion.benchmark_group(format!("decode {name}"));
        group.throughput(Throughput::Bytes(text.len() as u64));
        group.sample_size(20);
        group.bench_function("bare loop", |bencher| bencher.iter(|| bare(&text)));
        for piece in PIECES {
            let id = BenchmarkId::new("decoder, pieces of", piece);
            group.bench_function(id, |bencher| bencher.iter(|| decoded(&text, piece)));
        }
    }
}

criterion_group!(benches, decode);

fn main() {
    benches();
    Criterion::default().configure_from_args().final_summary();
    for (name, sums) in [("lines with sums", true), ("lines without sums", false)] {
        let text = stream(sums);
        let mut ways: Vec<ratios::Way<'_>> = vec![
            ("bare loop", Box::new(|| bare(&text))),
            (
                "bare loop, sums checked",
                Box::new(|| bare_with_sums(&text)),
            ),
        ];
        for (piece, name) in
            PIECES
                .into_iter()
                .zip(["64 B pieces", "4 KiB pieces", "64 KiB pieces"])
        {
            let text = &text;
            ways.push((name, Box::new(move || decoded(text, piece))));
        }
        ratios::table(name, text.len(), 60, &mut ways);
    }
}
