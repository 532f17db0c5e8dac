//! The spread of units' values -> a limit with its reason, and how wide limits are for want of units.
//!
//! Belongs here: tolerance limits, rounding outward, words about them. Does not belong here: which figures (`derive`), the
//! factors k (`measure::tolerance`).
//!
//! A limit must hold a stated share of all good units with a stated confidence, from the few that were measured: mean
//! and standard deviation of the units' values, and the factor k of ISO 16269-6 for a normal population. Because a unit
//! passes only with its whole 95 % interval inside, the widest of the units' own intervals is added.

use measure::figure::numbers::fixed;
use measure::figure::{Figure, FigureName, Sides};
use measure::judge::Limit;
use measure::statistics::{mean, sd};
use measure::statistics::{one_sided_factor, two_sided_factor};

/// Share of good units that a limit is to hold, and the confidence that it does.
const SHARE: f64 = 0.95;

pub(super) struct Spread {
    n: usize,
    mean: f64,
    sd: f64,
    least: f64,
    most: f64,
    /// The widest reach of any unit's own 95 % interval, up and down.
    own: f64,
}

impl Spread {
    /// `None` when an interval is open.
    pub fn of(figures: &[&Figure]) -> Option<Self> {
        let values: Vec<f64> = figures.iter().map(|f| f.value).collect();
        let reach = |f: &&Figure| Some((f.high? - f.value).max(f.value - f.low?));
        let own = figures
            .iter()
            .map(reach)
            .try_fold(0.0, |most: f64, reach| Some(most.max(reach?)))?;
        Some(Self {
            n: values.len(),
            mean: mean(&values),
            sd: sd(&values),
            least: values.iter().copied().fold(f64::INFINITY, f64::min),
            most: values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            own,
        })
    }

    /// The limit and its reason; `None` when neither side says anything.
    pub fn limit(&self, name: FigureName) -> Option<(Limit, String)> {
        let sides = name.facts().sides;
        let (k, side) = if sides == Sides::Both {
            (two_sided_factor(self.n, SHARE, SHARE)?, "two-sided")
        } else {
            (one_sided_factor(self.n, SHARE, SHARE)?, "one-sided")
        };
        let away = k * self.sd + self.own;
        let (floor, top) = name.facts().range;
        let place = place_of(away);
        let max = Some(outward(self.mean + away, place, f64::ceil))
            .filter(|max| sides != Sides::Lower && *max < top);
        let min = Some(outward(self.mean - away, place, f64::floor))
            .filter(|min| matches!(sides, Sides::Both | Sides::Lower) && *min > floor);
        let limit = Limit::new(min, max).ok()?;
        let open = if sides == Sides::Both && (min.is_none() || max.is_none()) {
            "; the side left open would lie beyond the scale"
        } else {
            ""
        };
        let decimals = usize::try_from((-place).max(0) + 1).unwrap_or(0);
        let told = |x: f64| fixed(x, decimals);
        let reason = format!(
            "k = {k:.2} with {} units ({side}, 95 % of units with 95 % confidence, ISO 16269-6): mean {} and sd {} of values \
             from {} to {}, and {} for the widest 95 % interval of one unit{open}",
            self.n,
            told(self.mean),
            told(self.sd),
            told(self.least),
            told(self.most),
            told(self.own),
        );
        Some((limit, reason))
    }
}

/// How far an end of travel of another part of the kind may lie, as a fraction of the reference, when only one was measured: the
/// spread that the profiles of this program allow for sensors and tracks. Common practice, no source.
const ASSUMED_END: f64 = 0.05;
/// The same for what is measured in anything else, as a share of the value. Common practice, no source.
const ASSUMED_SHARE: f64 = 0.2;
/// How many times as loud, as late or as uneven another part may be. Common practice, no source.
const ASSUMED_TIMES: f64 = 2.0;

/// A limit from one part alone, which shows nothing of how parts differ: as wide as assumed, and that is said. `None` when an end of its
/// interval is open or the limit would say nothing.
pub(super) fn assumed(name: FigureName, only: &Figure) -> Option<(Limit, String)> {
    let own = (only.high? - only.value).max(only.value - only.low?);
    let (sides, (floor, top)) = (name.facts().sides, name.facts().range);
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
    let max = Some(outward(only.value + away, place, f64::ceil))
        .filter(|max| sides != Sides::Lower && *max < top);
    let min = Some(outward(only.value - away, place, f64::floor))
        .filter(|min| matches!(sides, Sides::Both | Sides::Lower) && *min > floor);
    let limit = Limit::new(min, max).ok()?;
    let decimals = usize::try_from((-place).max(0) + 1).unwrap_or(0);
    let reason = format!(
        "ASSUMED, not measured: one part of {} and {wide} allowed (common practice, no source), and {} for its own 95 % \
         interval; a second part would show how parts differ",
        fixed(only.value, decimals),
        fixed(own, decimals),
    );
    Some((limit, reason))
}

