//! Seeded chance: independent streams of one seed, so that a defect added to one channel leaves all else as it was.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// What a stream of chance is for: one number a purpose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// What the hand does.
    Hand,
    /// What happens to printed lines.
    Lines,
    /// Where dropouts are placed.
    Placing,
    /// The noise of a channel.
    Noise(usize),
    /// The events of a channel.
    Events(usize),
    /// The surface of a channel's track.
    Surface(usize),
}

impl Purpose {
    fn stream(self) -> u64 {
        let (kind, channel) = match self {
            Self::Hand => (0, 0),
            Self::Lines => (1, 0),
            Self::Placing => (5, 0),
            Self::Noise(channel) => (2, channel),
            Self::Events(channel) => (3, channel),
            Self::Surface(channel) => (4, channel),
        };
        kind + 8 * channel as u64
    }
}

/// A seeded source of random numbers.
#[derive(Debug, Clone)]
pub struct Chance {
    rng: ChaCha8Rng,
}

impl Chance {
    /// A stream of its own for one purpose of one seed.
    #[must_use]
    pub fn new(seed: u64, purpose: Purpose) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(purpose.stream());
        Self { rng }
    }

    /// Even over 0 ..< 1.
    #[allow(clippy::cast_precision_loss)] // 53 bits fit a double
    pub fn even(&mut self) -> f64 {
        (self.rng.next_u64() >> 11) as f64 * (1.0 / 9_007_199_254_740_992.0)
    }

    /// Normal with mean 0 and standard deviation 1.
    pub fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.rng)
    }

    /// True with this probability.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.even() < probability
    }

    /// A whole number below `bound` (> 0).
    #[allow(clippy::cast_possible_truncation)] // the remainder is below `bound`
    pub fn below(&mut self, bound: usize) -> usize {
        (self.rng.next_u64() % bound as u64) as usize
    }

    /// Waiting time in seconds for the next of events that come at `rate_per_s` without memory.
    pub fn wait_s(&mut self, rate_per_s: f64) -> f64 {
        -libm::log1p(-self.even()) / rate_per_s
    }
}
