//! What to do about an open finding: how much more evidence should decide it, or that none will.
//!
//! The estimate is taken to stay where it is. With `n` pieces of evidence in all, a new estimate scatters by its own
//! `u(n)` and its interval reaches `w(n)` towards the limit. The advice is the least `n` at which
//! `w(n) + 0.842 u(n)` is less than the distance to the limit: if the value is what it is now thought to be, the new
//! interval then clears the limit in 4 of 5 cases (0.842 is the normal quantile of 0.8; the usual planning of a
//! sample's size for a power of 80 %).

use super::Limit;
use crate::figure::numbers::plain;
use crate::figure::{Evidence, Figure, FigureName, Law, Shrink};
use crate::measure::statistics::interval::{Budget, coverage_factor, sd_interval};
use crate::units::maths;

/// The chance that the advised evidence decides, if the value is as estimated.
pub const CHANCE: f64 = 0.8;
/// Normal quantile of [`CHANCE`].
const Z_CHANCE: f64 = 0.841_621_233_572_914_2;
/// How many times the evidence is still worth advising.
const MOST: f64 = 20.0;
/// How closely the evidence needed is sought, as a part of what there is.
const GRAIN: f64 = 1e-3;
/// How many more pieces show how much they vary: five in all. Common practice, no source.
const TO_SEE: u32 = 4;
/// Stands for evidence without end.
const ENDLESS: f64 = 1e9;

/// What to do about an undecided finding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Advice {
    /// So much more, which makes so much in all.
    More {
        /// What is counted.
        evidence: Evidence,
        /// How much more, rounded up.
        more: f64,
        /// How much that makes in all.
        total: f64,
    },
    /// No evidence decides it: what the board leaves open is as wide as the distance to the limit.
    Board,
    /// It was still moving: to be taken again once it stands still.
    Settle,
    /// More than 20 times the evidence would be needed.
    OnTheLimit,
    /// There is one piece, and its bound does not decide: how much pieces vary is to be seen first.
    Again(Evidence),
    /// It is not known how the uncertainty shrinks.
    NotKnown,
}

/// Looks ahead for a figure whose interval contains a side of its limit.
pub fn advise(limit: Limit, figure: &Figure) -> Advice {
    let (Some(u), Some(shrink)) = (figure.u, figure.shrink) else {
        return Advice::NotKnown;
    };
    if shrink.law == Law::Moving {
        return Advice::Settle;
    }
    if !(shrink.have > 0.0 && shrink.floor_u >= 0.0 && u >= 0.0) {
        return Advice::NotKnown;
    }
    let sides: Vec<Side> = to_clear(limit, figure.value)
        .filter_map(|bound| Side::new(bound, u, figure, shrink))
        .collect();
    if sides.is_empty() || sides.iter().any(|side| !side.way.is_finite()) {
        return Advice::NotKnown;
    }
    let clear = |n: f64| sides.iter().all(|side| side.clear(n));
    let most = (shrink.have * MOST).floor();
    if !clear(most) {
        let never = sides.iter().any(Side::board_alone);
        return if never {
            Advice::Board
        } else if shrink.law == Law::First {
            Advice::Again(shrink.evidence)
        } else {
            Advice::OnTheLimit
        };
    }
    let found = least(shrink.have, most, clear);
    let more = if shrink.evidence.counted() {
        // The search ends a little above the least: the piece below may be enough.
        let fewer = (found - shrink.have * GRAIN).ceil();
        let total = if clear(fewer) { fewer } else { found.ceil() };
        total - shrink.have
    } else {
        round_up(found - shrink.have)
    };
    Advice::More {
        evidence: shrink.evidence,
        more,
        total: shrink.have + more,
    }
}

/// The sides of the limit that the interval must clear: both from inside, the one that it is beyond from outside.
fn to_clear(limit: Limit, value: f64) -> impl Iterator<Item = f64> {
    let (min, max) = (limit.min(), limit.max());
    let below = min.is_some_and(|min| value < min);
    let above = max.is_some_and(|max| value > max);
    let sides = [min.filter(|_| !above), max.filter(|_| !below)];
    sides.into_iter().flatten()
}

