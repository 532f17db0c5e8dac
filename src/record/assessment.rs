//! `assessment/1`.

use crate::diagnose::Diagnosis;
use measure::figure::{FigureName, Figures};
use measure::judge::{Finding, Verdict};
use measure::{DeviationCurve, Dropout, Towards, TravelMap, WornZone, shared_zones};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize, Serializer};
use std::collections::BTreeMap;

/// Everything that one capture said about one unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment {
    /// The outcome; absent without a profile.
    pub verdict: Option<Verdict>,
    pub capture: CaptureFacts,
    pub unit: UnitFacts,
    /// What each signal channel showed, in column order.
    pub channels: Vec<(String, ChannelPart)>,
    /// What each pair of tracks showed, keyed `a/b`.
    pub pairs: Vec<(String, PairFacts)>,
    pub findings: Vec<Finding>,
    /// What is wrong, and what to do.
    pub diagnosis: Diagnosis,
}

/// The recording.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "CaptureKept")]
pub struct CaptureFacts {
    /// The file's name; absent while it is being recorded.
    pub file: Option<String>,
    /// SHA-256 of the CSV file, lower-case hex; absent while it is being recorded.
    pub sha256: Option<String>,
    /// When it was begun, RFC 3339; told by a proof alone, and only where the recording says it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub started: Option<String>,
    /// Samples in it.
    pub samples: u64,
    /// Seconds from its first to its last sample.
    pub duration_s: f64,
    /// Lines rejected, by cause.
    #[serde(default)]
    pub rejected: BTreeMap<String, u64>,
    /// Samples missing.
    #[serde(default)]
    pub missing: u64,
    /// Of the program's own simulated board: nothing was measured. Absent from what was.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub simulated: bool,
}

impl CaptureFacts {
    /// Where the samples are from, for people.
    pub fn source(&self) -> String {
        let file = self.file.as_deref().unwrap_or("not yet in a file");
        let simulated = if self.simulated { ", simulated" } else { "" };
        format!("{file}{simulated}")
    }
}

