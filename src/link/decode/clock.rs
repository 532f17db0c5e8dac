//! Where a sample lies in time: the board's 32-bit microseconds unwrapped, gaps counted, resets survived.

use super::gaps::Gaps;

/// Lines of a new time base after which it is believed, without a header to announce it.
const CONFIRM: u8 = 3;
/// Two samples of one time base follow each other within this many microseconds (or two periods, if longer).
const CLOSE_US: u64 = 1_000_000;
/// A leap forward beyond this many microseconds that lands this near zero is a board that began anew: the chance that
/// a true leap over the wrap lands there is 1 in 400.
const FRESH_US: u32 = 10_000_000;
/// How far a board's clock and the host's may differ over a gap of `g` microseconds and still be one clock: this plus `g`/20.
const GAP_SLACK_US: u64 = 1_000_000;
/// A stamp that lies this many periods back is jitter and no clock that began anew: nothing is reset within so short a time.
const JITTER_PERIODS: f64 = 32.0;

/// A clock wraps at this many counts at least.
const SHORTEST_WRAP: u32 = 1 << 16;
/// Longest step over such a wrap that is believed, where no rate says what is usual.
const LONGEST_WRAP_US: u64 = 200_000;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Placed {
    /// Unwrapped microseconds.
    pub t_us: u64,
    /// Samples missing since the one before.
    pub missing: u64,
    /// Samples that were counted as missing before and were not, as the stamps since have shown.
    pub made_up: u64,
    pub restarted: bool,
    /// The clock wrapped at a power of two below 2^32, and runs on.
    pub early_wrap: bool,
    /// Whether the time before it is unknown or so long that the board may be another one now, and no header came meanwhile.
    pub leap: bool,
}

#[derive(Debug, Clone, Copy)]
struct Last {
    raw: u32,
    t_us: u64,
    host_us: u64,
}

/// Unwraps one board's clock. `t_us` never decreases.
#[derive(Debug, Clone, Default)]
pub(super) struct BoardClock {
    last: Option<Last>,
    /// Nominal sample period in microseconds, if known.
    period_us: Option<f64>,
    /// Steps up to this many microseconds have no missing sample in them.
    usual_us: u64,
    /// A header came since the last sample.
    after_header: bool,
    /// The host saw a gap of so many microseconds since the last sample.
    host_gap_us: Option<u64>,
    /// The last line of a time base not yet believed, and how many there were.
    newcomer: Option<(u32, u8)>,
    gaps: Gaps,
}

impl BoardClock {
    /// Takes over the sample rate of a header.
    pub fn set_rate(&mut self, rate_hz: Option<f64>) {
        self.period_us = rate_hz.map(|rate| 1e6 / rate);
        self.usual_us = match self.period_us {
            Some(period) => floor_us(1.5 * period),
            None => u64::from(FRESH_US),
        };
    }

    pub fn header_seen(&mut self) {
        self.after_header = true;
    }

    /// The host lost the board for so many microseconds.
    pub fn gap_seen(&mut self, gap_us: u64) {
        self.host_gap_us = Some(self.host_gap_us.unwrap_or(0).saturating_add(gap_us));
    }

    /// Places a sample that the board took at `raw` and that arrived at `host_us`; `None`: time went back.
    #[inline]
    pub fn place(&mut self, raw: u32, host_us: u64) -> Option<Placed> {
        if let Some(last) = &mut self.last
            && self.host_gap_us.is_none()
        {
            let ahead = u64::from(raw.wrapping_sub(last.raw));
            if ahead <= self.usual_us {
                *last = Last {
                    raw,
                    t_us: last.t_us.saturating_add(ahead),
                    host_us,
                };
                self.after_header = false;
                self.newcomer = None;
                let made_up = self.gaps.step(ahead, 0);
                return Some(Placed {
                    t_us: last.t_us,
                    missing: 0,
                    made_up,
                    restarted: false,
                    early_wrap: false,
                    leap: false,
                });
            }
        }
        self.place_unusual(raw, host_us)
    }