/// The power of ten of the second digit of `width`: limits are rounded outward to it.
#[allow(clippy::cast_possible_truncation)] // a power of ten of a finite number
fn place_of(width: f64) -> i32 {
    if width > 0.0 && width.is_finite() {
        (width.log10().floor() as i32 - 1).clamp(-9, 9)
    } else {
        -6
    }
}

fn outward(value: f64, place: i32, round: impl Fn(f64) -> f64) -> f64 {
    // Through text, so that 0.12 is 0.12 and not 0.12000000000000001.
    let steps = round(value / 10f64.powi(place));
    format!("{steps:.0}e{place}").parse().unwrap_or(value)
}

/// How wide the limits are for want of units, and what more would do.
pub(super) fn width_notes(n: usize, limits: usize) -> Vec<String> {
    if n == 1 {
        return vec![format!(
            "from one part nothing is known of how parts differ, so the {limits} limits are assumed: ends of travel within {ASSUMED_END} \
             of the reference of this part's, other sizes within {} %, noise and the like up to {ASSUMED_TIMES} times as much. Good enough to \
             find this part worn or broken next year; to judge other parts by, give captures of two or more, each with its own tag",
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
            format!("{more} units {one:.2} and {two:.2}")
        })
        .collect();
    let mut notes = vec![format!(
        "with {n} units the limits lie {one:.2} (one-sided) and {two:.2} (two-sided) standard deviations from the mean; {}; \
         without end it would be 1.64 and 1.96",
        more.join(", ")
    )];
    if n < 10 {
        notes.push(format!(
            "{n} units say little of how units differ: take the limits as a first draft, and hold them against what the machine needs"
        ));
    }
    if limits > 0 {
        // At the edge of what is promised, as if figures were independent.
        let any = 1.0 - SHARE.powi(i32::try_from(limits).unwrap_or(i32::MAX));
        notes.push(format!(
            "each of {limits} limits may leave out 5 % of good units: together up to {} % of them",
            fixed(any * 100.0, 0)
        ));
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spread(values: &[f64], u: f64) -> Spread {
        let figures: Vec<Figure> = values
            .iter()
            .map(|v| Figure::symmetric(*v, u, 2.0, 1, ""))
            .collect();
        Spread::of(&figures.iter().collect::<Vec<_>>()).unwrap()
    }

    /// Hand-worked: 1, 2, 3 have mean 2 and sd 1. k for three units, 95 % of units with 95 % confidence, is 7.656
    /// one-sided and 9.789 two-sided (tests/reference/24, computed there outside this program).
    #[test]
    fn three_units_by_hand() {
        let (limit, reason) = spread(&[1.0, 2.0, 3.0], 0.05)
            .limit(FigureName::NoiseRestRms)
            .unwrap();
        // 2 + 7.656 + 0.1 = 9.756, outward to tenths.
        assert_eq!((limit.min(), limit.max()), (None, Some(9.8)));
        assert!(
            reason.starts_with("k = 7.66 with 3 units (one-sided"),
            "{reason}"
        );
        let (limit, reason) = spread(&[1.0, 2.0, 3.0], 0.0)
            .limit(FigureName::TrackLag)
            .unwrap();
        // 2 +- 9.789.
        assert_eq!((limit.min(), limit.max()), (Some(-7.8), Some(11.8)));
        assert!(reason.starts_with("k = 9.79"), "{reason}");
    }

    #[test]
    fn ratios_get_no_limit_beyond_the_scale() {
        let (limit, reason) = spread(&[0.10, 0.11, 0.12], 0.0)
            .limit(FigureName::RestRatio)
            .unwrap();
        // 0.11 +- 0.09789: both inside the scale.
        assert_eq!((limit.min(), limit.max()), (Some(0.012), Some(0.208)));
        assert!(!reason.contains("open"), "{reason}");
        let (limit, reason) = spread(&[0.10, 0.12, 0.14], 0.0)
            .limit(FigureName::RestRatio)
            .unwrap();
        assert_eq!(limit.min(), None);
        assert!(reason.contains("side left open"), "{reason}");
        let wide = spread(&[0.1, 0.5, 0.9], 0.0);
        assert!(wide.limit(FigureName::RestRatio).is_none());
    }

    #[test]
    fn units_that_read_alike_still_leave_room_for_their_uncertainty() {
        let (limit, _) = spread(&[0.5; 2], 0.01)
            .limit(FigureName::FullRatio)
            .unwrap();
        assert_eq!((limit.min(), limit.max()), (Some(0.48), Some(0.52)));
        let open = Figure {
            high: None,
            ..Figure::symmetric(1.0, 0.1, 2.0, 1, "")
        };
        assert!(Spread::of(&[&open, &open]).is_none());
    }

    #[test]
    fn few_units_are_called_few() {
        let notes = width_notes(2, 3);
        // k for two and three units, one-sided: tests/reference/24.
        assert!(
            notes[0].contains("26.26") && notes[0].contains("3 units 7.66"),
            "{notes:?}"
        );
        assert!(notes[1].contains("little"), "{notes:?}");
        // 1 - 0.95^3 = 0.1426.
        assert!(notes[2].contains("14 %"), "{notes:?}");
        assert_eq!(width_notes(12, 0).len(), 1);
    }
}
