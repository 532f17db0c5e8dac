//! What goes wrong with a stream that has begun well: said while it happens, from how its counts grow.
//!
//! Belongs here: a clock that stands, creeps or runs backwards, garbage in mid-run, silence. Does not belong here: a stream that
//! never made sense (`advice`), a pulled cable.

use super::{Cause, Counts, Header};
use std::collections::VecDeque;
use std::time::Duration;

/// So much of the past is looked at.
const WINDOW: Duration = Duration::from_secs(2);
/// Fewer than this say nothing about the board's clock.
const SPAN: Duration = Duration::from_millis(900);
/// How often the counts are noted.
const EVERY: Duration = Duration::from_millis(100);
/// Lines or samples that make a judgement.
const ENOUGH: u64 = 10;
/// Damaged lines in the window from which it is said; one alone is counted beside the stream.
const DAMAGED: u64 = 3;
/// A clock that is slower than life by this factor counts something else.
const SLOW: f64 = 20.0;
/// Bytes without a line among them.
const NO_LINES: u64 = 200;
/// After so long a clock that gives nothing to work with ends a run that nobody watches.
const HOPELESS: Duration = Duration::from_secs(10);

#[derive(Debug, Clone, Copy)]
struct Noted {
    at: Duration,
    counts: Counts,
    /// Board time of the last sample.
    board_us: Option<u64>,
}

/// What is wrong with the stream now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Trouble {
    ClockStands,
    /// Slower than life by about this factor.
    ClockCreeps(u64),
    ClockBackwards,
    ClockWraps,
    /// Most of them for this cause.
    Damaged(Cause),
    NoText,
    Silent,
}

/// Watches how the counts grow.
#[derive(Debug, Default)]
pub struct StreamWatch {
    noted: VecDeque<Noted>,
    /// Since when the clock gives nothing to work with.
    hopeless: Option<Duration>,
}

impl StreamWatch {
    /// What is wrong at this moment of the run. `last_us` is the time of the last sample; `connected`, whether the cable is in.
    pub fn see(
        &mut self,
        at: Duration,
        counts: &Counts,
        header: &Header,
        last_us: Option<u64>,
        connected: bool,
    ) -> Option<Trouble> {
        if !connected {
            // Nothing of before counts any more.
            *self = Self::default();
            return None;
        }
        let board_us = last_us.filter(|_| header.has_time());
        // Samples come often enough for silence to be none of its ways.
        let regular = header.rate_hz.is_some_and(|hz| hz >= 2.0);
        let now = Noted {
            at,
            counts: *counts,
            board_us,
        };
        while self.noted.get(1).is_some_and(|next| at >= next.at + WINDOW) {
            self.noted.pop_front();
        }
        let before = *self.noted.front().unwrap_or(&now);
        if self.noted.back().is_none_or(|last| at >= last.at + EVERY) {
            self.noted.push_back(now);
        }
        let since_line = self.noted.iter().find(|n| n.counts.lines == counts.lines);
        let without_line = since_line.map_or(0, |n| counts.bytes - n.counts.bytes);
        let trouble =
            trouble(before, now).or((without_line >= NO_LINES).then_some(Trouble::NoText));
        let useless = matches!(
            trouble,
            Some(Trouble::ClockStands | Trouble::ClockBackwards)
        );
        self.hopeless = useless.then_some(self.hopeless.unwrap_or(at));
        trouble.filter(|trouble| regular || *trouble != Trouble::Silent)
    }

    /// Whether the clock has given nothing to work with for so long that waiting is no use.
    pub fn is_hopeless(&self, at: Duration) -> bool {
        self.hopeless.is_some_and(|since| at >= since + HOPELESS)
    }
}

fn trouble(before: Noted, now: Noted) -> Option<Trouble> {
    let grown = |of: fn(&Counts) -> u64| of(&now.counts).saturating_sub(of(&before.counts));
    let rejected = |cause| {
        let now = now.counts.rejected(cause);
        now.saturating_sub(before.counts.rejected(cause))
    };
    let (lines, samples) = (grown(|c| c.lines), grown(|c| c.samples));
    let (back, span) = (
        rejected(Cause::TimeWentBack),
        now.at.saturating_sub(before.at),
    );
    if back >= ENOUGH && back * 2 > lines {
        return Some(Trouble::ClockBackwards);
    }
    if let (Some(from), Some(to)) = (before.board_us, now.board_us)
        && samples >= ENOUGH
        && span >= SPAN
    {
        if to <= from {
            return Some(Trouble::ClockStands);
        }
        #[allow(clippy::cast_precision_loss)] // a window of seconds
        let slower = span.as_secs_f64() * 1e6 / (to - from) as f64;
        if slower >= SLOW {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 20 to 2e6
            return Some(Trouble::ClockCreeps(slower.round() as u64));
        }
    }
    let damaged = Cause::ALL.into_iter().filter(|cause| *cause != Cause::Cut);
    let worst = damaged.max_by_key(|cause| rejected(*cause))?;
    let all: u64 = Cause::ALL.into_iter().map(rejected).sum();
    if all >= DAMAGED {
        return Some(Trouble::Damaged(worst));
    }
    if span >= WINDOW && grown(|c| c.bytes) == 0 {
        return Some(Trouble::Silent);
    }
    (now.counts.early_wraps > 0).then_some(Trouble::ClockWraps)
}

