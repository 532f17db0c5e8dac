//! Whether a long step between two stamps is a gap, or jitter that the next stamps make up.
//!
//! A missing sample is one that the count of samples over time lacks: behind a gap every stamp is late by a whole number of
//! periods, behind a stamp that was late by itself none is. So what a long step leaves missing is counted at once (DESIGN 4.1)
//! and taken back when the stamps behind it lie where those before it were going.
//!
//! Stamps are held against the period as it is, not as it is stated: its median, so that neither gaps nor jitter pull at it.

/// Stamps behind a long step that say whether it was a gap.
const ENOUGH: f64 = 16.0;
/// With fewer stamps between two long steps they are one disturbance.
const FEWEST: f64 = 3.0;
/// Longest gap, in samples, that jitter can make up; over a longer one the period's own error would be taken for stamps.
const MOST: u64 = 32;
/// How late the stamps behind a gap are at least, in periods: half of one, and a little for the period's own error.
const LATE: f64 = 0.45;
/// The same in standard errors of the difference, where stamps scatter.
const LATE_SE: f64 = 3.0;
/// How far one step moves the period, relative, in the end: it scatters by less than 1 % then. At first more, falling with the number
/// of steps: a clock that is off by 5 % is followed after twenty.
const GAIN: f64 = 1e-4;

/// The lateness of some stamps, in periods: mean and variance of the last sixteen.
#[derive(Debug, Clone, Copy, Default)]
struct Level {
    n: f64,
    mean: f64,
    variance: f64,
}

impl Level {
    fn push(&mut self, late: f64) {
        self.n = (self.n + 1.0).min(ENOUGH);
        let off = late - self.mean;
        self.mean += off / self.n;
        self.variance += (off * (late - self.mean) - self.variance) / self.n;
    }
}

/// Follows the steps of one time base.
#[derive(Debug, Clone, Default)]
pub(super) struct Gaps {
    period_us: f64,
    /// Steps so far.
    steps: f64,
    /// Lateness of the last stamp, and whether it belongs to `now` already.
    late: f64,
    pending: bool,
    now: Level,
    /// The stamps before a long step that is not yet judged.
    before: Option<Level>,
    /// Samples that it was counted to lack.
    counted: u64,
}

impl Gaps {
    /// A new time base with this nominal period.
    pub(super) fn begin(&mut self, period_us: Option<f64>) {
        *self = Self {
            period_us: period_us.unwrap_or(0.0),
            pending: true,
            ..Self::default()
        };
    }

    /// Takes a step in that leaves so many samples missing. Gives how many that were counted before are not missing after all.
    #[inline]
    #[allow(clippy::cast_precision_loss)] // a step of up to a second
    pub(super) fn step(&mut self, step_us: u64, missing: u64) -> u64 {
        if self.period_us <= 0.0 {
            return 0;
        }
        let step = step_us as f64;
        let gain = (0.2 / (self.steps + 20.0)).max(GAIN);
        self.steps += 1.0;
        let way =
            gain * f64::from(i8::from(step > self.period_us) - i8::from(step < self.period_us));
        let late = step / self.period_us - 1.0;
        self.period_us += way * self.period_us;
        if missing > 0 {
            return self.long(late, missing);
        }
        if std::mem::replace(&mut self.pending, true) {
            self.now.push(self.late);
        }
        self.late += late;
        if self.before.is_some() && self.now.n >= ENOUGH {
            return self.judge();
        }
        0
    }

    /// A long step. The stamps on both sides of it are left out: they are those that made it long.
    #[cold]
    #[allow(clippy::cast_precision_loss)] // the samples of a second
    fn long(&mut self, late: f64, missing: u64) -> u64 {
        if missing > MOST {
            let (made_up, steps) = (self.judge(), self.steps);
            self.begin(Some(self.period_us));
            self.steps = steps;
            return made_up;
        }
        if self.before.is_some() && self.now.n < FEWEST {
            // As if the few stamps between were behind this step, too.
            self.now.mean += missing as f64;
            self.late += late;
            self.counted = self.counted.saturating_add(missing);
            return 0;
        }
        let made_up = self.judge();
        if self.now.n <= 0.0 {
            self.now.push(self.late);
        }
        self.before = Some(std::mem::take(&mut self.now));
        self.counted = missing;
        self.late += late;
        self.pending = false;
        made_up
    }

