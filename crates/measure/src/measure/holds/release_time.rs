//! `release_time`: how long the control takes to fall from 90 % to 10 % of its span after it was let go.

use crate::figure::{Evidence, Figure, Shrink};
use crate::measure::holds::releases::{EndLevels, Release};
use crate::measure::recording::Recording;
use crate::measure::stamps;
use crate::measure::statistics::interval::{Budget, coverage_factor, normal_quantile};
use crate::measure::statistics::local_polynomial::LocalPolynomial;
use crate::measure::statistics::moments::{mean, real};
use crate::units::maths;
use crate::units::{Code, seconds_from_us};
use std::ops::Range;

/// Half width of the band of travel in which a crossing is fitted, at least and at most.
const BAND: (f64, f64) = (0.02, 0.05);

/// Fewer samples than this in the band are not fitted but joined by a straight line.
const FIT: usize = 8;

/// Share of captures whose lower end may lie above the truth, and whose upper end below it.
const BELOW: f64 = 0.035;
const ABOVE: f64 = 0.015;

/// Resolution of the time stamps.
const CLOCK_S: f64 = 1e-6;

/// When a fall crossed a level.
#[derive(Debug, Clone, Copy)]
struct Crossing {
    /// Seconds after the fall's first sample.
    at: f64,
    /// Standard uncertainty from noise, seconds.
    u: f64,
    /// What the shape of the fall between or beyond the points may shift it by, at most, seconds.
    bound: f64,
    /// Travel a second there, positive.
    speed: f64,
}

/// Standard deviations of one sample: of its code as a share of the span, and of its stamp in seconds.
#[derive(Debug, Clone, Copy)]
struct Noise {
    level: f64,
    stamp: f64,
}

impl Noise {
    /// Seconds by which one sample puts a crossing off at so much travel a second.
    fn at(self, speed: f64) -> f64 {
        maths::hypot(self.level / speed, self.stamp)
    }
}

/// One fall, timed.
struct Timed {
    seconds: f64,
    /// All of its uncertainty.
    budget: Budget,
    /// Its own part: what another fall does not share.
    own: Budget,
    /// Its share in the uncertainty of the levels.
    common: Budget,
}

/// `release_time`: the slowest of the falls. `None` when no fall was seen whole.
///
/// Each crossing is that of the parabola through the samples within 2 to 5 % of travel of the level, or of the straight
/// line between the two samples on either side of it when the fall is too fast for that. Uncertainty: noise over the speed, the levels of
/// both ends (`u_ends`, in codes) over the speed, and the curvature that a straight line between samples misses (at most
/// half a sample period). The slowest of m equal falls looks slow by chance: the lower end allows for that (Sidak) as far as
/// the falls' own noise goes; the levels are the same for all of them. And where several falls compete the upper end
/// is hardly ever too low, so the tails are unequal, 3.5 % below and 1.5 % above: by
/// theory the interval covers 95 % for one fall and 96.5 % for many equal ones, more where the bounds outweigh the noise
/// (`crates/measure/tests/figures/coverage_time.rs` measures it).
/// A release that never came below 10 % has no time: then there is no upper end.
pub fn slowest(
    recording: &Recording<'_>,
    codes: &[Code],
    returns: &[Release],
    ends: EndLevels,
    u_ends: f64,
) -> Option<Figure> {
    // How far a stamp is off the moment of its sample nobody knows; how uneven they are is taken for it.
    let off = stamps::jitter(recording.t_us).map_or(0.0, |jitter| jitter.sd);
    let timed: Vec<Timed> = returns
        .iter()
        .filter_map(|seen| {
            time(
                recording.t_us,
                codes,
                seen.fall.clone()?,
                ends,
                [u_ends, off],
            )
        })
        .collect();
    let slowest = timed
        .iter()
        .max_by(|a, b| a.seconds.total_cmp(&b.seconds))?;
    let hung = returns
        .iter()
        .filter(|seen| seen.pressed && seen.fall.is_none())
        .count();
    let usual = coverage_factor(f64::INFINITY);
    let below =
        |falls: usize| -normal_quantile(1.0 - maths::pow(1.0 - BELOW, real(falls).recip())) / usual;
    let down = maths::hypot(
        slowest.own.expanded() * below(timed.len()),
        slowest.common.expanded() * below(1),
    );
    let up = slowest.budget.expanded() * normal_quantile(1.0 - ABOVE) / usual;
    let mut method = format!("90 % to 10 % of span, slowest of {} releases", timed.len());
    if hung > 0 {
        method += &*format!("; {hung} more never came below 10 %");
    }
    if !recording.board.board_time {
        method += "; host time: arrival, not sampling";
    }
    Some(Figure {
        value: slowest.seconds,
        u: Some(slowest.budget.standard()),
        low: Some((slowest.seconds - down).max(0.0)),
        high: (hung == 0).then_some(slowest.seconds + up),
        n: timed.len() as u64,
        method,
        // The slowest of more releases is no better known than this one.
        shrink: Some(Shrink::mean(
            Evidence::Returns,
            real(timed.len()),
            slowest.budget.standard(),
        )),
    })
}

