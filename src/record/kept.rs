//! `record/1`: an assessment as it is kept, written and read back.
//!
//! Belongs here: the format. Does not belong here: files (`disk`), what records say together (`history`).

use super::{Assessment, CaptureFacts, UnitFacts};
use crate::diagnose::Diagnosis;
use crate::outlet::{self, json_source};
use jiff::Timestamp;
use measure::judge::{Finding, Verdict};
use measure::seasons::Estimate;
use measure::units::Track;
use measure::{Dropout, WornZone};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The format that is written, and the only one that is read.
pub const FORMAT: &str = "record/1";

/// An assessment on its way to being kept.
#[derive(Debug, Serialize)]
pub struct NewRecord<'a> {
    format: &'static str,
    kept: Timestamp,
    taken: Option<&'a str>,
    program: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    machine: Option<String>,
    board: &'a BoardKept,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    tracks: BTreeMap<String, Track>,
    assessment: &'a Assessment,
}

/// The board that the capture was taken with, as far as figures in codes depend on it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct BoardKept {
    /// What it is called.
    #[serde(default)]
    pub name: String,
    /// Resolution of its ADC.
    pub bits: u32,
    /// ADC reference in millivolts.
    pub vref_mv: f64,
    /// Samples a second.
    pub rate_hz: f64,
}

impl<'a> NewRecord<'a> {
    /// A record made at `kept` of a capture that was begun at `taken` (RFC 3339), if that is known.
    pub fn new(
        assessment: &'a Assessment,
        board: &'a BoardKept,
        taken: Option<&'a str>,
        kept: Timestamp,
    ) -> Self {
        Self {
            format: FORMAT,
            kept,
            taken,
            program: concat!("pedalproof ", env!("CARGO_PKG_VERSION")),
            machine: None,
            board,
            tracks: BTreeMap::new(),
            assessment,
        }
    }

    /// The same of a part of this machine, by the machine's name.
    #[must_use]
    pub fn of_machine(mut self, name: Option<String>) -> Self {
        self.machine = name;
        self
    }

    /// The same with the track of each channel: what it is called may be another by the next record.
    #[must_use]
    pub fn on_tracks(mut self, tracks: BTreeMap<String, Track>) -> Self {
        self.tracks = tracks;
        self
    }

    pub fn tag(&self) -> Option<&str> {
        self.assessment.unit.tag.as_deref()
    }

    /// When the capture was begun, else when the record was made.
    pub fn when(&self) -> Timestamp {
        moment(self.taken).unwrap_or(self.kept)
    }

    /// All that is kept but the time of keeping: two records of the same content are one.
    pub(super) fn content(&self) -> serde_json::Result<String> {
        serde_json::to_string(&(self.taken, self.program, self.board, self.assessment))
    }
}

/// A record that was read back.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
pub struct Record {
    /// `record/1`.
    pub format: String,
    /// When it was kept, RFC 3339.
    #[schemars(with = "String")]
    pub kept: Timestamp,
    /// When its capture was begun, RFC 3339; null when that is not known.
    pub taken: Option<String>,
    /// The program that made it.
    #[serde(default)]
    pub program: String,
    /// What the machine is called that the part belongs to; absent for a part of none.
    #[serde(default)]
    pub machine: Option<String>,
    /// The board.
    pub board: BoardKept,
    /// The track of each channel; absent in records of before.
    #[serde(default)]
    pub tracks: BTreeMap<String, Track>,
    /// The assessment.
    pub assessment: AssessmentKept,
}

/// `assessment/1`, as read back.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[schemars(title = "assessment/1")]
pub struct AssessmentKept {
    /// `assessment/1`.
    pub format: String,
    /// The outcome; null without a profile.
    pub verdict: Option<Verdict>,
    /// The recording that it rests on.
    pub capture: CaptureFacts,
    /// The unit.
    pub unit: UnitFacts,
    /// What each channel showed.
    pub channels: BTreeMap<String, ChannelKept>,
    /// What each pair of tracks showed, keyed `a/b`.
    pub pairs: BTreeMap<String, PairKept>,
    /// Figures held against limits.
    pub findings: Vec<Finding>,
    /// What was wrong, and what to do; empty in records of before.
    #[serde(flatten, default)]
    pub diagnosis: Diagnosis,
}

