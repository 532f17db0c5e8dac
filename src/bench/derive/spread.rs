//! The spread of units' values -> a limit with its reason, and how wide limits are for want of units.
//!
//! Belongs here: tolerance limits, rounding outward, words about them. Does not belong here: which figures (`derive`), the
//! factors k (`measure::tolerance`).
//!
//! A limit must hold a stated share of all good units with a stated confidence, from the few that were measured: mean
//! and standard deviation of the units' values, and the factor k of ISO 16269-6 for a normal population. Because a unit
//! passes only with its whole 95 % interval inside, the widest of the units' own intervals is added. Noise, scatter, times and
//! whatever else can only be too large differ by factors and not by amounts: of them the logarithm is taken to be normal (the
//! law of proportionate effect; the variance of a logarithm of a variance does not depend on it, Bartlett and Kendall,
//! J. R. Stat. Soc. Suppl. 8 (1946) 128). A side that would lie beyond the scale of an end of travel is set half-way between the outermost
//! unit and the scale's end, where a broken wire reads: it is never left open.

use measure::figure::numbers::fixed;
use measure::figure::{Figure, FigureName, Sides};
use measure::judge::Limit;
use measure::statistics::{mean, sd};
use measure::statistics::{one_sided_factor, two_sided_factor};
use measure::units::maths;

/// Share of good units that a limit is to hold, and the confidence that it does.
const SHARE: f64 = 0.95;

pub(super) struct Spread {
    n: usize,
    /// Of the values, or of their logarithms.
    mean: f64,
    sd: f64,
    least: f64,
    most: f64,
    /// The widest reach of any unit's own 95 % interval, up and down; of logarithms up.
    own: f64,
    logs: bool,
}

impl Spread {
    /// `None` when an interval is open.
    pub fn of(name: FigureName, figures: &[&Figure]) -> Option<Self> {
        let upper = name.facts().sides == Sides::Upper;
        let logs = upper && figures.iter().all(|figure| figure.value > 0.0);
        let scale = |x: f64| if logs { maths::ln(x) } else { x };
        let values: Vec<f64> = figures.iter().map(|f| scale(f.value)).collect();
        let reach = |f: &&Figure| {
            let up = scale(f.high?) - scale(f.value);
            Some(if upper { up } else { up.max(f.value - f.low?) })
        };
        let own = figures
            .iter()
            .map(reach)
            .try_fold(0.0, |most: f64, reach| Some(most.max(reach?)))?;
        Some(Self {
            n: values.len(),
            mean: mean(&values),
            sd: sd(&values),
            least: figures
                .iter()
                .map(|f| f.value)
                .fold(f64::INFINITY, f64::min),
            most: figures
                .iter()
                .map(|f| f.value)
                .fold(f64::NEG_INFINITY, f64::max),
            own,
            logs,
        })
    }

    /// The limit and its reason; `None` when neither side says anything.
    pub fn limit(&self, name: FigureName) -> Option<(Limit, String)> {
        let both = name.facts().sides == Sides::Both;
        let (k, side) = if both {
            (two_sided_factor(self.n, SHARE, SHARE)?, "two-sided")
        } else {
            (one_sided_factor(self.n, SHARE, SHARE)?, "one-sided")
        };
        if self.logs {
            return self.limit_of_logs(k);
        }
        let away = k * self.sd + self.own;
        let place = place_of(away);
        let sides = outside(
            name,
            (self.mean - away, self.mean + away),
            (self.least, self.most),
            place,
        );
        let limit = Limit::new(sides.min, sides.max).ok()?;
        let decimals = usize::try_from((-place).max(0) + 1).unwrap_or(0);
        let shown = |x: f64| fixed(x, decimals);
        let reason = format!(
            "k = {k:.2} with {} parts ({side}, 95 % of parts with 95 % confidence, ISO 16269-6): mean {} and sd {} of values \
             from {} to {}, and {} for the widest 95 % interval of one part{}",
            self.n,
            shown(self.mean),
            shown(self.sd),
            shown(self.least),
            shown(self.most),
            shown(self.own),
            sides.words,
        );
        Some((limit, reason))
    }

