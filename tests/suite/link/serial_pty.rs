//! A simulated board on a real pseudo-terminal, read through the serial code that reads a USB adapter.
#![cfg(unix)]

use super::setting::PATIENCE;
use measure::units::Code;
use pedalproof::link::{
    Cause, Counts, Decoder, Event, Header, LineSource, Overflow, Pace, PtyBoard, Received,
    SerialSettings, SerialSource, Source, StreamOptions, StreamText, Sums, WhenLost,
};
use std::path::Path;
use std::time::{Duration, Instant};

/// Two channels at 1 kHz that count up, a header each second, and a word of garbage where asked.
struct Counting {
    text: StreamText,
    next: u64,
    count: u64,
    first_us: u64,
    header_printed: bool,
    garbage_every: Option<u64>,
    garbage_printed: bool,
}

impl Counting {
    fn new(count: u64) -> Self {
        let line = b"# pedalproof 1 bits=12 vref_mv=5000 rate_hz=1000 cols=t_us,up,down";
        let header: Header = StreamOptions::default().header_from(line).unwrap();
        Self {
            text: StreamText::new(header, Sums::With),
            next: 0,
            count,
            first_us: 5_000_000,
            header_printed: false,
            garbage_every: None,
            garbage_printed: false,
        }
    }
}

fn codes(number: u64) -> [Code; 2] {
    let code = u32::try_from(number % 4096).unwrap();
    [Code(code), Code(4095 - code)]
}

impl LineSource for Counting {
    fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64> {
        if self.next == self.count {
            return None;
        }
        let t_us = self.first_us + self.next * 1000;
        if self.next.is_multiple_of(1000) && !self.header_printed {
            self.header_printed = true;
            self.text.write_header(out);
        } else if self.garbage_every.is_some_and(|n| self.next % n == n - 1)
            && !self.garbage_printed
        {
            self.garbage_printed = true;
            out.extend_from_slice(b"\xfe\x00?\xff\r\n");
        } else {
            self.text.write_sample(t_us, &codes(self.next), out);
            self.next += 1;
            self.header_printed = false;
            self.garbage_printed = false;
        }
        Some(t_us)
    }

    fn power_cycle(&mut self) {
        self.first_us = 0;
        self.next = 0;
        self.header_printed = false;
    }
}

/// A listener: the serial source, the decoder, and what came of it.
struct Bench {
    source: SerialSource,
    decoder: Decoder,
    samples: Vec<(u64, [u32; 2], u64)>,
    last_bytes: Instant,
    started: Instant,
}

impl Bench {
    fn open(path: &Path, when_lost: WhenLost) -> Self {
        let options = StreamOptions {
            joined_mid_line: true,
            ..StreamOptions::default()
        };
        Self {
            source: SerialSource::open(settings(path, when_lost)).unwrap(),
            decoder: Decoder::new(options),
            samples: Vec::new(),
            last_bytes: Instant::now(),
            started: Instant::now(),
        }
    }

    fn turn(&mut self) -> Received {
        let mut buffer = [0; 4096];
        let received = self
            .source
            .receive(&mut buffer, Duration::from_millis(20))
            .unwrap();
        let Self {
            decoder, samples, ..
        } = self;
        let mut sink = |event: Event<'_>| {
            if let Event::Sample {
                t_us,
                codes,
                missing,
                ..
            } = event
            {
                samples.push((t_us, [codes[0].0, codes[1].0], missing));
            }
        };
        let now = u64::try_from(self.started.elapsed().as_micros()).unwrap();
        match received {
            Received::Bytes(n) => {
                decoder.feed(&buffer[..n], now, &mut sink);
                self.last_bytes = Instant::now();
            }
            Received::Back => {
                let gap = u64::try_from(self.last_bytes.elapsed().as_micros()).unwrap();
                decoder.resume_after_gap(gap, &mut sink);
            }
            _ => {}
        }
        received
    }

    fn until(&mut self, done: impl Fn(&Self, Received) -> bool) {
        let deadline = Instant::now() + PATIENCE;
        loop {
            let received = self.turn();
            if done(self, received) {
                return;
            }
            assert!(
                Instant::now() < deadline,
                "{received:?} {:?}",
                self.decoder.counts()
            );
        }
    }

    fn counts(&self) -> Counts {
        *self.decoder.counts()
    }
}

fn settings(path: &Path, when_lost: WhenLost) -> SerialSettings {
    SerialSettings {
        path: path.to_str().unwrap().to_owned(),
        baud: Some(1_000_000),
        when_lost,
    }
}

