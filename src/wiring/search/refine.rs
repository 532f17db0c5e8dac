//! From the best change that was judged to the best near it: pulls and ends are tried together in few values only, and few together.

use super::changes::{Change, around};
use super::{JudgedChange, Search};
use crate::wiring::faults::Tally;
use std::cmp::Reverse;

/// Steps from one change to a better one around it, and how many of each group around are judged: those that look best at a glance. What
/// that leaves is in `tests/suite/wiring/advice.rs`; common practice, no source.
const STEPS: usize = 6;
const JUDGED_OF_A_GROUP: usize = 2;

/// What makes a change better: what it leaves, then how little there is to do, then the span in steps of 1 %.
type Merit = (Tally, usize, Reverse<i64>);

impl Search<'_> {
    /// The best change of those that were judged; `None` when none helps.
    pub(super) fn best(&self) -> Option<&JudgedChange> {
        let helps = |changed: &&JudgedChange| changed.judged.tally < self.now.tally;
        let judged = self.judged.iter().filter(helps);
        judged.min_by_key(|changed| self.merit(changed))
    }

    /// Goes from the best to a better one around it, while there is one, a few steps at most; each becomes one of those that were judged.
    pub(super) fn refine(&mut self) {
        let mut seen: Vec<Vec<Change>> = Vec::new();
        for _ in 0..STEPS {
            let Some(best) = self.best() else { return };
            let merit = self.merit(best);
            let wiring = self.now.analysis.hookup().wiring();
            let groups = around(wiring, &best.changes).into_iter();
            let mut beside: Vec<_> = groups
                .flat_map(|group| self.likely(group, merit.0))
                .collect();
            beside.retain(|changes| !seen.contains(changes));
            let better = beside
                .iter()
                .filter_map(|changes| self.judge(changes))
                .filter(|changed| self.merit(changed) < merit)
                .min_by_key(|changed| self.merit(changed));
            let Some(better) = better else { return };
            seen.extend(beside);
            self.judged.push(better);
        }
    }

    /// Of a group those that look best at a glance, and not worse than what there is: judged whole they are no better.
    fn likely(&self, group: Vec<Vec<Change>>, least: Tally) -> Vec<Vec<Change>> {
        let seen = group.into_iter().filter_map(|changes| {
            let look = self.look(&changes, &[])?;
            (look.tally <= least).then_some((look.tally, changes))
        });
        let mut seen: Vec<_> = seen.collect();
        seen.sort_by_key(|(tally, _)| *tally);
        let likely = seen.into_iter().take(JUDGED_OF_A_GROUP);
        likely.map(|(_, changes)| changes).collect()
    }

    #[allow(clippy::cast_possible_truncation)] // percent of a span
    fn merit(&self, changed: &JudgedChange) -> Merit {
        let kept = self.span_kept(changed.judged.analysis.curve());
        let kept = (100.0 * kept).round() as i64;
        (changed.judged.tally, changed.changes.len(), Reverse(kept))
    }
}
