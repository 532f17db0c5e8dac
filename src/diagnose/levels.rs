//! Where a channel stood, by counting codes: robust, and there from the first sample on, when no figure is yet.

use measure::units::Code;

/// The middle and the reach of many samples, in codes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Level {
    pub samples: usize,
    /// One sample in a hundred lies below it.
    pub low: f64,
    pub median: f64,
    /// One sample in a hundred lies above it.
    pub high: f64,
}

impl Level {
    pub fn of(codes: impl Iterator<Item = Code>) -> Option<Self> {
        let mut counts = Counts::default();
        codes.for_each(|code| counts.add(code.0));
        counts.level()
    }

    /// Of the distances between two channels, sample by sample.
    pub fn of_distances(a: &[Code], b: &[Code]) -> Option<Self> {
        let mut counts = Counts::default();
        for (a, b) in a.iter().zip(b) {
            counts.add(a.0.abs_diff(b.0));
        }
        counts.level()
    }

    pub fn reach(&self) -> f64 {
        self.high - self.low
    }
}

/// How often each code came.
#[derive(Default)]
struct Counts(Vec<usize>);

impl Counts {
    fn add(&mut self, code: u32) {
        let code = code as usize;
        if code >= self.0.len() {
            self.0.resize(code + 1, 0);
        }
        self.0[code] += 1;
    }

    fn level(&self) -> Option<Level> {
        let samples: usize = self.0.iter().sum();
        // The code below or at which a share of the samples lies.
        let quantile = |per_cent: usize| {
            let wanted = (samples * per_cent).div_ceil(100).max(1);
            let mut seen = 0;
            let found = self.0.iter().position(|count| {
                seen += count;
                seen >= wanted
            });
            found
                .and_then(|code| u32::try_from(code).ok())
                .map_or(0.0, f64::from)
        };
        (samples > 0).then(|| Level {
            samples,
            low: quantile(1),
            median: quantile(50),
            high: quantile(99),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_and_the_reach_of_counted_codes() {
        // 1 ..= 200: the 2nd, the 100th and the 198th. By hand.
        let level = Level::of((1..=200).map(Code)).unwrap();
        assert_eq!(
            (level.low, level.median, level.high, level.samples),
            (2.0, 100.0, 198.0, 200)
        );
        assert!((level.reach() - 196.0).abs() < 1e-12);
        assert_eq!(Level::of([].into_iter()), None);
        let one = Level::of([Code(7)].into_iter()).unwrap();
        assert_eq!((one.low, one.high), (7.0, 7.0));
        let apart = Level::of_distances(&[Code(5), Code(9)], &[Code(8), Code(9)]).unwrap();
        assert_eq!((apart.low, apart.high), (0.0, 3.0));
    }
}
