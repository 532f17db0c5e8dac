//! Codes of the board that are wider and narrower than others: in every stroke the same small steps at the same places.

use super::{CELLS, Contact, cells_of, misplaced};
use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::median;
use crate::measure::strokes::defects::WornZone;
use crate::measure::strokes::segment::Ends;

/// Differential non-linearity of a board, codes: with more a code would be missing.
const UNEVEN: f64 = 1.0;
/// Variance about the pattern, in that of the noise at rest, from which there is more than a pattern. A worn contact of 2.5 times the
/// noise has 2.8 and more over its zone, uneven codes seldom more than 2 in any three bins (`docs/validity.md`).
const FRESH: f64 = 2.4;
/// Standard deviations beyond it from which a step of the pattern is none of the board's, and how many such steps in neighbouring
/// bins are no chance.
const BEYOND: f64 = 4.0;
const TOO_MANY: usize = 2;
/// Bins of travel that are looked at together: the narrowest wear in a place that is rough for other reasons.
const TOGETHER: usize = 3;

/// What a bin of travel shows besides what a board does.
#[derive(Debug, Clone, Copy)]
struct Besides {
    /// Variance about the pattern, in that of the noise at rest.
    variance: f64,
    /// Steps of the pattern that are higher than codes are uneven.
    steps: usize,
}

/// What the strokes show besides uneven codes of a board, bin by bin.
pub(crate) struct UnevenCodes(Vec<Option<Besides>>);

impl UnevenCodes {
    /// `quiet` is the noise variance of a sound contact, a bin and its samples in one stroke given.
    pub(crate) fn of(contact: &Contact, ends: Ends, quiet: impl Fn(usize, usize) -> f64) -> Self {
        let mut bins = contact.bins.clone();
        for (at, bin) in bins.iter_mut().enumerate() {
            if let Some(bin) = bin {
                bin.quiet = quiet(at, bin.samples / bin.strokes);
            }
        }
        let misplaced = misplaced(&bins);
        let per_cell = ends.span().abs() / real(CELLS);
        let besides = bins.iter().enumerate().map(|(at, bin)| {
            let bin = bin.as_ref()?;
            let most = UNEVEN * per_cell + BEYOND * (2.0 * bin.by_chance).sqrt();
            let steps = contact.repeats[cells_of(at)].windows(2);
            Some(Besides {
                variance: bin.variance / (bin.quiet + bin.steepness * misplaced),
                steps: steps
                    .filter(|step| (step[1] - step[0]).abs() > most)
                    .count(),
            })
        });
        Self(besides.collect())
    }

    /// Whether they may be all that stands out in a zone: every stroke shows the same there, with no more besides than the noise at
    /// rest, and from one code to the next the pattern rises by no more than codes are uneven.
    ///
    /// A contact that is worn scatters anew in each stroke, or jumps by many codes from place to place.
    pub(crate) fn may_be(&self, zone: &WornZone) -> bool {
        let travel_pct = zone.from_pct..zone.to_pct;
        let bins = self.0.iter().enumerate();
        let there: Vec<Besides> = bins
            .filter(|(at, _)| travel_pct.contains(&real(*at)))
            .filter_map(|(_, besides)| *besides)
            .collect();
        let is_the_boards = |near: &[Besides]| {
            let mut variances: Vec<f64> = near.iter().map(|besides| besides.variance).collect();
            let steps: usize = near.iter().map(|besides| besides.steps).sum();
            steps < TOO_MANY && median(&mut variances).is_some_and(|variance| variance < FRESH)
        };
        let together = TOGETHER.min(there.len());
        !there.is_empty() && there.windows(together).all(is_the_boards)
    }
}
