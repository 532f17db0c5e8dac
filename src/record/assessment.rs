//! `assessment/1`.

use crate::figure::{FigureName, Figures};
use crate::judge::{Finding, Verdict};
use crate::measure::{DeviationCurve, Dropout, TravelMap, WornZone};
use serde::{Serialize, Serializer};
use std::collections::BTreeMap;

/// Everything that one capture said about one unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment {
    /// The outcome; absent without a profile.
    pub verdict: Option<Verdict>,
    /// The recording it rests on.
    pub capture: CaptureFacts,
    /// The unit.
    pub unit: UnitFacts,
    /// What each signal channel showed, in column order.
    pub channels: Vec<(String, ChannelPart)>,
    /// What each pair of tracks showed, keyed `a/b`.
    pub pairs: Vec<(String, PairFacts)>,
    /// Figures held against limits.
    pub findings: Vec<Finding>,
}

/// The recording that an assessment rests on.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct CaptureFacts {
    /// The file's name; absent while it is being recorded.
    pub file: Option<String>,
    /// SHA-256 of the CSV file, lower-case hex; absent while it is being recorded.
    pub sha256: Option<String>,
    /// Samples in it.
    pub samples: u64,
    /// Seconds from its first to its last sample.
    pub duration_s: f64,
    /// Lines rejected while it was taken, by cause.
    pub rejected: BTreeMap<String, u64>,
    /// Samples missing between those received.
    pub missing: u64,
}

/// The unit that was assessed.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct UnitFacts {
    /// What is written on its sticker.
    pub tag: Option<String>,
    /// Name of the profile it was held against.
    pub profile: Option<String>,
}

/// What one channel showed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChannelPart {
    /// Its figures.
    pub figures: Figures,
    /// Where it is worn.
    pub worn_zones: Vec<WornZone>,
    /// When it dropped out.
    pub dropouts: Vec<Dropout>,
    /// Noise over travel, for pictures; not written.
    #[serde(skip)]
    pub map: Option<TravelMap>,
    /// Deviation over known travel, for pictures; not written.
    #[serde(skip)]
    pub curve: Option<DeviationCurve>,
}

/// What two tracks showed against each other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairFacts {
    /// Figures of the pair.
    pub figures: Figures,
}

impl Assessment {
    /// The figures of a channel, or of a pair named `a/b`.
    #[must_use]
    pub fn figures(&self, channel: &str) -> Option<&Figures> {
        let of_channel = self
            .channels
            .iter()
            .find(|(name, _)| name == channel)
            .map(|(_, part)| &part.figures);
        of_channel.or_else(|| {
            self.pairs
                .iter()
                .find(|(name, _)| name == channel)
                .map(|(_, part)| &part.figures)
        })
    }

    /// The finding on one figure of one channel or pair.
    #[must_use]
    pub fn finding(&self, channel: &str, figure: FigureName) -> Option<&Finding> {
        self.findings
            .iter()
            .find(|finding| finding.channel == channel && finding.figure == figure)
    }
}

impl Serialize for Assessment {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        use serde::ser::SerializeStruct;
        let mut out = serializer.serialize_struct("Assessment", 7)?;
        out.serialize_field("format", "assessment/1")?;
        out.serialize_field("verdict", &self.verdict)?;
        out.serialize_field("capture", &self.capture)?;
        out.serialize_field("unit", &self.unit)?;
        out.serialize_field("channels", &Keyed(&self.channels))?;
        out.serialize_field("pairs", &Keyed(&self.pairs))?;
        out.serialize_field("findings", &self.findings)?;
        out.end()
    }
}

/// A list of pairs, written as an object in the list's order.
struct Keyed<'a, T>(&'a [(String, T)]);

impl<T: Serialize> Serialize for Keyed<'_, T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(key, value)| (key, value)))
    }
}
