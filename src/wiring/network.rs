//! How one track of a control is wired to the board.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// The shape of the circuit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NetworkKind {
    /// A potentiometer between supply and ground, its wiper is the signal.
    ThreeWire,
    /// A sensor with its own output stage (hall), behind an output resistance.
    Buffered,
    /// A variable resistor to ground with a pull-up at the board.
    Rheostat,
}

/// One track's wiring, in ohms. Which members are needed depends on the network: see [`Wiring::check`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wiring {
    /// The shape of the circuit.
    pub network: NetworkKind,
    /// End-to-end resistance of the track.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub track_ohm: Option<f64>,
    /// Output resistance of a buffered sensor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub output_ohm: Option<f64>,
    /// Resistor from signal to supply at the board.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pull_up_ohm: Option<f64>,
    /// Resistor from signal to ground at the board.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pull_down_ohm: Option<f64>,
    /// Resistor between the signal wire (and its pulls) and the ADC pin.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub series_ohm: Option<f64>,
    /// Tolerance of every resistor, in percent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tolerance_pct: Option<f64>,
    /// Input resistance of the ADC pin to ground.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub load_ohm: Option<f64>,
}

/// Why a wiring was refused.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum WiringError {
    /// A resistor that the network cannot do without.
    #[error("a {network} network needs `{member}` in ohms")]
    Missing {
        /// The network's word.
        network: &'static str,
        /// The member missing.
        member: &'static str,
    },
    /// A resistance or tolerance that cannot be.
    #[error("`{member}` is {value}: state a positive number")]
    NotPositive {
        /// The member.
        member: &'static str,
        /// Its value.
        value: f64,
    },
}

impl Wiring {
    /// Checks that every needed resistor is there and every value can be.
    ///
    /// # Errors
    /// The first member that is missing or not positive.
    pub fn check(&self) -> Result<(), WiringError> {
        let needed: (&'static str, &[(&'static str, Option<f64>)]) = match self.network {
            NetworkKind::ThreeWire => ("three-wire", &[("track_ohm", self.track_ohm)]),
            NetworkKind::Buffered => ("buffered", &[("output_ohm", self.output_ohm)]),
            NetworkKind::Rheostat => (
                "rheostat",
                &[
                    ("track_ohm", self.track_ohm),
                    ("pull_up_ohm", self.pull_up_ohm),
                ],
            ),
        };
        if let Some((member, _)) = needed.1.iter().find(|(_, value)| value.is_none()) {
            return Err(WiringError::Missing {
                network: needed.0,
                member,
            });
        }
        let all = [
            ("track_ohm", self.track_ohm),
            ("output_ohm", self.output_ohm),
            ("pull_up_ohm", self.pull_up_ohm),
            ("pull_down_ohm", self.pull_down_ohm),
            ("series_ohm", self.series_ohm),
            ("tolerance_pct", self.tolerance_pct),
            ("load_ohm", self.load_ohm),
        ];
        match all.into_iter().find_map(|(member, value)| {
            value
                .filter(|x| !(x.is_finite() && *x > 0.0))
                .map(|x| (member, x))
        }) {
            Some((member, value)) => Err(WiringError::NotPositive { member, value }),
            None => Ok(()),
        }
    }
}
