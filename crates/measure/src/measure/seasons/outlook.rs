//! Where a course leads: the line and its date as far as a line may be laid, and what is said instead where it may not.
//!
//! A date by a straight line is late when wear gets faster, and nothing is noticed as long as the bend hides in the scatter. So
//! the earliest date is the earlier of the line's and of a parabola's upper 95 % band, where the points allow one; once the bend
//! shows, only the latest date is told, by the slowest course that the last three points allow (one-sided 95 %).

use super::change::Estimate;
use super::fit::Fit;
use super::shape::{Shape, bent, recent, shape};
use super::trend::{Trend, trend};
use crate::measure::statistics::interval::{coverage_factor, normal_quantile};
use crate::measure::statistics::moments::mean;

/// Steps in which a band is followed.
const STEPS: u32 = 400;

/// How a date is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meant {
    /// About then, within the interval.
    About,
    /// Then at the latest: it gets faster.
    AtTheLatest,
}

/// When a course reaches a value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// Where it is told to cross.
    pub time: f64,
    /// Earliest.
    pub from: f64,
    /// Latest.
    pub to: f64,
    /// How the time is meant.
    pub meant: Meant,
}

/// What a course looks like and where it leads.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// The line through all points, or after a jump through those that follow it.
    pub trend: Option<Trend>,
    /// Whether a line says it at all.
    pub shape: Shape,
    times: Vec<f64>,
    values: Vec<f64>,
    /// Root mean square of the points' own uncertainties.
    u: f64,
    /// Whether the points span long enough for a date.
    long: bool,
}

/// Looks at `(time, estimate)`, oldest first. No date is told from points that span less than `shortest`.
#[must_use]
pub fn outlook(points: &[(f64, Estimate)], shortest: f64) -> Outlook {
    let times: Vec<f64> = points.iter().map(|(t, _)| *t).collect();
    let values: Vec<f64> = points.iter().map(|(_, e)| e.value).collect();
    let squares: Vec<f64> = points.iter().map(|(_, e)| e.u().powi(2)).collect();
    let u = if squares.is_empty() {
        0.0
    } else {
        mean(&squares).sqrt()
    };
    let shape = shape(&times, &values, u);
    let from = match shape {
        Shape::Jumped { at, .. } => at,
        _ => 0,
    };
    let rest = &points[from..];
    let span = rest.last().map_or(0.0, |last| last.0 - rest[0].0);
    Outlook {
        trend: trend(rest),
        shape,
        times: times[from..].to_vec(),
        values: values[from..].to_vec(),
        u,
        long: span >= shortest,
    }
}

impl Outlook {
    /// When the limit on the side where it is going is reached, in the past or to come. `None` when that cannot be told.
    #[must_use]
    pub fn reaches(&self, min: Option<f64>, max: Option<f64>) -> Option<Reach> {
        if !self.long {
            return None;
        }
        let middle = mean(&self.times);
        let x: Vec<f64> = self.times.iter().map(|t| t - middle).collect();
        // After a jump there may be another course.
        let shape = match self.shape {
            Shape::Jumped { .. } => shape(&self.times, &self.values, self.u),
            known => known,
        };
        let reach = match shape {
            Shape::Jumped { .. } => None,
            Shape::Faster => self.latest(&x, min, max),
            Shape::Straight => self.about(&x, middle, min, max),
        }?;
        let back = if shape == Shape::Faster { middle } else { 0.0 };
        Some(Reach {
            time: reach.time + back,
            from: reach.from + back,
            to: reach.to + back,
            ..reach
        })
    }

    /// By the slowest course that the last three points allow.
    fn latest(&self, x: &[f64], min: Option<f64>, max: Option<f64>) -> Option<Reach> {
        let (now, all) = (recent(x, &self.values)?, bent(x, &self.values)?);
        let slope = now.factor(1);
        let u = (all.variance(self.u * self.u) * now.share(&[0.0, 1.0])).sqrt();
        let slowest = slope.abs() - normal_quantile(0.95) * u;
        let limit = if slope > 0.0 { max } else { min }?;
        let three = mean(x.get(x.len().checked_sub(3)?..)?);
        let time = three + (limit - now.at(&[1.0, three])) / (slowest * slope.signum());
        let last = *x.last()?;
        (slowest > 0.0 && time.is_finite()).then_some(Reach {
            time,
            from: last.min(time),
            to: time,
            meant: Meant::AtTheLatest,
        })
    }

