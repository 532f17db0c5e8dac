//! What a wired control is made of, and what can break: wires, resistors, single faults.

use schemars::JsonSchema;
use serde::{Serialize, Serializer};
use std::fmt;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Wire {
    /// From the control to the supply.
    Supply,
    /// From the wiper or sensor output to the board.
    Signal,
    /// From the control to ground.
    Ground,
}

/// A resistor of the control or of the board's input.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Resistor {
    /// The track, end to end.
    Track,
    /// A sensor's output resistance.
    Output,
    PullUp,
    PullDown,
    DividerTop,
    /// Input divider, to ground.
    DividerBottom,
    Series,
    /// In the control, at the track's ground end.
    EndLow,
    /// In the control, at the track's supply end.
    EndHigh,
}

/// One thing broken. Exactly one at a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    Open(Wire),
    Short(Wire, Wire),
    /// A resistor broken off.
    PartOpen(Resistor),
    /// A resistor bridged.
    PartShort(Resistor),
    /// The track cracked at a place, 0 to 1 from the ground end.
    TrackOpen(f64),
    /// A sensor's ground broken, and the sensor leaks its supply to the signal.
    GroundOpenLeaking,
    /// A bad joint in a wire: so many ohms in series.
    Joint(Wire, f64),
    /// Poor contact between wiper and track: so many ohms in series with the signal.
    Contact(f64),
    /// Moisture between neighbours: so many ohms.
    Damp(Wire, Wire, f64),
    /// The ADC's input leaks to ground through so many ohms.
    InputLeak(f64),
    /// The control's ground stands so many volts above the board's.
    GroundLift(f64),
    /// Two wires changed over.
    Exchanged(Wire, Wire),
    /// The plug one pin over, in the usual order supply, signal, ground.
    OnePinOver(Over),
    /// A sensor without its supply, fed by the pull-up through the protection diode of its output.
    FedBack,
}

/// Which way a plug sits one pin over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Over {
    /// The control's signal on the board's supply, its ground on the signal input.
    ToSupply,
    /// The control's signal on the board's ground, its supply on the signal input.
    ToGround,
}

/// What the severity of a fault is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum SeverityUnit {
    Ohm,
    Volt,
}

/// How bad a fault can be that comes by degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Severities {
    pub unit: SeverityUnit,
    /// The mildest.
    pub mild: f64,
    /// The worst; below `mild` where less is worse.
    pub severe: f64,
}

impl Fault {
    /// How bad it can be; `None` of what either is or is not.
    ///
    /// Joints and contacts up to what counts as open, moisture 10 kohm to 1 Mohm, a lift up to 1 V: common practice, no source.
    pub fn severities(self) -> Option<Severities> {
        let ohm = |mild, severe| Severities {
            unit: SeverityUnit::Ohm,
            mild,
            severe,
        };
        match self {
            Self::Joint(..) | Self::Contact(_) => Some(ohm(1.0, 1e6)),
            Self::Damp(..) => Some(ohm(1e6, 1e4)),
            Self::InputLeak(_) => Some(ohm(1e7, 1e4)),
            Self::GroundLift(volts) => Some(Severities {
                unit: SeverityUnit::Volt,
                mild: 0.01_f64.copysign(volts),
                severe: 1.0_f64.copysign(volts),
            }),
            _ => None,
        }
    }

    /// The same as bad as `value` says; what does not come by degrees stays as it is.
    #[must_use]
    pub fn as_bad_as(self, value: f64) -> Self {
        match self {
            Self::Joint(wire, _) => Self::Joint(wire, value),
            Self::Contact(_) => Self::Contact(value),
            Self::Damp(a, b, _) => Self::Damp(a, b, value),
            Self::InputLeak(_) => Self::InputLeak(value),
            Self::GroundLift(_) => Self::GroundLift(value),
            other => other,
        }
    }

    /// The same at its mildest: what is one fault, however bad, becomes equal.
    #[must_use]
    pub fn mildest(self) -> Self {
        self.severities().map_or(self, |of| self.as_bad_as(of.mild))
    }

    /// How bad it is.
    pub fn severity(self) -> Option<f64> {
        match self {
            Self::Joint(_, value)
            | Self::Contact(value)
            | Self::Damp(_, _, value)
            | Self::InputLeak(value)
            | Self::GroundLift(value) => Some(value),
            _ => None,
        }
    }