    /// What of the long step under judgement was none. Too few stamps behind it say nothing: what was counted stays.
    #[cold]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // positive, at most a few thousand
    fn judge(&mut self) -> u64 {
        let Some(before) = self.before.take() else {
            return 0;
        };
        let counted = std::mem::take(&mut self.counted);
        if self.now.n < FEWEST {
            return 0;
        }
        let (variance, now) = (before.variance.max(self.now.variance), self.now);
        let se = (variance * (1.0 / before.n + 1.0 / now.n)).sqrt();
        let shift = now.mean - before.mean;
        let lacks = if shift < LATE.max(LATE_SE * se) {
            0
        } else {
            ((shift + 0.5 - LATE).round() as u64).max(1)
        };
        counted.saturating_sub(lacks)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Samples missing at the end, of stamps given in units of the nominal period of 1000 us.
    fn missing(stamps: impl Iterator<Item = f64>) -> i64 {
        let mut gaps = Gaps::default();
        gaps.begin(Some(1000.0));
        let (mut last, mut missing) = (None, 0i64);
        for stamp in stamps {
            let t_us = (stamp * 1000.0).round() as u64;
            if let Some(last_us) = last.replace(t_us) {
                let step = t_us.saturating_sub(last_us);
                let counted = if step > 1500 {
                    (step as f64 / 1000.0).round() as u64 - 1
                } else {
                    0
                };
                let made_up = gaps.step(step, counted);
                missing += i64::try_from(counted).unwrap() - i64::try_from(made_up).unwrap();
            }
        }
        missing
    }

    /// Uniform in -1 .. 1 (xorshift64, Marsaglia 2003).
    fn uniform(state: &mut u64) -> f64 {
        *state ^= *state << 13;
        *state ^= *state >> 7;
        *state ^= *state << 17;
        (*state >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }

    #[test]
    fn a_late_stamp_is_no_gap_and_a_gap_stays_one() {
        let late = (0..200).map(|i| f64::from(i) + if i == 100 { 0.7 } else { 0.0 });
        assert_eq!(missing(late), 0);
        for gap in 1..6 {
            let lost = (0..200)
                .filter(|i| !(100..100 + gap).contains(i))
                .map(f64::from);
            assert_eq!(missing(lost), i64::from(gap), "{gap}");
        }
        // Two gaps close together, and one at the very beginning.
        let lost = [3, 4, 60, 70, 72];
        assert_eq!(
            missing((0..200).filter(|i| !lost.contains(i)).map(f64::from)),
            5
        );
        let lost = [3, 4, 60, 63, 64, 65, 66, 67, 100, 101, 102, 103, 104, 107];
        assert_eq!(
            missing((0..200).filter(|i| !lost.contains(i)).map(f64::from)),
            14
        );
        // The rule of the contract: more than 1.5 periods, for good.
        let shifted = (0..100).map(|i| f64::from(i) + if i > 50 { 0.501 } else { 0.0 });
        assert_eq!(missing(shifted), 1);
        // What is still under judgement at the very end stays counted; here the end is quiet.
        let jitter = |i: i32| match i % 2 {
            _ if i > 900 => 0.0,
            0 => 0.3,
            _ => -0.3,
        };
        let alternating = (0..1000).map(|i| f64::from(i) + jitter(i));
        assert_eq!(missing(alternating), 0);
    }

    #[test]
    fn a_gap_that_another_follows_at_once_stays_counted() {
        // 2 - 1, and round(33.5) - 1 (DESIGN 4.1).
        assert_eq!(missing([0.0, 2.0, 35.5, 36.5].into_iter()), 1 + 33);
    }

    /// Jitter of 0.3 of a period, uniform and normal, with and without losses, on clocks off by up to 5 %. Jitter is never called
    /// loss: at most 0.1 % of all above what is lost. Of losses those are not seen whose step a late stamp before it and an early
    /// one behind it made shorter than 1.5 periods: the normal difference of two stamps is below -0.5 in 12 %, uniform in 1.4 %;
    /// next to a stamp that went back twice as often.
    #[test]
    fn what_jitter_makes_up_is_not_missing() {
        for (seed, lossy, off) in [
            (1, 0, 1.0),
            (2, 50, 1.0),
            (3, 100, 1.05),
            (4, 100, 0.95),
            (5, 0, 0.95),
        ] {
            for normal in [false, true] {
                let mut state = 0x9E37_79B9_7F4A_7C15 ^ seed;
                let (mut stamps, mut lost) = (Vec::new(), 0_i64);
                for i in 0..40_000 {
                    let jitter = if normal {
                        (0..12).map(|_| uniform(&mut state) / 2.0).sum::<f64>() * 0.3
                    } else {
                        uniform(&mut state) * 0.3
                    };
                    if lossy > 0 && i > 100 && (uniform(&mut state) + 1.0) * f64::from(lossy) < 2.0
                    {
                        lost += 1;
                    } else {
                        stamps.push(10.0 + f64::from(i) * off + jitter);
                    }
                }
                // A stamp that goes back is no sample, so it is missing, too.
                let (mut last, all) = (0.0_f64, stamps.len());
                stamps.retain(|stamp| {
                    let forward = *stamp >= last;
                    last = last.max(*stamp);
                    forward
                });
                lost += i64::try_from(all - stamps.len()).unwrap();
                let found = missing(stamps.into_iter());
                println!("seed {seed}, normal {normal}: {found} of {lost}");
                assert!(found - lost <= 40, "{found} of {lost}");
                let seen = if normal { 0.76 } else { 0.97 };
                let least = lost as f64 * seen;
                assert!(found as f64 >= least - 40.0, "{found} of {lost}");
            }
        }
    }
}
