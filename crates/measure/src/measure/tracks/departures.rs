//! How far track b departs from its line through track a, over the travel of a.

/// Bins of travel: 1 % each.
const BINS: usize = 100;

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

/// The line that track b follows, and both spans.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrackLine {
    /// Codes of b for one code of a.
    pub gain: f64,
    /// Code of b where a reads 0.
    pub offset: f64,
    /// Code of a at rest.
    pub rest_a: f64,
    /// Signed span of a, codes.
    pub span_a: f64,
    /// Span of b, codes, above 0.
    pub span_b: f64,
}

impl TrackLine {
    /// Departures of pairs of codes `(a, b)` in bins of 1 % of travel; empty where no sample lies.
    pub fn departures(&self, samples: impl Iterator<Item = (f64, f64)>) -> Vec<Option<Departure>> {
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
            let (seen, n) = bin.get_or_insert((
                Departure {
                    low: departure,
                    mean: 0.0,
                    high: departure,
                },
                0.0,
            ));
            *n += 1.0;
            seen.low = seen.low.min(departure);
            seen.mean += (departure - seen.mean) / *n;
            seen.high = seen.high.max(departure);
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
        let line = TrackLine {
            gain: 0.5,
            offset: 10.0,
            rest_a: 0.0,
            span_a: 100.0,
            span_b: 50.0,
        };
        let bins =
            line.departures([(0.0, 10.0), (50.0, 35.0), (50.0, 37.0), (130.0, 75.0)].into_iter());
        let at = |k: usize| bins[k].map(|bin| (bin.low, bin.mean, bin.high));
        assert_eq!(at(0), Some((0.0, 0.0, 0.0)));
        assert_eq!(at(50), Some((0.0, 2.0, 4.0)));
        assert_eq!((at(49), at(99)), (None, None));
    }

    #[test]
    fn a_span_of_nothing_gives_nothing() {
        let line = TrackLine {
            gain: 0.5,
            offset: 0.0,
            rest_a: 0.0,
            span_a: 0.0,
            span_b: 0.0,
        };
        assert!(
            line.departures([(1.0, 1.0)].into_iter())
                .iter()
                .all(Option::is_none)
        );
    }
}