    /// The upper limit of what differs by factors.
    fn limit_of_logs(&self, k: f64) -> Option<(Limit, String)> {
        let middle = maths::exp(self.mean);
        let top = maths::exp(k * self.sd + self.mean + self.own);
        let max = outward(top, place_of(top), f64::ceil);
        let limit = Limit::new(None, Some(max)).ok()?;
        let decimals = usize::try_from((-place_of(middle)).max(0) + 1).unwrap_or(0);
        let wide = if max > MANY_TIMES * self.most {
            "; so few parts say little of how they differ: take the limit as a draft"
        } else {
            ""
        };
        let reason = format!(
            "k = {k:.2} with {} parts (one-sided, 95 % of parts with 95 % confidence, ISO 16269-6, of logarithms): middle {}, one standard \
             deviation a factor of {}, values from {} to {}, and a factor of {} for the widest 95 % interval of one part{wide}",
            self.n,
            fixed(middle, decimals),
            fixed(maths::exp(self.sd), 2),
            fixed(self.least, decimals),
            fixed(self.most, decimals),
            fixed(maths::exp(self.own), 2),
        );
        Some((limit, reason))
    }
}

/// A limit of so many times the loudest unit is told to say little.
const MANY_TIMES: f64 = 5.0;

/// The sides of a limit.
struct SidesOut {
    min: Option<f64>,
    max: Option<f64>,
    /// What is to be said of a side that the scale ends.
    words: &'static str,
}

/// The sides that the figure has, rounded outward; one that an end of travel would have beyond its scale lies half-way between
/// the outermost unit and the scale's end.
fn outside(
    name: FigureName,
    (low, high): (f64, f64),
    (least, most): (f64, f64),
    place: i32,
) -> SidesOut {
    let sides = name.facts().sides;
    let (floor, top) = name.facts().range;
    let (min, max) = (
        outward(low, place, f64::floor),
        outward(high, place, f64::ceil),
    );
    let inside = |x: f64| x > floor && x < top;
    let between = |unit: f64, end: f64| {
        let half = f64::midpoint(unit, end);
        Some(outward(
            half,
            place_of((unit - end).abs() / 2.0),
            f64::round,
        ))
        .filter(|half| end.is_finite() && inside(*half))
    };
    let has_min = matches!(sides, Sides::Both | Sides::Lower);
    let has_max = sides != Sides::Lower;
    let cut = (has_min && min <= floor) || (has_max && max >= top);
    SidesOut {
        min: has_min
            .then(|| {
                if min > floor {
                    Some(min)
                } else {
                    between(least, floor)
                }
            })
            .flatten(),
        max: has_max
            .then(|| {
                if max < top {
                    Some(max)
                } else {
                    between(most, top)
                }
            })
            .flatten(),
        words: if cut {
            "; a side that would lie beyond the scale is half-way to its end, where a broken wire reads"
        } else {
            ""
        },
    }
}

/// How far an end of travel of another part of the kind may lie, as a fraction of the reference, when only one was measured: the
/// spread that the profiles of this program allow for sensors and tracks. Common practice, no source.
const ASSUMED_END: f64 = 0.05;
/// The same for what is measured in anything else, as a share of the value. Common practice, no source.
const ASSUMED_SHARE: f64 = 0.2;
/// How many times as loud, as late or as uneven another part may be. Common practice, no source.
pub(super) const ASSUMED_TIMES: f64 = 2.0;

