//! Samples of a board that was away: kept back until it says again what its numbers mean.
//!
//! A header comes about once a second (DESIGN 4.1). Another board at the same port looks like the first until then, so
//! what arrives in between is taken when the header is the same and refused when it is another.

use crate::capture::StreamCounts;
use crate::link::Cause;
use measure::units::Code;

/// Longest stretch that is kept back, in microseconds: two headers would have come. A board that says it only once,
/// at its start, is believed then.
const LONGEST_US: u64 = 2_000_000;

/// A sample that is kept back.
#[derive(Debug)]
pub(super) struct Held {
    pub(super) t_us: u64,
    pub(super) codes: Vec<Code>,
    /// Samples missing before it; before the first of them those of the time when the board was away.
    pub(super) missing: u64,
}

/// What is kept back, what was refused, and what came too late.
#[derive(Debug, Default)]
pub(super) struct Doubt {
    held: Vec<Held>,
    /// Waited long enough: nothing is kept back until the decoder has no doubt any more.
    waited: bool,
    refused: u64,
    refused_missing: u64,
    late: u64,
    late_missing: u64,
}

impl Doubt {
    /// Keeps a sample back if it is in doubt; `false`: it is to be taken, after those that were kept back.
    pub(super) fn takes(
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

    /// The doubt has ended: what was kept back, to be taken.
    pub(super) fn end(&mut self) -> Vec<Held> {
        std::mem::take(&mut self.held)
    }

    /// A sample that was believed when the run was through already is no part of it, nor is what is missing before it.
    pub(super) fn too_late(&mut self, missing: u64) {
        self.late += 1;
        self.late_missing += missing;
    }

    /// It is another board: what was kept back is no part of the capture.
    pub(super) fn refuse(&mut self) {
        self.refused += self.held.len() as u64;
        self.refused_missing += self.missing();
        self.held.clear();
    }

    fn missing(&self) -> u64 {
        let missing = self.held.iter().map(|held| held.missing);
        missing.fold(0, u64::saturating_add)
    }

    /// The stream's counts without what is kept back or came too late, and with what was refused as `before header`:
    /// numbers that nobody had said the meaning of.
    pub(super) fn counts(&self, mut counts: StreamCounts) -> StreamCounts {
        let out = self.refused + self.late + self.held.len() as u64;
        let missing = [self.refused_missing, self.late_missing, self.missing()];
        counts.samples = counts.samples.saturating_sub(out);
        counts.missing = missing
            .into_iter()
            .fold(counts.missing, u64::saturating_sub);
        if self.refused > 0 {
            let cause = Cause::BeforeHeader.words().to_owned();
            *counts.rejected.entry(cause).or_default() += self.refused;
        }
        counts
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
    fn what_is_not_in_doubt_is_taken_at_once() {
        let mut doubt = Doubt::default();
        assert!(!doubt.takes(5, &CODES, 3, false));
        assert!(doubt.end().is_empty());
        assert_eq!(doubt.counts(counts(1, 3)), counts(1, 3));
    }

    #[test]
    fn what_is_believed_is_given_back_in_order_and_counts_again() {
        let mut doubt = Doubt::default();
        assert!(doubt.takes(5, &CODES, 30, true) && doubt.takes(6, &CODES, 0, true));
        assert_eq!(doubt.counts(counts(12, 31)), counts(10, 1));
        let times: Vec<u64> = doubt.end().iter().map(|held| held.t_us).collect();
        assert_eq!(times, [5, 6]);
        assert_eq!(doubt.counts(counts(12, 31)), counts(12, 31));
    }

    #[test]
    fn what_is_refused_is_counted_as_said_before_its_header() {
        let mut doubt = Doubt::default();
        assert!(doubt.takes(5, &CODES, 30, true) && doubt.takes(6, &CODES, 0, true));
        doubt.refuse();
        assert!(doubt.end().is_empty());
        let told = doubt.counts(counts(12, 31));
        assert_eq!(
            (told.samples, told.missing, told.rejected["before header"]),
            (10, 1, 2)
        );
    }

    #[test]
    fn what_is_believed_too_late_is_no_part_of_the_run() {
        let mut doubt = Doubt::default();
        assert!(doubt.takes(5, &CODES, 30, true) && doubt.takes(6, &CODES, 4, true));
        let held = doubt.end();
        assert_eq!((held[0].missing, held[1].missing), (30, 4));
        doubt.too_late(held[1].missing);
        assert_eq!(doubt.counts(counts(12, 35)), counts(11, 31));
    }

    #[test]
    fn two_seconds_without_a_header_are_enough_and_the_next_doubt_begins_anew() {
        let mut doubt = Doubt::default();
        for t_us in [1_000_000, 3_000_000] {
            assert!(doubt.takes(t_us, &CODES, 0, true), "{t_us}");
        }
        assert!(!doubt.takes(3_000_001, &CODES, 0, true));
        assert_eq!(doubt.end().len(), 2);
        assert!(!doubt.takes(3_001_000, &CODES, 0, true), "no second wait");
        assert!(!doubt.takes(3_002_000, &CODES, 0, false));
        assert!(doubt.takes(9_000_000, &CODES, 0, true), "another doubt");
    }
}
