//! `NAME.csv-metadata.json`: W3C CSV on the Web metadata with one object `pedalproof` of ours.

use super::aside::SetAside;
use super::tried::Tried;
use super::types::{
    BoardMeta, ChannelMeta, ImportedFrom, LooksTaken, Metadata, RefMeta, StreamCounts, UnitMeta,
};
use crate::outlet::{self, JsonError};
use measure::units::{OWN_COLUMNS, Scale, ScaleError};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use thiserror::Error;

const FORMAT: &str = "capture/1";
/// The `@context` that makes it CSV on the Web.
const CONTEXT: &str = "http://www.w3.org/ns/csvw";
/// Most looks that can be planned; `judge` divides the chance of error among them.
const MOST_LOOKS: u32 = 6;

#[derive(Debug, Error)]
pub enum MetadataError {
    #[error(transparent)]
    Json(#[from] JsonError),
    #[error("at `{place}`: {what}")]
    Member {
        /// Where, e.g. `pedalproof.board.bits`.
        place: &'static str,
        what: String,
    },
}

#[derive(Deserialize)]
#[serde(expecting = "a JSON object with a member `pedalproof`")]
struct File {
    #[serde(default)]
    pedalproof: Option<Ours>,
}

#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(expecting = "an object with `format`, `board` and `channels`")]
struct Ours {
    #[schemars(extend("const" = "capture/1"))]
    format: String,
    board: BoardMeta,
    #[serde(default)]
    unit: UnitMeta,
    channels: BTreeMap<String, ChannelMeta>,
    #[serde(default, rename = "ref", skip_serializing_if = "Option::is_none")]
    reference: Option<RefMeta>,
    #[serde(default)]
    started: Option<String>,
    #[serde(default)]
    stream: StreamCounts,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    looks: Option<LooksTaken>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    set_aside: Vec<SetAside>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    tried: Vec<Tried>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    imported: Option<ImportedFrom>,
    /// Of the program's own simulated board: nothing was measured. A key of ours, absent from a recording of a board.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    simulated: bool,
    #[serde(default)]
    note: Option<String>,
}

/// Of a file's own part; what stands beside it is that of CSV on the Web.
#[derive(JsonSchema)]
#[schemars(title = "capture/1")]
#[allow(dead_code)] // only its schema is used
struct Schema {
    pedalproof: Ours,
}

/// The JSON Schema of a capture's metadata.
pub fn schema_json() -> String {
    outlet::schema_json::<Schema>()
}

impl Metadata {
    /// Reads the metadata file's text. Channels come in the order of their names; the CSV's header gives the
    /// order of the columns.
    pub fn from_json(text: &str) -> Result<Self, MetadataError> {
        let member = |place, what: String| MetadataError::Member { place, what };
        let file: File = outlet::read_json(text)?;
        let ours = file.pedalproof.ok_or_else(|| {
            member(
                "pedalproof",
                "is missing: this is not the metadata of a recording".to_owned(),
            )
        })?;
        if ours.format != FORMAT {
            let what = format!(
                "`{}` is not `{FORMAT}`, the format this program reads",
                ours.format
            );
            return Err(member("pedalproof.format", what));
        }
        Scale::new(ours.board.bits, ours.board.vref_mv).map_err(|e| {
            let place = match e {
                ScaleError::Bits(_) => "pedalproof.board.bits",
                ScaleError::Reference(_) => "pedalproof.board.vref_mv",
            };
            member(place, e.to_string())
        })?;
        if !(1e-3..=1e7).contains(&ours.board.rate_hz) {
            let what = format!(
                "{} is no sampling rate: state samples a second, 0.001 to 10000000",
                outlet::number(ours.board.rate_hz)
            );
            return Err(member("pedalproof.board.rate_hz", what));
        }
        if ours.channels.is_empty() {
            return Err(member("pedalproof.channels", "names no channel".to_owned()));
        }
        if let Some(name) = ours
            .channels
            .keys()
            .find(|name| OWN_COLUMNS.contains(&name.as_str()))
        {
            return Err(member(
                "pedalproof.channels",
                format!("`{name}` cannot be a channel's name"),
            ));
        }
        if let (Some(low), Some(high)) = ours
            .reference
            .as_ref()
            .map_or((None, None), |r| (r.low, r.high))
            && (low - high).abs() <= 0.0
        {
            let what = format!("low {low} and high {high} must be two different positions");
            return Err(member("pedalproof.ref", what));
        }
        if let Some(LooksTaken { taken, planned }) = ours.looks
            && !(1 <= taken && taken <= planned && planned <= MOST_LOOKS)
        {
            let what = format!(
                "look {taken} of {planned} cannot be: looks count from 1, at most {MOST_LOOKS} are planned"
            );
            return Err(member("pedalproof.looks", what));
        }
        Ok(Self {
            board: ours.board,
            unit: ours.unit,
            channels: ours.channels.into_iter().collect(),
            reference: ours.reference,
            started: ours.started,
            stream: ours.stream,
            looks: ours.looks,
            set_aside: ours.set_aside,
            tried: ours.tried,
            imported: ours.imported,
            simulated: ours.simulated,
            note: ours.note,
        })
    }

    /// The metadata file's text for a CSV named `csv_name`.
    pub fn to_json(&self, csv_name: &str) -> String {
        let ours = Ours {
            format: FORMAT.to_owned(),
            board: self.board.clone(),
            unit: self.unit.clone(),
            channels: self.channels.iter().cloned().collect(),
            reference: self.reference.clone(),
            started: self.started.clone(),
            stream: self.stream.clone(),
            looks: self.looks,
            set_aside: self.set_aside.clone(),
            tried: self.tried.clone(),
            imported: self.imported.clone(),
            simulated: self.simulated,
            note: self.note.clone(),
        };
        let file = json!({
            "@context": CONTEXT,
            "url": csv_name,
            "tableSchema": { "columns": self.columns() },
            "pedalproof": ours,
        });
        format!("{file:#}\n")
    }

    fn columns(&self) -> Vec<Value> {
        let mut columns = vec![
            json!({ "name": "t_us", "titles": "t_us", "datatype": "nonNegativeInteger" }),
            json!({ "name": "step", "titles": "step", "datatype": "string" }),
        ];
        columns.extend(self.channels.iter().map(
            |(name, _)| json!({ "name": name, "titles": name, "datatype": "nonNegativeInteger" }),
        ));
        if self.reference.is_some() {
            columns.push(json!({ "name": "ref", "titles": "ref", "datatype": "number" }));
        }
        columns
    }
}
