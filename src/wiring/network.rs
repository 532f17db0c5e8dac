//! How one track of a control is wired to the board: the numbers of a profile's `wiring`.
//!
//! Belongs here: the members, their defaults, what cannot be. Does not belong here: the circuit they make (`schematic`).

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// The shape of the circuit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum NetworkKind {
    /// A potentiometer between supply and ground, its wiper is the signal.
    ThreeWire,
    /// A sensor with its own output stage (hall), behind an output resistance.
    Buffered,
    /// A variable resistor to ground with a pull-up at the board.
    Rheostat,
}

impl NetworkKind {
    /// The word as profiles write it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::ThreeWire => "three-wire",
            Self::Buffered => "buffered",
            Self::Rheostat => "rheostat",
        }
    }
}

macro_rules! wiring {
    ($( $(#[doc = $doc:literal])+ $member:ident $range:ident; )*) => {
        /// One track's wiring. Which members are needed depends on the network: see [`Wiring::check`].
        ///
        /// From the control to the pin: track or sensor, its fixed end resistors, the wires, the pulls at the board's
        /// end of the signal wire, the input divider, the series resistor, the pin with its load.
        #[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields)]
        #[schemars(transform = bounds)]
        pub struct Wiring {
            /// The shape of the circuit.
            pub network: NetworkKind,
            $(
                $(#[doc = $doc])+
                #[serde(default, skip_serializing_if = "Option::is_none")]
                pub $member: Option<f64>,
            )*
        }

        impl Wiring {
            /// A wiring of one kind with nothing stated yet: fill in what [`Wiring::check`] asks for.
            #[must_use]
            pub fn of(network: NetworkKind) -> Self {
                Self { network, $( $member: None, )* }
            }

            /// Every number that is stated: member, value, what it may be.
            fn stated(&self) -> impl Iterator<Item = (&'static str, f64, Range)> {
                [ $( (stringify!($member), self.$member, Range::$range), )* ]
                    .into_iter()
                    .filter_map(|(member, value, range)| value.map(|value| (member, value, range)))
            }
        }

        /// What each member's number may be.
        const RANGES: &[(&str, Range)] = &[ $( (stringify!($member), Range::$range), )* ];
    };
}

/// What a member's number may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Range {
    /// Above zero.
    Positive,
    /// Above zero and below a hundred.
    Percent,
    /// 0 to 1.
    Share,
}

wiring! {
    /// End-to-end resistance of the track.
    track_ohm Positive;
    /// Output resistance of a buffered sensor.
    output_ohm Positive;
    /// Resistor from signal to supply at the board.
    pull_up_ohm Positive;
    /// Resistor from signal to ground at the board.
    pull_down_ohm Positive;
    /// Resistor between the signal wire (and its pulls) and the ADC pin.
    series_ohm Positive;
    /// Tolerance of every resistor, in percent.
    tolerance_pct Percent;
    /// Input resistance of the ADC pin to ground.
    load_ohm Positive;
    /// Fixed resistor inside the control between the track's ground end and the ground wire.
    end_low_ohm Positive;
    /// Fixed resistor inside a three-wire control between the track's supply end and the supply wire.
    end_high_ohm Positive;
    /// Where on the track (0: ground end, 1: far end) the control stands at rest. Default 0.
    rest_at Share;
    /// Where on the track the control stands fully operated. Default 1; below `rest_at` for a falling signal.
    full_at Share;
    /// Where on the track a control that also moves the other way ends. Default: it does not.
    back_at Share;
    /// What a buffered sensor puts out at position 0, as a fraction of its supply. Default 0.1 (common practice).
    low_ratio Share;
    /// What a buffered sensor puts out at position 1, as a fraction of its supply. Default 0.9 (common practice).
    high_ratio Share;
    /// Spread of both between units, in percent of the supply. Default: none.
    ratio_tolerance_pct Percent;
    /// What a buffered sensor draws, as a resistance from supply to ground: how it leaks with its ground open.
    sensor_ohm Positive;
    /// Tolerance of the track, in percent. Default: `tolerance_pct`.
    track_tolerance_pct Percent;
    /// Input divider at the board: resistor towards the signal wire.
    divider_top_ohm Positive;
    /// Input divider at the board: resistor to ground.
    divider_bottom_ohm Positive;
    /// The ADC's reference in millivolts, when it is not the control's supply.
    reference_mv Positive;
    /// Tolerance of the control's supply against the reference, in percent; needs `reference_mv`.
    supply_tolerance_pct Percent;
}

/// Puts the bounds of each number into the schema.
fn bounds(schema: &mut schemars::Schema) {
    let Some(members) = schema.get_mut("properties").and_then(|p| p.as_object_mut()) else {
        return;
    };
    for (member, range) in RANGES {
        let Some(one) = members.get_mut(*member).and_then(|m| m.as_object_mut()) else {
            continue;
        };
        let list: &[(&str, i32)] = match range {
            Range::Positive => &[("exclusiveMinimum", 0)],
            Range::Percent => &[("exclusiveMinimum", 0), ("exclusiveMaximum", 100)],
            Range::Share => &[("minimum", 0), ("maximum", 1)],
        };
        for (word, value) in list {
            one.insert((*word).to_owned(), (*value).into());
        }
    }
}

/// Why a wiring was refused.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum WiringError {
    /// A member that the network cannot do without.
    #[error("a {network} network needs `{member}`: state it")]
    Missing {
        /// The network's word.
        network: &'static str,
        /// The member missing.
        member: &'static str,
    },
    /// A member that means nothing there.
    #[error("`{member}` means nothing {place}: take it out")]
    OutOfPlace {
        /// The member.
        member: &'static str,
        /// Where it means nothing.
        place: &'static str,
    },
    /// A number that cannot be.
    #[error("`{member}` is {value}: state {allowed}")]
    NotAllowed {
        /// The member.
        member: &'static str,
        /// Its value.
        value: f64,
        /// What it may be.
        allowed: &'static str,
    },
    /// Two numbers that leave nothing between them.
    #[error(
        "`{low}` and `{high}` are {value} and {other}: they must differ, `{low}` the lower unless it may fall"
    )]
    NoRange {
        /// One member.
        low: &'static str,
        /// The other.
        high: &'static str,
        /// The one's value.
        value: f64,
        /// The other's.
        other: f64,
    },
}

