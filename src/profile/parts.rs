//! A built-in profile with other parts: the limits on its ends go with them.

use super::Profile;
use crate::wiring::search::moved_limits;
use crate::wiring::valid::EndLimits;
use crate::wiring::{Hookup, Network, Wiring};
use measure::figure::FigureName;
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
}

#[derive(Debug, Clone, PartialEq, Error)]
pub enum PartsError {
    #[error("\"{profile}\" has no {part}: its control is a {network}")]
    NoPart {
        profile: String,
        part: &'static str,
        network: &'static str,
    },
    #[error("\"{0}\" says of no track how it is wired, so there is nothing to change")]
    NoWiring(String),
    #[error("with these parts it cannot be wired: {0}")]
    Impossible(String),
}

impl OtherParts {
    /// What is other, in words; empty when nothing is.
    pub fn words(&self) -> String {
        let ohm = |what: &str, ohm: Option<f64>| ohm.map(|ohm| format!("{what} {ohm} ohm"));
        let pct = self.track_tolerance_pct;
        let all = [
            ohm("track", self.track_ohm),
            pct.map(|pct| format!("track tolerance {pct} %")),
            ohm("end resistor", self.end_low_ohm),
            ohm("pull-up", self.pull_up_ohm),
            ohm("pull-down", self.pull_down_ohm),
        ];
        all.into_iter().flatten().collect::<Vec<_>>().join(", ")
    }

    fn applied(&self, profile: &str, mut wiring: Wiring) -> Result<Wiring, PartsError> {
        let network = wiring.network.word();
        let no = |part| PartsError::NoPart {
            profile: profile.to_owned(),
            part,
            network,
        };
        match &mut wiring.network {
            Network::ThreeWire { track, .. } | Network::Rheostat { track, .. } => {
                track.ohm = self.track_ohm.unwrap_or(track.ohm);
                track.tolerance_pct = self.track_tolerance_pct.or(track.tolerance_pct);
                track.end_low_ohm = self.end_low_ohm.or(track.end_low_ohm);
            }
            Network::Buffered { .. } => {
                let own = [self.track_ohm, self.track_tolerance_pct, self.end_low_ohm];
                if own.iter().any(Option::is_some) {
                    return Err(no("track"));
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

impl Profile {
    /// The same kind of control with other parts, under another name: every limit on an end of travel moves as its reading does.
    pub fn with_parts(&self, parts: &OtherParts, name: &str) -> Result<Self, PartsError> {
        let mut changes = Vec::new();
        for (track, part) in &self.tracks {
            let Some(before) = part.wiring else { continue };
            let impossible = |e: &dyn std::fmt::Display| PartsError::Impossible(e.to_string());
            let wiring = parts.applied(&self.name, before)?;
            let hookup =
                |wiring| Hookup::new(wiring, self.supply_mv, ANY_BITS).map_err(|e| impossible(&e));
            let limits = [FigureName::RestRatio, FigureName::FullRatio].map(|end| {
                let limit = part.limits.get(&end);
                limit.map_or_else(EndLimits::default, |limit| EndLimits {
                    min: limit.min(),
                    max: limit.max(),
                })
            });
            let moved = moved_limits(&hookup(before)?, &hookup(wiring)?, limits);
            let moved = moved.ok_or_else(|| impossible(&"a good control would have no reading"))?;
            changes.push((*track, wiring, moved));
        }
        if changes.is_empty() {
            return Err(PartsError::NoWiring(self.name.clone()));
        }
        let mut profile = if parts == &OtherParts::default() {
            self.clone()
        } else {
            self.with_wiring(&changes)
        };
        let words = parts.words();
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

    #[test]
    fn nothing_other_is_the_same_profile_by_another_name() {
        let dial = profile::find("dial-rheostat").unwrap();
        let same = dial.with_parts(&OtherParts::default(), "ours").unwrap();
        assert_eq!((same.name.as_str(), same.tracks), ("ours", dial.tracks));
    }
}
