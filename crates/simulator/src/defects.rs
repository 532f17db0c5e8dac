//! What can be wrong with a channel, as plain values: wear, lifts, dropouts, a loose plug, interference.

use super::chance::{Chance, Purpose};

/// The rail that a signal is pulled to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rail {
    /// Towards code 0.
    Ground,
    /// Towards the supply.
    Supply,
}

/// How a signal leaves its place for a while.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drop {
    /// How long, in milliseconds.
    pub duration_ms: f64,
    /// How far, in percent of the channel's span; held at the rail. Use [`Drop::TO_THE_RAIL`] for all the way.
    pub depth_pct: f64,
    /// Where to.
    pub rail: Rail,
}

impl Drop {
    /// A depth that reaches the rail from anywhere.
    pub const TO_THE_RAIL: f64 = f64::INFINITY;

    /// All the way to the rail.
    #[must_use]
    pub fn to_the(rail: Rail, duration_ms: f64) -> Self {
        Self {
            duration_ms,
            depth_pct: Self::TO_THE_RAIL,
            rail,
        }
    }
}

/// A worn zone of the track: more noise at the same travel, stroke after stroke.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wear {
    /// Where it begins, as travel 0 ..= 1.
    pub from: f64,
    /// Where it ends, as travel 0 ..= 1.
    pub to: f64,
    /// Noise added inside the zone, standard deviation in codes.
    pub rms_code: f64,
    /// Share of that variance, 0 ..= 1, that is a fixed pattern of the track's surface: the same bump at the same travel
    /// each time. The rest is new with each sample.
    pub pattern_share: f64,
}

impl Wear {
    /// A zone whose noise is `times` (>= 1) that of the rest of the track, which is `base_rms_code`.
    ///
    /// Independent noises add as squares: added = base sqrt(times^2 - 1).
    #[must_use]
    pub fn times(from: f64, to: f64, times: f64, base_rms_code: f64) -> Self {
        Self {
            from,
            to,
            rms_code: base_rms_code * (times * times - 1.0).max(0.0).sqrt(),
            pattern_share: 0.5,
        }
    }
}

/// A place where the wiper lifts off its track now and then.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lift {
    /// Middle of the place, as travel 0 ..= 1.
    pub travel: f64,
    /// Width of the place, as travel.
    pub width: f64,
    /// How likely a lift is each time the wiper enters the place, 0 ..= 1.
    pub probability: f64,
    /// What the signal does meanwhile.
    pub drop: Drop,
}

/// A loose plug or wire: the signal is lost now and then while the cable is shaken, and only then.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loose {
    /// Losses a second of shaking.
    pub rate_per_s: f64,
    /// What the signal does meanwhile.
    pub drop: Drop,
}

/// A loss of signal at a stated time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedDropout {
    /// When it begins, seconds from the first sample.
    pub at_s: f64,
    /// What the signal does.
    pub drop: Drop,
}

impl PlacedDropout {
    /// So many losses between two times, in order, scattered at random but never closer than a fifth of their share of
    /// the time.
    #[must_use]
    pub fn scattered(count: u32, from_s: f64, to_s: f64, drop: Drop, seed: u64) -> Vec<Self> {
        let mut chance = Chance::new(seed, Purpose::Placing);
        let share = (to_s - from_s) / f64::from(count.max(1));
        let place = |slot: u32| Self {
            at_s: from_s + share * (f64::from(slot) + 0.8 * chance.even()),
            drop,
        };
        (0..count).map(place).collect()
    }
}

/// Interference: bursts of noise at any time, wherever the control stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bursts {
    /// Bursts a second.
    pub rate_per_s: f64,
    /// How long each lasts, in milliseconds.
    pub duration_ms: f64,
    /// Noise added meanwhile, standard deviation in codes.
    pub rms_code: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn independent_noises_add_as_squares() {
        // By hand: 0.6 and 0.8 make 1.0, which is 1/0.6 times the base.
        let wear = Wear::times(0.2, 0.3, 1.0 / 0.6, 0.6);
        assert!((wear.rms_code - 0.8).abs() < 1e-12);
        assert!(Wear::times(0.2, 0.3, 0.5, 0.6).rms_code.abs() < 1e-12);
    }
}
