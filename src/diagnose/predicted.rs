//! What a track should read at both ends: when it is good, and with each single fault of its wiring.

use super::types::ActsTowards;
use crate::profile::{Profile, TrackPart};
use crate::wiring::faults::{ZeroEnd, list};
use crate::wiring::{Fault, Hookup, Network, Wire, corners};
use measure::figure::FigureName;
use measure::units::Track;

/// Least standard deviation of a reading about what is predicted, as a fraction of the reference: six codes of ten bits, for
/// the offset of a cheap board and the resistance of a plug. Common practice, no source.
const LEAST_SD: f64 = 0.006;

/// Readings of good parts that spread over more than this are spread by their parts' tolerances, not by a linkage.
const STATED: f64 = 0.02;

/// A reading that is predicted, as a fraction of the reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Band {
    pub nominal: f64,
    /// Half of what tolerances and limits leave on either side: they are taken to hold 95 % of all parts.
    pub sd: f64,
}

impl Band {
    fn between(low: f64, high: f64, nominal: Option<f64>) -> Self {
        let middle = f64::midpoint(low, high);
        Self {
            nominal: nominal
                .filter(|x| (low..=high).contains(x))
                .unwrap_or(middle),
            sd: ((high - low) / 4.0).max(LEAST_SD),
        }
    }

    /// Squared distance in standard deviations.
    pub fn misfit(self, ratio: f64) -> f64 {
        ((ratio - self.nominal) / self.sd).powi(2)
    }

    /// What becomes of it where every reading becomes another, as a growing function says; its width is that of all that it held.
    pub fn mapped(self, to: impl Fn(f64) -> f64) -> Self {
        let side = |by: f64| to((self.nominal + by * self.sd).clamp(0.0, 1.0));
        // Lopsided where the nominal reading is an end of it.
        let reach = if self.nominal - 2.0 * self.sd < 0.0 {
            4.0
        } else {
            2.0
        };
        Self {
            nominal: to(self.nominal),
            sd: ((side(reach) - side(reach - 4.0)) / 4.0).max(LEAST_SD),
        }
    }

    /// The same with another middle, its width with it.
    pub fn moved_to(self, nominal: f64) -> Self {
        Self {
            nominal: nominal.clamp(0.0, 1.0),
            ..self
        }
    }
}

/// What is predicted at rest and fully operated; `None` where nothing is.
pub(super) type Ends = [Option<Band>; 2];

/// One track's wiring and limits, ready to predict.
#[derive(Debug, Clone)]
pub(super) struct TrackModel {
    pub track: Track,
    pub good: Ends,
    zero: ZeroEnd,
    hookup: Option<Hookup>,
    corners: Vec<Hookup>,
}

/// What a fault makes of both ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Faulty {
    Reads([Band; 2]),
    /// Nothing holds the pin.
    Floats,
}

impl TrackModel {
    /// The tracks of a profile, in order.
    pub fn all(profile: &Profile, bits: u32) -> Vec<Self> {
        let control = profile.control_wiring(bits);
        let tracks = profile.tracks.iter().map(|(track, part)| {
            let wired = control.track(*track);
            let hookup = wired.and_then(|wired| control.hookup(wired).ok());
            Self::new(*track, part, hookup, profile.zero_command_at)
        });
        tracks.collect()
    }

    #[allow(clippy::large_types_passed_by_value)] // once a track
    fn new(track: Track, part: &TrackPart, hookup: Option<Hookup>, zero: ZeroEnd) -> Self {
        let corners = hookup.map_or_else(Vec::new, |hookup| corners(&hookup));
        let end = |travel: f64, name: FigureName| {
            let limit = part.limits.get(&name);
            let [min, max] = [limit.and_then(|l| l.min()), limit.and_then(|l| l.max())];
            let read = |hookup: &Hookup| hookup.pin(travel, None).ratio();
            let spread = spread(hookup.iter().chain(&corners).map(read));
            // Parts that state their spread tell best; limits stand in where the linkage decides.
            let stated = spread.filter(|(low, high)| high - low > STATED);
            let (min, max) = stated.map_or((min, max), |(low, high)| (Some(low), Some(high)));
            let low = [min, spread.map(|(low, _)| low)];
            let high = [max, spread.map(|(_, high)| high)];
            let low = low.into_iter().flatten().reduce(f64::min)?;
            let high = high.into_iter().flatten().reduce(f64::max)?;
            Some(Band::between(low, high, hookup.as_ref().and_then(read)))
        };
        Self {
            track,
            good: [
                end(0.0, FigureName::RestRatio),
                end(1.0, FigureName::FullRatio),
            ],
            zero,
            hookup,
            corners,
        }
    }