    /// Whether its reading is certain enough for a threshold to be placed by it: a wire or a part that is broken or bridged.
    pub fn places_thresholds(self) -> bool {
        matches!(
            self,
            Self::Open(_)
                | Self::Short(..)
                | Self::PartOpen(_)
                | Self::PartShort(_)
                | Self::TrackOpen(_)
                | Self::GroundOpenLeaking
        )
    }

    /// How a fault that no window shows is found at the bench; `None` of a broken or bridged wire or part.
    pub fn shown_by(self) -> Option<&'static str> {
        match self {
            Self::Joint(Wire::Ground, _) => Some(
                "measure from the control's ground pin to the board's, all connected: more than 20 mV is a bad joint; a second track with its own ground shows it",
            ),
            Self::Joint(Wire::Supply, _) => Some(
                "measure from the board's supply to the control's supply pin, all connected: more than 20 mV is a bad joint; a second track shows it",
            ),
            Self::Joint(Wire::Signal, _) => {
                Some("wiggle the plug while it records (shake): a bad contact comes and goes")
            }
            Self::Contact(_) => {
                Some("strokes show it as noise and dropouts; a second track shows it while it runs")
            }
            Self::Damp(..) => Some(
                "dry and seal the plug; between the wires of a cable that is unplugged at both ends, less than 10 Mohm is moisture",
            ),
            Self::InputLeak(_) => Some("compare the pin with a meter: a leaking input reads lower"),
            Self::GroundLift(_) => Some(
                "run the control's ground to the board alone, shared with nothing that carries the motor's current; a second track with its own ground shows it",
            ),
            Self::Exchanged(..) | Self::OnePinOver(_) => Some(
                "check the plug with a meter before the first power-up; a plug that fits one way only",
            ),
            Self::FedBack => Some("a pull-down in place of the pull-up: then it reads zero"),
            _ => None,
        }
    }

    /// Whether it is made when the control is connected, not while it is used.
    pub fn is_misconnection(self) -> bool {
        matches!(self, Self::Exchanged(..) | Self::OnePinOver(_))
    }
}

impl Resistor {
    /// Every resistor, in the order from the control to the pin in which tolerances are combined.
    pub(super) const ALL: [Self; 9] = [
        Self::Track,
        Self::EndLow,
        Self::EndHigh,
        Self::Output,
        Self::PullUp,
        Self::PullDown,
        Self::DividerTop,
        Self::DividerBottom,
        Self::Series,
    ];

    /// The resistors that can break off or be bridged, in the order of the fault table.
    pub const BREAKABLE: [Self; 7] = [
        Self::PullUp,
        Self::PullDown,
        Self::DividerTop,
        Self::DividerBottom,
        Self::Series,
        Self::EndLow,
        Self::EndHigh,
    ];
}

impl fmt::Display for Wire {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Supply => "supply",
            Self::Signal => "signal",
            Self::Ground => "ground",
        })
    }
}

impl fmt::Display for Resistor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Track => "track",
            Self::Output => "output resistance",
            Self::PullUp => "pull-up",
            Self::PullDown => "pull-down",
            Self::DividerTop => "divider top",
            Self::DividerBottom => "divider bottom",
            Self::Series => "series resistor",
            Self::EndLow => "low end resistor",
            Self::EndHigh => "high end resistor",
        })
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Open(wire) => write!(f, "{wire} wire open"),
            Self::Short(a, b) => write!(f, "{a}-{b} short"),
            Self::PartOpen(part) => write!(f, "{part} open"),
            Self::PartShort(part) => write!(f, "{part} shorted"),
            Self::TrackOpen(at) => write!(f, "track open at {:.0} %", at * 100.0),
            Self::GroundOpenLeaking => f.write_str("ground wire open, leaking"),
            Self::Joint(wire, _) => write!(f, "bad joint in the {wire} wire"),
            Self::Contact(_) => f.write_str("poor contact at the wiper"),
            Self::Damp(a, b, _) => write!(f, "moisture {a}-{b}"),
            Self::InputLeak(_) => f.write_str("ADC input leaks to ground"),
            Self::GroundLift(volts) if *volts < 0.0 => f.write_str("control's ground too low"),
            Self::GroundLift(_) => f.write_str("control's ground lifted"),
            Self::Exchanged(a, b) => write!(f, "{a} and {b} exchanged"),
            Self::OnePinOver(Over::ToSupply) => f.write_str("plug one pin towards supply"),
            Self::OnePinOver(Over::ToGround) => f.write_str("plug one pin towards ground"),
            Self::FedBack => f.write_str("supply wire open, fed back"),
        }
    }
}

impl Serialize for Fault {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}
