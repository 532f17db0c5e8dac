//! Samples of a board that was away: held in quarantine until it says again what its numbers mean.
//!
//! A header comes about once a second (DESIGN 4.1). Another board at the same port looks like the first until then, so
//! what arrives in between is taken when the header is the same and rejected when it is another.

use crate::capture::StreamCounts;
use crate::link::{Cause, Counts};
use measure::units::Code;

/// Longest stretch that is held, in microseconds: two headers would have come. A board that says it only once,
/// at its start, is trusted then.
const LONGEST_US: u64 = 2_000_000;

/// A sample in quarantine.
#[derive(Debug)]
pub(super) struct Held {
    pub(super) t_us: u64,
    pub(super) codes: Vec<Code>,
    /// Samples missing before it; before the first of them those of the time when the board was away.
    pub(super) missing: u64,
}

/// What is held, what was rejected, and what came too late.
#[derive(Debug, Default)]
pub(super) struct Quarantine {
    held: Vec<Held>,
    /// Waited long enough: nothing is held until the decoder has no doubt any more.
    waited: bool,
    rejected: u64,
    rejected_missing: u64,
    late: u64,
    late_missing: u64,
}

impl Quarantine {
    /// Holds a sample that is in doubt; `false`: it is to be recorded, after those that are held.
    pub(super) fn holds(
        &mut self,
        t_us: u64,
        codes: &[Code],
        missing: u64,
        in_doubt: bool,
    ) -> bool {
        if !in_doubt {
            self.waited = false;
            return false;
        }
        let since = self.held.first().map_or(t_us, |first| first.t_us);
        self.waited |= t_us.saturating_sub(since) > LONGEST_US;
        if self.waited {
            return false;
        }
        self.held.push(Held {
            t_us,
            codes: codes.to_vec(),
            missing,
        });
        true
    }

    /// The doubt has ended: what was held, to be recorded.
    pub(super) fn release(&mut self) -> Vec<Held> {
        std::mem::take(&mut self.held)
    }

    /// A sample that was released after the end of the run is no part of it, nor is what is missing before it.
    pub(super) fn too_late(&mut self, missing: u64) {
        self.late += 1;
        self.late_missing += missing;
    }

    /// It is another board: what was held is no part of the capture.
    pub(super) fn reject(&mut self) {
        self.rejected += self.held.len() as u64;
        self.rejected_missing += self.missing();
        self.held.clear();
    }

    fn missing(&self) -> u64 {
        let missing = self.held.iter().map(|held| held.missing);
        missing.fold(0, u64::saturating_add)
    }

    /// The stream's counts without what is held or came too late, and with what was rejected as `before header`.
    pub(super) fn counts(&self, mut counts: StreamCounts) -> StreamCounts {
        let out = self.rejected + self.late + self.held.len() as u64;
        let missing = [self.rejected_missing, self.late_missing, self.missing()];
        counts.samples = counts.samples.saturating_sub(out);
        counts.missing = missing
            .into_iter()
            .fold(counts.missing, u64::saturating_sub);
        if self.rejected > 0 {
            let cause = Cause::BeforeHeader.describe().to_owned();
            *counts.rejected.entry(cause).or_default() += self.rejected;
        }
        counts
    }
}

/// What a decoder counted, as a recording keeps it.
pub(super) fn stream_counts(counts: &Counts) -> StreamCounts {
    StreamCounts {
        lines: counts.lines,
        samples: counts.samples,
        rejected: counts
            .rejected_by_cause()
            .map(|(cause, n)| (cause.describe().to_owned(), n))
            .collect(),
        missing: counts.missing,
        restarts: counts.restarts,
        away: 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CODES: [Code; 1] = [Code(7)];

    fn counts(samples: u64, missing: u64) -> StreamCounts {
        StreamCounts {
            samples,
            missing,
            ..StreamCounts::default()
        }
    }

    #[test]
    fn a_trusted_sample_passes_at_once() {
        let mut quarantine = Quarantine::default();
        assert!(!quarantine.holds(5, &CODES, 3, false));
        assert!(quarantine.release().is_empty());
        assert_eq!(quarantine.counts(counts(1, 3)), counts(1, 3));
    }

    #[test]
    fn released_samples_keep_their_order_and_count_again() {
        let mut quarantine = Quarantine::default();
        assert!(quarantine.holds(5, &CODES, 30, true) && quarantine.holds(6, &CODES, 0, true));
        assert_eq!(quarantine.counts(counts(12, 31)), counts(10, 1));
        let times: Vec<u64> = quarantine.release().iter().map(|held| held.t_us).collect();
        assert_eq!(times, [5, 6]);
        assert_eq!(quarantine.counts(counts(12, 31)), counts(12, 31));
    }

    #[test]
    fn rejected_samples_count_as_before_header() {
        let mut quarantine = Quarantine::default();
        assert!(quarantine.holds(5, &CODES, 30, true) && quarantine.holds(6, &CODES, 0, true));
        quarantine.reject();
        assert!(quarantine.release().is_empty());
        let seen = quarantine.counts(counts(12, 31));
        assert_eq!(
            (seen.samples, seen.missing, seen.rejected["before header"]),
            (10, 1, 2)
        );
    }

    #[test]
    fn released_after_the_end_is_no_part_of_the_run() {
        let mut quarantine = Quarantine::default();
        assert!(quarantine.holds(5, &CODES, 30, true) && quarantine.holds(6, &CODES, 4, true));
        let held = quarantine.release();
        assert_eq!((held[0].missing, held[1].missing), (30, 4));
        quarantine.too_late(held[1].missing);
        assert_eq!(quarantine.counts(counts(12, 35)), counts(11, 31));
    }

    #[test]
    fn two_seconds_without_a_header_are_enough_and_the_next_doubt_begins_anew() {
        let mut quarantine = Quarantine::default();
        for t_us in [1_000_000, 3_000_000] {
            assert!(quarantine.holds(t_us, &CODES, 0, true), "{t_us}");
        }
        assert!(!quarantine.holds(3_000_001, &CODES, 0, true));
        assert_eq!(quarantine.release().len(), 2);
        assert!(
            !quarantine.holds(3_001_000, &CODES, 0, true),
            "no second wait"
        );
        assert!(!quarantine.holds(3_002_000, &CODES, 0, false));
        assert!(
            quarantine.holds(9_000_000, &CODES, 0, true),
            "another doubt"
        );
    }
}