/// The unit.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "UnitSummary")]
pub struct UnitFacts {
    /// What is written on its sticker.
    pub tag: Option<String>,
    /// Name of the profile it was held against.
    pub profile: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChannelPart {
    pub figures: Figures,
    pub worn_zones: Vec<WornZone>,
    pub dropouts: Vec<Dropout>,
    /// Noise over travel, for pictures; not written.
    #[serde(skip)]
    pub map: Option<TravelMap>,
    /// Deviation over known travel, for pictures; not written.
    #[serde(skip)]
    pub curve: Option<DeviationCurve>,
}

/// Whether a worn zone is on one track alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WornOn<'a> {
    /// The control was measured on this track only: nothing to hold it against.
    OnlyTrack,
    /// The other track, named, is quiet there: the fault is in this track.
    Alone(&'a str),
    /// The other track, named, is as loud there: what both share is to be looked at first, supply and wiring.
    Both(&'a str),
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairFacts {
    pub figures: Figures,
}

impl ChannelPart {
    /// Where a lost contact sent the signal, as a place of the travel: `full` or `rest`; `None` while the ends are not known.
    pub fn acts(&self, dropout: &Dropout) -> Option<&'static str> {
        let up = match dropout.towards {
            Towards::Supply => 1.0,
            Towards::Ground => -1.0,
        };
        let along = up * self.figures.value(FigureName::SpanCode)?;
        (along != 0.0).then_some(if along > 0.0 { "full" } else { "rest" })
    }
}

impl Assessment {
    /// The figures of a channel, or of a pair named `a/b`.
    pub fn figures(&self, channel: &str) -> Option<&Figures> {
        let found = self.parts().find(|(name, _)| *name == channel);
        found.map(|(_, figures)| figures)
    }

    /// The figures of every channel and pair.
    pub fn parts(&self) -> impl Iterator<Item = (&str, &Figures)> {
        let channels = self
            .channels
            .iter()
            .map(|(n, part)| (&n[..], &part.figures));
        channels.chain(self.pairs.iter().map(|(n, part)| (&n[..], &part.figures)))
    }

    /// Whether a worn zone of `channel` is on that track alone, or on the other track of its pair as well.
    pub fn worn_on(&self, channel: &str, zone: &WornZone) -> WornOn<'_> {
        let partner = self.pairs.iter().find_map(|(pair, _)| {
            let (a, b) = pair.split_once('/')?;
            match channel {
                _ if channel == a => Some(b),
                _ if channel == b => Some(a),
                _ => None,
            }
        });
        let partner = partner.and_then(|name| {
            let part = self.channels.iter().find(|(other, _)| other == name)?;
            part.1.map.as_ref().map(|_| part)
        });
        match partner {
            None => WornOn::OnlyTrack,
            Some((name, part))
                if !shared_zones(std::slice::from_ref(zone), &part.worn_zones).is_empty() =>
            {
                WornOn::Both(name)
            }
            Some((name, _)) => WornOn::Alone(name),
        }
    }

    pub fn finding(&self, channel: &str, figure: FigureName) -> Option<&Finding> {
        self.findings
            .iter()
            .find(|finding| finding.channel == channel && finding.figure == figure)
    }
}

impl Serialize for Assessment {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        use serde::ser::SerializeStruct;
        let mut out = serializer.serialize_struct("Assessment", 10)?;
        out.serialize_field("format", "assessment/1")?;
        out.serialize_field("verdict", &self.verdict)?;
        out.serialize_field("capture", &self.capture)?;
        out.serialize_field("unit", &self.unit)?;
        out.serialize_field("channels", &Keyed(&self.channels))?;
        out.serialize_field("pairs", &Keyed(&self.pairs))?;
        out.serialize_field("findings", &self.findings)?;
        out.serialize_field("headline", &self.diagnosis.headline)?;
        out.serialize_field("causes", &self.diagnosis.causes)?;
        out.serialize_field("wiring_dangers", &self.diagnosis.wiring_dangers)?;
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

#[cfg(test)]
mod tests {
    use super::*;
    use measure::figure::Scope;

    fn part(zones: &[(f64, f64)]) -> ChannelPart {
        let zone = |&(from_pct, to_pct): &(f64, f64)| WornZone {
            from_pct,
            to_pct,
            noise_ratio: 4.0,
            strokes_seen: 8,
            strokes: 8,
        };
        ChannelPart {
            figures: Figures::new(Scope::Channel),
            worn_zones: zones.iter().map(zone).collect(),
            dropouts: Vec::new(),
            map: Some(TravelMap {
                bins: Vec::new(),
                overall: 1.0,
                strokes: 8,
            }),
            curve: None,
        }
    }

    #[test]
    fn wear_of_one_track_is_told_from_wear_of_both() {
        let mut assessment = Assessment {
            verdict: None,
            capture: CaptureFacts::default(),
            unit: UnitFacts::default(),
            channels: vec![
                ("a".to_owned(), part(&[(10.0, 16.0), (40.0, 44.0)])),
                ("b".to_owned(), part(&[(12.0, 15.0)])),
            ],
            pairs: vec![(
                "a/b".to_owned(),
                PairFacts {
                    figures: Figures::new(Scope::Pair),
                },
            )],
            findings: Vec::new(),
            diagnosis: Diagnosis::default(),
        };
        let on = |assessment: &Assessment, channel: usize, zone: usize| {
            let (name, part) = &assessment.channels[channel];
            format!("{:?}", assessment.worn_on(name, &part.worn_zones[zone]))
        };
        assert_eq!(on(&assessment, 0, 0), r#"Both("b")"#);
        assert_eq!(on(&assessment, 0, 1), r#"Alone("b")"#);
        assert_eq!(on(&assessment, 1, 0), r#"Both("a")"#);
        // A track without strokes has nothing to say.
        assessment.channels[1].1.map = None;
        assert_eq!(on(&assessment, 0, 0), "OnlyTrack");
        assessment.pairs.clear();
        assert_eq!(on(&assessment, 0, 1), "OnlyTrack");
    }
}