/// Times one fall, given its last sample above 90 % and its first below 10 %; the uncertainties are those of the ends' levels in
/// codes and of a stamp in seconds.
fn time(
    t_us: &[u64],
    codes: &[Code],
    fall: Range<usize>,
    ends: EndLevels,
    [u_ends, u_stamp]: [f64; 2],
) -> Option<Timed> {
    let span = ends.full - ends.rest;
    let noise = ends
        .noise
        .max(crate::measure::statistics::quantise::ROUNDING_RMS)
        / span.abs();
    let noise = Noise {
        level: noise,
        stamp: u_stamp,
    };
    let start = *t_us.get(fall.start)?;
    // Some samples more on both sides, for the bands.
    let margin = fall.len() / 2 + 2;
    let near = fall.start.saturating_sub(margin)..(fall.end + margin).min(codes.len());
    let points: Vec<(f64, f64)> = near
        .clone()
        .map(|i| {
            let after = seconds_from_us(t_us[i].saturating_sub(start));
            let before = seconds_from_us(start.saturating_sub(t_us[i]));
            (after - before, (codes[i].as_f64() - ends.rest) / span)
        })
        .collect();
    let (high, low) = (fall.start - near.start, fall.end - near.start);
    let top = crossing(&points, high, 0.9, noise)?;
    let bottom = crossing(&points, low - 1, 0.1, noise)?;
    let seconds = bottom.at - top.at;
    let level = |c: &Crossing| u_ends / span.abs() / c.speed;
    let part = |us: [f64; 2], bounds: Vec<f64>| Budget {
        scatter: us.map(|u| (u, f64::INFINITY)).to_vec(),
        bounds,
    };
    let own = part([top.u, bottom.u], vec![top.bound, bottom.bound, CLOCK_S]);
    let common = part([level(&top), level(&bottom)], Vec::new());
    (seconds > 0.0).then_some(Timed {
        seconds,
        budget: own.plus(&common),
        own,
        common,
    })
}

/// Where the points, falling, cross `level`; `near` is the sample before the crossing.
fn crossing(points: &[(f64, f64)], near: usize, level: f64, noise: Noise) -> Option<Crossing> {
    let band = (3.0 * noise.level).clamp(BAND.0, BAND.1);
    let inside = |i: &usize| (points[*i].1 - level).abs() <= band;
    // The run of samples in the band around the crossing; up to two strays inside it are kept.
    let stray = |i: usize, ahead: bool| {
        let mut seen = (1..=3).filter_map(|k| {
            if ahead {
                i.checked_add(k)
            } else {
                i.checked_sub(k)
            }
        });
        seen.any(|j| j < points.len() && inside(&j))
    };
    let mut first = near;
    while first > 0 && stray(first, false) {
        first -= 1;
    }
    let mut last = near;
    while last + 1 < points.len() && stray(last, true) {
        last += 1;
    }
    let kept: Vec<(f64, f64)> = points[first..=last]
        .iter()
        .copied()
        .filter(|p| (p.1 - level).abs() <= band)
        .collect();
    if kept.len() < FIT {
        return joined(points, near, level, noise);
    }
    parabola(&kept, level, noise)
        .map(|found| Crossing {
            // What a parabola leaves of an exponential towards rest: half of this by trial (the test below).
            bound: level / found.speed * (band / level).powi(4) / 8.0,
            ..found
        })
        .or_else(|| joined(points, near, level, noise))
}

/// Where the least-squares parabola through the points crosses `level`. A straight line would be late by
/// `tau delta^2 / 6` on an exponential, `delta` the band over the level: 0.3 % of the fall at 10 %.
fn parabola(points: &[(f64, f64)], level: f64, noise: Noise) -> Option<Crossing> {
    let curve = LocalPolynomial::fit(2, || points.iter().copied())?;
    let times: Vec<f64> = points.iter().map(|(t, _)| *t).collect();
    let (middle, reach) = (mean(&times), times.last()? - times.first()?);
    let mut at = middle;
    for _ in 0..8 {
        at -= (curve.at(at) - level) / curve.slope(at);
    }
    let speed = -curve.slope(at);
    (speed > 0.0 && (at - middle).abs() <= reach).then(|| Crossing {
        at,
        u: noise.at(speed) * curve.spread(at),
        bound: 0.0,
        speed,
    })
}