/// The least evidence between `from`, which is too little, and `to`, which is enough, or up to a thousandth of `from` more.
fn least(mut from: f64, mut to: f64, enough: impl Fn(f64) -> bool) -> f64 {
    let grain = from * GRAIN;
    while to - from > grain {
        let middle = f64::midpoint(from, to);
        if enough(middle) {
            to = middle;
        } else {
            from = middle;
        }
    }
    to
}

/// Up to half seconds below ten, whole ones below sixty, tens above.
fn round_up(seconds: f64) -> f64 {
    let grain = match seconds {
        s if s <= 10.0 => 0.5,
        s if s <= 60.0 => 1.0,
        _ => 10.0,
    };
    (seconds / grain - 1e-6).ceil() * grain
}

/// One side of a limit and what stands between.
struct Side {
    /// From the value to the side of the limit.
    distance: f64,
    /// From the value to the end of its interval there.
    way: f64,
    /// Whether the side is above the value.
    above: bool,
    value: f64,
    /// Standard uncertainty without what stays.
    scatter: f64,
    shrink: Shrink,
}

impl Side {
    /// `None` when the interval does not reach this side.
    fn new(bound: f64, u: f64, figure: &Figure, shrink: Shrink) -> Option<Self> {
        let above = bound >= figure.value;
        let end = if above { figure.high } else { figure.low };
        let way = end.map_or(f64::INFINITY, |end| (end - figure.value).abs());
        let distance = (bound - figure.value).abs();
        (way >= distance).then(|| Self {
            distance,
            way,
            above,
            value: figure.value,
            scatter: (u * u - shrink.floor_u * shrink.floor_u).max(0.0).sqrt(),
            shrink,
        })
    }

    fn clear(&self, n: f64) -> bool {
        self.way_with(n) + Z_CHANCE * self.scatter_with(n) < self.distance
    }

    /// What the board leaves open reaches the limit, and is what matters once there is 20 times the evidence.
    fn board_alone(&self) -> bool {
        self.way_with(self.shrink.have * ENDLESS) >= self.distance
            && self.scatter_with(self.shrink.have * MOST) < self.shrink.floor_u
    }

    /// How far the interval will reach with so much evidence: as it reaches now, times the ratio of the law's widths.
    fn way_with(&self, n: f64) -> f64 {
        if self.shrink.law == Law::First {
            // One piece is taken with a bound, several with their own scatter, which is planned to be what the bound allows.
            return if n > self.shrink.have {
                self.width(n)
            } else {
                self.way
            };
        }
        let now = self.width(self.shrink.have);
        if now > 0.0 {
            self.way * self.width(n) / now
        } else {
            self.way
        }
    }

    /// Scatter of the estimate with so much evidence.
    fn scatter_with(&self, n: f64) -> f64 {
        let ratio = self.shrink.have / n;
        match self.shrink.law {
            Law::Mean { .. } | Law::Pieces | Law::First | Law::Moving | Law::Rms { .. } => {
                self.scatter * ratio.sqrt()
            }
            Law::Slope { .. } => self.scatter * maths::pow(ratio, 1.5),
            // Of a standard deviation from n - 1 degrees of freedom, gaussian (JCGM 100, E.4.3).
            Law::Spread => self.value / (2.0 * (n - 1.0).max(1.0)).sqrt(),
        }
    }

    /// From a standard deviation to the end of its interval, and what the board leaves open.
    fn spread(&self, dof: f64) -> f64 {
        let (low, high) = sd_interval(self.value, dof.max(1.0));
        let end = if self.above { high } else { low };
        let board = self.shrink.floor_u * coverage_factor(f64::INFINITY);
        maths::hypot((end - self.value).abs(), board)
    }

    /// Half width of the interval by the law alone.
    fn width(&self, n: f64) -> f64 {
        let (have, floor) = (self.shrink.have, self.shrink.floor_u * 3.0_f64.sqrt());
        let (dof, bound) = match self.shrink.law {
            Law::Mean { dof } => (dof * n / have, floor),
            Law::Pieces | Law::First | Law::Moving => ((n - 1.0).max(1.0), floor),
            Law::Slope { dof } => (dof * n / have, floor * have / n),
            Law::Spread => return self.spread(n - 1.0),
            Law::Rms { dof } => return self.spread(dof * n / have),
        };
        Budget {
            scatter: vec![(self.scatter_with(n), dof)],
            bounds: vec![bound],
        }
        .expanded()
    }
}

