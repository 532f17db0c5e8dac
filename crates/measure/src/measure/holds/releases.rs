//! Releases: where a control falls from its full end, and the settled tail after each fall.

use crate::measure::holds::hold as holds;
use crate::measure::recording::Recording;
use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::{MAD_FACTOR, mad, median};
use crate::units::{Code, Step, seconds_from_us};
use std::ops::Range;

/// A settled tail shorter than this is not a return.
const SHORTEST_S: f64 = 0.1;

/// Nor is a press shorter than this a hold: the turn of a stroke lasts as long.
const PRESSED_S: f64 = 0.25;

/// Nor is one of fewer samples than this.
const FEWEST: usize = 8;

/// What stands still for so long on the way back, beyond half the travel, comes back no further.
const HANGS_S: f64 = 2.0;

/// Samples in a row that make a level, so that a spike does not.
const IN_A_ROW: usize = 3;

/// And how long they have to last, so that a dropout does not.
const STAYS_US: u64 = 30_000;

/// Most samples of a passage that its provisional level is taken from.
const ENOUGH: usize = 16_384;

/// A run of samples for which something holds.
#[derive(Default)]
struct Debounce {
    start: Option<usize>,
}

impl Debounce {
    /// Takes the next sample; whether the run has by now lasted three samples and 30 ms.
    fn holds_after(&mut self, holds: bool, i: usize, t_us: &[u64]) -> bool {
        if !holds {
            self.start = None;
            return false;
        }
        let start = *self.start.get_or_insert(i);
        let lasted = t_us
            .get(i)
            .zip(t_us.get(start))
            .map(|(now, then)| now.saturating_sub(*then));
        i + 1 - start >= IN_A_ROW && lasted.is_some_and(|us| us >= STAYS_US)
    }
}

/// The two ends of the travel, in codes, as far as they are known before falls are looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EndLevels {
    /// Code at rest.
    pub rest: f64,
    /// Code fully operated.
    pub full: f64,
    /// Noise about a level, in codes.
    pub noise: f64,
}

impl EndLevels {
    /// Position between the ends: 0 at rest, 1 at full.
    fn travel(self, code: Code) -> f64 {
        (code.as_f64() - self.rest) / (self.full - self.rest)
    }

    /// Whether the control stayed beyond half the travel, seen from rest, somewhere in these samples.
    #[must_use]
    pub fn departed(self, t_us: &[u64], codes: &[Code], between: Range<usize>) -> bool {
        self.beyond(0.5, t_us, codes, between)
    }

    /// Whether the control stayed beyond a share of the travel, seen from rest, somewhere in these samples.
    #[must_use]
    pub fn beyond(self, share: f64, t_us: &[u64], codes: &[Code], between: Range<usize>) -> bool {
        let mut run = Debounce::default();
        let stretch = codes.get(between.clone()).unwrap_or_default();
        self.separable()
            && between
                .zip(stretch)
                .any(|(i, &code)| run.holds_after(self.travel(code) > share, i, t_us))
    }

    /// The same travel seen from the other end.
    #[must_use]
    pub fn swapped(self) -> Self {
        Self {
            rest: self.full,
            full: self.rest,
            ..self
        }
    }

    /// Whether the ends are far enough separable to tell them by level.
    fn separable(self) -> bool {
        (self.full - self.rest).abs() > (20.0 * self.noise).max(8.0)
    }
}

/// One fall from the full end and the settled tail after it.
#[derive(Debug, Clone, PartialEq)]
pub struct Release {
    /// Last sample above 90 % and first sample below 10 %, when the fall was seen whole.
    pub fall: Option<Range<usize>>,
    /// The settled part of the press before it, held for a quarter of a second at least.
    pub press: Option<Range<usize>>,
    /// The settled tail.
    pub tail: Range<usize>,
    /// Whether the control was seen pressed before; false for a tail that a passage begins with.
    pub pressed: bool,
}