/// The straight line between the sample before the crossing and the one after it.
fn joined(points: &[(f64, f64)], near: usize, level: f64, noise: Noise) -> Option<Crossing> {
    let (a, b) = (points.get(near)?, points.get(near + 1)?);
    let speed = (a.1 - b.1) / (b.0 - a.0);
    if speed.is_nan() || speed <= 0.0 {
        return None;
    }
    let (at, gap, tau) = (a.0 + (a.1 - level) / speed, b.0 - a.0, level / speed);
    // A chord of an exponential misses at most dt^2 / (8 tau), and never more than half the gap; one that begins before
    // the fall does (a still at the end of the travel) may miss up to the next sample.
    let bound = if a.1 > 1.0 - (3.0 * noise.level).max(0.03) {
        b.0 - at
    } else {
        (gap * gap / (8.0 * tau)).min(gap / 2.0)
    };
    Some(Crossing {
        at,
        u: noise.at(speed),
        bound,
        speed,
    })
}

#[cfg(test)]
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // test data
mod tests {
    use super::*;
    use crate::measure::recording::BoardFacts;
    use crate::units::Scale;

    const ENDS: EndLevels = EndLevels {
        rest: 10_000.0,
        full: 50_000.0,
        noise: 0.0,
    };

    /// An exponential fall of time constant `tau` on a 16-bit board, sampled every `dt` seconds.
    fn fall(tau: f64, dt: f64, at: f64) -> (Vec<u64>, Vec<Code>, Release) {
        let mut codes = Vec::new();
        let mut t_us = Vec::new();
        for i in 0..4000_u32 {
            let t = f64::from(i) * dt - at;
            let level = if t < 0.0 { 1.0 } else { (-t / tau).exp() };
            t_us.push((f64::from(i) * dt * 1e6).round() as u64);
            codes.push(Code((ENDS.rest + 40_000.0 * level).round() as u32));
        }
        let above = codes.iter().rposition(|c| c.as_f64() > 46_000.0).unwrap();
        let below = codes.iter().position(|c| c.as_f64() < 14_000.0).unwrap();
        let seen = Release {
            fall: Some(above..below),
            press: None,
            tail: below..4000,
            pressed: true,
        };
        (t_us, codes, seen)
    }

    fn slowest_of(
        t_us: &[u64],
        codes: &[Code],
        returns: &[Release],
        board_time: bool,
    ) -> Option<Figure> {
        let board = BoardFacts {
            board_time,
            ..BoardFacts::new(Scale::new(16, 5000.0).unwrap(), 1000.0)
        };
        let recording = Recording::new(board, t_us, &[]);
        slowest(&recording, codes, returns, ENDS, 0.0)
    }

    /// First-order fall: 10 to 90 % takes 2.1972245773362196 time constants (file 15).
    #[test]
    fn first_order_fall() {
        let file = crate::measure::reference_file::reference("15-first-order.json");
        let factor = file["expected"]["first_order"]["rise_10_90_over_tau"]
            .as_f64()
            .unwrap();
        for (tau, dt) in [(0.05, 0.001), (0.05, 0.000_1), (0.003, 0.001), (0.3, 0.001)] {
            for shift in [0.0, 0.2, 0.5, 0.9] {
                let (t_us, codes, seen) = fall(tau, dt, (20.0 + shift) * dt);
                let figure = slowest_of(&t_us, &codes, &[seen], true).unwrap();
                let truth = factor * tau;
                assert!(
                    figure.low.unwrap() <= truth && truth <= figure.high.unwrap(),
                    "{tau} {dt} {shift}: {figure:?} for {truth}"
                );
                assert!(
                    (figure.value / truth - 1.0).abs() < 0.06,
                    "{tau} {dt}: {} for {truth}",
                    figure.value
                );
            }
        }
    }

    #[test]
    fn none_hung_and_host_time() {
        assert!(slowest_of(&[], &[], &[], true).is_none());
        let (t_us, codes, seen) = fall(0.05, 0.001, 0.02);
        let hung = Release {
            fall: None,
            press: None,
            tail: 0..10,
            pressed: true,
        };
        let figure = slowest_of(&t_us, &codes, &[seen, hung.clone()], false).unwrap();
        assert_eq!(figure.high, None);
        assert!(figure.method.contains("host time") && figure.method.contains("never"));
        assert!(slowest_of(&t_us, &codes, &[hung], true).is_none());
    }
}