impl std::fmt::Display for Trouble {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::ClockStands => f.write_str(
                "The board's clock stands still: the same t_us in every line. Print micros() anew for each sample.",
            ),
            Self::ClockCreeps(by) => write!(
                f,
                "The board's clock is {by} times too slow for microseconds. If it prints milliseconds, call the column t_ms."
            ),
            Self::ClockBackwards => f.write_str(
                "The board's clock runs backwards: t_us falls from line to line. Print micros() as it is, as an unsigned number.",
            ),
            Self::ClockWraps => f.write_str(
                "The board's clock begins at 0 again too early, before 2^32; it is taken as running on. Print all 32 bits of micros().",
            ),
            Self::Damaged(cause) => write!(
                f,
                "Damaged lines are coming in ({cause}). They are counted and not used. Look at the USB plug and cable, or use a lower speed."
            ),
            Self::NoText => f.write_str(
                "What arrives now is no text any more. Did the board change its speed, or its program? Press its reset.",
            ),
            Self::Silent => f.write_str(
                "Nothing arrives any more. Is the board still running? Press its reset.",
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::{Decoder, Event, StreamOptions};

    /// Lines 10 ms apart, and what is said within two seconds of them.
    fn said(line: impl Fn(u64) -> String) -> Option<Trouble> {
        let mut decoder = Decoder::new(StreamOptions::default());
        let mut watch = StreamWatch::default();
        decoder.feed(
            b"# pedalproof 1 bits=10 vref_mv=5000 rate_hz=100 cols=t_us,a\n",
            0,
            &mut |_| {},
        );
        let mut board_us = None;
        let mut last = None;
        for n in 0..200 {
            let host_us = n * 10_000;
            decoder.feed(line(n).as_bytes(), host_us, &mut |event| {
                if let Event::Sample { t_us, .. } = event {
                    board_us = Some(t_us);
                }
            });
            let at = Duration::from_micros(host_us);
            let header = decoder.header().unwrap().clone();
            last = watch.see(at, decoder.counts(), &header, board_us, true);
        }
        last
    }

    #[test]
    fn a_good_board_is_let_be() {
        assert_eq!(said(|n| format!("{},512\n", 10_000 * n)), None);
        // One line in a hundred damaged is two in the window: counted, not called trouble.
        let one = |n: u64| {
            if n % 100 == 50 {
                "?\n".to_owned()
            } else {
                format!("{},5\n", 10_000 * n)
            }
        };
        assert_eq!(said(one), None);
    }

    #[test]
    fn a_clock_that_is_none_is_told_within_two_seconds() {
        assert_eq!(said(|_| "77,512\n".to_owned()), Some(Trouble::ClockStands));
        let down = |n: u64| format!("{},512\n", 4_000_000_000 - 10_000 * n);
        assert_eq!(said(down), Some(Trouble::ClockBackwards));
        // Milliseconds under the name of microseconds.
        let ms = said(|n| format!("{},512\n", 10 * n));
        assert!(
            matches!(ms, Some(Trouble::ClockCreeps(990..=1010))),
            "{ms:?}"
        );
        let wraps = |n: u64| format!("{},512\n", ((1 << 30) - 15_000 + 10_000 * n) % (1 << 30));
        assert_eq!(said(wraps), Some(Trouble::ClockWraps));
    }

    #[test]
    fn what_comes_in_between_is_told() {
        let third = |n: u64| {
            if n.is_multiple_of(3) {
                format!("{},5*00\n", 10_000 * n)
            } else {
                format!("{},5\n", 10_000 * n)
            }
        };
        let message = said(third);
        assert_eq!(message, Some(Trouble::Damaged(Cause::BadSum)));
        let garbage = |n: u64| {
            if n < 50 {
                format!("{},5\n", 10_000 * n)
            } else {
                "x\u{1}y\u{2}".repeat(3)
            }
        };
        assert_eq!(said(garbage), Some(Trouble::NoText));
        let silent = said(|n| {
            if n == 0 {
                "0,5\n".to_owned()
            } else {
                String::new()
            }
        });
        assert_eq!(silent, None, "a window is not over yet");
    }
}