fn assert_counting(samples: &[(u64, [u32; 2], u64)]) {
    for pair in samples.windows(2) {
        let step = (pair[1].0 - pair[0].0) / 1000;
        assert_eq!(step, pair[1].2 + 1, "{pair:?}");
    }
    for (_, [up, down], _) in samples {
        assert_eq!(up + down, 4095);
    }
}

#[test]
fn two_seconds_at_one_kilohertz_without_a_loss() {
    let board = PtyBoard::start(Counting::new(u64::MAX), Pace::REAL_TIME, Overflow::Wait).unwrap();
    let mut bench = Bench::open(board.path(), WhenLost::End);
    let opened = Instant::now();
    bench.until(|bench, _| bench.samples.len() >= 2000);
    let took = opened.elapsed();
    // Up to the first header, lines are there but mean nothing yet: at most the second between two headers.
    let counts = bench.counts();
    assert_eq!(counts.missing, 0, "{counts:?}");
    let settled = counts.rejected(Cause::BeforeHeader) + counts.rejected(Cause::Cut);
    assert_eq!(counts.rejected_total(), settled, "{counts:?}");
    assert!(settled <= 1002, "{counts:?}");
    assert_counting(&bench.samples);
    assert!(
        took > Duration::from_millis(1900),
        "real time, not {took:?}"
    );
}

#[test]
fn as_fast_as_read_and_garbage_counted_exactly() {
    let mut lines = Counting::new(200_000);
    lines.garbage_every = Some(100);
    let board = PtyBoard::start(lines, Pace::AsRead, Overflow::Wait).unwrap();
    let mut bench = Bench::open(board.path(), WhenLost::End);
    bench.until(|bench, received| bench.samples.len() >= 200_000 || received == Received::Ended);
    let counts = bench.counts();
    assert_eq!(counts.samples, 200_000, "{counts:?}");
    assert_eq!(counts.rejected(Cause::NotANumber), 2000, "{counts:?}");
    assert_eq!(counts.rejected_total(), 2000, "{counts:?}");
    assert_eq!((counts.headers, counts.missing), (200, 0));
    assert_counting(&bench.samples);
    // The board says so at its next turn, which a busy machine may put off.
    let read = Instant::now();
    while !board.finished() {
        assert!(read.elapsed() < PATIENCE, "the board never ended");
        std::thread::sleep(Duration::from_millis(5));
    }
    assert_eq!(board.dropped(), 0);
}

/// Hours behind its own clock, and nobody listens any more: it still hears that it is to stop.
#[test]
fn a_board_that_is_far_behind_stops_when_asked() {
    let lines = Counting::new(u64::MAX);
    let board = PtyBoard::start(lines, Pace::Times(1e9), Overflow::Wait).unwrap();
    let mut bench = Bench::open(board.path(), WhenLost::End);
    bench.until(|bench, _| bench.samples.len() >= 10);
    drop(bench);
    let (done, stopped) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        std::thread::sleep(Duration::from_millis(100));
        board.stop();
        done.send(()).unwrap();
    });
    stopped.recv_timeout(PATIENCE).unwrap();
}

#[test]
fn a_pulled_cable_is_waited_for_and_its_gap_is_counted() {
    let board = PtyBoard::start(Counting::new(u64::MAX), Pace::REAL_TIME, Overflow::Wait).unwrap();
    let mut bench = Bench::open(board.path(), WhenLost::Wait);
    bench.until(|bench, _| bench.samples.len() >= 300);
    for round in 1..=2 {
        board.unplug().unwrap();
        assert!(!board.path().exists());
        bench.until(|_, received| received == Received::Lost);
        let before = bench.counts();
        std::thread::sleep(Duration::from_millis(300));
        board.replug().unwrap();
        bench.until(|_, received| received == Received::Back);
        let enough = bench.samples.len() + 300;
        bench.until(|bench, _| bench.samples.len() >= enough);
        let counts = bench.counts();
        let missing = counts.missing - before.missing;
        // The board went on by itself: 300 ms and up to the next look are gone, one line is torn at each end at most.
        assert!((290..3000).contains(&missing), "round {round}: {counts:?}");
        assert_eq!(
            counts.rejected_total() - before.rejected_total(),
            counts.rejected(Cause::Cut) - before.rejected(Cause::Cut),
            "round {round}: {counts:?}"
        );
        assert_eq!(
            counts.restarts, before.restarts,
            "round {round}: {counts:?}"
        );
    }
    assert_counting(&bench.samples);
}

