//! Two tracks held against each other over travel, for a picture.

use crate::capture::Capture;
use crate::record::Assessment;
use measure::figure::FigureName;
use measure::units::Step;
use measure::{Departure, TrackLine};

/// Departures of track b from gain x a + offset, % of b's span, over the travel of track a.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    /// The pair, `a/b`.
    pub pair: String,
    /// Bins from 0 to 100 % of travel; empty where no stroke went.
    pub bins: Vec<Option<Departure>>,
}

impl Agreement {
    /// Each pair of an assessment whose line and ends were measured, from the strokes of its capture.
    pub fn of(assessment: &Assessment, capture: &Capture) -> Vec<Self> {
        let pairs = assessment.pairs.iter();
        pairs
            .filter_map(|(pair, _)| Self::of_pair(pair, assessment, capture))
            .collect()
    }

    fn of_pair(pair: &str, assessment: &Assessment, capture: &Capture) -> Option<Self> {
        let (a, b) = pair.split_once('/')?;
        let value = |channel: &str, name| assessment.figures(channel)?.value(name);
        let line = TrackLine {
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
            bins: line.departures(samples),
        })
    }
}
