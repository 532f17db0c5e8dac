//! A recording as a board: prints the rows again, as the text of DESIGN 4.1.
//!
//! Belongs here: rows -> lines, at a pace. Does not belong here: reading the recording from disk.

use super::{LineSource, MemoryBoard, Pace};
use crate::link::StreamText;
use measure::units::Code;

/// A recording's samples, already in memory, as a board would have printed them.
#[derive(Debug, Clone)]
pub struct RecordedLines {
    text: StreamText,
    t_us: Vec<u64>,
    /// A column of codes for each of the header's columns.
    codes: Vec<Vec<Code>>,
    row: Vec<Code>,
    next: usize,
    header_due_us: Option<u64>,
}

/// The header is repeated this often, in board time.
const HEADER_EVERY_US: u64 = 1_000_000;

impl RecordedLines {
    /// Rows at `t_us` (never decreasing), with one column of `codes` for each column of the text's header. Rows beyond
    /// the shortest column are not there.
    pub fn new(text: StreamText, t_us: Vec<u64>, codes: Vec<Vec<Code>>) -> Self {
        Self {
            row: Vec::with_capacity(codes.len()),
            text,
            t_us,
            codes,
            next: 0,
            header_due_us: None,
        }
    }
}

impl LineSource for RecordedLines {
    fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64> {
        let t_us = *self.t_us.get(self.next)?;
        self.row.clear();
        for column in &self.codes {
            self.row.push(*column.get(self.next)?);
        }
        if self.header_due_us.is_none_or(|due| t_us >= due) {
            self.header_due_us = Some(t_us.saturating_add(HEADER_EVERY_US));
            self.text.write_header(out);
            return Some(t_us);
        }
        self.text.write_sample(t_us, &self.row, out);
        self.next += 1;
        Some(t_us)
    }

    fn power_cycle(&mut self) {
        self.next = 0;
        self.header_due_us = None;
    }
}

/// A recording as a source.
pub type ReplaySource = MemoryBoard<RecordedLines>;

impl ReplaySource {
    /// Replays the recording called `name` at a pace.
    pub fn replay(name: &str, rows: RecordedLines, pace: Pace) -> Self {
        Self::new(format!("replay of {name}"), rows, pace)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::{Decoder, Event, Received, Source, StreamOptions, Sums};
    use std::time::{Duration, Instant};

    fn rows(count: u32, sums: Sums) -> RecordedLines {
        let line = b"# pedalproof 1 bits=12 vref_mv=3300 rate_hz=100 cols=t_us,a,b";
        let header = StreamOptions::default().header_from(line).unwrap();
        let t_us = (0..count).map(|i| (1 << 32) - 1000 + u64::from(i) * 10_000);
        let a = (0..count).map(Code).collect();
        let b = (0..count).map(|i| Code(4095 - i)).collect();
        RecordedLines::new(StreamText::new(header, sums), t_us.collect(), vec![a, b])
    }

    fn run(mut source: impl Source) -> (Vec<(u64, Vec<Code>)>, Decoder) {
        let mut decoder = Decoder::new(StreamOptions::default());
        let mut taken = Vec::new();
        let mut buffer = [0; 97];
        loop {
            match source
                .receive(&mut buffer, Duration::from_millis(20))
                .unwrap()
            {
                Received::Bytes(n) => decoder.feed(&buffer[..n], 0, &mut |event| {
                    if let Event::Sample { t_us, codes, .. } = event {
                        taken.push((t_us, codes.to_vec()));
                    }
                }),
                Received::Ended => return (taken, decoder),
                _ => {}
            }
        }
    }

    #[test]
    fn what_was_recorded_is_decoded_again() {
        for sums in [Sums::With, Sums::Without] {
            let source = ReplaySource::replay("x.csv", rows(1000, sums), Pace::AsRead);
            assert_eq!(source.describe(), "replay of x.csv");
            let (taken, decoder) = run(source);
            assert_eq!(taken.len(), 1000);
            assert_eq!(
                taken[999],
                ((1 << 32) - 1000 + 9_990_000, vec![Code(999), Code(3096)])
            );
            let counts = decoder.counts();
            assert_eq!(
                (counts.rejected_total(), counts.missing, counts.headers),
                (0, 0, 10)
            );
        }
    }

    #[test]
    fn at_a_pace() {
        // 41 rows 10 ms apart at ten times real time: 40 ms.
        let started = Instant::now();
        let (taken, _) = run(ReplaySource::replay(
            "x",
            rows(41, Sums::With),
            Pace::Times(10.0),
        ));
        assert_eq!(taken.len(), 41);
        assert!(
            started.elapsed() >= Duration::from_millis(40),
            "{:?}",
            started.elapsed()
        );
    }

    #[test]
    fn no_rows_is_an_end() {
        let (taken, decoder) = run(ReplaySource::replay("x", rows(0, Sums::With), Pace::AsRead));
        assert!(taken.is_empty());
        assert_eq!(decoder.counts().lines, 0);
    }
}
