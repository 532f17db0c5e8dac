//! One question to many things, shared out over the processors.

use std::num::NonZero;
use std::panic::resume_unwind;
use std::thread::{self, ScopedJoinHandle};

/// The answer for each, in their order.
pub(super) fn for_each<T: Sync, R: Send>(all: &[T], ask: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let workers = thread::available_parallelism().map_or(1, NonZero::get);
    let share = all.len().div_ceil(workers).max(1);
    let ask = &ask;
    thread::scope(|scope| {
        let parts: Vec<_> = all
            .chunks(share)
            .map(|part| scope.spawn(move || part.iter().map(ask).collect::<Vec<R>>()))
            .collect();
        let answers = parts.into_iter().map(ScopedJoinHandle::join);
        answers
            .flat_map(|part| part.unwrap_or_else(|panic| resume_unwind(panic)))
            .collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_come_in_order_and_none_is_left_out() {
        for n in [0_usize, 1, 2, 7, 1000] {
            let all: Vec<usize> = (0..n).collect();
            let want: Vec<usize> = (0..n).map(|k| k + 1).collect();
            assert_eq!(for_each(&all, |k| k + 1), want);
        }
    }
}
