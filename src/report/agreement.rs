//! Two tracks held against each other over travel, for a picture: how far b departs from the line that was measured.
//!
//! Belongs here: the samples of the strokes in bins of travel. Does not belong here: gain, offset, disagreement (`measure`).

use crate::capture::Capture;
use crate::record::Assessment;
use measure::figure::FigureName;
use measure::units::Step;

/// Bins of travel: 1 % each.
const BINS: usize = 100;

/// Departures of track b from gain x a + offset, % of b's span, over the travel of track a.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    /// The pair, `a/b`.
    pub pair: String,
    /// Bins from 0 to 100 % of travel; empty where no stroke went.
    pub bins: Vec<Option<Departure>>,
}

/// The samples in one bin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Departure {
    /// Lowest of a single sample, % of b's span.
    pub low: f64,
    /// Mean, % of b's span.
    pub mean: f64,
    /// Highest of a single sample, % of b's span.
    pub high: f64,
}

impl Agreement {
    /// Each pair of an assessment whose line and ends were measured, from the strokes of its capture.
    #[must_use]
    pub fn of(assessment: &Assessment, capture: &Capture) -> Vec<Self> {
        let pairs = assessment.pairs.iter();
        pairs
            .filter_map(|(pair, _)| Self::of_pair(pair, assessment, capture))
            .collect()
    }

    fn of_pair(pair: &str, assessment: &Assessment, capture: &Capture) -> Option<Self> {
        let (a, b) = pair.split_once('/')?;
        let value = |channel: &str, name| assessment.figures(channel)?.value(name);
        let line = Line {
            gain: value(pair, FigureName::TrackGain)?,
            offset: value(pair, FigureName::TrackOffset)?,
            rest_a: value(a, FigureName::RestCode)?,
            span_a: value(a, FigureName::SpanCode)?,
            span_b: value(b, FigureName::SpanCode)?.abs(),
        };
        let column = |wanted: &str| {
            let at = capture
                .meta
                .channels
                .iter()
                .position(|(name, _)| name == wanted)?;
            capture.codes.get(at)
        };
        let (codes_a, codes_b) = (column(a)?, column(b)?);
        let strokes = capture.passages.iter().filter(|p| p.step == Step::Strokes);
        let samples = strokes
            .flat_map(|passage| passage.range.clone())
            .filter_map(|i| Some((codes_a.get(i)?.as_f64(), codes_b.get(i)?.as_f64())));
        Some(Self {
            pair: pair.to_owned(),
            bins: line.bins(samples),
        })
    }
}

/// What the departures are taken from.
struct Line {
    gain: f64,
    offset: f64,
    rest_a: f64,
    span_a: f64,
    span_b: f64,
}

impl Line {
    fn bins(&self, samples: impl Iterator<Item = (f64, f64)>) -> Vec<Option<Departure>> {
        let mut bins: Vec<Option<(Departure, f64)>> = vec![None; BINS];
        for (a, b) in samples {
            let travel_pct = (a - self.rest_a) / self.span_a * 100.0;
            let departure = (b - self.gain * a - self.offset) / self.span_b * 100.0;
            let Some(bin) = bin_of(travel_pct).and_then(|at| bins.get_mut(at)) else {
                continue;
            };
            if !departure.is_finite() {
                continue;
            }
            let (seen, n) = bin.unwrap_or((
                Departure {
                    low: departure,
                    mean: 0.0,
                    high: departure,
                },
                0.0,
            ));
            let next = Departure {
                low: seen.low.min(departure),
                mean: seen.mean + (departure - seen.mean) / (n + 1.0),
                high: seen.high.max(departure),
            };
            *bin = Some((next, n + 1.0));
        }
        bins.into_iter()
            .map(|bin| bin.map(|(seen, _)| seen))
            .collect()
    }
}

/// The bin of a travel in percent; nothing beyond the ends.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked to be in 0 ..= 100
fn bin_of(travel_pct: f64) -> Option<usize> {
    let inside = (0.0..=100.0).contains(&travel_pct);
    inside.then(|| (travel_pct as usize).min(BINS - 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn departures_by_hand() {
        // b = 0.5 a + 10 exactly, but for one sample 2 codes high at a = 50; span of b 50 codes: 4 %.
        let line = Line {
            gain: 0.5,
            offset: 10.0,
            rest_a: 0.0,
            span_a: 100.0,
            span_b: 50.0,
        };
        let bins = line.bins([(0.0, 10.0), (50.0, 35.0), (50.0, 37.0), (130.0, 75.0)].into_iter());
        let at = |k: usize| bins[k].map(|bin| (bin.low, bin.mean, bin.high));
        assert_eq!(at(0), Some((0.0, 0.0, 0.0)));
        assert_eq!(at(50), Some((0.0, 2.0, 4.0)));
        assert_eq!((at(49), at(99)), (None, None));
    }

    #[test]
    fn a_span_of_nothing_gives_nothing() {
        let line = Line {
            gain: 0.5,
            offset: 0.0,
            rest_a: 0.0,
            span_a: 0.0,
            span_b: 0.0,
        };
        assert!(
            line.bins([(1.0, 1.0)].into_iter())
                .iter()
                .all(Option::is_none)
        );
    }
}