/// The ends of the travel of one channel, provisionally: medians of its rest and full passages. What is missing is
/// taken from the levels that the release passages show. `None` when there is neither.
///
/// Medians, because a passage recorded by time may contain the movement into it.
pub fn ends(recording: &Recording<'_>, codes: &[Code]) -> Option<EndLevels> {
    let of = |step| -> (Vec<f64>, Vec<f64>) {
        holds::passages_of(recording.passages, step)
            .filter_map(|range| middle(codes.get(range.clone())?))
            .unzip()
    };
    let ((mut rest, rest_noise), (mut full, full_noise)) = (of(Step::Rest), of(Step::Full));
    let noise = rest_noise.into_iter().chain(full_noise).fold(0.0, f64::max);
    let rest = median(&mut rest).or_else(|| last_level(recording, codes))?;
    let between = |full| EndLevels { rest, full, noise };
    let pressed = median(&mut full)
        .map(between)
        .filter(|ends| ends.separable());
    pressed
        .or_else(|| farthest(recording, codes, rest, Step::Full).map(between))
        .or_else(|| farthest(recording, codes, rest, Step::Release).map(between))
}

/// Median of some codes and their robust standard deviation about it.
fn middle(codes: &[Code]) -> Option<(f64, f64)> {
    let every = codes.len().div_ceil(ENOUGH).max(1);
    let mut values: Vec<f64> = codes
        .iter()
        .step_by(every)
        .map(|code| code.as_f64())
        .collect();
    Some((median(&mut values)?, at_most(mad(&values)?)))
}

/// Standard deviation that a median absolute deviation of whole codes stands for, rounded up: half a code is added,
/// because that of noise of 2 codes may come out as 1.
fn at_most(mad: f64) -> f64 {
    MAD_FACTOR * (mad + 0.5)
}

/// Level at the end of the last release passage: median of its last tenth, at least eight samples.
fn last_level(recording: &Recording<'_>, codes: &[Code]) -> Option<f64> {
    let last = holds::passages_of(recording.passages, Step::Release).next_back()?;
    let codes = codes.get(last.clone())?;
    let kept = (codes.len() / 10).max(FEWEST).min(codes.len());
    let mut values: Vec<f64> = codes[codes.len() - kept..]
        .iter()
        .map(|c| c.as_f64())
        .collect();
    median(&mut values)
}

/// The 2nd or 98th percentile of all codes of the passages of a step, whichever is farther from `level`.
fn farthest(recording: &Recording<'_>, codes: &[Code], level: f64, step: Step) -> Option<f64> {
    let mut codes: Vec<Code> = holds::passages_of(recording.passages, step)
        .filter_map(|range| codes.get(range.clone()))
        .flatten()
        .copied()
        .collect();
    let (low, high) = (quantile(&mut codes, 0.02)?, quantile(&mut codes, 0.98)?);
    Some(if (low - level).abs() > (high - level).abs() {
        low
    } else {
        high
    })
}