/// A limit from one part alone, which shows nothing of how parts differ: as wide as assumed, and that is said. `None` when an end of its
/// interval is open or the limit would say nothing.
pub(super) fn assumed(name: FigureName, only: &Figure) -> Option<(Limit, String)> {
    let own = (only.high? - only.value).max(only.value - only.low?);
    let sides = name.facts().sides;
    let is_end = matches!(name, FigureName::RestRatio | FigureName::FullRatio);
    let (away, wide) = match sides {
        Sides::Both if is_end => (ASSUMED_END, format!("{ASSUMED_END} of the reference")),
        Sides::Both => (
            ASSUMED_SHARE * only.value.abs(),
            format!("{} % of it", ASSUMED_SHARE * 100.0),
        ),
        _ => (
            (ASSUMED_TIMES - 1.0) * only.value.abs(),
            format!("{ASSUMED_TIMES} times as much"),
        ),
    };
    let away = away + own;
    let place = place_of(away);
    let ends = (only.value - away, only.value + away);
    let found = outside(name, ends, (only.value, only.value), place);
    let limit = Limit::new(found.min, found.max).ok()?;
    let decimals = usize::try_from((-place).max(0) + 1).unwrap_or(0);
    let reason = format!(
        "ASSUMED, not measured: one part of {} and {wide} allowed (common practice, no source), and {} for its own 95 % \
         interval; a second part would show how parts differ{}",
        fixed(only.value, decimals),
        fixed(own, decimals),
        found.words,
    );
    Some((limit, reason))
}

/// The power of ten of the second digit of `width`: limits are rounded outward to it.
#[allow(clippy::cast_possible_truncation)] // a power of ten of a finite number
fn place_of(width: f64) -> i32 {
    if width > 0.0 && width.is_finite() {
        (maths::log10(width).floor() as i32 - 1).clamp(-9, 9)
    } else {
        -6
    }
}

fn outward(value: f64, place: i32, round: impl Fn(f64) -> f64) -> f64 {
    // Through text, so that 0.12 is 0.12 and not 0.12000000000000001.
    let steps = round(maths::times_power_of_ten(value, -place));
    format!("{steps:.0}e{place}").parse().unwrap_or(value)
}

/// How wide the limits are for want of units, and what more would do.
pub(super) fn width_notes(n: usize, limits: usize) -> Vec<String> {
    if n == 1 {
        return vec![format!(
            "from one part nothing is known of how parts differ, so the {limits} limits are assumed: ends of travel within {ASSUMED_END} \
             of the reference of this part's, other sizes within {} %, noise and the like up to {ASSUMED_TIMES} times as much. Good enough to \
             find this part worn or broken next year; to judge other parts by, give recordings of two or more, each with its own tag",
            ASSUMED_SHARE * 100.0
        )];
    }
    let both = |n: usize| {
        let one = one_sided_factor(n, SHARE, SHARE).unwrap_or(f64::NAN);
        let two = two_sided_factor(n, SHARE, SHARE).unwrap_or(f64::NAN);
        (one, two)
    };
    let (one, two) = both(n);
    let more: Vec<String> = [n + 1, n + 3, n + 10, 30]
        .into_iter()
        .filter(|more| *more > n)
        .take(3)
        .map(|more| {
            let (one, two) = both(more);
            format!("{more} parts {one:.2} and {two:.2}")
        })
        .collect();
    let mut notes = vec![format!(
        "with {n} parts the limits lie {one:.2} (one-sided) and {two:.2} (two-sided) standard deviations from the mean; {}; \
         without end it would be 1.64 and 1.96",
        more.join(", ")
    )];
    if n < 10 {
        notes.push(format!(
            "{n} parts say little of how parts differ: take the limits as a first draft, and hold them against what the machine needs"
        ));
    }
    if limits > 0 {
        // At the edge of what is promised: as if figures were independent, and by Bonferroni's bound whatever depends on what.
        let any = 1.0 - SHARE.powi(i32::try_from(limits).unwrap_or(i32::MAX));
        let most = ((1.0 - SHARE) * measure::statistics::real(limits)).min(1.0);
        notes.push(format!(
            "each of {limits} limits may leave out 5 % of good parts: together {} % of them when results have nothing to do with each \
             other, {} % at most",
            fixed(any * 100.0, 0),
            fixed(most * 100.0, 0)
        ));
    }
    notes
}

#[cfg(test)]
#[path = "spread_tests.rs"]
mod tests;