impl Advice {
    /// In words, for a figure.
    pub fn describe(self, name: FigureName) -> String {
        let facts = name.facts();
        let steps: Vec<&str> = name.steps().iter().map(|step| step.word()).collect();
        let steps = steps.join(", ");
        match self {
            Self::More {
                evidence,
                more,
                total,
            } => {
                let what = match evidence {
                    Evidence::Seconds => facts.words.longer.to_owned(),
                    counted => format!("more {counted}"),
                };
                format!(
                    "{} {what} ({} in total; {steps}) would probably settle it (4 chances in 5)",
                    plain(more),
                    plain((total * 10.0).round() / 10.0)
                )
            }
            Self::Board => format!(
                "this board is too coarse to tell: {} wider than the distance to the limit",
                facts.words.board
            ),
            Self::Settle => format!("hold it until it no longer moves, and record {steps} again"),
            Self::OnTheLimit => {
                "it lies right on the limit: more of it will hardly settle it".to_owned()
            }
            Self::Again(evidence) => format!(
                "it lies near the limit, and one alone does not tell how much it varies: take {TO_SEE} more {evidence}"
            ),
            Self::NotKnown => facts
                .words
                .unknown
                .map_or_else(|| format!("take more of: {steps}"), str::to_owned),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figure::FigureName as Name;

    fn above(max: f64) -> Limit {
        Limit::new(None, Some(max)).unwrap()
    }

    fn more(limit: Limit, figure: &Figure) -> (f64, f64) {
        match advise(limit, figure) {
            Advice::More { more, total, .. } => (more, total),
            other => panic!("{other:?}"),
        }
    }

    /// 1.0 with u 0.1 from 2 s; 1.960 + 0.8416 = 2.8016 standard uncertainties must fit into the distance.
    #[test]
    fn seconds_by_hand() {
        let figure = Figure::symmetric(1.0, 0.1, 1.96, 2000, "").shrinking(Shrink::mean(
            Evidence::Seconds,
            2.0,
            0.0,
        ));
        // 0.14: 2 s x (0.28016 / 0.14)^2 = 8.009 s: 6.009 s more.
        assert_eq!(more(above(1.14), &figure), (6.5, 8.5));
        // 0.15: 2 s x (0.28016 / 0.15)^2 = 6.977 s: 4.977 s more.
        assert_eq!(more(above(1.15), &figure), (5.0, 7.0));
        // The same from the other side, and against two sides the nearer one counts.
        assert_eq!(more(above(0.85), &figure), (5.0, 7.0));
        let both = Limit::new(Some(0.85), Some(1.14)).unwrap();
        assert_eq!(more(both, &figure), (6.5, 8.5));
        // 0.05: (0.28016 / 0.05)^2 = 31 times.
        assert_eq!(advise(above(1.05), &figure), Advice::OnTheLimit);
        assert_eq!(advise(above(1.0), &figure), Advice::OnTheLimit);
    }

    /// 164 with u 0.5 from 4 holds, t(3) = 3.182; distance 1.2. u(n) = 1 / sqrt n. Seven holds:
    /// (t(6) + 0.842) / sqrt 7 = (2.447 + 0.842) / 2.646 = 1.243, too much; eight: (2.365 + 0.842) / 2.828 = 1.134.
    #[test]
    fn holds_by_hand() {
        let figure = Figure::symmetric(164.0, 0.5, 3.182_446, 4, "").shrinking(Shrink::pieces(
            Evidence::Holds,
            4,
            0.0,
        ));
        assert_eq!(more(above(165.2), &figure), (4.0, 8.0));
    }

    /// 3.0 from 5 returns against 5.0, chi-square tables: the upper end is 3 sqrt(f / chi2(0.025, f)). With f = 16:
    /// 3 x 1.5219 + 0.8416 x 3 / sqrt 32 = 5.012; with 17: 3 x 1.4992 + 0.8416 x 3 / sqrt 34 = 4.931: 18 returns.
    #[test]
    fn returns_by_hand() {
        let (low, high) = (3.0 * 0.599_1, 3.0 * 2.873_6); // sqrt(4 / 11.143), sqrt(4 / 0.484419)
        let figure = Figure {
            low: Some(low),
            high: Some(high),
            ..Figure::symmetric(3.0, 1.06, 2.0, 5, "")
        }
        .shrinking(Shrink::by(Law::Spread, Evidence::Returns, 5.0, 0.0));
        let advice = advise(above(5.0), &figure);
        let wanted = Advice::More {
            evidence: Evidence::Returns,
            more: 13.0,
            total: 18.0,
        };
        assert_eq!(advice, wanted);
        assert_eq!(
            advice.describe(Name::ReturnScatter),
            "13 more returns (18 in total; release) would probably settle it (4 chances in 5)"
        );
    }

    /// 10 code/min with u 2 from 10 s, distance 2: r^1.5 > 2.8016, r > 1.9875: 19.88 s, 9.88 more.
    #[test]
    fn a_slope_by_hand() {
        let law = Law::Slope { dof: f64::INFINITY };
        let figure = Figure::symmetric(10.0, 2.0, 1.96, 10_000, "").shrinking(Shrink::by(
            law,
            Evidence::Seconds,
            10.0,
            0.0,
        ));
        assert_eq!(more(above(12.0), &figure), (10.0, 20.0));
    }

    /// One press between bounds of 2 codes each way, 0.1 code inside the limit: with 20 that vary as much, u is still 2 / sqrt 3 / sqrt 20
    /// = 0.26, and 2.093 of it (t, 19) are more than 0.1. That they vary so much is not known.
    #[test]
    fn one_press_near_the_limit_is_not_said_to_lie_on_it() {
        let u = 2.0 / 3.0_f64.sqrt();
        let one = Figure {
            low: Some(898.0),
            high: Some(902.0),
            ..Figure::symmetric(900.0, u, 2.0, 1, "")
        };
        let first = Shrink::by(Law::First, Evidence::Presses, 1.0, 0.0);
        let advice = advise(above(900.1), &one.clone().shrinking(first));
        assert_eq!(
            advice.describe(Name::FullCode),
            "it lies near the limit, and one alone does not tell how much it varies: take 4 more presses"
        );
        // Where they would do by what the bound allows, their number is said.
        let advice = advise(above(901.5), &one.shrinking(first));
        assert!(matches!(advice, Advice::More { .. }), "{advice:?}");
    }

    /// Rounding of half a code each way reaches 0.475 for 95 %, whatever is taken.
    #[test]
    fn a_board_that_cannot_decide_is_named() {
        let u = 0.5 / 3.0_f64.sqrt();
        let figure = |value: f64| {
            Figure {
                low: Some(value - 0.475),
                high: Some(value + 0.475),
                ..Figure::symmetric(value, u, 2.0, 1, "")
            }
            .shrinking(Shrink::mean(Evidence::Seconds, 2.0, u))
        };
        let advice = advise(above(164.3), &figure(164.0));
        assert_eq!(advice, Advice::Board);
        assert!(
            advice
                .describe(Name::RestCode)
                .contains("rounding, non-linearity")
        );
        // A floor that fits into the distance only costs more. With a normal in place of the rectangle, 4.7 times the
        // evidence: 1.96 sqrt(0.0084 / 4.7 + 0.0016) + 0.842 x 0.0917 / sqrt 4.7 = 0.1498; the rectangle reaches less far.
        let fits = Figure::symmetric(1.0, 0.1, 1.96, 2000, "").shrinking(Shrink::mean(
            Evidence::Seconds,
            2.0,
            0.04,
        ));
        let (_, total) = more(above(1.15), &fits);
        assert!((8.5..=9.5).contains(&total), "{total}");
    }

    #[test]
    fn what_does_not_shrink_by_a_known_law_or_has_an_open_end_gets_the_steps() {
        let figure = Figure::symmetric(1.0, 0.1, 2.0, 10, "");
        let advice = advise(above(1.1), &figure);
        assert_eq!(advice.describe(Name::TrackOffset), "take more of: strokes");
        for why in [Name::NoisePeakToPeak, Name::Hum50Rms, Name::Hysteresis] {
            assert!(advice.describe(why).starts_with("no number can be given: "));
        }
        let open = Figure {
            high: None,
            ..figure
        }
        .shrinking(Shrink::mean(Evidence::Seconds, 2.0, 0.0));
        assert_eq!(advise(above(9.0), &open), Advice::NotKnown);
    }
}
