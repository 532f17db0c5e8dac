//! Whether a control stands still, and where: block means over a short window of board time.
//!
//! Used to recognise movements only; every figure is computed from the raw codes by `measure`.

use measure::units::Code;
use std::collections::VecDeque;

/// Length of one block. Two periods of 50 Hz would be better against hum, but a hand is felt within 0.1 s.
const BLOCK_US: u64 = 20_000;
/// Blocks that must agree before a control counts as still: 0.3 s.
const BLOCKS: usize = 15;

/// Watches one channel.
#[derive(Debug, Clone)]
pub struct Stillness {
    /// Largest spread of block means, in codes, that still counts as standing still.
    tolerance: f64,
    blocks: VecDeque<f64>,
    sum: u64,
    n: u32,
    block_from: Option<u64>,
}

impl Stillness {
    /// A watcher that calls a control still while block means stay within `tolerance` codes.
    pub fn new(tolerance: f64) -> Self {
        Self {
            tolerance,
            blocks: VecDeque::with_capacity(BLOCKS),
            sum: 0,
            n: 0,
            block_from: None,
        }
    }

    pub fn push(&mut self, t_us: u64, code: Code) {
        let from = *self.block_from.get_or_insert(t_us);
        if t_us.saturating_sub(from) >= BLOCK_US && self.n > 0 {
            if self.blocks.len() == BLOCKS {
                self.blocks.pop_front();
            }
            #[allow(clippy::cast_precision_loss)] // at most 24 bits times a block's samples
            self.blocks.push_back(self.sum as f64 / f64::from(self.n));
            (self.sum, self.n) = (0, 0);
            self.block_from = Some(t_us);
        }
        self.sum += u64::from(code.0);
        self.n += 1;
    }

    /// The level the control stands still at, in codes; `None` while it moves or before 0.3 s.
    pub fn level(&self) -> Option<f64> {
        if self.blocks.len() < BLOCKS {
            return None;
        }
        let (low, high) = self
            .blocks
            .iter()
            .fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(*x), h.max(*x)));
        #[allow(clippy::cast_precision_loss)] // 15
        let mean = self.blocks.iter().sum::<f64>() / BLOCKS as f64;
        (high - low <= self.tolerance).then_some(mean)
    }

    /// The last block's mean: where the control is now, 20 ms late at most.
    pub fn now(&self) -> Option<f64> {
        self.blocks.back().copied()
    }

    /// Forgets the window: after a gap in the stream.
    pub fn forget(&mut self) {
        self.blocks.clear();
        (self.sum, self.n) = (0, 0);
        self.block_from = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fed(tolerance: f64, code: impl Fn(u64) -> u32, ms: u64) -> Stillness {
        let mut watch = Stillness::new(tolerance);
        for t in 0..ms {
            watch.push(t * 1000, Code(code(t)));
        }
        watch
    }

    #[test]
    fn a_constant_code_is_still_from_a_third_of_a_second_on() {
        assert_eq!(fed(4.0, |_| 164, 290).level(), None);
        assert_eq!(fed(4.0, |_| 164, 330).level(), Some(164.0));
    }

    #[test]
    fn a_slow_movement_is_not_still() {
        assert_eq!(
            fed(4.0, |t| 164 + u32::try_from(t).unwrap() / 20, 1000).level(),
            None
        );
    }

    #[test]
    fn noise_and_a_spike_do_not_count_as_movement() {
        let noisy =
            |t: u64| 164 + u32::try_from(t * 7 % 5).unwrap() + if t == 700 { 60 } else { 0 };
        assert!(fed(4.0, noisy, 1000).level().is_some());
    }
}
