//! Chance from a seed: `SplitMix64` (Steele, Lea, Flood 2014, from memory) and Box-Muller; nothing of it from the product.

pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x5DEE_CE66_D1CE_4E5B)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// 0 ..< 1.
    pub fn even(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.even()
    }

    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.even()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.even()).cos()
    }

    pub fn happens(&mut self, probability: f64) -> bool {
        self.even() < probability
    }

    pub fn one_of<T: Copy>(&mut self, of: &[T]) -> T {
        of[(self.even() * of.len() as f64) as usize]
    }

    /// Off nominal by at most so many percent.
    pub fn off(&mut self, pct: f64) -> f64 {
        1.0 + self.between(-pct, pct) / 100.0
    }
}