    /// Every wire and part of the wiring that can be broken or bridged.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = self
            .hookup
            .map_or_else(Vec::new, |hookup| list(hookup.wiring()));
        faults.retain(|fault| fault.places_thresholds());
        faults
    }

    /// Both ends with a fault; `None` where it takes the supply down, or nothing is known of the wiring.
    pub fn with(&self, fault: Fault) -> Option<Faulty> {
        let end = |travel: f64| {
            let pins = self.hookup.iter().chain(&self.corners);
            spread(pins.map(|hookup| hookup.pin(travel, Some(fault)).ratio()))
        };
        let nominal = |travel: f64| self.hookup?.pin(travel, Some(fault)).ratio();
        match (end(0.0), end(1.0)) {
            (Some(rest), Some(full)) => Some(Faulty::Reads([
                Band::between(rest.0, rest.1, nominal(0.0)),
                Band::between(full.0, full.1, nominal(1.0)),
            ])),
            _ => self.floats(fault).then_some(Faulty::Floats),
        }
    }

    fn floats(&self, fault: Fault) -> bool {
        self.hookup
            .is_some_and(|hookup| hookup.pin(0.0, Some(fault)) == crate::wiring::Pin::Floats)
    }

    /// Both ends of a control that moves the wrong way round: a potentiometer with its outer wires changed over, a sensor or a
    /// rheostat that is driven from the other side.
    pub fn reversed(&self) -> Ends {
        let Some(hookup) = self.hookup else {
            return [self.good[1], self.good[0]];
        };
        if hookup.wiring().network.sensor().is_some() {
            return [self.good[1], self.good[0]];
        }
        let end = |travel: f64, good: Option<Band>| {
            let position = 1.0 - hookup.wiring().position(travel);
            let read = |hookup: &Hookup| hookup.pin_at(position, None).ratio();
            let (low, high) = spread([hookup].iter().chain(&self.corners).map(read))?;
            let band = Band::between(low, high, read(&hookup));
            Some(Band {
                sd: band.sd.max(good.map_or(0.0, |good| good.sd)),
                ..band
            })
        };
        [end(0.0, self.good[0]), end(1.0, self.good[1])]
    }

    /// The command that the board takes a reading for, 0 to 1, by a straight line through both good ends.
    pub fn command(&self, ratio: f64) -> Option<f64> {
        let [rest, full] = self.good;
        let (rest, full) = (rest?.nominal, full?.nominal);
        let travel = (ratio - rest) / (full - rest);
        travel
            .is_finite()
            .then(|| self.zero.command(travel.clamp(0.0, 1.0)))
    }

    /// Which way a reading at the lower or the upper rail moves the command.
    pub fn towards(&self, rail: f64) -> ActsTowards {
        match self.command(rail) {
            Some(command) if command > 0.5 => ActsTowards::Full,
            Some(_) => ActsTowards::Zero,
            None => ActsTowards::Either,
        }
    }

    /// Which way the command goes when the contact is lost: the reading with the signal wire open.
    pub fn contact_lost(&self) -> ActsTowards {
        self.fault_acts(Fault::Open(Wire::Signal))
    }

    /// Which way a fault moves the command, by its readings at both ends.
    pub fn fault_acts(&self, fault: Fault) -> ActsTowards {
        let Some(Faulty::Reads(ends)) = self.with(fault) else {
            return ActsTowards::Either;
        };
        let commands = ends.map(|band| self.command(band.nominal));
        match commands {
            [Some(rest), Some(full)] => {
                let asked = [self.zero.command(0.0), self.zero.command(1.0)];
                let more = rest > asked[0] + SMALL || full > asked[1] + SMALL;
                let less = rest < asked[0] - SMALL || full < asked[1] - SMALL;
                match (more, less) {
                    (true, false) => ActsTowards::Full,
                    (false, true) => ActsTowards::Zero,
                    (true, true) => ActsTowards::Either,
                    (false, false) => ActsTowards::None,
                }
            }
            _ => ActsTowards::Either,
        }
    }

    /// Whether this is a sensor with an output of its own, whose supply wires must never be changed over.
    pub fn is_sensor(&self) -> bool {
        self.hookup
            .is_some_and(|hookup| hookup.wiring().network.sensor().is_some())
    }

    /// Whether it is a potentiometer on two wires.
    pub fn is_rheostat(&self) -> bool {
        self.hookup
            .is_some_and(|hookup| matches!(hookup.wiring().network, Network::Rheostat { .. }))
    }
}

