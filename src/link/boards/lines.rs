//! Something that prints lines as a board does, and the pace at which they are let through.
//!
//! Belongs here: the trait and the pacing, shared by the pseudo-terminal board, the board in memory and replay.
//! Does not belong here: what the lines say.

use std::time::{Duration, Instant};

/// A board's firmware, seen from the wire: one whole line after the other.
pub trait LineSource: Send {
    /// Appends the next whole line, with its line end, to `out`, and gives the board time in microseconds (not
    /// wrapped) at which it leaves the board; `None`: there are no more, `out` is unchanged.
    fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64>;

    /// The board's power was cycled: its time begins anew. A source without a notion of that goes on.
    fn power_cycle(&mut self) {}
}

impl<L: LineSource + ?Sized> LineSource for Box<L> {
    fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64> {
        (**self).next_line(out)
    }

    fn power_cycle(&mut self) {
        (**self).power_cycle();
    }
}

/// How fast lines are let through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pace {
    /// Board time times this factor; 1 is real time. Not above zero or not finite: as [`Pace::AsRead`].
    Times(f64),
    /// As fast as the reader takes them: for tests.
    #[cfg_attr(not(feature = "inside"), allow(dead_code))]
    AsRead,
}

impl Pace {
    /// Board time is wall time.
    #[cfg(feature = "inside")]
    pub const REAL_TIME: Self = Self::Times(1.0);

    /// The factor, if the pace has one that makes sense.
    fn factor(self) -> Option<f64> {
        match self {
            Self::Times(factor) if factor.is_finite() && factor > 0.0 => Some(factor),
            _ => None,
        }
    }
}

/// Tells how long to wait for a line that is due at a board time.
#[derive(Debug)]
struct Pacer {
    factor: Option<f64>,
    /// A moment, and the board time that it corresponds to.
    anchor: Option<(Instant, u64)>,
}

impl Pacer {
    fn wait(&mut self, due_us: u64, now: Instant) -> Duration {
        let Some(factor) = self.factor else {
            return Duration::ZERO;
        };
        let (start, first) = *self.anchor.get_or_insert((now, due_us));
        #[allow(clippy::cast_precision_loss)] // exact to the microsecond up to 285 years
        let after_s = due_us.saturating_sub(first) as f64 * 1e-6 / factor;
        match Duration::try_from_secs_f64(after_s) {
            Ok(after) => (start + after).saturating_duration_since(now),
            Err(_) => Duration::MAX,
        }
    }
}

/// Lines, let through when they are due.
pub(super) struct PacedLines<L> {
    lines: L,
    pacer: Pacer,
    /// The next line, not due yet.
    next: Vec<u8>,
    next_due_us: u64,
    over: bool,
}

/// What [`PacedLines::collect`] found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Due {
    Lines,
    /// Nothing is due for so long.
    In(Duration),
    Over,
}

impl<L: LineSource> PacedLines<L> {
    pub fn new(lines: L, pace: Pace) -> Self {
        Self {
            lines,
            pacer: Pacer {
                factor: pace.factor(),
                anchor: None,
            },
            next: Vec::with_capacity(256),
            next_due_us: 0,
            over: false,
        }
    }

    /// Whether lines go by the clock, not by the reader.
    #[cfg_attr(not(unix), allow(dead_code))] // asked by the pseudo-terminal alone
    pub fn is_timed(&self) -> bool {
        self.pacer.factor.is_some()
    }

    /// Appends the lines that are due at `now` to `out` until it holds `enough` bytes or more.
    pub fn collect(&mut self, now: Instant, enough: usize, out: &mut Vec<u8>) -> Due {
        let before = out.len();
        loop {
            if self.next.is_empty() && !self.over {
                match self.lines.next_line(&mut self.next) {
                    Some(due_us) => self.next_due_us = due_us,
                    None => self.over = true,
                }
            }
            let appended = out.len() > before;
            if self.over {
                return if appended { Due::Lines } else { Due::Over };
            }
            let wait = self.pacer.wait(self.next_due_us, now);
            if !wait.is_zero() {
                return if appended { Due::Lines } else { Due::In(wait) };
            }
            out.append(&mut self.next);
            if out.len() >= enough {
                return Due::Lines;
            }
        }
    }

    /// Cycles the board's power: its time begins anew, and so does the pace.
    #[cfg_attr(not(unix), allow(dead_code))] // done by the pseudo-terminal alone
    pub fn power_cycle(&mut self) {
        self.lines.power_cycle();
        self.next.clear();
        self.pacer.anchor = None;
        self.over = false;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten lines, one each 1000 us from 5000 us on.
    struct Ten(u64);

    impl LineSource for Ten {
        fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64> {
            if self.0 == 10 {
                return None;
            }
            out.extend_from_slice(format!("{}\n", self.0).as_bytes());
            self.0 += 1;
            Some(4000 + 1000 * self.0)
        }

        fn power_cycle(&mut self) {
            self.0 = 0;
        }
    }

    #[test]
    fn lines_come_when_they_are_due() {
        let ms = Duration::from_millis;
        let now = Instant::now();
        let mut lines = PacedLines::new(Ten(0), Pace::Times(2.0));
        let mut out = Vec::new();
        assert_eq!(lines.collect(now, 4096, &mut out), Due::Lines);
        assert_eq!(out, b"0\n", "the first line is due at once");
        assert_eq!(lines.collect(now, 4096, &mut out), Due::In(ms(1) / 2));
        assert_eq!(lines.collect(now + ms(1), 4096, &mut out), Due::Lines);
        assert_eq!(out, b"0\n1\n2\n", "twice as fast as the board");
        assert_eq!(lines.collect(now + ms(60), 10, &mut out), Due::Lines);
        assert_eq!(out, b"0\n1\n2\n3\n4\n", "no more than enough");
        out.clear();
        assert_eq!(lines.collect(now + ms(60), 4096, &mut out), Due::Lines);
        assert_eq!(lines.collect(now + ms(60), 4096, &mut out), Due::Over);
        assert_eq!(out, b"5\n6\n7\n8\n9\n");
        lines.power_cycle();
        out.clear();
        assert_eq!(lines.collect(now + ms(60), 4096, &mut out), Due::Lines);
        assert_eq!(out, b"0\n");
    }

    #[test]
    fn without_a_pace_everything_is_due() {
        for pace in [
            Pace::AsRead,
            Pace::Times(0.0),
            Pace::Times(f64::NAN),
            Pace::Times(-1.0),
        ] {
            let mut out = Vec::new();
            let mut lines = PacedLines::new(Ten(0), pace);
            assert_eq!(lines.collect(Instant::now(), 4096, &mut out), Due::Lines);
            assert_eq!(out.len(), 20, "{pace:?}");
        }
    }
}
