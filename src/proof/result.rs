//! What a proof came to, as values; serialised it is `proof/1`.

use super::marks::Fault;
use super::settled::SettledPoint;
use crate::record::CaptureFacts;
use measure::figure::Figure;
use measure::judge::{Outcome, Verdict};
use serde::{Serialize, Serializer};

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
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// `output`, or the round: `open`, `ground`, `supply`.
    pub of: &'static str,
    pub figure: &'static str,
    /// Lower side of the limit, in the figure's unit.
    pub min: Option<f64>,
    pub max: Option<f64>,
    pub outcome: Outcome,
    pub reason: String,
    pub advice: Option<String>,
}

/// What one round showed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Round {
    pub fault: Fault,
    /// It was left out, or nothing was seen of it.
    pub seen: bool,
    /// The board stayed stopped after the wire was whole, the control had rested and was pressed again; `None`: that was not
    /// tried long enough.
    pub latched: Option<bool>,
    /// When the input left its window, seconds after the first sample.
    pub at_s: Option<f64>,
    #[serde(serialize_with = "as_object")]
    pub figures: Vec<Row>,
    /// What the profile's wiring says beforehand.
    pub foretold: Option<String>,
    /// Why nothing was measured.
    pub note: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
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
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Proof {
    /// `proof/1`.
    pub format: &'static str,
    pub verdict: Verdict,
    pub block: BlockFacts,
    pub capture: CaptureFacts,
    pub notes: Vec<String>,
    #[serde(serialize_with = "as_object")]
    pub figures: Vec<Row>,
    /// Where the inputs stood still.
    pub places: Vec<SettledPoint>,
    pub rounds: Vec<Round>,
    pub findings: Vec<Finding>,
}

/// Rows as an object in their order.
fn as_object<S: Serializer>(rows: &[Row], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_map(rows.iter().map(|(name, row)| (name, row)))
}