impl WiringError {
    /// The member that is wrong, for a place in a file.
    #[must_use]
    pub fn member(&self) -> &'static str {
        match self {
            Self::Missing { member, .. }
            | Self::OutOfPlace { member, .. }
            | Self::NotAllowed { member, .. } => member,
            Self::NoRange { high, .. } => high,
        }
    }
}

impl Wiring {
    /// Checks that every needed number is there and every value can be.
    ///
    /// # Errors
    /// The first member that is missing, out of place or cannot be.
    pub fn check(&self) -> Result<(), WiringError> {
        for (member, value, range) in self.stated() {
            let (good, allowed) = match range {
                Range::Positive => (value > 0.0, "a positive number"),
                Range::Percent => (
                    value > 0.0 && value < 100.0,
                    "a number above 0 and below 100",
                ),
                Range::Share => ((0.0..=1.0).contains(&value), "a number from 0 to 1"),
            };
            if !(good && value.is_finite()) {
                return Err(WiringError::NotAllowed {
                    member,
                    value,
                    allowed,
                });
            }
        }
        self.check_needed()?;
        self.check_place()?;
        self.check_ranges()
    }

    fn check_needed(&self) -> Result<(), WiringError> {
        let missing = |member| {
            Err(WiringError::Missing {
                network: self.network.word(),
                member,
            })
        };
        match self.network {
            NetworkKind::ThreeWire | NetworkKind::Rheostat if self.track_ohm.is_none() => {
                missing("track_ohm")
            }
            NetworkKind::Buffered if self.output_ohm.is_none() => missing("output_ohm"),
            NetworkKind::Rheostat if self.pull_up_ohm.is_none() => missing("pull_up_ohm"),
            _ if self.divider_top_ohm.is_some() && self.divider_bottom_ohm.is_none() => {
                missing("divider_bottom_ohm")
            }
            _ if self.divider_bottom_ohm.is_some() && self.divider_top_ohm.is_none() => {
                missing("divider_top_ohm")
            }
            _ if self.supply_tolerance_pct.is_some() && self.reference_mv.is_none() => {
                missing("reference_mv")
            }
            _ => Ok(()),
        }
    }

