//! How one track of a control is wired to the board, by the network of the control.

use super::parts::Resistor;

/// A bare resistive track with its fixed end resistor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ResistiveTrack {
    pub ohm: f64,
    /// Its own tolerance, in percent; `None`: that of every resistor.
    pub tolerance_pct: Option<f64>,
    /// Fixed resistor between the track's ground end and the ground wire.
    pub end_low_ohm: Option<f64>,
}

/// A sensor with its own output stage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensor {
    pub output_ohm: f64,
    /// Output at position 0, as a fraction of its supply.
    pub low_ratio: Option<f64>,
    /// Output at position 1, as a fraction of its supply.
    pub high_ratio: Option<f64>,
    /// Spread of both between units, in percent of the supply.
    pub ratio_tolerance_pct: Option<f64>,
    /// What it draws, as a resistance from supply to ground.
    pub draw_ohm: Option<f64>,
}

impl Sensor {
    /// Output at both ends of its own travel, as fractions of its supply.
    ///
    /// Default 0.1 and 0.9: common practice, no source.
    pub fn drive_ends(&self) -> (f64, f64) {
        (
            self.low_ratio.unwrap_or(0.1),
            self.high_ratio.unwrap_or(0.9),
        )
    }
}

/// The shape of the circuit, with what only that shape has.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Network {
    /// A potentiometer between supply and ground, its wiper is the signal.
    ThreeWire {
        track: ResistiveTrack,
        /// Fixed resistor between the track's supply end and the supply wire.
        end_high_ohm: Option<f64>,
        pull_up_ohm: Option<f64>,
    },
    /// A sensor with its own output stage (hall), behind an output resistance.
    Buffered {
        sensor: Sensor,
        pull_up_ohm: Option<f64>,
    },
    /// A variable resistor to ground with a pull-up at the board.
    Rheostat {
        track: ResistiveTrack,
        pull_up_ohm: f64,
    },
}

impl Network {
    pub fn word(&self) -> &'static str {
        match self {
            Self::ThreeWire { .. } => "three-wire",
            Self::Buffered { .. } => "buffered",
            Self::Rheostat { .. } => "rheostat",
        }
    }

    /// The track; a sensor has none.
    pub fn track(&self) -> Option<&ResistiveTrack> {
        match self {
            Self::ThreeWire { track, .. } | Self::Rheostat { track, .. } => Some(track),
            Self::Buffered { .. } => None,
        }
    }

    pub fn sensor(&self) -> Option<&Sensor> {
        match self {
            Self::Buffered { sensor, .. } => Some(sensor),
            Self::ThreeWire { .. } | Self::Rheostat { .. } => None,
        }
    }

    pub(super) fn sensor_mut(&mut self) -> Option<&mut Sensor> {
        match self {
            Self::Buffered { sensor, .. } => Some(sensor),
            Self::ThreeWire { .. } | Self::Rheostat { .. } => None,
        }
    }

    /// The pull-up, other than that of a rheostat only if there is one.
    pub fn pull_up_ohm(&self) -> Option<f64> {
        match self {
            Self::ThreeWire { pull_up_ohm, .. } | Self::Buffered { pull_up_ohm, .. } => {
                *pull_up_ohm
            }
            Self::Rheostat { pull_up_ohm, .. } => Some(*pull_up_ohm),
        }
    }

    /// The same with another pull-up; `None` takes it away, but from a rheostat, which cannot do without.
    #[must_use]
    pub fn with_pull_up(mut self, ohm: Option<f64>) -> Self {
        match &mut self {
            Self::ThreeWire { pull_up_ohm, .. } | Self::Buffered { pull_up_ohm, .. } => {
                *pull_up_ohm = ohm;
            }
            Self::Rheostat { pull_up_ohm, .. } => *pull_up_ohm = ohm.unwrap_or(*pull_up_ohm),
        }
        self
    }
}

/// An input divider at the board.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Divider {
    /// Towards the signal wire.
    pub top_ohm: f64,
    pub bottom_ohm: f64,
}

impl Divider {
    /// Unloaded output over input.
    pub fn ratio(&self) -> f64 {
        self.bottom_ohm / (self.top_ohm + self.bottom_ohm)
    }
}

/// How far the supply may be off the reference when the profile does not say that they are one, in percent: 4.75 to 5.25 V of 5 V, as a
/// USB port may give (USB 2.0, 7.2.2).
pub const UNSTATED_SUPPLY_PCT: f64 = 5.0;

/// An ADC reference that is not the control's supply.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reference {
    pub mv: f64,
    pub supply_tolerance_pct: Option<f64>,
}

