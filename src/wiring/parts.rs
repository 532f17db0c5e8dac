//! What a wired control is made of, and what can break: wires, resistors, single faults.

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
        }
    }
}

impl Serialize for Fault {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}