impl AssessmentKept {
    /// The figures of every channel and pair.
    pub fn parts(&self) -> impl Iterator<Item = (&str, &FiguresKept)> {
        let channels = self
            .channels
            .iter()
            .map(|(n, part)| (&n[..], &part.figures));
        channels.chain(self.pairs.iter().map(|(n, part)| (&n[..], &part.figures)))
    }
}

/// One channel, as read back.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
pub struct ChannelKept {
    /// Figures by name; null where the capture could not support one.
    pub figures: FiguresKept,
    /// Where it is worn.
    #[serde(default)]
    pub worn_zones: Vec<WornZone>,
    /// When it dropped out.
    #[serde(default)]
    pub dropouts: Vec<Dropout>,
}

/// A pair of tracks, as read back.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
pub struct PairKept {
    /// Figures by name; null where the capture could not support one.
    pub figures: FiguresKept,
}

/// Figures by name. A name that this program does not know (a later one wrote it) is kept as it is.
pub type FiguresKept = BTreeMap<String, Option<FigureKept>>;

/// One figure, as read back.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
pub struct FigureKept {
    /// The best estimate.
    pub value: f64,
    /// Its unit.
    pub unit: String,
    /// Standard uncertainty; null for what is counted.
    pub u: Option<f64>,
    /// Lower end of the 95 % interval.
    pub low: Option<f64>,
    /// Upper end of the 95 % interval.
    pub high: Option<f64>,
    /// Pieces of evidence.
    pub n: u64,
    /// How it was computed.
    pub method: String,
}

#[derive(Debug, thiserror::Error)]
pub enum RecordError {
    #[error(
        "its format is \"{0}\", this program reads \"record/1\": a later pedalproof may have written it"
    )]
    Format(String),
    #[error("it is no record: {0}")]
    Shape(#[from] serde_json::Error),
}

#[derive(Deserialize)]
struct OnlyFormat {
    format: String,
}

fn checked<T: serde::de::DeserializeOwned>(text: &[u8]) -> Result<T, RecordError> {
    let words = std::str::from_utf8(text).map(json_source);
    let text = words.as_ref().map_or(text, |words| words.as_bytes());
    serde_json::from_slice(text).map_err(|e| match serde_json::from_slice(text) {
        Ok(OnlyFormat { format }) if format != FORMAT => RecordError::Format(format),
        _ => RecordError::Shape(e),
    })
}

impl Record {
    pub fn from_json(text: &[u8]) -> Result<Self, RecordError> {
        let record: Self = checked(text)?;
        known(record.format.clone()).map(|()| record)
    }

    /// When the capture was begun, else when the record was made.
    pub fn when(&self) -> Timestamp {
        moment(self.taken.as_deref()).unwrap_or(self.kept)
    }
}

fn known(format: String) -> Result<(), RecordError> {
    if format == FORMAT {
        Ok(())
    } else {
        Err(RecordError::Format(format))
    }
}

fn moment(text: Option<&str>) -> Option<Timestamp> {
    text?.parse().ok()
}

impl FigureKept {
    /// All its numbers times a factor above 0.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        let times = |x: Option<f64>| x.map(|x| x * factor);
        Self {
            value: self.value * factor,
            u: times(self.u),
            low: times(self.low),
            high: times(self.high),
            ..self.clone()
        }
    }

    /// The value with its interval; `None` for what is counted or open on a side.
    pub fn estimate(&self) -> Option<Estimate> {
        self.u?;
        Estimate::new(self.value, self.low, self.high)
    }
}

/// The JSON Schema of a record, generated from the types that read it.
pub fn schema_json() -> String {
    outlet::schema_json::<Record>()
}

/// The same of an assessment.
pub fn assessment_schema_json() -> String {
    outlet::schema_json::<AssessmentKept>()
}