/// A command this far from the one asked is another command.
const SMALL: f64 = 0.02;

/// Lowest and highest of readings, if there are any and every one of them is one.
fn spread(readings: impl Iterator<Item = Option<f64>>) -> Option<(f64, f64)> {
    readings
        .collect::<Option<Vec<f64>>>()?
        .into_iter()
        .map(|x| (x, x))
        .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile;

    fn models(name: &str) -> Vec<TrackModel> {
        TrackModel::all(&profile::find(name).unwrap(), 10)
    }

    fn near(band: Option<Band>, want: f64) -> bool {
        (band.unwrap().nominal - want).abs() < 0.01
    }

    /// By hand: 0.8 and 4.2 V of 5 V; nothing drives a line that 100 kohm pull down.
    #[test]
    fn a_hall_pedal_reads_its_ends_and_zero_with_a_broken_wire() {
        let pedal = &models("pedal-hall-two-track");
        assert!(near(pedal[0].good[0], 0.16) && near(pedal[0].good[1], 0.84));
        assert!(near(pedal[1].good[0], 0.08) && near(pedal[1].good[1], 0.42));
        let Some(Faulty::Reads([rest, full])) = pedal[0].with(Fault::Open(Wire::Signal)) else {
            panic!("held by its pull-down");
        };
        assert!(rest.nominal.abs() < 1e-6 && full.nominal.abs() < 1e-6);
        assert_eq!(pedal[0].contact_lost(), ActsTowards::Zero);
        assert_eq!(pedal[0].reversed()[0], pedal[0].good[1]);
    }

    /// By hand: with the wire open the pull-up alone is left: all of the supply, full speed on a dial that reads low at rest.
    #[test]
    fn a_dial_that_loses_contact_asks_for_full_speed() {
        let dial = &models("dial-rheostat")[0];
        assert_eq!(dial.contact_lost(), ActsTowards::Full);
        let Some(Faulty::Reads([rest, _])) = dial.with(Fault::Open(Wire::Signal)) else {
            panic!("held by its pull-up");
        };
        assert!((rest.nominal - 1.0).abs() < 1e-9);
        assert_eq!(dial.towards(0.0), ActsTowards::Zero);
    }

    /// By hand: no resistor holds that pin.
    #[test]
    fn a_bare_pedal_floats() {
        let pedal = &models("pedal-three-wire")[0];
        assert_eq!(pedal.with(Fault::Open(Wire::Signal)), Some(Faulty::Floats));
        assert_eq!(pedal.contact_lost(), ActsTowards::Either);
    }

    /// By hand: 1.5 k + 0.96 x 20 k of 23 k at rest, less what 100 k take: 0.865.
    #[test]
    fn a_lever_with_its_outer_wires_changed_over_starts_at_its_top() {
        let lever = &models("lever-shunting")[0];
        let [rest, full] = lever.reversed();
        assert!(near(rest, 0.885) && near(full, 0.10), "{rest:?} {full:?}");
    }
}
