//! A built-in profile with other parts: the limits on its ends go with them.

use super::Profile;
use crate::wiring::search::moved_limits;
use crate::wiring::valid::EndLimits;
use crate::wiring::{Hookup, Network, Wiring};
use measure::figure::FigureName;
use measure::figure::numbers::fixed;
use thiserror::Error;

/// Readings do not depend on the resolution.
const ANY_BITS: u32 = 10;

/// Parts that are other than a profile says; `None`: as it says.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct OtherParts {
    pub track_ohm: Option<f64>,
    /// Tolerance of the track, percent.
    pub track_tolerance_pct: Option<f64>,
    /// Fixed resistor between the track's ground end and the ground wire.
    pub end_low_ohm: Option<f64>,
    pub pull_up_ohm: Option<f64>,
    pub pull_down_ohm: Option<f64>,
    /// What the first track of a sensor gives let go, millivolts; its other track goes with it.
    pub rest_mv: Option<f64>,
    /// The same fully operated.
    pub full_mv: Option<f64>,
}

/// What a profile says of its first track's parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StatedParts {
    /// Whether it is a resistive track; else a sensor with its own output.
    pub has_track: bool,
    /// Whether there can be a pull-up that it does not do without.
    pub has_pull_up: bool,
    /// As they stand there.
    pub parts: OtherParts,
}

#[derive(Debug, Clone, PartialEq, Error)]
pub enum PartsError {
    #[error("\"{0}\" is a sensor and has no track")]
    NoTrack(String),
    #[error("\"{0}\" is a track and gives no volts of its own")]
    NoSensor(String),
    #[error("\"{0}\" says of no track how it is wired, so there is nothing to change")]
    NoWiring(String),
    #[error(
        "{rest} mV let go and {full} mV pressed: let go must be {side} pressed. Are the two changed over?"
    )]
    ChangedOver {
        rest: String,
        full: String,
        /// `below`, or `above` of a control whose reading falls.
        side: &'static str,
    },
    #[error("with these parts it cannot be wired: {0}")]
    Impossible(String),
}

impl OtherParts {
    /// What is other, in words; empty when nothing is.
    pub fn describe(&self) -> String {
        let ohm = |what: &str, ohm: Option<f64>| ohm.map(|ohm| format!("{what} {ohm} ohm"));
        let pct = self.track_tolerance_pct;
        let all = [
            ohm("track", self.track_ohm),
            pct.map(|pct| format!("track tolerance {pct} %")),
            ohm("end resistor", self.end_low_ohm),
            ohm("pull-up", self.pull_up_ohm),
            ohm("pull-down", self.pull_down_ohm),
            self.rest_mv.map(|mv| format!("{} V let go", mv / 1000.0)),
            self.full_mv.map(|mv| format!("{} V pressed", mv / 1000.0)),
        ];
        all.into_iter().flatten().collect::<Vec<_>>().join(", ")
    }

    fn applied(
        &self,
        profile: &str,
        mut wiring: Wiring,
        moved: Option<Moved>,
    ) -> Result<Wiring, PartsError> {
        match &mut wiring.network {
            Network::ThreeWire { track, .. } | Network::Rheostat { track, .. } => {
                track.ohm = self.track_ohm.unwrap_or(track.ohm);
                track.tolerance_pct = self.track_tolerance_pct.or(track.tolerance_pct);
                track.end_low_ohm = self.end_low_ohm.or(track.end_low_ohm);
                if self.rest_mv.or(self.full_mv).is_some() {
                    return Err(PartsError::NoSensor(profile.to_owned()));
                }
            }
            Network::Buffered { .. } => {
                let own = [self.track_ohm, self.track_tolerance_pct, self.end_low_ohm];
                if own.iter().any(Option::is_some) {
                    return Err(PartsError::NoTrack(profile.to_owned()));
                }
                if let Some(moved) = moved {
                    moved.apply(&mut wiring)?;
                }
            }
        }
        if self.pull_up_ohm.is_some() {
            wiring.network = wiring.network.with_pull_up(self.pull_up_ohm);
        }
        wiring.pull_down_ohm = self.pull_down_ohm.or(wiring.pull_down_ohm);
        Ok(wiring)
    }
}

/// How the outputs of sensors move: both ends of the first track, as fractions of the supply, before and after. Every other track stays
/// on its straight line to the first, so that two tracks keep to each other.
#[derive(Debug, Clone, Copy)]
struct Moved {
    before: (f64, f64),
    after: (f64, f64),
}

impl Moved {
    /// That they stay the way round that they are.
    fn checked(self, supply_mv: f64) -> Result<Self, PartsError> {
        let mv = |ratio: f64| fixed(ratio * supply_mv, 0);
        let (rest, full) = self.after;
        let falls = self.before.1 < self.before.0;
        if (falls && full < rest) || (!falls && full > rest) {
            return Ok(self);
        }
        Err(PartsError::ChangedOver {
            rest: mv(rest),
            full: mv(full),
            side: if falls { "above" } else { "below" },
        })
    }

