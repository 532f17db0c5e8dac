//! What a proof came to, as values; serialised it is `proof/1`.

use super::marks::Fault;
use super::settled::SettledPoint;
use crate::outlet;
use crate::record::{CaptureFacts, FigureKept};
use measure::figure::Figure;
use measure::judge::{Outcome, Verdict};
use schemars::JsonSchema;
use serde::{Serialize, Serializer};
use std::collections::BTreeMap;

/// A figure with its unit, written as an assessment's figures are.
#[derive(Debug, Clone, PartialEq)]
pub struct ProofFigure {
    /// Unit of value, uncertainty and interval.
    pub unit: &'static str,
    pub figure: Figure,
}

impl Serialize for ProofFigure {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        use serde::ser::SerializeStruct;
        let of = &self.figure;
        let mut out = serializer.serialize_struct("Figure", 7)?;
        out.serialize_field("value", &of.value)?;
        out.serialize_field("unit", self.unit)?;
        out.serialize_field("u", &of.u)?;
        out.serialize_field("low", &of.low)?;
        out.serialize_field("high", &of.high)?;
        out.serialize_field("n", &of.n)?;
        out.serialize_field("method", &of.method)?;
        out.end()
    }
}

/// A named figure; absent when the capture does not support it.
pub type Row = (&'static str, Option<ProofFigure>);

/// A figure held against its limit.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Finding {
    /// `output`, or the round: `open`, `ground`, `supply`, `tracks-joined`.
    pub of: &'static str,
    /// The input of the round.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub input: Option<u8>,
    pub figure: &'static str,
    /// The figure's unit; `None` where it has none.
    pub unit: Option<&'static str>,
    /// Lower side of the limit, in the figure's unit.
    pub min: Option<f64>,
    pub max: Option<f64>,
    pub outcome: Outcome,
    pub reason: String,
    pub advice: Option<String>,
}

/// Whether a capture shows a number of the block.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
pub enum ClaimState {
    #[serde(rename = "shown")]
    Shown,
    #[serde(rename = "not exercised")]
    NotExercised,
    #[serde(rename = "contradicted")]
    Contradicted,
}

/// A number of the block, or something that must stop the board, and what the capture says of it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[allow(clippy::struct_field_names)] // the format's name
pub struct Claim {
    /// Its place in the block, as `inputs[0].window.low`, or `stops[0].open`.
    pub claim: String,
    pub state: ClaimState,
    pub evidence: String,
}

/// What one round showed.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Round {
    pub fault: Fault,
    /// The input whose wire it was; `None` where two tracks were joined.
    pub input: Option<u8>,
    /// What that input read with the fault there, blending board's code.
    pub reading: Option<u16>,
    /// The block believes that reading, so that it lets the board run on.
    pub hidden: bool,
    /// The reading at which the board stopped although the block believes it.
    #[serde(skip)]
    pub stopped_inside: Option<u16>,
    /// It was left out, or nothing was seen of it.
    pub seen: bool,
    /// The board stayed stopped after the wire was whole, the control had rested and was pressed again; `None`: that was not
    /// tried long enough.
    pub latched: Option<bool>,
    /// When the input left its window, seconds after the first sample.
    pub at_s: Option<f64>,
    #[schemars(with = "BTreeMap<String, Option<FigureKept>>")]
    #[serde(serialize_with = "as_object")]
    pub figures: Vec<Row>,
    /// What the profile's wiring says beforehand.
    pub foretold: Option<String>,
    /// Why nothing was measured.
    pub note: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct BlockFacts {
    /// CRC-16/IBM-3740 of its bytes, four hex digits.
    pub crc: String,
    /// Resolution of its inputs.
    pub adc_bits: u8,
    /// Resolution of its output.
    pub dac_bits: u8,
    pub rate_hz: u16,
    /// The columns taken as its inputs, in order.
    pub inputs: Vec<String>,
    pub output: String,
}

/// Everything that a capture said about a flashed board.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "proof/1")]
pub struct Proof {
    /// `proof/1`.
    #[schemars(extend("const" = "proof/1"))]
    pub format: &'static str,
    pub verdict: Verdict,
    pub block: BlockFacts,
    pub capture: CaptureFacts,
    pub notes: Vec<String>,
    #[schemars(with = "BTreeMap<String, Option<FigureKept>>")]
    #[serde(serialize_with = "as_object")]
    pub figures: Vec<Row>,
    /// Where the inputs stood still.
    pub places: Vec<SettledPoint>,
    pub rounds: Vec<Round>,
    /// How many of the claims are shown, in words.
    pub headline: String,
    /// Every number of the block and every stop, and what the capture says of it.
    pub claims: Vec<Claim>,
    pub findings: Vec<Finding>,
}

/// The JSON Schema of a proof.
pub fn schema_json() -> String {
    outlet::schema_json::<Proof>()
}

/// Rows as an object in their order.
fn as_object<S: Serializer>(rows: &[Row], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_map(rows.iter().map(|(name, row)| (name, row)))
}