    /// Places a sample of a stream without board time by its arrival; missing samples are known only for a gap that
    /// the host saw, because lines arrive in bunches.
    pub fn place_by_arrival(&mut self, host_us: u64) -> Placed {
        let gap = self.host_gap_us.take();
        let t_us = self.last.map_or(host_us, |last| last.t_us.max(host_us));
        let missing = match (gap, self.last) {
            (Some(gap), Some(last)) => self.missing_in(since(last, gap, host_us)),
            _ => 0,
        };
        self.accept(0, t_us, host_us);
        Placed {
            t_us,
            missing,
            made_up: 0,
            restarted: false,
            early_wrap: false,
            leap: false,
        }
    }

    #[cold]
    fn place_unusual(&mut self, raw: u32, host_us: u64) -> Option<Placed> {
        let after_header = std::mem::take(&mut self.after_header);
        let placed = self.place_after(after_header, raw, host_us)?;
        Some(Placed {
            leap: placed.leap && !after_header,
            ..placed
        })
    }

    fn place_after(&mut self, after_header: bool, raw: u32, host_us: u64) -> Option<Placed> {
        let Some(last) = self.last else {
            self.host_gap_us = None;
            self.accept(raw, u64::from(raw), host_us);
            self.gaps.begin(self.period_us);
            return Some(Placed {
                t_us: u64::from(raw),
                missing: 0,
                made_up: 0,
                restarted: false,
                early_wrap: false,
                leap: false,
            });
        };
        let ahead = raw.wrapping_sub(last.raw);
        if let Some(gap) = self.host_gap_us.take() {
            let gap = since(last, gap, host_us);
            let off = u64::from(ahead).abs_diff(gap);
            let same_clock = off <= GAP_SLACK_US + gap / 20;
            let step = if same_clock { u64::from(ahead) } else { gap };
            return Some(self.step(last, raw, step, host_us, !same_clock));
        }
        if let Some(step) = self.early_wrap(last, raw, host_us) {
            let placed = self.step(last, raw, step, host_us, false);
            return Some(Placed {
                early_wrap: true,
                ..placed
            });
        }
        let fresh = raw < FRESH_US;
        // A header and a clock that is still within the reach of jitter from zero: the board says itself that it began anew.
        let begins = after_header && self.within_jitter(raw);
        let back_us = last.raw.wrapping_sub(raw);
        if !begins && back_us > 0 && self.within_jitter(back_us) {
            return None;
        }
        let backwards = ahead > i32::MAX as u32 || (ahead > FRESH_US && fresh);
        if !backwards {
            return Some(self.step(last, raw, u64::from(ahead), host_us, false));
        }
        if (after_header && fresh) || self.confirmed(raw) {
            let gap = host_us.saturating_sub(last.host_us);
            return Some(self.step(last, raw, gap, host_us, true));
        }
        None
    }

    /// The step to `raw` of a clock that has fewer than 32 bits, or counts something shorter: one sample after it stood just below
    /// a power of two it stands just above zero, and the host saw no time in which a board could have begun anew.
    fn early_wrap(&self, last: Last, raw: u32, host_us: u64) -> Option<u64> {
        let one = self.usual_us.min(LONGEST_WRAP_US);
        let at_once = host_us.saturating_sub(last.host_us) < CLOSE_US;
        let wrap = last.raw.checked_add(1)?.checked_next_power_of_two()?;
        let step = u64::from(wrap - last.raw) + u64::from(raw);
        (at_once && wrap >= SHORTEST_WRAP && raw < last.raw && step <= one).then_some(step)
    }

    /// Whether jitter reaches so many microseconds: a stamp that was early, or one that follows one that was late.
    fn within_jitter(&self, us: u32) -> bool {
        let most_us = self.period_us.unwrap_or(0.0) * JITTER_PERIODS;
        u64::from(us) <= floor_us(most_us).min(CLOSE_US)
    }

