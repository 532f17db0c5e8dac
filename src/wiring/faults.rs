//! Every single fault of a wiring: what it reads, whether a window catches it, which way it errs.

use super::network::{Network, Wiring};
use super::parts::{Fault, Over, Resistor, Wire};
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

    /// The travel that commands zero, 0 or 1.
    pub fn travel(self) -> f64 {
        match self {
            Self::Rest => 0.0,
            Self::Full => 1.0,
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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// Never more command than asked.
    Safe,
    /// At some travel more command than asked, or anything at all.
    Unsafe,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct FaultPoint {
    pub travel_pct: f64,
    /// Nominal reading as a fraction of the reference; `None` where there is none.
    pub ratio: Option<f64>,
    pub code: Option<u32>,
    /// The command that the board takes it for, in percent, nominal.
    pub command_pct: Option<f64>,
}

/// One fault and what becomes of it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FaultRow {
    #[schemars(with = "String")]
    pub fault: Fault,
    #[schemars(with = "String")]
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
    /// The highest command in percent that it is taken for, however bad, while the control stands at its zero end and nothing
    /// notices; `None` when it is always noticed there.
    pub at_zero_pct: Option<f64>,
    /// How bad it must be, in ohms or volts, to command more than [`SMALL_PCT`] too much without being noticed; `None` when it never
    /// does, and for a fault that either is or is not.
    pub dangerous_from: Option<f64>,
    /// Of its readings that are caught, the nearest to the valid range below it and above, over travel and tolerance.
    #[serde(skip)]
    pub nearest: [Option<f64>; 2],
}

/// Departure from the command asked, in percent, that an unnoticed fault may have to be called small.
///
/// Common practice, no source: about what the tolerance of a track already does.
pub const SMALL_PCT: f64 = 5.0;

impl FaultRow {
    /// Whether it commands more than `pct` while the control stands at its zero end, unnoticed.
    pub fn drives_at_zero(&self, pct: f64) -> bool {
        self.at_zero_pct.is_some_and(|at_zero| at_zero > pct)
    }

    /// Whether a board with windows alone may run on with this fault and a wrong command.
    pub fn missed(&self) -> bool {
        matches!(
            self.class,
            Class::Hidden | Class::Floats | Class::CaughtInPart
        )
    }
}

/// How many single faults do what: less is better, in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Tally {
    /// Drive the motor with the control at its zero end, unnoticed.
    pub drive: usize,
    /// Are missed at some travel, and err to more command than asked.
    pub unsafe_ones: usize,
    /// Are missed at some travel.
    pub missed: usize,
}

impl Tally {
    pub fn of(rows: &[FaultRow]) -> Self {
        let missed = || rows.iter().filter(|row| row.missed());
        Self {
            drive: rows
                .iter()
                .filter(|row| row.drives_at_zero(SMALL_PCT))
                .count(),
            unsafe_ones: missed()
                .filter(|row| row.direction != Some(Direction::Safe))
                .count(),
            missed: missed().count(),
        }
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
    faults.push(Fault::Open(signal));
    if network.sensor().is_some_and(|of| of.draw_ohm.is_some()) {
        faults.push(Fault::GroundOpenLeaking);
    }
    faults.push(Fault::Open(ground));
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
    faults.extend(by_degrees(network));
    faults.extend(misconnections(wiring));
    faults
}

/// What gets bad bit by bit, each here at its mildest.
fn by_degrees(network: &Network) -> Vec<Fault> {
    let (supply, signal, ground) = (Wire::Supply, Wire::Signal, Wire::Ground);
    let joint = |wire| Fault::Joint(wire, 1.0);
    let mut faults = match network {
        Network::ThreeWire { .. } => vec![joint(supply), joint(ground), Fault::Contact(1.0)],
        Network::Buffered { .. } => vec![joint(supply), joint(signal), joint(ground)],
        // One loop: a joint in either wire is the same as a contact.
        Network::Rheostat { .. } => vec![Fault::Contact(1.0)],
    };
    faults.extend([
        Fault::GroundLift(0.01),
        Fault::GroundLift(-0.01),
        Fault::Damp(supply, signal, 1e6),
        Fault::Damp(signal, ground, 1e6),
        Fault::InputLeak(1e7),
    ]);
    faults
}

/// Wires and plugs in the wrong place, and a dead sensor that is fed by its signal wire. The two wires of a rheostat may be changed
/// over: nothing changes.
fn misconnections(wiring: &Wiring) -> Vec<Fault> {
    let (supply, signal, ground) = (Wire::Supply, Wire::Signal, Wire::Ground);
    let mut faults = Vec::new();
    if wiring.network.sensor().is_some() && wiring.network.pull_up_ohm().is_some() {
        faults.push(Fault::FedBack);
    }
    if !matches!(wiring.network, Network::Rheostat { .. }) {
        faults.extend([
            Fault::Exchanged(supply, ground),
            Fault::Exchanged(signal, supply),
            Fault::Exchanged(signal, ground),
            Fault::OnePinOver(Over::ToSupply),
            Fault::OnePinOver(Over::ToGround),
        ]);
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
        // Rounded inwards: what is said of a run holds up to its ends. Plus zero, for -0 rounds to -0.
        let from = (travel * 1e4 - 1e-6).ceil() / 100.0 + 0.0;
        let to = (travel * 1e4 + 1e-6).floor() / 100.0;
        match runs.last_mut() {
            Some(run) if marked && open => run[1] = to.max(run[0]),
            _ if marked => runs.push([from, from]),
            _ => {}
        }
        open = marked;
    }
    runs
}
