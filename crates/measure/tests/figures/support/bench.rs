//! What several integration tests share: seeded noise and a control that is held, pressed and let go.
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // test data, small numbers

use measure::units::{Code, Passage, Role, Scale, Step, Track};
use measure::{BoardFacts, Channel, Measured, Recording, figures};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Gaussian noise of unit variance, first-order autoregressive with `phi` (0: white).
pub struct Noise {
    rng: ChaCha8Rng,
    phi: f64,
    last: f64,
}

impl Noise {
    pub fn new(seed: u64, phi: f64) -> Self {
        let mut noise = Self {
            rng: ChaCha8Rng::seed_from_u64(seed),
            phi,
            last: 0.0,
        };
        noise.last = noise.white();
        noise
    }

    /// The next independent value.
    pub fn white(&mut self) -> f64 {
        StandardNormal.sample(&mut self.rng)
    }

    /// The next value of the series.
    pub fn next(&mut self) -> f64 {
        let fresh = self.white();
        self.last = self.phi * self.last + (1.0 - self.phi * self.phi).sqrt() * fresh;
        self.last
    }
}

/// A capture under construction: one signal channel, 1 kHz unless said otherwise.
pub struct Bench {
    pub codes: Vec<Code>,
    pub passages: Vec<Passage>,
    pub others: Vec<(&'static str, Role, Vec<Code>)>,
    pub bits: u32,
    pub rate_hz: f64,
    /// How far stamps are off the moments at which samples were taken, standard deviation.
    pub jitter_us: f64,
}

impl Bench {
    pub fn new(bits: u32) -> Self {
        Self {
            codes: Vec::new(),
            passages: Vec::new(),
            others: Vec::new(),
            bits,
            rate_hz: 1000.0,
            jitter_us: 0.0,
        }
    }

    /// One sample: rounded and held on the scale, as an ideal ADC does.
    pub fn push(&mut self, level: f64) {
        let code = self.code(level);
        self.codes.push(code);
    }

    fn code(&self, level: f64) -> Code {
        let top = f64::from((1_u32 << self.bits) - 1);
        Code(level.round().clamp(0.0, top) as u32)
    }

    /// Another channel beside the first, one level a sample.
    pub fn add(&mut self, name: &'static str, role: Role, levels: &[f64]) {
        let codes = levels.iter().map(|level| self.code(*level)).collect();
        self.others.push((name, role, codes));
    }

    /// A passage with what `fill` pushes.
    pub fn passage(&mut self, step: Step, fill: impl FnOnce(&mut Self)) {
        let start = self.codes.len();
        fill(self);
        let range = start..self.codes.len();
        if !range.is_empty() {
            self.passages.push(Passage { step, range });
        }
    }

    pub fn measure(&self) -> Measured {
        let period = 1e6 / self.rate_hz;
        let seed = self.codes.iter().map(|code| u64::from(code.0)).sum();
        let mut off = Noise::new(seed, 0.0);
        let mut t_us: Vec<u64> = (0..self.codes.len())
            .map(|i| (i as f64 * period + 5000.0 + self.jitter_us * off.white()) as u64)
            .collect();
        t_us.sort_unstable();
        let board = BoardFacts::new(Scale::new(self.bits, 5000.0).unwrap(), self.rate_hz);
        let mut recording = Recording::new(board, &t_us, &self.passages);
        let first = Channel::signal("pedal", Track::One, &self.codes);
        let others = self.others.iter().map(|(name, role, codes)| Channel {
            role: *role,
            ..Channel::signal(name, Track::Two, codes)
        });
        recording.channels = std::iter::once(first).chain(others).collect();
        figures(&recording)
    }
}