    /// Counts a line of a time base not yet believed; true when it is believed now.
    fn confirmed(&mut self, raw: u32) -> bool {
        let close = CLOSE_US.max(self.usual_us);
        let run = match self.newcomer {
            Some((before, run)) if u64::from(raw.wrapping_sub(before)) <= close => run + 1,
            _ => 1,
        };
        self.newcomer = Some((raw, run));
        run >= CONFIRM
    }

    fn step(&mut self, last: Last, raw: u32, step: u64, host_us: u64, restarted: bool) -> Placed {
        // After a restart the true step is not known: it is at least one period.
        let shortest = if restarted {
            self.period_us.map_or(1, floor_us)
        } else {
            0
        };
        let step = step.max(shortest);
        let t_us = last.t_us.saturating_add(step);
        self.accept(raw, t_us, host_us);
        let (missing, leap) = (
            self.missing_in(step),
            restarted || step > CLOSE_US.max(self.usual_us),
        );
        let made_up = if leap {
            self.gaps.begin(self.period_us);
            0
        } else {
            self.gaps.step(step, missing)
        };
        Placed {
            t_us,
            missing,
            made_up,
            restarted,
            early_wrap: false,
            leap,
        }
    }

    fn accept(&mut self, raw: u32, t_us: u64, host_us: u64) {
        self.last = Some(Last { raw, t_us, host_us });
        self.newcomer = None;
        self.after_header = false;
    }

    /// Samples missing in a step: `round(step / period) - 1` when it is longer than 1.5 periods (DESIGN 4.1).
    #[allow(clippy::cast_precision_loss)] // 2^53 us is 285 years
    fn missing_in(&self, step_us: u64) -> u64 {
        match self.period_us {
            Some(period) if step_us > self.usual_us => {
                floor_us((step_us as f64 / period).round()).saturating_sub(1)
            }
            _ => 0,
        }
    }
}