    /// By the line, and as early as a parabola allows.
    fn about(&self, x: &[f64], middle: f64, min: Option<f64>, max: Option<f64>) -> Option<Reach> {
        let trend = self.trend?;
        let limit = if trend.slope > 0.0 { max } else { min }?;
        let crossing = trend.reaches(limit)?;
        let early = bent(x, &self.values)
            .filter(|bend| bend.dof > 0.0)
            .and_then(|bend| {
                let last = *x.last()?;
                self.touches(
                    &bend,
                    (last, crossing.from - middle),
                    limit,
                    trend.slope.signum(),
                )
            });
        Some(Reach {
            time: crossing.time,
            from: early.map_or(crossing.from, |early| early + middle),
            to: crossing.to,
            meant: Meant::About,
        })
    }

    /// Where the band of a parabola touches a limit first, between two times.
    fn touches(&self, bend: &Fit<3>, (from, to): (f64, f64), limit: f64, up: f64) -> Option<f64> {
        let factor = coverage_factor(bend.dof) * bend.variance(self.u * self.u).sqrt();
        let times = (0..=STEPS).map(|i| (to - from) * (f64::from(i) / f64::from(STEPS)) + from);
        let touched = |x: &f64| {
            let row = [1.0, *x, x * x];
            up * (bend.at(&row) - limit) + factor * bend.share(&row).sqrt() >= 0.0
        };
        (to > from)
            .then(|| times.into_iter().find(touched))
            .flatten()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::statistics::moments::real;

    fn of(values: &[f64], u: f64) -> Outlook {
        let points: Vec<(f64, Estimate)> = values
            .iter()
            .enumerate()
            .map(|(t, v)| {
                (
                    real(t),
                    Estimate::new(*v, Some(v - 1.96 * u), Some(v + 1.96 * u)).unwrap(),
                )
            })
            .collect();
        outlook(&points, 0.25)
    }

    /// t^2: 0, 1, 4, 9, 16, 25 reaches 49 at 7. By the last three (mean 16.67 at 4, slope 8) it would be 8.04: later, as it must be.
    #[test]
    fn what_gets_faster_has_a_latest_date_that_is_not_before_the_truth() {
        let found = of(&[0.0, 1.0, 4.0, 9.0, 16.0, 25.0], 1e-6);
        let reach = found.reaches(None, Some(49.0)).unwrap();
        assert_eq!(reach.meant, Meant::AtTheLatest);
        assert!(
            (reach.time - (4.0 + (49.0 - 50.0 / 3.0) / 8.0)).abs() < 1e-3,
            "{reach:?}"
        );
        assert!(reach.from <= 7.0 && reach.to >= 7.0);
    }

    #[test]
    fn a_line_has_its_date_and_a_jump_none() {
        let reach = of(&[0.0, 1.01, 1.99, 3.0, 4.0], 0.01)
            .reaches(None, Some(6.0))
            .unwrap();
        assert!(
            reach.meant == Meant::About && (reach.time - 6.0).abs() < 0.1,
            "{reach:?}"
        );
        assert!(reach.from < 6.0 && reach.to > 6.0);
        let jumped = of(&[1.0, 1.01, 0.99, 2.0, 2.01], 0.01);
        assert!(matches!(jumped.shape, Shape::Jumped { at: 3, .. }));
        assert_eq!(jumped.reaches(None, Some(3.0)), None);
    }

    #[test]
    fn nothing_is_dated_from_a_few_hours() {
        let day = 1.0 / 365.25;
        let points: Vec<_> = (0..5)
            .map(|i| {
                (
                    f64::from(i) * day / 6.0,
                    Estimate::new(
                        f64::from(i),
                        Some(f64::from(i) - 0.01),
                        Some(f64::from(i) + 0.01),
                    )
                    .unwrap(),
                )
            })
            .collect();
        assert_eq!(outlook(&points, 90.0 * day).reaches(None, Some(9.0)), None);
        assert!(outlook(&[], 0.25).reaches(None, Some(1.0)).is_none());
    }
}
