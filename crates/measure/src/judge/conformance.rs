//! Where an interval lies against a limit (JCGM 106:2012, guarded both ways).

use super::{Limit, Outcome};
use crate::figure::Figure;

pub(super) enum Side {
    Below(f64),
    Above(f64),
    Inside,
    Across,
}

pub(super) fn side(limit: Limit, figure: &Figure) -> Side {
    let low = figure.low.unwrap_or(f64::NEG_INFINITY);
    let high = figure.high.unwrap_or(f64::INFINITY);
    if let Some(min) = limit.min().filter(|min| high < *min) {
        return Side::Below(min);
    }
    if let Some(max) = limit.max().filter(|max| low > *max) {
        return Side::Above(max);
    }
    let inside =
        limit.min().is_none_or(|min| low >= min) && limit.max().is_none_or(|max| high <= max);
    if inside { Side::Inside } else { Side::Across }
}

/// What comes of an interval, however it was made, against a limit.
#[must_use]
pub fn outcome(limit: Limit, figure: &Figure) -> Outcome {
    match side(limit, figure) {
        Side::Below(_) | Side::Above(_) => Outcome::Fail,
        Side::Inside => Outcome::Pass,
        Side::Across => Outcome::Undecided,
    }
}