#[test]
fn a_board_that_lost_its_power_resumes_with_a_counted_gap() {
    let board = PtyBoard::start(Counting::new(u64::MAX), Pace::REAL_TIME, Overflow::Wait).unwrap();
    let mut bench = Bench::open(board.path(), WhenLost::Wait);
    bench.until(|bench, _| bench.samples.len() >= 100);
    board.unplug().unwrap();
    bench.until(|_, received| received == Received::Lost);
    std::thread::sleep(Duration::from_millis(1500));
    board.replug_after_power_cycle().unwrap();
    let enough = bench.samples.len() + 200;
    bench.until(|bench, _| bench.samples.len() >= enough);
    let counts = bench.counts();
    assert_eq!(counts.restarts, 1, "{counts:?}");
    assert!((1400..4000).contains(&counts.missing), "{counts:?}");
    let late = counts.rejected(Cause::BeforeHeader) + counts.rejected(Cause::Cut);
    assert_eq!(counts.rejected_total(), late, "{counts:?}");
    assert!(bench.samples.windows(2).all(|two| two[0].0 < two[1].0));
}

#[test]
fn a_pulled_cable_ends_the_run_when_asked() {
    let board = PtyBoard::start(Counting::new(u64::MAX), Pace::REAL_TIME, Overflow::Wait).unwrap();
    let mut bench = Bench::open(board.path(), WhenLost::End);
    bench.until(|bench, _| bench.samples.len() >= 10);
    board.stop();
    bench.until(|_, received| received == Received::Ended);
    assert_eq!(bench.turn(), Received::Ended);
}

#[test]
fn what_was_printed_before_we_listened_is_gone() {
    let board = PtyBoard::start(Counting::new(u64::MAX), Pace::REAL_TIME, Overflow::Wait).unwrap();
    let mut first = Bench::open(board.path(), WhenLost::End);
    first.until(|bench, _| bench.samples.len() >= 50);
    let (last, _, _) = *first.samples.last().unwrap();
    drop(first);
    std::thread::sleep(Duration::from_millis(700));
    let mut second = Bench::open(board.path(), WhenLost::End);
    second.until(|bench, _| bench.samples.len() >= 50);
    let (fresh, _, _) = second.samples[0];
    assert!(fresh >= last + 600_000, "{last} {fresh}: stale lines");
    assert_eq!(second.counts().missing, 0);
}

#[test]
fn one_port_one_listener_until_it_is_let_go() {
    let board = PtyBoard::start(Counting::new(u64::MAX), Pace::REAL_TIME, Overflow::Wait).unwrap();
    let held = SerialSource::open(settings(board.path(), WhenLost::End)).unwrap();
    assert!(held.describe().contains("1000000 baud"));
    let error = SerialSource::open(settings(board.path(), WhenLost::End)).unwrap_err();
    assert!(
        error.what.contains("another program has it open"),
        "{error}"
    );
    drop(held);
    SerialSource::open(settings(board.path(), WhenLost::End)).unwrap();
}

#[test]
fn a_slow_listener_makes_a_real_board_drop_whole_lines() {
    // 100 times real time: 2 MB/s, which a listener that sleeps does not take.
    let pace = Pace::Times(100.0);
    let board = PtyBoard::start(Counting::new(u64::MAX), pace, Overflow::DropLines).unwrap();
    let mut bench = Bench::open(board.path(), WhenLost::End);
    bench.until(|bench, _| bench.samples.len() >= 100);
    std::thread::sleep(Duration::from_millis(300));
    bench.until(|bench, _| bench.counts().missing > 0);
    let enough = bench.samples.len() + 2000;
    bench.until(|bench, _| bench.samples.len() >= enough);
    let counts = bench.counts();
    assert!(board.dropped() > 0);
    let late = counts.rejected(Cause::BeforeHeader) + counts.rejected(Cause::Cut);
    assert_eq!(
        counts.rejected_total(),
        late,
        "no line arrives in part: {counts:?}"
    );
    assert_counting(&bench.samples);
}

#[test]
fn two_boards_do_not_meet_and_leave_nothing_behind() {
    let one = PtyBoard::start(Counting::new(10), Pace::AsRead, Overflow::Wait).unwrap();
    let two = PtyBoard::start(Counting::new(10), Pace::AsRead, Overflow::Wait).unwrap();
    assert_ne!(one.path(), two.path());
    let folder = one.path().parent().unwrap().to_owned();
    assert!(folder.exists());
    one.stop();
    assert!(!folder.exists());
    assert!(two.path().exists());
    let error = {
        let path = two.path().to_owned();
        drop(two);
        SerialSource::open(settings(&path, WhenLost::End)).unwrap_err()
    };
    assert!(error.what.contains("there is no such port"), "{error}");
}