fn quantile(codes: &mut [Code], share: f64) -> Option<f64> {
    if codes.is_empty() {
        return None;
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 ..= len - 1
    let index = (real(codes.len() - 1) * share).round() as usize;
    let (_, code, _) = codes.select_nth_unstable(index);
    Some(code.as_f64())
}

/// The returns in one release passage, in order.
///
/// A passage may hold several presses and releases. The control counts as pressed after 30 ms and three samples above
/// 90 % of the travel (one sample is enough where the passage begins), as let go at the first sample below half after
/// that; the tail goes on until it is pressed again. A passage that begins below half begins with a tail. A tail
/// that hangs above rest is a return too: that is what `return_scatter` is for. One that hangs above half is, once it has stood
/// there for two seconds.
pub fn find(t_us: &[u64], codes: &[Code], passage: &Range<usize>, ends: EndLevels) -> Vec<Release> {
    let Some(stretch) = codes.get(passage.clone()) else {
        return Vec::new();
    };
    if !ends.separable() {
        return Vec::new();
    }
    let mut found = Vec::new();
    let mut open: Option<Pending> = None;
    let (mut pressed, mut last_high, mut run) = (None, None, Debounce::default());
    let mut left = None;
    for (i, &code) in passage.clone().zip(stretch) {
        let travel = ends.travel(code);
        let began = i == passage.start;
        let stayed = run.holds_after(travel > 0.9, i, t_us);
        if stayed || (began && travel > 0.9) {
            let before = run.start.unwrap_or(i);
            if let Some(hung) = hanging(t_us, codes, pressed.zip(left), before, ends) {
                found.push(hung);
                pressed = None;
            }
            pressed.get_or_insert(before);
            left = Some(i);
            found.extend(open.take().and_then(|p| p.close(t_us, codes, before, ends)));
        }
        if travel > 0.9 {
            last_high = Some(i);
        }
        if travel < 0.5 && (pressed.is_some() || began) {
            open = Some(Pending {
                pressed_from: pressed,
                high: last_high.filter(|_| pressed.is_some()),
                low: None,
                start: i,
            });
            pressed = None;
        }
        if let Some(pending) = open.as_mut().filter(|_| travel < 0.1) {
            pending.low.get_or_insert(i);
        }
    }
    let end = passage.end;
    found.extend(hanging(t_us, codes, pressed.zip(left), end, ends));
    found.extend(open.and_then(|p| p.close(t_us, codes, end, ends)));
    found
}

/// The return of a control that was pressed from the first to the last of two samples and then stood still short of the full end, but
/// beyond half the travel, until the next press or the passage's end.
fn hanging(
    t_us: &[u64],
    codes: &[Code],
    press: Option<(usize, usize)>,
    end: usize,
    ends: EndLevels,
) -> Option<Release> {
    let (from, left) = press?;
    let tail = settled(t_us, codes, left + 1..end, ends)?;
    let stood = codes.get(tail.clone())?;
    let level = stood.iter().map(|code| ends.travel(*code)).sum::<f64>() / real(stood.len());
    let stood_us = t_us
        .get(tail.end - 1)?
        .checked_sub(*t_us.get(tail.start)?)?;
    (seconds_from_us(stood_us) >= HANGS_S && level < 0.9).then(|| Release {
        fall: None,
        press: held(t_us, codes, from..left, ends),
        tail,
        pressed: true,
    })
}

/// A fall whose tail is still running.
struct Pending {
    /// The first sample of the press.
    pressed_from: Option<usize>,
    high: Option<usize>,
    low: Option<usize>,
    start: usize,
}

impl Pending {
    fn close(self, t_us: &[u64], codes: &[Code], end: usize, ends: EndLevels) -> Option<Release> {
        let tail = settled(t_us, codes, self.start..end, ends)?;
        let fall = self.high.zip(self.low).map(|(high, low)| high..low);
        let press = self.pressed_from.zip(self.high);
        Some(Release {
            fall,
            press: press.and_then(|(from, high)| held(t_us, codes, from..high, ends)),
            tail,
            pressed: self.pressed_from.is_some(),
        })
    }
}

/// The settled part of a stretch that begins in a fall and may end in the next press.
///
/// Its level is first the quarter of its codes nearest to rest, then the median of the later half. Settled means within
/// 5 standard deviations of that level (robust ones, and at least the passages'); three samples in a row outside are
/// not. What took some time to come into the band is given one and a half times as much again, so that of an
/// exponential nothing to speak of is left.
pub fn settled(
    t_us: &[u64],
    codes: &[Code],
    stretch: Range<usize>,
    ends: EndLevels,
) -> Option<Range<usize>> {
    let mut sorted = codes.get(stretch.clone())?.to_vec();
    let toward_rest = if ends.full > ends.rest { 0.25 } else { 0.75 };
    let level = quantile(&mut sorted, toward_rest)?;
    let band = (5.0 * ends.noise).max(2.0);
    let end = trim_rise(codes, stretch.clone(), level, band);
    let half = stretch.start + (end.checked_sub(stretch.start)?) / 2;
    let mut later: Vec<f64> = codes[half..end].iter().map(|c| c.as_f64()).collect();
    let level = median(&mut later)?;
    for value in &mut later {
        *value = (*value - level).abs();
    }
    let noise = at_most(median(&mut later)?).max(ends.noise);
    let band = 5.0 * noise;
    let start = first_settled(codes, stretch.start..end, level, band);
    let again = ((start - stretch.start) * 3 / 2).min((end - start) / 2);
    let tail = start + again..end;
    let lasted = seconds_from_us(
        t_us.get(end.checked_sub(1)?)?
            .checked_sub(*t_us.get(tail.start)?)?,
    );
    (tail.len() >= FEWEST && lasted >= SHORTEST_S).then_some(tail)
}

/// The settled part of a press that begins in the rise and ends in the fall.
fn held(
    t_us: &[u64],
    codes: &[Code],
    press: Range<usize>,
    ends: EndLevels,
) -> Option<Range<usize>> {
    let held = settled(t_us, codes, press, ends.swapped())?;
    let last = t_us.get(held.end.checked_sub(1)?)?;
    let lasted_s = seconds_from_us(last.checked_sub(*t_us.get(held.start)?)?);
    (lasted_s >= PRESSED_S).then_some(held)
}

/// Where a stretch's rise into the next press begins; its end when there is none.
fn trim_rise(codes: &[Code], stretch: Range<usize>, level: f64, band: f64) -> usize {
    let inside = |i: &usize| (codes[*i].as_f64() - level).abs() <= band;
    let last = stretch
        .clone()
        .rev()
        .find(inside)
        .map_or(stretch.start, |i| i + 1);
    let rise = stretch.end - last;
    if rise < IN_A_ROW {
        return stretch.end;
    }
    last.saturating_sub(rise / 4).max(stretch.start)
}

/// The first sample after the last three in a row outside the band on one side.
fn first_settled(codes: &[Code], stretch: Range<usize>, level: f64, band: f64) -> usize {
    let side = |i: usize| {
        let off = codes[i].as_f64() - level;
        if off.abs() <= band {
            0
        } else if off > 0.0 {
            1
        } else {
            -1
        }
    };
    let (mut run, mut of) = (0, 0);
    for i in stretch.clone().rev() {
        let now = side(i);
        run = if now == 0 {
            0
        } else if now == of {
            run + 1
        } else {
            1
        };
        of = now;
        if run >= IN_A_ROW {
            return (i + IN_A_ROW).min(stretch.end);
        }
    }
    // Up to two samples at the start may still be outside.
    stretch
        .clone()
        .take(IN_A_ROW - 1)
        .rfind(|i| side(*i) != 0)
        .map_or(stretch.start, |i| i + 1)
}

#[cfg(test)]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // test data
mod tests {
    use super::*;

    const ENDS: EndLevels = EndLevels {
        rest: 100.0,
        full: 900.0,
        noise: 1.0,
    };

    /// Seconds of full, exponential fall with `tau`, tail at `level`; 1 kHz, no noise.
    fn let_go(codes: &mut Vec<Code>, full_s: f64, tau: f64, tail_s: f64, level: f64) {
        let at = |x: f64| Code(x.round() as u32);
        for _ in 0..(full_s * 1e3) as usize {
            codes.push(at(900.0));
        }
        for i in 0..(tail_s * 1e3) as usize {
            let fall = (-(i as f64) * 1e-3 / tau).exp();
            codes.push(at(level + (900.0 - level) * fall));
        }
    }

    /// Half a second of a straight press up to full.
    fn press(codes: &mut Vec<Code>) {
        let from = codes.last().unwrap().as_f64();
        for i in 0..300 {
            codes.push(Code(
                (from + (900.0 - from) * f64::from(i) / 300.0).round() as u32
            ));
        }
    }

    fn times(n: usize) -> Vec<u64> {
        (0..n as u64).map(|i| i * 1_000).collect()
    }

    fn found(codes: &[Code]) -> Vec<Release> {
        find(&times(codes.len()), codes, &(0..codes.len()), ENDS)
    }

    #[test]
    fn what_hangs_beyond_half_the_travel_is_a_return_that_did_not_fall() {
        // At 60 % for three seconds; at 80 % for one, as a foot does; at 70 % until the passage ends.
        let mut codes = Vec::new();
        for (level, tail_s) in [(100.0, 1.2), (580.0, 3.0), (740.0, 1.0), (660.0, 2.6)] {
            let_go(&mut codes, 0.4, 0.05, tail_s, level);
            press(&mut codes);
        }
        codes.truncate(codes.len() - 300);
        let returns = found(&codes);
        let of = |seen: &Release| (seen.fall.is_some(), codes[seen.tail.end - 1], seen.pressed);
        let seen: Vec<_> = returns.iter().map(of).collect();
        assert_eq!(
            seen,
            [
                (true, Code(100), true),
                (false, Code(580), true),
                (false, Code(660), true)
            ]
        );
        assert!(returns.iter().all(|seen| seen.press.is_some()));
    }

    #[test]
    fn one_passage_with_several_releases() {
        let mut codes = Vec::new();
        for level in [100.0, 103.0, 98.0] {
            let_go(&mut codes, 0.4, 0.05, 1.2, level);
            press(&mut codes);
        }
        let_go(&mut codes, 0.4, 0.05, 1.2, 101.0);
        let returns = found(&codes);
        assert_eq!(returns.len(), 4);
        for (seen, level) in returns.iter().zip([100.0, 103.0, 98.0, 101.0]) {
            let tail = &codes[seen.tail.clone()];
            let mean = tail.iter().map(|c| c.as_f64()).sum::<f64>() / real(tail.len());
            assert!((mean - level).abs() < 0.1, "{mean} for {level}");
            assert!(tail.len() > 500);
            // From 90 % to 10 %: 2.197 tau (file 15), 110 ms.
            let fall = seen.fall.clone().unwrap();
            assert!((108..=113).contains(&fall.len()), "{}", fall.len());
        }
    }

    #[test]
    fn a_tail_alone_is_one_return_without_a_fall() {
        let returns = found(&[Code(100); 500]);
        assert_eq!(returns.len(), 1);
        assert_eq!(
            returns[0],
            Release {
                fall: None,
                press: None,
                tail: 0..500,
                pressed: false,
            }
        );
    }

    #[test]
    fn a_return_that_hangs_is_a_return() {
        let mut codes = Vec::new();
        let_go(&mut codes, 0.3, 0.05, 1.0, 260.0); // stops at 20 % of the travel
        let returns = found(&codes);
        assert_eq!(returns.len(), 1);
        assert!(returns[0].fall.is_none());
    }

    #[test]
    fn falling_channels_and_spikes_and_short_tails() {
        let mut codes = Vec::new();
        let_go(&mut codes, 0.4, 0.03, 0.8, 100.0);
        codes[900] = Code(900); // a spike in the tail is not a press
        codes[100] = Code(0); // a dropout in the hold is not a release
        assert_eq!(found(&codes).len(), 1);
        let mirrored: Vec<Code> = codes.iter().map(|c| Code(1000 - c.0)).collect();
        let ends = EndLevels {
            rest: 900.0,
            full: 100.0,
            noise: 1.0,
        };
        assert_eq!(
            find(&times(codes.len()), &mirrored, &(0..codes.len()), ends).len(),
            1
        );
        let mut short = Vec::new();
        let_go(&mut short, 0.4, 0.005, 0.09, 100.0);
        assert!(found(&short).is_empty());
    }

    #[test]
    fn none_when_there_is_no_span_or_no_sample() {
        assert!(found(&[]).is_empty());
        let ends = EndLevels {
            rest: 100.0,
            full: 101.0,
            noise: 1.0,
        };
        assert!(find(&times(50), &[Code(100); 50], &(0..50), ends).is_empty());
        assert!(find(&times(50), &[Code(100); 50], &(10..90), ENDS).is_empty());
    }

    #[test]
    fn a_bounce_is_left_out() {
        let mut codes = Vec::new();
        let_go(&mut codes, 0.3, 0.01, 0.1, 100.0);
        for i in 0..60 {
            let wave = (f64::from(i) / 60.0 * std::f64::consts::PI).sin();
            codes.push(Code((100.0 + 120.0 * wave).round() as u32));
        }
        codes.extend([Code(100); 600]);
        let returns = found(&codes);
        assert_eq!(returns.len(), 1);
        assert!(returns[0].tail.start >= 455, "{:?}", returns[0].tail);
    }
}