/// One track's wiring, from the control to the pin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wiring {
    /// The control's network, with its pull-up at the board.
    pub network: Network,
    /// Resistor from signal to ground at the board.
    pub pull_down_ohm: Option<f64>,
    pub divider: Option<Divider>,
    /// Resistor between the signal wire (and its pulls) and the ADC pin.
    pub series_ohm: Option<f64>,
    /// Input resistance of the ADC pin to ground.
    pub load_ohm: Option<f64>,
    pub tolerance_pct: Option<f64>,
    /// The ADC's reference, when it is not the control's supply.
    pub reference: Option<Reference>,
    /// Whether the profile says that the supply is the reference. When it says neither, the supply may be off by
    /// 5 %.
    pub supply_is_reference: bool,
    /// Where on the track (0: ground end, 1: far end) the control stands at rest. Default 0.
    pub rest_at: Option<f64>,
    /// Where it stands fully operated. Default 1; below `rest_at` for a falling signal.
    pub full_at: Option<f64>,
    /// Where a control that also moves the other way ends. Default: it does not.
    pub back_at: Option<f64>,
}

impl Wiring {
    /// Where on the track the control stands at rest, 0 to 1 from the ground end.
    pub fn rest_position(&self) -> f64 {
        self.rest_at.unwrap_or(0.0)
    }

    /// Where on the track the control stands fully operated.
    pub fn full_position(&self) -> f64 {
        self.full_at.unwrap_or(1.0)
    }

    /// Where on the track it stands at a travel (0 rest, 1 full).
    pub fn position(&self, travel: f64) -> f64 {
        let (from, to) = (self.rest_position(), self.full_position());
        from + (to - from) * travel
    }

    /// Least and most resistance of a track with its low end resistor over the control's travel, in ohms.
    pub(super) fn resistance_range(&self, track: &ResistiveTrack) -> (f64, f64) {
        let end = track.end_low_ohm.unwrap_or(0.0);
        let (rest, full) = (self.rest_position(), self.full_position());
        (
            end + track.ohm * rest.min(full),
            end + track.ohm * rest.max(full),
        )
    }

    /// A resistor's value; `None` where the wiring has no such resistor.
    pub fn ohm(&self, part: Resistor) -> Option<f64> {
        let mut copy = *self;
        copy.ohm_mut(part).copied()
    }

    /// The same, to change.
    pub(super) fn ohm_mut(&mut self, part: Resistor) -> Option<&mut f64> {
        use Network::{Buffered, Rheostat, ThreeWire};
        match (part, &mut self.network) {
            (Resistor::Track, ThreeWire { track, .. } | Rheostat { track, .. }) => {
                Some(&mut track.ohm)
            }
            (Resistor::EndLow, ThreeWire { track, .. } | Rheostat { track, .. }) => {
                track.end_low_ohm.as_mut()
            }
            (Resistor::EndHigh, ThreeWire { end_high_ohm, .. }) => end_high_ohm.as_mut(),
            (Resistor::Output, Buffered { sensor, .. }) => Some(&mut sensor.output_ohm),
            (Resistor::PullUp, ThreeWire { pull_up_ohm, .. } | Buffered { pull_up_ohm, .. }) => {
                pull_up_ohm.as_mut()
            }
            (Resistor::PullUp, Rheostat { pull_up_ohm, .. }) => Some(pull_up_ohm),
            (Resistor::PullDown, _) => self.pull_down_ohm.as_mut(),
            (Resistor::DividerTop, _) => self.divider.as_mut().map(|of| &mut of.top_ohm),
            (Resistor::DividerBottom, _) => self.divider.as_mut().map(|of| &mut of.bottom_ohm),
            (Resistor::Series, _) => self.series_ohm.as_mut(),
            (Resistor::Track | Resistor::EndLow | Resistor::EndHigh | Resistor::Output, _) => None,
        }
    }

    /// Tolerance of a supply that is not known to be the reference, in percent.
    pub fn supply_tolerance_pct(&self) -> Option<f64> {
        match self.reference {
            Some(reference) => reference.supply_tolerance_pct,
            None => (!self.supply_is_reference).then_some(UNSTATED_SUPPLY_PCT),
        }
    }

    /// Whether something draws current from the wiper or output.
    pub(super) fn is_loaded(&self) -> bool {
        self.network.pull_up_ohm().is_some()
            || self.pull_down_ohm.is_some()
            || self.divider.is_some()
            || self.load_ohm.is_some()
    }
}