    fn check_place(&self) -> Result<(), WiringError> {
        let buffered = [
            ("track_ohm", self.track_ohm),
            ("end_low_ohm", self.end_low_ohm),
            ("end_high_ohm", self.end_high_ohm),
            ("track_tolerance_pct", self.track_tolerance_pct),
        ];
        let track = [
            ("output_ohm", self.output_ohm),
            ("low_ratio", self.low_ratio),
            ("high_ratio", self.high_ratio),
            ("ratio_tolerance_pct", self.ratio_tolerance_pct),
            ("sensor_ohm", self.sensor_ohm),
        ];
        let rheostat = [("end_high_ohm", self.end_high_ohm)];
        let stated = |list: &[(&'static str, Option<f64>)]| {
            list.iter().find(|(_, v)| v.is_some()).map(|(m, _)| *m)
        };
        let (wrong, place) = match self.network {
            NetworkKind::Buffered => (stated(&buffered), "with a buffered sensor"),
            NetworkKind::ThreeWire => (stated(&track), "with a bare three-wire track"),
            NetworkKind::Rheostat => (
                stated(&track).or_else(|| stated(&rheostat)),
                "with a rheostat",
            ),
        };
        wrong.map_or(Ok(()), |member| {
            Err(WiringError::OutOfPlace { member, place })
        })
    }

    #[allow(clippy::float_cmp)] // stated values, not computed ones
    fn check_ranges(&self) -> Result<(), WiringError> {
        if self.rest_position() == self.full_position() {
            return Err(WiringError::NoRange {
                low: "rest_at",
                high: "full_at",
                value: self.rest_position(),
                other: self.full_position(),
            });
        }
        let (low, high) = self.drive_ends();
        if low >= high {
            return Err(WiringError::NoRange {
                low: "low_ratio",
                high: "high_ratio",
                value: low,
                other: high,
            });
        }
        Ok(())
    }

    /// Where on the track the control stands at rest, 0 to 1 from the ground end.
    #[must_use]
    pub fn rest_position(&self) -> f64 {
        self.rest_at.unwrap_or(0.0)
    }

    /// Where on the track the control stands fully operated.
    #[must_use]
    pub fn full_position(&self) -> f64 {
        self.full_at.unwrap_or(1.0)
    }

    /// What a buffered sensor puts out at both ends of its own travel, as fractions of its supply.
    ///
    /// Default 0.1 and 0.9: common practice, no source.
    #[must_use]
    pub fn drive_ends(&self) -> (f64, f64) {
        (
            self.low_ratio.unwrap_or(0.1),
            self.high_ratio.unwrap_or(0.9),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lever() -> Wiring {
        Wiring {
            track_ohm: Some(20_000.0),
            ..Wiring::of(NetworkKind::ThreeWire)
        }
    }

    #[test]
    fn each_network_asks_for_what_it_needs() {
        assert_eq!(lever().check(), Ok(()));
        for (kind, member) in [
            (NetworkKind::ThreeWire, "track_ohm"),
            (NetworkKind::Buffered, "output_ohm"),
            (NetworkKind::Rheostat, "track_ohm"),
        ] {
            assert_eq!(Wiring::of(kind).check().unwrap_err().member(), member);
        }
        let dial = Wiring {
            track_ohm: Some(10_000.0),
            ..Wiring::of(NetworkKind::Rheostat)
        };
        assert_eq!(dial.check().unwrap_err().member(), "pull_up_ohm");
    }

    #[test]
    fn numbers_that_cannot_be_are_refused_by_name() {
        type Spoil = fn(&mut Wiring);
        let cases: [(Spoil, &str); 8] = [
            (|w| w.track_ohm = Some(0.0), "track_ohm"),
            (|w| w.track_ohm = Some(f64::NAN), "track_ohm"),
            (|w| w.pull_down_ohm = Some(-1.0), "pull_down_ohm"),
            (|w| w.tolerance_pct = Some(100.0), "tolerance_pct"),
            (|w| w.full_at = Some(1.5), "full_at"),
            (|w| w.full_at = Some(0.0), "full_at"),
            (|w| w.low_ratio = Some(0.1), "low_ratio"),
            (|w| w.divider_top_ohm = Some(1e4), "divider_bottom_ohm"),
        ];
        for (spoil, member) in cases {
            let mut wiring = lever();
            spoil(&mut wiring);
            let error = wiring.check().unwrap_err();
            assert_eq!(error.member(), member, "{error}");
            assert!(error.to_string().contains(member), "{error}");
        }
    }
}
