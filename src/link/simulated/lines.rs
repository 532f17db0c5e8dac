//! The simulated board's text stream: contract 4.1, with faults of the line if asked for.

use super::chance::{Chance, Purpose};
use super::run::Simulation;
use crate::link::LineSource;
use std::io::Write;

/// What stands between two fields.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Separator {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// A tab.
    Tab,
    /// A blank.
    Blank,
}

impl Separator {
    fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
            Self::Blank => b' ',
        }
    }
}

/// What ends a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineEnd {
    /// LF alone.
    Lf,
    /// CR and LF.
    CrLf,
}

/// How lines are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LineStyle {
    /// What stands between two fields.
    pub separator: Separator,
    /// Whether sample lines end in `*HH`.
    pub sums: bool,
    /// Whether the `#` line is printed, once a second.
    pub headers: bool,
    /// Whether sample lines begin with `t_us`.
    pub times: bool,
    /// What ends a line.
    pub end: LineEnd,
}

impl Default for LineStyle {
    /// The streamer's own: header, time, commas, sums, LF.
    fn default() -> Self {
        Self {
            separator: Separator::Comma,
            sums: true,
            headers: true,
            times: true,
            end: LineEnd::Lf,
        }
    }
}

/// Faults of the line, as probabilities for each sample line, 0 ..= 1.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Corruption {
    /// The line's sum is wrong (only where there are sums).
    pub bad_sum: f64,
    /// A line of garbage is printed before it: ASCII that is no number, never a `#`.
    pub garbage: f64,
    /// The line is lost.
    pub lost: f64,
}

/// What was printed: the truth for stream counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LineCounts {
    /// All lines printed.
    pub lines: u64,
    /// Header lines.
    pub headers: u64,
    /// Sample lines whose sum is right, or that have none.
    pub good_samples: u64,
    /// Sample lines with a wrong sum.
    pub bad_sums: u64,
    /// Lines of garbage.
    pub garbage: u64,
    /// Sample lines not printed.
    pub lost: u64,
    /// Times that the printed `t_us` passed 2^32.
    pub wraps: u64,
}

/// Prints a simulation.
#[derive(Debug, Clone)]
pub struct BoardLines {
    simulation: Simulation,
    style: LineStyle,
    corruption: Corruption,
    chance: Chance,
    header: Vec<u8>,
    waiting: Option<(u64, Vec<u8>)>,
    next_header_us: u64,
    last_us: u64,
    counts: LineCounts,
}

impl BoardLines {
    /// Prints this simulation as the streamer would.
    #[must_use]
    pub fn new(simulation: Simulation) -> Self {
        Self::styled(simulation, LineStyle::default(), Corruption::default(), 0)
    }

    /// Prints it in another style, with faults drawn from `seed`.
    #[must_use]
    pub fn styled(
        simulation: Simulation,
        style: LineStyle,
        corruption: Corruption,
        seed: u64,
    ) -> Self {
        let start_us = simulation.board().start_us;
        Self {
            header: header(&simulation, style),
            simulation,
            style,
            corruption,
            chance: Chance::new(seed, Purpose::Lines),
            waiting: None,
            next_header_us: start_us,
            last_us: start_us,
            counts: LineCounts::default(),
        }
    }

    /// What was printed so far.
    #[must_use]
    pub fn counts(&self) -> LineCounts {
        self.counts
    }

    /// The simulation behind it, for its truth.
    #[must_use]
    pub fn simulation(&self) -> &Simulation {
        &self.simulation
    }

    /// The next sample line that is not lost, without its line end.
    fn sample_line(&mut self) -> Option<(u64, Vec<u8>)> {
        loop {
            let sample = self.simulation.next_sample()?;
            let t_us = sample.t_us;
            let mut line = Vec::with_capacity(48);
            if self.style.times {
                push_number(&mut line, t_us & 0xffff_ffff);
            }
            for code in sample.codes {
                if !line.is_empty() {
                    line.push(self.style.separator.byte());
                }
                push_number(&mut line, u64::from(code.0));
            }
            self.counts.wraps += (t_us >> 32) - (self.last_us >> 32);
            self.last_us = t_us;
            if self.corruption.lost > 0.0 && self.chance.happens(self.corruption.lost) {
                self.counts.lost += 1;
                continue;
            }
            return Some((t_us, line));
        }
    }

    /// Ends a sample line with its sum, right or wrong, and counts it.
    fn sum(&mut self, line: &mut Vec<u8>) {
        let bad = self.style.sums
            && self.corruption.bad_sum > 0.0
            && self.chance.happens(self.corruption.bad_sum);
        if self.style.sums {
            let right = line.iter().fold(0, |sum, byte| sum ^ byte);
            let wrong = if bad { 1u8 << self.chance.below(8) } else { 0 };
            // Writing to memory cannot fail.
            let _ = write!(line, "*{:02X}", right ^ wrong);
        }
        if bad {
            self.counts.bad_sums += 1;
        } else {
            self.counts.good_samples += 1;
        }
    }

    fn end_line(&mut self, out: &mut Vec<u8>) {
        out.extend_from_slice(match self.style.end {
            LineEnd::Lf => b"\n",
            LineEnd::CrLf => b"\r\n",
        });
        self.counts.lines += 1;
    }

    /// Writes what is to be printed before the sample line of this time, a header or garbage, if anything is.
    fn comes_first(&mut self, t_us: u64, out: &mut Vec<u8>) -> bool {
        if self.style.headers && t_us >= self.next_header_us {
            out.extend_from_slice(&self.header);
            self.counts.headers += 1;
            while self.next_header_us <= t_us {
                self.next_header_us += 1_000_000;
            }
            return true;
        }
        let garbage = self.corruption.garbage > 0.0 && self.chance.happens(self.corruption.garbage);
        if garbage {
            self.garbage(out);
        }
        garbage
    }

    fn garbage(&mut self, out: &mut Vec<u8>) {
        const LETTERS: &[u8] = b"abcdefghijklmnopqrstuvwxyz?!%";
        let length = 3 + self.chance.below(20);
        out.extend((0..length).map(|_| LETTERS[self.chance.below(LETTERS.len())]));
        self.counts.garbage += 1;
    }
}

impl LineSource for BoardLines {
    fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64> {
        let (t_us, mut line) = if let Some(waiting) = self.waiting.take() {
            waiting
        } else {
            let (t_us, line) = self.sample_line()?;
            if self.comes_first(t_us, out) {
                self.end_line(out);
                self.waiting = Some((t_us, line));
                return Some(t_us);
            }
            (t_us, line)
        };
        self.sum(&mut line);
        out.extend_from_slice(&line);
        self.end_line(out);
        Some(t_us)
    }
}

fn header(simulation: &Simulation, style: LineStyle) -> Vec<u8> {
    let board = simulation.board();
    let mut line = Vec::new();
    let _ = write!(
        line,
        "# pedalproof 1 bits={} vref_mv={} rate_hz={} cols=",
        board.bits, board.vref_mv, board.rate_hz
    );
    let names = style
        .times
        .then_some("t_us")
        .into_iter()
        .chain(simulation.names());
    for (place, name) in names.enumerate() {
        if place > 0 {
            line.push(b',');
        }
        line.extend_from_slice(name.as_bytes());
    }
    line
}

fn push_number(line: &mut Vec<u8>, number: u64) {
    let _ = write!(line, "{number}");
}
