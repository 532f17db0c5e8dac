//! The nominal reading over travel and its inverse: what the board takes a reading for.

/// The nominal reading at evenly spaced travels from 0 to 1, as fractions of the reference: monotone.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve(Vec<f64>);

impl Curve {
    /// The curve of a reading, which must be there at every travel.
    pub(super) fn of(reading: impl Fn(f64) -> Option<f64>) -> Self {
        let travels = (0..=Self::STEPS).map(|k| f64::from(k) / f64::from(Self::STEPS));
        Self(travels.filter_map(reading).collect())
    }

    /// Pieces of the curve: 1 % of travel each, straight in between.
    const STEPS: u32 = 100;

    /// Reading at full minus reading at rest.
    pub fn span(&self) -> f64 {
        match (self.0.first(), self.0.last()) {
            (Some(rest), Some(full)) => full - rest,
            _ => 0.0,
        }
    }

    /// The reading at a travel, 0 to 1; `None` outside.
    pub fn at(&self, travel: f64) -> Option<f64> {
        if !(0.0..=1.0).contains(&travel) {
            return None;
        }
        let exact = travel * f64::from(Self::STEPS);
        let whole = exact.floor();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 to STEPS
        let k = whole as usize;
        let here = *self.0.get(k)?;
        let next = self.0.get(k + 1).copied().unwrap_or(here);
        Some(here + (next - here) * (exact - whole))
    }

    /// The travel at which a good control reads `ratio`, held inside 0 ..= 1: what the board takes a reading for.
    #[allow(clippy::cast_precision_loss)] // a few hundred points
    pub fn travel_of(&self, ratio: f64) -> f64 {
        let sign = self.span().signum();
        let pieces = self.0.len().saturating_sub(1).max(1) as f64;
        let target = ratio * sign;
        for (k, pair) in self.0.windows(2).enumerate() {
            let (a, b) = (pair[0] * sign, pair[1] * sign);
            if target <= b {
                let part = if b > a { (target - a) / (b - a) } else { 0.0 };
                return ((k as f64 + part.max(0.0)) / pieces).clamp(0.0, 1.0);
            }
        }
        1.0
    }
}