    fn apply(self, wiring: &mut Wiring) -> Result<(), PartsError> {
        let Some((rest, full)) = ends(wiring) else {
            return Ok(());
        };
        let slope = (full - rest) / (self.before.1 - self.before.0);
        let end = |before: f64, after: f64, was: f64| was + (after - before) * slope;
        let rest = end(self.before.0, self.after.0, rest);
        let full = end(self.before.1, self.after.1, full);
        let (from, to) = (wiring.rest_position(), wiring.full_position());
        let per_position = (full - rest) / (to - from);
        let at = |position: f64| rest + (position - from) * per_position;
        let (low, high) = (at(0.0), at(1.0));
        let all = [rest, full, low, high];
        if !all.iter().all(|ratio| (0.0..=1.0).contains(ratio)) {
            let words = "its outputs would have to leave 0 V to its supply";
            return Err(PartsError::Impossible(words.to_owned()));
        }
        if let Network::Buffered { sensor, .. } = &mut wiring.network {
            (sensor.low_ratio, sensor.high_ratio) = (Some(low), Some(high));
        }
        Ok(())
    }
}

/// What a sensor gives at rest and fully operated, as fractions of its supply; `None` for a track.
fn ends(wiring: &Wiring) -> Option<(f64, f64)> {
    let (low, high) = wiring.network.sensor()?.drive_ends();
    let at = |position: f64| low + position * (high - low);
    Some((at(wiring.rest_position()), at(wiring.full_position())))
}

impl Profile {
    /// What it says of its first track's parts; `None` where it does not say how that is wired.
    pub fn stated_parts(&self) -> Option<StatedParts> {
        let wiring = self.tracks.values().find_map(|part| part.wiring)?;
        let track = wiring.network.track();
        let mv = ends(&wiring).map(|(rest, full)| (rest * self.supply_mv, full * self.supply_mv));
        Some(StatedParts {
            has_track: track.is_some(),
            has_pull_up: wiring.network.pull_up_ohm().is_some(),
            parts: OtherParts {
                track_ohm: track.map(|track| track.ohm),
                track_tolerance_pct: track.and_then(|track| track.tolerance_pct),
                end_low_ohm: track.and_then(|track| track.end_low_ohm),
                pull_up_ohm: wiring.network.pull_up_ohm(),
                pull_down_ohm: wiring.pull_down_ohm,
                rest_mv: mv.map(|(rest, _)| rest),
                full_mv: mv.map(|(_, full)| full),
            },
        })
    }

    /// How the outputs move with these parts, if they do.
    fn moved(&self, parts: &OtherParts) -> Option<Moved> {
        parts.rest_mv.or(parts.full_mv)?;
        let before = self.tracks.values().find_map(|part| ends(&part.wiring?))?;
        let ratio = |mv: Option<f64>, was: f64| mv.map_or(was, |mv| mv / self.supply_mv);
        let after = (
            ratio(parts.rest_mv, before.0),
            ratio(parts.full_mv, before.1),
        );
        Some(Moved { before, after })
    }

