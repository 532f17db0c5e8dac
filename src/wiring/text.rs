//! A wiring as a profile writes it: one flat list of members, and what cannot be.

use super::network::{Divider, Network, Reference, ResistiveTrack, Sensor, Wiring};
use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use thiserror::Error;

/// The shape of the circuit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum NetworkKind {
    /// A potentiometer between supply and ground, its wiper is the signal.
    ThreeWire,
    /// A sensor with its own output stage (hall), behind an output resistance.
    Buffered,
    /// A variable resistor to ground with a pull-up at the board.
    Rheostat,
}

macro_rules! wiring {
    ($( $(#[doc = $doc:literal])+ $member:ident $range:ident; )*) => {
        /// One track's wiring. Which members are needed depends on the network: see [`Wiring::check`].
        ///
        /// From the control to the pin: track or sensor, its fixed end resistors, the wires, the pulls at the board's
        /// end of the signal wire, the input divider, the series resistor, the pin with its load.
        #[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields)]
        #[schemars(rename = "Wiring", transform = bounds)]
        pub struct WiringText {
            /// The shape of the circuit.
            network: NetworkKind,
            $(
                $(#[doc = $doc])+
                #[serde(default, skip_serializing_if = "Option::is_none")]
                $member: Option<f64>,
            )*
            /// Whether the control's supply is also the ADC's reference, so that its value cancels. Not stated: it may be off by 5 %.
            #[serde(default, skip_serializing_if = "std::ops::Not::not")]
            supply_is_reference: bool,
        }

        impl WiringText {
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

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Range {
    /// Above zero.
    Positive,
    /// Ohms that a circuit can have: from a weld's milliohm to an insulator's teraohm. Common practice, no source.
    Ohm,
    Percent,
    Share,
}

wiring! {
    /// End-to-end resistance of the track.
    track_ohm Ohm;
    /// Output resistance of a buffered sensor.
    output_ohm Ohm;
    /// Resistor from signal to supply at the board.
    pull_up_ohm Ohm;
    /// Resistor from signal to ground at the board.
    pull_down_ohm Ohm;
    /// Resistor between the signal wire (and its pulls) and the ADC pin.
    series_ohm Ohm;
    /// Tolerance of every resistor, in percent.
    tolerance_pct Percent;
    /// Input resistance of the ADC pin to ground.
    load_ohm Ohm;
    /// Fixed resistor inside the control between the track's ground end and the ground wire.
    end_low_ohm Ohm;
    /// Fixed resistor inside a three-wire control between the track's supply end and the supply wire.
    end_high_ohm Ohm;
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
    sensor_ohm Ohm;
    /// Tolerance of the track, in percent. Default: `tolerance_pct`.
    track_tolerance_pct Percent;
    /// Input divider at the board: resistor towards the signal wire.
    divider_top_ohm Ohm;
    /// Input divider at the board: resistor to ground.
    divider_bottom_ohm Ohm;
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
            Range::Positive | Range::Ohm => &[("exclusiveMinimum", 0)],
            Range::Percent => &[("minimum", 0), ("exclusiveMaximum", 100)],
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
    #[error("a {network} network needs `{member}`: state it")]
    Missing {
        network: &'static str,
        member: &'static str,
    },
    #[error("`{member}` means nothing {place}: take it out")]
    OutOfPlace {
        member: &'static str,
        place: &'static str,
    },
    #[error("`{member}` is {value}: state {allowed}")]
    NotAllowed {
        member: &'static str,
        value: f64,
        allowed: &'static str,
    },
    #[error(
        "`{low}` and `{high}` are {value} and {other}: they must differ, `{low}` the lower unless it may fall"
    )]
    NoRange {
        low: &'static str,
        high: &'static str,
        value: f64,
        other: f64,
    },
}

impl WiringError {
    /// The member that is wrong, for a place in a file.
    pub fn member(&self) -> &'static str {
        match self {
            Self::Missing { member, .. }
            | Self::OutOfPlace { member, .. }
            | Self::NotAllowed { member, .. } => member,
            Self::NoRange { high, .. } => high,
        }
    }
}

impl WiringText {
    /// Every stated number must be possible by itself.
    fn check_numbers(&self) -> Result<(), WiringError> {
        for (member, value, range) in self.stated() {
            let (good, allowed) = match range {
                Range::Positive => (value > 0.0, "a positive number"),
                Range::Ohm => (
                    (1e-3..=1e12).contains(&value),
                    "a positive number that a part can have, 0.001 to 1e12 ohm",
                ),
                Range::Percent => (
                    (0.0..100.0).contains(&value),
                    "a number from 0 to below 100",
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
        Ok(())
    }

    fn missing(&self, member: &'static str) -> WiringError {
        let network = match self.network {
            NetworkKind::ThreeWire => "three-wire",
            NetworkKind::Buffered => "buffered",
            NetworkKind::Rheostat => "rheostat",
        };
        WiringError::Missing { network, member }
    }

    fn take_network(&mut self) -> Result<Network, WiringError> {
        Ok(match self.network {
            NetworkKind::ThreeWire => Network::ThreeWire {
                track: self.take_track()?,
                end_high_ohm: self.end_high_ohm.take(),
                pull_up_ohm: self.pull_up_ohm.take(),
            },
            NetworkKind::Buffered => Network::Buffered {
                sensor: Sensor {
                    output_ohm: self
                        .output_ohm
                        .take()
                        .ok_or_else(|| self.missing("output_ohm"))?,
                    low_ratio: self.low_ratio.take(),
                    high_ratio: self.high_ratio.take(),
                    ratio_tolerance_pct: self.ratio_tolerance_pct.take(),
                    draw_ohm: self.sensor_ohm.take(),
                },
                pull_up_ohm: self.pull_up_ohm.take(),
            },
            NetworkKind::Rheostat => Network::Rheostat {
                track: self.take_track()?,
                pull_up_ohm: self
                    .pull_up_ohm
                    .take()
                    .ok_or_else(|| self.missing("pull_up_ohm"))?,
            },
        })
    }

    fn take_track(&mut self) -> Result<ResistiveTrack, WiringError> {
        Ok(ResistiveTrack {
            ohm: self
                .track_ohm
                .take()
                .ok_or_else(|| self.missing("track_ohm"))?,
            tolerance_pct: self.track_tolerance_pct.take(),
            end_low_ohm: self.end_low_ohm.take(),
        })
    }

    fn take_divider(&mut self) -> Result<Option<Divider>, WiringError> {
        match (self.divider_top_ohm.take(), self.divider_bottom_ohm.take()) {
            (None, None) => Ok(None),
            (Some(top_ohm), Some(bottom_ohm)) => Ok(Some(Divider {
                top_ohm,
                bottom_ohm,
            })),
            (Some(_), None) => Err(self.missing("divider_bottom_ohm")),
            (None, Some(_)) => Err(self.missing("divider_top_ohm")),
        }
    }

    fn take_reference(&mut self) -> Result<Option<Reference>, WiringError> {
        match (self.reference_mv.take(), self.supply_tolerance_pct.take()) {
            (None, None) => Ok(None),
            (Some(mv), supply_tolerance_pct) => Ok(Some(Reference {
                mv,
                supply_tolerance_pct,
            })),
            (None, Some(_)) => Err(self.missing("reference_mv")),
        }
    }
}

impl TryFrom<WiringText> for Wiring {
    type Error = WiringError;

    /// The first member that cannot be, is missing or out of place.
    fn try_from(mut text: WiringText) -> Result<Self, WiringError> {
        text.check_numbers()?;
        let wiring = Self {
            network: text.take_network()?,
            divider: text.take_divider()?,
            reference: text.take_reference()?,
            supply_is_reference: text.supply_is_reference,
            pull_down_ohm: text.pull_down_ohm.take(),
            series_ohm: text.series_ohm.take(),
            load_ohm: text.load_ohm.take(),
            tolerance_pct: text.tolerance_pct.take(),
            rest_at: text.rest_at.take(),
            full_at: text.full_at.take(),
            back_at: text.back_at.take(),
        };
        // What nobody took means nothing in this network.
        if let Some((member, ..)) = text.stated().next() {
            let place = match text.network {
                NetworkKind::ThreeWire => "with a bare three-wire track",
                NetworkKind::Buffered => "with a buffered sensor",
                NetworkKind::Rheostat => "with a rheostat",
            };
            return Err(WiringError::OutOfPlace { member, place });
        }
        if wiring.supply_is_reference && wiring.reference.is_some() {
            return Err(WiringError::OutOfPlace {
                member: "supply_is_reference",
                place: "beside `reference_mv`",
            });
        }
        check_ends(&wiring)?;
        Ok(wiring)
    }
}

/// The two ends of travel, and of a sensor's output, must differ.
#[allow(clippy::float_cmp)] // stated values, not computed ones
fn check_ends(wiring: &Wiring) -> Result<(), WiringError> {
    let (rest, full) = (wiring.rest_position(), wiring.full_position());
    if rest == full {
        return Err(WiringError::NoRange {
            low: "rest_at",
            high: "full_at",
            value: rest,
            other: full,
        });
    }
    match wiring.network.sensor().map(Sensor::drive_ends) {
        Some((low, high)) if low >= high => Err(WiringError::NoRange {
            low: "low_ratio",
            high: "high_ratio",
            value: low,
            other: high,
        }),
        _ => Ok(()),
    }
}

impl From<Wiring> for WiringText {
    fn from(of: Wiring) -> Self {
        let (track, sensor) = (of.network.track(), of.network.sensor());
        let (network, end_high_ohm) = match of.network {
            Network::ThreeWire { end_high_ohm, .. } => (NetworkKind::ThreeWire, end_high_ohm),
            Network::Buffered { .. } => (NetworkKind::Buffered, None),
            Network::Rheostat { .. } => (NetworkKind::Rheostat, None),
        };
        Self {
            network,
            track_ohm: track.map(|track| track.ohm),
            output_ohm: sensor.map(|sensor| sensor.output_ohm),
            pull_up_ohm: of.network.pull_up_ohm(),
            pull_down_ohm: of.pull_down_ohm,
            series_ohm: of.series_ohm,
            tolerance_pct: of.tolerance_pct,
            load_ohm: of.load_ohm,
            end_low_ohm: track.and_then(|track| track.end_low_ohm),
            end_high_ohm,
            rest_at: of.rest_at,
            full_at: of.full_at,
            back_at: of.back_at,
            low_ratio: sensor.and_then(|sensor| sensor.low_ratio),
            high_ratio: sensor.and_then(|sensor| sensor.high_ratio),
            ratio_tolerance_pct: sensor.and_then(|sensor| sensor.ratio_tolerance_pct),
            sensor_ohm: sensor.and_then(|sensor| sensor.draw_ohm),
            track_tolerance_pct: track.and_then(|track| track.tolerance_pct),
            divider_top_ohm: of.divider.map(|divider| divider.top_ohm),
            divider_bottom_ohm: of.divider.map(|divider| divider.bottom_ohm),
            reference_mv: of.reference.map(|reference| reference.mv),
            supply_tolerance_pct: of.reference.and_then(|of| of.supply_tolerance_pct),
            supply_is_reference: of.supply_is_reference,
        }
    }
}

impl Serialize for Wiring {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        WiringText::from(*self).serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Wiring {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = WiringText::deserialize(deserializer)?;
        Self::try_from(text).map_err(serde::de::Error::custom)
    }
}

impl Wiring {
    /// Checks that every value can be, as when it is read.
    pub fn check(&self) -> Result<(), WiringError> {
        Self::try_from(WiringText::from(*self)).map(|_| ())
    }
}

#[cfg(test)]
mod tests {
    use super::super::parts::Resistor;
    use super::*;

    fn refused(text: &str) -> WiringError {
        let text: WiringText = serde_json::from_str(text).unwrap();
        Wiring::try_from(text).unwrap_err()
    }

    #[test]
    fn each_network_asks_for_what_it_needs() {
        let lever: Wiring =
            serde_json::from_str(r#"{"network":"three-wire","track_ohm":20000}"#).unwrap();
        assert_eq!(lever.check(), Ok(()));
        for (text, member) in [
            (r#"{"network":"three-wire"}"#, "track_ohm"),
            (r#"{"network":"buffered"}"#, "output_ohm"),
            (r#"{"network":"rheostat"}"#, "track_ohm"),
            (r#"{"network":"rheostat","track_ohm":10000}"#, "pull_up_ohm"),
        ] {
            assert_eq!(refused(text).member(), member);
        }
    }

    #[test]
    fn numbers_that_cannot_be_are_refused_by_name() {
        for (members, member) in [
            (r#""track_ohm":0"#, "track_ohm"),
            (r#""track_ohm":1,"pull_down_ohm":-1"#, "pull_down_ohm"),
            (r#""track_ohm":1,"tolerance_pct":100"#, "tolerance_pct"),
            (r#""track_ohm":1,"tolerance_pct":-1"#, "tolerance_pct"),
            (r#""track_ohm":1,"full_at":1.5"#, "full_at"),
            (r#""track_ohm":1,"full_at":0"#, "full_at"),
            (r#""track_ohm":1,"low_ratio":0.1"#, "low_ratio"),
            (
                r#""track_ohm":1,"reference_mv":3300,"supply_is_reference":true"#,
                "supply_is_reference",
            ),
            (
                r#""track_ohm":1,"divider_top_ohm":1e4"#,
                "divider_bottom_ohm",
            ),
        ] {
            let error = refused(&format!(r#"{{"network":"three-wire",{members}}}"#));
            assert_eq!(error.member(), member, "{error}");
            assert!(error.to_string().contains(member), "{error}");
        }
        let mut wiring: Wiring =
            serde_json::from_str(r#"{"network":"three-wire","track_ohm":20000}"#).unwrap();
        *wiring.ohm_mut(Resistor::Track).unwrap() = f64::NAN;
        assert_eq!(wiring.check().unwrap_err().member(), "track_ohm");
    }

    #[test]
    fn every_member_reads_back() {
        for text in [
            r#"{"network":"three-wire","track_ohm":22000.0,"pull_up_ohm":150000.0,"pull_down_ohm":9000.0,"series_ohm":4700.0,"tolerance_pct":5.0,"load_ohm":330000.0,"end_low_ohm":820.0,"end_high_ohm":390.0,"rest_at":0.9,"full_at":0.15,"back_at":0.5,"track_tolerance_pct":20.0,"divider_top_ohm":1.0,"divider_bottom_ohm":2.0,"reference_mv":3300.0,"supply_tolerance_pct":5.0}"#,
            r#"{"network":"buffered","output_ohm":680.0,"low_ratio":0.05,"high_ratio":0.45,"ratio_tolerance_pct":2.0,"sensor_ohm":1200.0,"supply_is_reference":true}"#,
            r#"{"network":"rheostat","track_ohm":5000.0,"pull_up_ohm":2200.0,"end_low_ohm":330.0}"#,
        ] {
            let wiring: Wiring = serde_json::from_str(text).unwrap();
            assert_eq!(serde_json::to_string(&wiring).unwrap(), text);
        }
    }
}