/// Microseconds of host time since the last sample: the cable was in again for a while before the next one came.
fn since(last: Last, gap_us: u64, host_us: u64) -> u64 {
    gap_us.max(host_us.saturating_sub(last.host_us))
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // positive; saturates far beyond any recording
fn floor_us(value: f64) -> u64 {
    value as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A clock at 1 kHz whose first sample was at `first`.
    fn at_1_khz(first: u32) -> BoardClock {
        let mut clock = BoardClock::default();
        clock.set_rate(Some(1000.0));
        assert_eq!(clock.place(first, 0).unwrap().t_us, u64::from(first));
        clock
    }

    #[allow(clippy::unnecessary_wraps)] // reads as what `place` gives
    fn plain(t_us: u64, missing: u64) -> Option<Placed> {
        Some(Placed {
            t_us,
            missing,
            made_up: 0,
            restarted: false,
            early_wrap: false,
            leap: missing >= 1000, // more than a second, at 1 kHz
        })
    }

    #[allow(clippy::unnecessary_wraps)] // reads as what `place` gives
    fn anew(t_us: u64, missing: u64) -> Option<Placed> {
        Some(Placed {
            t_us,
            missing,
            made_up: 0,
            restarted: true,
            early_wrap: false,
            leap: true,
        })
    }

    /// The same, said by a header: the board cannot be another one.
    fn announced(t_us: u64, missing: u64) -> Option<Placed> {
        anew(t_us, missing).map(|placed| Placed {
            leap: false,
            ..placed
        })
    }

    #[test]
    fn gaps_beyond_one_and_a_half_periods() {
        // Worked by hand from DESIGN 4.1 at 1000 us a sample.
        for (step, missing) in [
            (0, 0),
            (1000, 0),
            (1500, 0),
            (1501, 1),
            (2000, 1),
            (2499, 1),
            (2501, 2),
            (10_000, 9),
        ] {
            let mut clock = at_1_khz(0);
            assert_eq!(
                clock.place(step, 0),
                plain(u64::from(step), missing),
                "{step}"
            );
        }
    }

    #[test]
    fn a_period_that_is_no_whole_number() {
        let mut clock = BoardClock::default();
        clock.set_rate(Some(3000.0)); // 333.3 us; 1.5 periods are 500 us
        clock.place(0, 0);
        assert_eq!(clock.place(500, 0), plain(500, 0));
        assert_eq!(clock.place(1001, 0), plain(1001, 1));
    }

    #[test]
    fn the_wrap_is_no_gap() {
        let mut clock = at_1_khz(u32::MAX - 499);
        assert_eq!(clock.place(500, 0), plain((1 << 32) + 500, 0));
        assert_eq!(clock.place(1500, 0), plain((1 << 32) + 1500, 0));
    }

    #[test]
    fn a_clock_that_wraps_early_runs_on() {
        // 2^30 - 400 us, then 600 us: one period of 1000 us, by hand.
        for bits in [16, 24, 30, 31] {
            let wrap = 1_u32 << bits;
            let mut clock = at_1_khz(wrap - 400);
            let over = clock.place(600, 1000);
            let want = Placed {
                early_wrap: true,
                ..plain(u64::from(wrap) + 600, 0).unwrap()
            };
            assert_eq!(over, Some(want), "{bits}");
            assert_eq!(clock.place(1600, 2000), plain(u64::from(wrap) + 1600, 0));
        }
        // As near to the power of two, but the board was away for long enough to begin anew.
        let mut clock = at_1_khz((1 << 30) - 400);
        assert_eq!(clock.place(600, 1_500_000), None);
        // A step of two periods is not believed.
        let mut clock = at_1_khz((1 << 30) - 400);
        assert_eq!(clock.place(1600, 2000), None);
    }

    #[test]
    fn a_gap_across_the_wrap_is_counted() {
        let mut clock = at_1_khz(u32::MAX - 999);
        assert_eq!(clock.place(4000, 0), plain((1 << 32) + 4000, 4));
    }

    #[test]
    fn two_wraps() {
        let mut clock = at_1_khz(0);
        let mut t_us = 0_u64;
        for _ in 0..9 {
            t_us += 1_000_000_000;
            let raw = u32::try_from(t_us % (1 << 32)).unwrap();
            // Leaps of 1000 s: the one that lands near zero by chance does not occur in this series.
            assert_eq!(clock.place(raw, 0), plain(t_us, 999_999));
        }
        assert!(t_us > 2 << 32);
    }

    /// Stamps that scatter by four periods, with a header every second: many go back and are refused, none is a new time base.
    #[test]
    fn jitter_of_four_periods_is_no_board_that_began_anew() {
        let mut clock = at_1_khz(1_000_000);
        let (mut state, mut taken) = (0x9E37_79B9_7F4A_7C15_u64, 0);
        for i in 1..20_000_u32 {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            let jitter = u32::try_from(state % 14_000).unwrap(); // uniform, standard deviation 4 ms
            if i % 1000 == 0 {
                clock.header_seen();
            }
            let placed = clock.place(1_000_000 + i * 1000 + jitter, u64::from(i) * 1000);
            assert!(placed.is_none_or(|placed| !placed.restarted), "{i}");
            taken += u32::from(placed.is_some());
        }
        assert!(taken > 2000, "{taken}");
    }

    #[test]
    fn one_step_back_is_refused_and_forgotten() {
        let mut clock = at_1_khz(50_000_000);
        assert_eq!(clock.place(49_000_000, 0), None);
        assert_eq!(clock.place(50_001_000, 0), plain(50_001_000, 0));
        assert_eq!(clock.place(49_000_000, 0), None);
        assert_eq!(clock.place(49_001_000, 0), None);
        assert_eq!(clock.place(50_002_000, 0), plain(50_002_000, 0));
    }

    #[test]
    fn three_lines_of_a_new_base_are_believed() {
        let mut clock = at_1_khz(50_000_000);
        assert_eq!(clock.place(20_000, 900_000), None);
        assert_eq!(clock.place(21_000, 901_000), None);
        // The host saw 902 ms since the last sample.
        assert_eq!(clock.place(22_000, 902_000), anew(50_902_000, 901));
        assert_eq!(clock.place(23_000, 903_000), plain(50_903_000, 0));
    }

    #[test]
    fn scattered_lines_are_no_new_base() {
        let mut clock = at_1_khz(4_000_000_000);
        for raw in [3_000_000_000, 2_900_000_000, 2_800_000_000, 2_700_000_000] {
            assert_eq!(clock.place(raw, 0), None);
        }
    }

    #[test]
    fn a_header_announces_a_reset() {
        let mut clock = at_1_khz(50_000_000);
        clock.header_seen();
        assert_eq!(clock.place(1200, 1_500_000), announced(51_500_000, 1499));
    }

    #[test]
    fn a_damaged_time_after_a_header_is_no_reset() {
        let mut clock = at_1_khz(50_000_000);
        clock.header_seen();
        assert_eq!(clock.place(40_000_000, 0), None);
        assert_eq!(clock.place(50_002_000, 0), plain(50_002_000, 1));
    }

    #[test]
    fn a_reset_after_fifty_minutes_is_no_leap_over_the_wrap() {
        let mut clock = at_1_khz(3_000_000_000);
        clock.header_seen();
        assert_eq!(clock.place(1000, 800_000), announced(3_000_800_000, 799));
    }

    #[test]
    fn a_reset_without_host_time_still_steps_on() {
        let mut clock = at_1_khz(50_000_000);
        clock.header_seen();
        assert_eq!(clock.place(0, 0), announced(50_001_000, 0));
    }

    #[test]
    fn a_replugged_board_that_kept_its_clock() {
        let mut clock = at_1_khz(7_000_000);
        clock.gap_seen(2_000_000);
        assert_eq!(clock.place(9_100_000, 0), plain(9_100_000, 2099));
    }

    #[test]
    fn a_replugged_board_that_speaks_up_late_kept_its_clock() {
        // Away for 0.3 s, silent for two more: by the host 2.45 s passed between two samples, by the board 2.5 s.
        let mut clock = at_1_khz(7_000_000);
        clock.gap_seen(300_000);
        assert_eq!(clock.place(9_500_000, 2_450_000), plain(9_500_000, 2499));
    }

    #[test]
    fn a_replugged_board_that_began_anew() {
        let mut clock = at_1_khz(7_000_000);
        clock.gap_seen(5_000_000);
        assert_eq!(clock.place(300_000, 0), anew(12_000_000, 4999));
        assert_eq!(clock.place(301_000, 0), plain(12_001_000, 0));
        // Two losses before the first sample add up.
        clock.gap_seen(1_000_000);
        clock.gap_seen(3_000_000);
        assert_eq!(clock.place(50, 0), anew(16_001_000, 3999));
    }

    #[test]
    fn a_replugged_board_whose_clock_seems_to_run_on_but_too_little() {
        // Last sample at 1 s, 20 s away, a fresh board now at 2 s: ahead by 1 s, not by 20.
        let mut clock = at_1_khz(1_000_000);
        clock.gap_seen(20_000_000);
        assert_eq!(clock.place(2_000_000, 0), anew(21_000_000, 19_999));
    }

    #[test]
    fn without_a_rate_nothing_is_missing() {
        let mut clock = BoardClock::default();
        clock.set_rate(None);
        clock.place(0, 0);
        let placed = clock.place(60_000_000, 0).unwrap();
        assert_eq!((placed.t_us, placed.missing), (60_000_000, 0));
    }

    #[test]
    fn arrival_time_never_runs_back_and_counts_only_gaps_that_were_seen() {
        let mut clock = BoardClock::default();
        clock.set_rate(Some(1000.0));
        assert_eq!(clock.place_by_arrival(5000).t_us, 5000);
        assert_eq!(clock.place_by_arrival(4000).t_us, 5000);
        assert_eq!(clock.place_by_arrival(50_000).missing, 0);
        clock.gap_seen(2_000_000);
        assert_eq!(
            clock.place_by_arrival(2_050_000),
            Placed {
                t_us: 2_050_000,
                missing: 1999,
                made_up: 0,
                restarted: false,
                early_wrap: false,
                leap: false
            }
        );
    }
}