    /// The same kind of control with other parts, under another name: every limit on an end of travel moves as its reading does.
    pub fn with_parts(&self, parts: &OtherParts, name: &str) -> Result<Self, PartsError> {
        let mut changes = Vec::new();
        for (track, part) in &self.tracks {
            let Some(before) = part.wiring else { continue };
            let impossible = |e: &dyn std::fmt::Display| PartsError::Impossible(e.to_string());
            let moved = self.moved(parts).map(|moved| moved.checked(self.supply_mv));
            let wiring = parts.applied(&self.name, before, moved.transpose()?)?;
            let hookup =
                |wiring| Hookup::new(wiring, self.supply_mv, ANY_BITS).map_err(|e| impossible(&e));
            let limits = [FigureName::RestRatio, FigureName::FullRatio].map(|end| {
                let limit = part.limits.get(&end);
                limit.map_or_else(EndLimits::default, |limit| EndLimits {
                    min: limit.min(),
                    max: limit.max(),
                })
            });
            let limits = moved_limits(&hookup(before)?, &hookup(wiring)?, limits);
            let limits =
                limits.ok_or_else(|| impossible(&"a good control would have no reading"))?;
            changes.push((*track, wiring, limits));
        }
        if changes.is_empty() {
            return Err(PartsError::NoWiring(self.name.clone()));
        }
        let mut profile = if parts == &OtherParts::default() {
            self.clone()
        } else {
            self.with_wiring(&changes)
        };
        let words = parts.describe();
        if !words.is_empty() {
            let before = self.comment.as_ref();
            let before = before.map_or_else(String::new, |comment| format!(" Before: {comment}"));
            profile.comment = Some(format!("\"{}\" with {words}.{before}", self.name));
        }
        name.clone_into(&mut profile.name);
        Ok(profile)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile;
    use measure::units::Track;

    #[test]
    fn ends_changed_over_are_told_as_they_were_stated() {
        let base = profile::find("pedal-hall-two-track").unwrap();
        let parts = OtherParts {
            rest_mv: Some(4500.0),
            full_mv: Some(500.0),
            ..OtherParts::default()
        };
        assert_eq!(
            base.with_parts(&parts, "x").unwrap_err().to_string(),
            "4500 mV let go and 500 mV pressed: let go must be below pressed. Are the two changed over?"
        );
    }

    /// By hand: 5 k +-20 % over 4.7 k +-5 % at full: 4 k/(4 k + 4.935 k) = 0.4477, 6 k/(6 k + 4.465 k) = 0.5733. The limits lie as far
    /// from 5/9.7 = 0.5155 as they lay from 10/14.7 = 0.6803: 0.61 and 0.74 become 0.4452 and 0.5752.
    #[test]
    fn a_dial_of_half_the_resistance() {
        let base = profile::find("dial-rheostat").unwrap();
        let parts = OtherParts {
            track_ohm: Some(5000.0),
            ..OtherParts::default()
        };
        let dial = base.with_parts(&parts, "our dial").unwrap();
        let full = dial.tracks[&Track::One].limits[&FigureName::FullRatio];
        let (min, max) = (full.min().unwrap(), full.max().unwrap());
        assert!((min - 0.4452).abs() < 1.1e-4 && min <= 0.4477, "{min}");
        assert!((max - 0.5752).abs() < 1.1e-4 && max >= 0.5733, "{max}");
        assert_eq!(dial.name, "our dial");
        assert!(dial.comment.as_ref().unwrap().contains("track 5000 ohm"));
        // What does not depend on the track stays.
        let noise = FigureName::NoiseRestRms;
        let limit = |profile: &Profile| profile.tracks[&Track::One].limits[&noise];
        assert_eq!(limit(&dial), limit(&base));
        assert_eq!(Profile::from_json(&dial.to_json()).unwrap(), dial);
    }

    #[test]
    fn what_a_control_has_not_cannot_be_other() {
        let pedal = profile::find("pedal-hall-two-track").unwrap();
        let parts = OtherParts {
            track_ohm: Some(5000.0),
            ..OtherParts::default()
        };
        let refused = pedal.with_parts(&parts, "x").unwrap_err().to_string();
        assert!(refused.contains("no track"), "{refused}");
        let dial = profile::find("dial-rheostat").unwrap();
        for ohm in [0.0, -1.0, f64::NAN] {
            let parts = OtherParts {
                track_ohm: Some(ohm),
                ..OtherParts::default()
            };
            assert!(dial.with_parts(&parts, "x").is_err(), "{ohm}");
        }
    }

    /// By hand: 0.8 to 4.2 V becomes 0.5 to 4.5 V; a track of half slope 0.25 to 2.25 V, a crossed one 4.5 to 0.5 V. The limits of
    /// the first move by as much: 0.12 to 0.2 by -0.06, 0.8 to 0.88 by +0.06, but for what 100 ohm on 100 kohm take.
    #[test]
    fn a_sensor_of_other_volts_takes_its_second_track_along() {
        let parts = OtherParts {
            rest_mv: Some(500.0),
            full_mv: Some(4500.0),
            ..OtherParts::default()
        };
        let ends_of = |profile: &Profile, track| {
            let (rest, full) = ends(&profile.tracks[&track].wiring.unwrap()).unwrap();
            [rest * 5.0, full * 5.0]
        };
        for (name, second) in [
            ("pedal-hall-two-track", [0.25, 2.25]),
            ("pedal-hall-crossed", [4.5, 0.5]),
        ] {
            let pedal = profile::find(name).unwrap();
            let other = pedal.with_parts(&parts, "other").unwrap();
            for (track, volts) in [(Track::One, [0.5, 4.5]), (Track::Two, second)] {
                let found = ends_of(&other, track);
                for (found, volts) in found.into_iter().zip(volts) {
                    assert!((found - volts).abs() < 1e-9, "{name} {track}: {found}");
                }
            }
            let rest = other.tracks[&Track::One].limits[&FigureName::RestRatio];
            assert!((rest.min().unwrap() - 0.06).abs() < 2e-3, "{rest:?}");
            assert!((rest.max().unwrap() - 0.14).abs() < 2e-3, "{rest:?}");
        }
        let beyond = OtherParts {
            full_mv: Some(5500.0),
            ..OtherParts::default()
        };
        let pedal = profile::find("pedal-hall-two-track").unwrap();
        assert!(pedal.with_parts(&beyond, "x").is_err());
        let dial = profile::find("dial-rheostat").unwrap();
        assert!(dial.with_parts(&parts, "x").is_err());
    }

    #[test]
    fn nothing_other_is_the_same_profile_by_another_name() {
        let dial = profile::find("dial-rheostat").unwrap();
        let same = dial.with_parts(&OtherParts::default(), "ours").unwrap();
        assert_eq!((same.name.as_str(), same.tracks), ("ours", dial.tracks));
    }
}
