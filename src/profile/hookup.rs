//! From a profile to what the `wiring` room looks at.

use super::{Kind, Profile};
use crate::wiring::pull_up::{BareRheostat, bare_rheostat};
use crate::wiring::valid::EndLimits;
use crate::wiring::{ControlWiring, Network, TrackWiring};
use measure::figure::FigureName;
use measure::units::Track;
use std::collections::BTreeMap;

/// References that differ by more are not taken for one, as a share: what supplies and meters of a workshop differ by anyway.
pub const SAME_REFERENCE: f64 = 0.02;

/// Fractions of the reference beyond which a reading of a track is a fault; absent where no threshold has room.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FaultEdges {
    /// Below it.
    pub low: Option<f64>,
    /// Above it.
    pub high: Option<f64>,
}

impl Profile {
    /// The wiring of the tracks that state one, as a board of so many `bits` reads them.
    pub fn control_wiring(&self, bits: u32) -> ControlWiring {
        let tracks = self.tracks.iter().filter_map(|(track, part)| {
            let limits = |name| {
                part.limits
                    .get(&name)
                    .map_or_else(EndLimits::default, |limit| EndLimits {
                        min: limit.min(),
                        max: limit.max(),
                    })
            };
            part.wiring.map(|wiring| TrackWiring {
                track: *track,
                wiring,
                rest: limits(FigureName::RestRatio),
                full: limits(FigureName::FullRatio),
            })
        });
        ControlWiring {
            name: self.name.clone(),
            supply_mv: self.supply_mv,
            bits,
            zero: self.zero_command_at,
            tracks: tracks.collect(),
            stop_within_ms: self.stop_within_ms,
            released: match self.kind {
                Kind::Pedal => "With the pedal let go",
                Kind::Lever => "With the lever let go",
                Kind::Dial => "With the dial at zero",
            },
        }
    }

    /// The thresholds of every track that states its wiring, as a board of so many `bits` applies them; empty when the wiring
    /// cannot be looked at (the `wiring` command says why).
    pub fn fault_edges(&self, bits: u32) -> BTreeMap<Track, FaultEdges> {
        let Ok(windows) = self.control_wiring(bits).windows() else {
            return BTreeMap::new();
        };
        let edges = |windows: crate::wiring::windows::Windows| FaultEdges {
            low: windows.low.map(|edge| edge.ratio),
            high: windows.high.map(|edge| edge.ratio),
        };
        windows
            .into_iter()
            .map(|(track, windows)| (track, edges(windows)))
            .collect()
    }

    /// The reference in mV that the wiring of a track is for, where it states one and the board's is another: by more than 2 %.
    pub fn other_reference_mv(&self, track: Track, board_mv: f64) -> Option<f64> {
        let wiring = self.tracks.get(&track)?.wiring.as_ref()?;
        let stated = wiring.reference?.mv;
        ((board_mv / stated - 1.0).abs() > SAME_REFERENCE).then_some(stated)
    }

    /// Whether the control rests against a stop: not one whose wiring says that it moves the other way, too.
    pub fn rests_at_a_stop(&self) -> bool {
        let mut wirings = self.tracks.values().filter_map(|part| part.wiring);
        wirings.all(|wiring| wiring.back_at.is_none())
    }

    /// Millivolts across the whole element of a potentiometer: the supply's, less what its fixed end resistors take. `None` of a
    /// track that is none, or whose wiper is divided at the board.
    pub fn applied_mv(&self, track: Track) -> Option<f64> {
        let wiring = self.tracks.get(&track)?.wiring.as_ref()?;
        let Network::ThreeWire {
            track,
            end_high_ohm,
            ..
        } = wiring.network
        else {
            return None;
        };
        let ends = track.end_low_ohm.unwrap_or(0.0) + end_high_ohm.unwrap_or(0.0);
        let applied = self.supply_mv * track.ohm / (track.ohm + ends);
        (wiring.divider.is_none() && applied.is_finite()).then_some(applied)
    }

    /// The tracks that are rheostats under nothing but a pull-up.
    pub fn rheostats(&self) -> impl Iterator<Item = (Track, BareRheostat)> {
        self.tracks
            .iter()
            .filter_map(|(track, part)| Some((*track, bare_rheostat(part.wiring.as_ref()?)?)))
    }
}
