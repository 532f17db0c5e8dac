//! From the best change that was judged to the best near it: pulls and ends are tried together in few values only, and few together.

use super::changes::{Change, more, near};
use super::{JudgedChange, Search};
use crate::wiring::faults::Tally;
use std::cmp::Reverse;

/// Steps from one change to a better one beside it. Each judges up to two values for each resistor, so that few must do; common practice,
/// no source.
const STEPS: usize = 4;

/// What makes a change better: what it leaves, then how little there is to do, then the span in steps of 1 %.
type Merit = (Tally, usize, Reverse<i64>);

impl Search<'_> {
    /// The best change of those that were judged; `None` when none helps.
    pub(super) fn best(&self) -> Option<&JudgedChange> {
        let helps = |changed: &&JudgedChange| changed.judged.tally < self.now.tally;
        let judged = self.judged.iter().filter(helps);
        judged.min_by_key(|changed| self.merit(changed))
    }

    /// Goes from the best to a better one beside it while there is one; each becomes one of those that were judged.
    pub(super) fn refine(&mut self) {
        let mut seen: Vec<Vec<Change>> = Vec::new();
        for _ in 0..STEPS {
            let Some(best) = self.best() else { return };
            let merit = self.merit(best);
            let wiring = self.now.analysis.hookup().wiring();
            let mut beside = near(wiring, &best.changes);
            let glanced = more(wiring, &best.changes);
            beside.extend(
                glanced
                    .into_iter()
                    .filter_map(|of_a_kind| self.first_look(of_a_kind)),
            );
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

    /// Of some changes the one that looks best at a glance, the first of equals.
    fn first_look(&self, among: Vec<Vec<Change>>) -> Option<Vec<Change>> {
        let seen = among.into_iter().filter_map(|changes| {
            let look = self.look(&changes, &[])?;
            Some((look.tally, changes))
        });
        seen.min_by_key(|(tally, _)| *tally)
            .map(|(_, changes)| changes)
    }

    #[allow(clippy::cast_possible_truncation)] // percent of a span
    fn merit(&self, changed: &JudgedChange) -> Merit {
        let kept = self.span_kept(changed.judged.analysis.curve());
        let kept = (100.0 * kept).round() as i64;
        (changed.judged.tally, changed.changes.len(), Reverse(kept))
    }
}
