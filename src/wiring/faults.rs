//! Every single fault of a wiring: what it reads, whether a window catches it, which way it errs.

use super::network::{Network, Wiring};
use super::parts::{Fault, Resistor, Wire};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize, Serializer};
use std::fmt;

/// Where the control commands zero: the end that must be seen before the board starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[schemars(rename = "StartRule")]
pub enum ZeroEnd {
    /// At the rest end.
    Rest,
    /// At the full end.
    Full,
}

impl ZeroEnd {
    /// The command at a travel, both 0 to 1.
    pub fn command(self, travel: f64) -> f64 {
        match self {
            Self::Rest => travel,
            Self::Full => 1.0 - travel,
        }
    }

    /// The word as profiles write it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Rest => "rest",
            Self::Full => "full",
        }
    }
}

/// What becomes of a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Class {
    /// Reads outside the valid range at every travel.
    Caught,
    /// Reads outside at some travels only.
    CaughtInPart,
    /// Reads inside the valid range at every travel where it matters.
    Hidden,
    /// Leaves the pin to itself: reads anything, at times something valid.
    Floats,
    /// Reads true all the same; only a second fault will show it.
    ReadsTrue,
    /// Takes the supply down, which is also the reference: the supply's own protection must act.
    SupplyDown,
}

impl fmt::Display for Class {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Caught => "caught",
            Self::CaughtInPart => "caught only at",
            Self::Hidden => "hidden",
            Self::Floats => "floats",
            Self::ReadsTrue => "reads true",
            Self::SupplyDown => "supply down",
        })
    }
}

impl Serialize for Class {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// Which way a fault errs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// Never more command than asked.
    Safe,
    /// At some travel more command than asked, or anything at all.
    Unsafe,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FaultPoint {
    pub travel_pct: f64,
    /// Nominal reading as a fraction of the reference; `None` where there is none.
    pub ratio: Option<f64>,
    pub code: Option<u32>,
    /// The command that the board takes it for, in percent, nominal.
    pub command_pct: Option<f64>,
}

/// One fault and what becomes of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FaultRow {
    pub fault: Fault,
    pub class: Class,
    /// Which way it errs; `None` when it gives no reading or a true one.
    pub direction: Option<Direction>,
    pub caught_at_pct: Vec<[f64; 2]>,
    /// Lowest and highest command in percent that it is taken for where it is not caught.
    pub reads_as_pct: Option<[f64; 2]>,
    /// Lowest and highest of that command less the one asked, in percent: below 0 too little, above 0 too much.
    pub error_pct: Option<[f64; 2]>,
    /// Lowest and highest reading over travel and tolerance, fractions of the reference.
    pub ratio_range: Option<[f64; 2]>,
    /// Readings over travel, nominal.
    pub points: Vec<FaultPoint>,
    /// Travels in percent at which the other track, compared, shows what the window does not; `None` with one track.
    pub pair_shows_at_pct: Option<Vec<[f64; 2]>>,
}

impl FaultRow {
    /// Whether a board with windows alone may run on with this fault and a wrong command.
    pub fn missed(&self) -> bool {
        matches!(
            self.class,
            Class::Hidden | Class::Floats | Class::CaughtInPart
        )
    }
}

/// Every single fault that a wiring can have, in the order of the table.
pub fn list(wiring: &Wiring) -> Vec<Fault> {
    let (supply, signal, ground) = (Wire::Supply, Wire::Signal, Wire::Ground);
    let network = &wiring.network;
    let has_supply = !matches!(network, Network::Rheostat { .. });
    let mut faults = Vec::new();
    if has_supply {
        faults.push(Fault::Open(supply));
    }
    faults.extend([Fault::Open(signal), Fault::Open(ground)]);
    if network.sensor().is_some_and(|of| of.draw_ohm.is_some()) {
        faults.push(Fault::GroundOpenLeaking);
    }
    faults.extend([Fault::Short(supply, signal), Fault::Short(signal, ground)]);
    if has_supply {
        faults.push(Fault::Short(supply, ground));
    }
    if network.track().is_some() {
        faults.extend([0.25, 0.5, 0.75].map(|travel| Fault::TrackOpen(wiring.position(travel))));
    }
    for part in Resistor::BREAKABLE {
        if wiring.ohm(part).is_some() {
            faults.extend([Fault::PartOpen(part), Fault::PartShort(part)]);
        }
    }
    faults
}

/// Travel in percent without the last digits of binary fractions: 55, not 55.00000000000001.
pub(super) fn percent(travel: f64) -> f64 {
    (travel * 1e4).round() / 100.0
}

/// Travels at which faults are tried: every 5 %.
const STEPS: u32 = 20;

/// The travels at which faults are tried, 0 to 1.
pub(super) fn travels() -> impl Iterator<Item = f64> {
    (0..=STEPS).map(|k| f64::from(k) / f64::from(STEPS))
}

/// Runs of neighbouring travels that are marked, as `[from, to]` in percent.
pub(super) fn runs(marks: impl Iterator<Item = (f64, bool)>) -> Vec<[f64; 2]> {
    let mut runs: Vec<[f64; 2]> = Vec::new();
    let mut open = false;
    for (travel, marked) in marks {
        let pct = percent(travel);
        match runs.last_mut() {
            Some(run) if marked && open => run[1] = pct,
            _ if marked => runs.push([pct, pct]),
            _ => {}
        }
        open = marked;
    }
    runs
}
