//! Whether a control stands still, and where: block means over a short window of board time.
//!
//! Used to recognise movements only; every figure is computed from the raw codes by `measure`.

use measure::units::Code;
use std::collections::VecDeque;

/// Length of one block. Two periods of 50 Hz would be better against hum, but a hand is felt within 0.1 s.
const BLOCK_US: u64 = 20_000;
/// Blocks that must agree before a control counts as still: 0.3 s.
const BLOCKS: usize = 15;

/// A noisy control stands still, too: block means may spread by so many standard deviations of the samples in a block.
/// Of white noise they spread by one at 1 kHz; of noise that is correlated by up to three. A movement spreads them by
/// 50 times what it makes the samples of one block spread.
const NOISES: f64 = 2.5;

/// Watches one channel.
#[derive(Debug, Clone)]
pub struct Stillness {
    /// Largest spread of block means, in codes, that still counts as standing still.
    tolerance: f64,
    /// Mean and standard deviation of each, without what is far from its middle.
    blocks: VecDeque<(f64, f64)>,
    block: Vec<f64>,
    block_from: Option<u64>,
    level: Option<f64>,
}

impl Stillness {
    /// A watcher that calls a control still while block means stay within `tolerance` codes, or within its noise.
    pub fn new(tolerance: f64) -> Self {
        Self {
            tolerance,
            blocks: VecDeque::with_capacity(BLOCKS),
            block: Vec::new(),
            block_from: None,
            level: None,
        }
    }

    /// Takes a sample in; whether a block has come to its end.
    pub fn push(&mut self, t_us: u64, code: Code) -> bool {
        let from = *self.block_from.get_or_insert(t_us);
        let ended = t_us.saturating_sub(from) >= BLOCK_US && !self.block.is_empty();
        if ended {
            if self.blocks.len() == BLOCKS {
                self.blocks.pop_front();
            }
            let block = middle_and_spread(&mut self.block);
            self.blocks.push_back(block);
            self.block.clear();
            self.block_from = Some(t_us);
            self.level = self.level_of_blocks();
        }
        self.block.push(code.as_f64());
        ended
    }

    fn level_of_blocks(&self) -> Option<f64> {
        if self.blocks.len() < BLOCKS {
            return None;
        }
        let means = || self.blocks.iter().map(|(mean, _)| *mean);
        let (low, high) = means().fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(x), h.max(x)));
        let mut noises: Vec<f64> = self.blocks.iter().map(|(_, sd)| *sd).collect();
        noises.sort_by(f64::total_cmp);
        let tolerance = self.tolerance.max(NOISES * noises[BLOCKS / 2]);
        #[allow(clippy::cast_precision_loss)] // 15
        let mean = means().sum::<f64>() / BLOCKS as f64;
        (high - low <= tolerance).then_some(mean)
    }

    /// The level the control stands still at, in codes; `None` while it moves or before 0.3 s.
    pub fn level(&self) -> Option<f64> {
        self.level
    }

    /// The last block's mean: where the control is now, 20 ms late at most.
    pub fn now(&self) -> Option<f64> {
        self.blocks.back().map(|(mean, _)| *mean)
    }

    /// Forgets the window: after a gap in the stream.
    pub fn forget(&mut self) {
        *self = Self::new(self.tolerance);
    }
}

/// Mean and standard deviation of a block without what is far from its middle: a contact that is lost for some milliseconds is no
/// movement, and neither is a spike.
#[allow(clippy::cast_precision_loss)] // samples of 20 ms
fn middle_and_spread(block: &mut [f64]) -> (f64, f64) {
    let n = block.len();
    block.sort_unstable_by(f64::total_cmp);
    // The quarter at either end may be such a loss; a movement spreads the rest as well.
    let cut = if n > 4 { n / 4 } else { 0 };
    let (low, high) = (block[cut], block[n - 1 - cut]);
    let reach = 3.0 * (high - low) + 4.0;
    let kept = || {
        block
            .iter()
            .filter(|x| (low - reach..=high + reach).contains(*x))
    };
    let count = kept().count() as f64;
    let mean = kept().sum::<f64>() / count;
    let squares = kept().map(|x| (x - mean).powi(2)).sum::<f64>();
    (mean, (squares / count).sqrt())
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

    /// Two to four samples a block, which fall by two codes again and again.
    #[test]
    fn a_slow_board_stands_still_in_its_noise() {
        for rate_hz in [100, 120, 150, 180, 200] {
            let mut watch = Stillness::new(4.0);
            for k in 0..rate_hz {
                watch.push(
                    k * 1_000_000 / rate_hz,
                    Code([166, 164, 163, 165][k as usize % 4]),
                );
            }
            let level = watch.level().unwrap();
            assert!((level - 164.5).abs() < 1.0, "{rate_hz}/s: {level}");
        }
    }

    #[test]
    fn a_slow_movement_is_not_still() {
        assert_eq!(
            fed(4.0, |t| 164 + u32::try_from(t).unwrap() / 20, 1000).level(),
            None
        );
    }

    /// Twelve codes of noise are noise, not a movement; half as much movement in one direction is one.
    #[test]
    fn what_is_noisy_stands_still_and_what_moves_does_not() {
        let loud = |t: u64| 500 + u32::try_from(t * 7919 % 43).unwrap();
        assert!(fed(8.0, loud, 1000).level().is_some());
        let moved = |t: u64| loud(t) + u32::try_from(t / 5).unwrap();
        assert_eq!(fed(8.0, moved, 1000).level(), None);
    }

    /// Four milliseconds without contact, every second.
    #[test]
    fn a_contact_that_is_lost_for_a_moment_is_no_movement() {
        let lost = |t: u64| if t % 1000 < 4 { 0 } else { 164 };
        let watch = fed(4.0, lost, 2030);
        assert!((watch.level().unwrap() - 164.0).abs() < 1e-9);
    }

    #[test]
    fn noise_and_a_spike_do_not_count_as_movement() {
        let noisy =
            |t: u64| 164 + u32::try_from(t * 7 % 5).unwrap() + if t == 700 { 60 } else { 0 };
        assert!(fed(4.0, noisy, 1000).level().is_some());
    }
}
