//! A control as plain values: its channels, its spring, how it returns.

use super::defects::{Bursts, Lift, Loose, PlacedDropout, Wear};
use super::network::{Network, Sensor};
use measure::units::{Role, Track};

/// How the output follows the wiper, before the network: both ends are kept.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Curve {
    /// In a straight line.
    #[default]
    Straight,
    /// Bowed: y = x + 4 b x (1 - x), so that the middle lies b above the line through both ends. In percent.
    Bow(f64),
    /// Straight between these (travel, output) points, in order of travel, both 0 ..= 1.
    Points(Vec<(f64, f64)>),
}

impl Curve {
    /// Output 0 ..= 1 of a wiper at `x`.
    pub(super) fn output(&self, x: f64) -> f64 {
        match self {
            Self::Straight => x,
            Self::Bow(pct) => x + 0.04 * pct * x * (1.0 - x),
            Self::Points(points) => between(points, x),
        }
    }
}

fn between(points: &[(f64, f64)], x: f64) -> f64 {
    let upper = points
        .partition_point(|p| p.0 <= x)
        .clamp(1, points.len().max(2) - 1);
    match (points.get(upper - 1), points.get(upper)) {
        (Some(a), Some(b)) => a.1 + (x - a.0) / (b.0 - a.0) * (b.1 - a.1),
        (Some(only), None) => only.1,
        _ => x,
    }
}

/// How a channel follows the supply.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ratiometry {
    /// In proportion, but for an error: signal / supply changes by `error` % for each % of the supply. 0 is perfect.
    Follows {
        /// In % per %.
        error: f64,
    },
    /// Not at all: the voltage stays that of the nominal supply.
    Independent,
}

/// One channel of a control.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelModel {
    /// Name, as the stream's header has it.
    pub name: String,
    /// What it carries.
    pub role: Role,
    /// Which track.
    pub track: Track,
    /// Sensor and resistors.
    pub network: Network,
    /// How the output follows the wiper.
    pub curve: Curve,
    /// Hysteresis as the largest up/down difference in percent of span. Made by backlash (a play operator) whose ends are
    /// stretched, so that rest and full stay where they were.
    pub hysteresis_pct: f64,
    /// How it follows the supply.
    pub ratiometry: Ratiometry,
    /// Delay behind the control's movement, in milliseconds.
    pub lag_ms: f64,
    /// Noise of the sensor, standard deviation in codes.
    pub noise_rms_code: f64,
    /// Correlation of that noise from one sample to the next, 0 ..< 1. 0 is white.
    pub noise_correlation: f64,
    /// Mains hum: amplitude in codes and frequency in hertz.
    pub hum: Option<(f64, f64)>,
    /// Drift in codes a minute.
    pub drift_per_min: f64,
    /// Worn zones.
    pub wear: Vec<Wear>,
    /// Places where the wiper lifts.
    pub lifts: Vec<Lift>,
    /// A loose connection.
    pub loose: Option<Loose>,
    /// Losses at stated times.
    pub dropouts: Vec<PlacedDropout>,
    /// Interference.
    pub bursts: Option<Bursts>,
}

impl ChannelModel {
    /// A perfect channel on this network.
    #[must_use]
    pub fn new(name: &str, network: Network) -> Self {
        Self {
            name: name.to_owned(),
            role: Role::Signal,
            track: Track::One,
            network,
            curve: Curve::Straight,
            hysteresis_pct: 0.0,
            ratiometry: Ratiometry::Follows { error: 0.0 },
            lag_ms: 0.0,
            noise_rms_code: 0.0,
            noise_correlation: 0.0,
            hum: None,
            drift_per_min: 0.0,
            wear: Vec::new(),
            lifts: Vec::new(),
            loose: None,
            dropouts: Vec::new(),
            bursts: None,
        }
    }

    /// A perfect channel that gives these volts on a 5 V supply, in either direction.
    #[must_use]
    pub fn volts(name: &str, rest_v: f64, full_v: f64) -> Self {
        let sensor = Sensor::Source {
            rest_ratio: rest_v / 5.0,
            full_ratio: full_v / 5.0,
            output_ohm: 0.0,
        };
        Self::new(name, Network::bare(sensor))
    }

    /// The supply itself, through a divider of `ratio`, as a channel of its own.
    #[must_use]
    pub fn supply(name: &str, ratio: f64) -> Self {
        let sensor = Sensor::Source {
            rest_ratio: ratio,
            full_ratio: ratio,
            output_ohm: 0.0,
        };
        Self {
            role: Role::Supply,
            ..Self::new(name, Network::bare(sensor))
        }
    }

    /// Sets the track.
    #[must_use]
    pub fn track(mut self, track: Track) -> Self {
        self.track = track;
        self
    }

    /// Sets the noise: standard deviation in codes.
    #[must_use]
    pub fn noise(mut self, rms_code: f64) -> Self {
        self.noise_rms_code = rms_code;
        self
    }

    /// Sets the bow: how far the middle lies above the line through both ends, in percent of span.
    #[must_use]
    pub fn bow(mut self, pct: f64) -> Self {
        self.curve = Curve::Bow(pct);
        self
    }

    /// Sets the hysteresis in percent of span.
    #[must_use]
    pub fn hysteresis(mut self, pct: f64) -> Self {
        self.hysteresis_pct = pct;
        self
    }

    /// Adds a worn zone.
    #[must_use]
    pub fn worn(mut self, wear: Wear) -> Self {
        self.wear.push(wear);
        self
    }

    /// Adds a place where the wiper lifts.
    #[must_use]
    pub fn lifting(mut self, lift: Lift) -> Self {
        self.lifts.push(lift);
        self
    }

    /// Adds a loss of signal at a stated time.
    #[must_use]
    pub fn dropout(mut self, dropout: PlacedDropout) -> Self {
        self.dropouts.push(dropout);
        self
    }
}

/// The return spring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spring {
    /// Time constant of the return in seconds; 90 % to 10 % takes ln 9 = 2.197 of it.
    pub tau_s: f64,
    /// Height of the first bounce off the rest stop, as travel.
    pub bounce: f64,
}

impl Default for Spring {
    /// 60 ms and no bounce.
    fn default() -> Self {
        Self {
            tau_s: 0.06,
            bounce: 0.0,
        }
    }
}

/// Where the control stops when it comes back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Returning {
    /// Normal, in travel: mean and standard deviation.
    Travel {
        /// How far from the rest stop on average.
        mean: f64,
        /// Standard deviation from one return to the next.
        sd: f64,
    },
    /// Normal about the rest stop, with this standard deviation in codes of the first channel.
    Codes(f64),
}

impl Default for Returning {
    /// Exactly at the rest stop.
    fn default() -> Self {
        Self::Travel { mean: 0.0, sd: 0.0 }
    }
}

/// A control: what one moves and what it gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Control {
    /// Channels, in the order in which the board prints them.
    pub channels: Vec<ChannelModel>,
    /// Supply in millivolts.
    pub supply_mv: f64,
    /// The return spring.
    pub spring: Spring,
    /// Where it stops when it comes back.
    pub returning: Returning,
    /// Which unit this is: fixes the surface of its tracks, whatever the seed of a recording.
    pub serial: u64,
}

impl Control {
    /// A control with these channels on 5 V that returns exactly.
    #[must_use]
    pub fn new(channels: Vec<ChannelModel>) -> Self {
        Self {
            channels,
            supply_mv: 5000.0,
            spring: Spring::default(),
            returning: Returning::default(),
            serial: 1,
        }
    }

    /// A hall pedal with two tracks on 5 V: 0.8 to 4.2 V, and half of that. Common practice, no source.
    #[must_use]
    pub fn hall_pedal(noise_rms_code: f64) -> Self {
        Self::new(vec![
            ChannelModel::volts("pedal_a", 0.8, 4.2).noise(noise_rms_code),
            ChannelModel::volts("pedal_b", 0.4, 2.1)
                .noise(noise_rms_code)
                .track(Track::Two),
        ])
    }

    /// A lever on a 20 kOhm three-wire potentiometer with 1.5 kOhm at each end and a pull-down of 100 kOhm.
    #[must_use]
    pub fn lever(noise_rms_code: f64) -> Self {
        let sensor = Sensor::Potentiometer {
            track_ohm: 20_000.0,
            low_end_ohm: 1_500.0,
            high_end_ohm: 1_500.0,
            rest_at: 0.04,
            full_at: 0.96,
        };
        let network = Network {
            pull_down_ohm: Some(100_000.0),
            ..Network::bare(sensor)
        };
        Self::new(vec![
            ChannelModel::new("lever", network).noise(noise_rms_code),
        ])
    }

    /// A dial with a 10 kOhm track wired as a rheostat with a pull-up of 4.7 kOhm.
    #[must_use]
    pub fn dial(noise_rms_code: f64) -> Self {
        let sensor = Sensor::Rheostat {
            track_ohm: 10_000.0,
            end_ohm: 150.0,
            rest_at: 0.0,
            full_at: 1.0,
        };
        let network = Network {
            pull_up_ohm: Some(4_700.0),
            ..Network::bare(sensor)
        };
        Self::new(vec![
            ChannelModel::new("dial", network).noise(noise_rms_code),
        ])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bow_keeps_both_ends_and_lifts_the_middle() {
        let curve = Curve::Bow(2.0);
        for (x, y) in [(0.0, 0.0), (0.5, 0.52), (1.0, 1.0)] {
            assert!((curve.output(x) - y).abs() < 1e-12);
        }
    }

    #[test]
    fn points_are_joined_by_straight_lines() {
        let curve = Curve::Points(vec![(0.0, 0.0), (0.5, 0.6), (1.0, 1.0)]);
        for (x, y) in [
            (0.0, 0.0),
            (0.25, 0.3),
            (0.5, 0.6),
            (0.75, 0.8),
            (1.0, 1.0),
            (1.25, 1.2),
        ] {
            assert!((curve.output(x) - y).abs() < 1e-12, "at {x}");
        }
        // Too few points to join: the one there is, and none means straight.
        assert!((Curve::Points(vec![(0.3, 0.7)]).output(0.9) - 0.7).abs() < 1e-12);
        assert!((Curve::Points(Vec::new()).output(0.9) - 0.9).abs() < 1e-12);
    }
}
