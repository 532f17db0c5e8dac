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
    /// The figure.
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
    /// The figure.
    pub figure: &'static str,
    /// Lower side of the limit, in the figure's unit.
    pub min: Option<f64>,
    /// Upper side of the limit.
    pub max: Option<f64>,
    /// What came of it.
    pub outcome: Outcome,
    /// Why, with numbers.
    pub reason: String,
    /// What to do next.
    pub advice: Option<String>,
}

/// What one round showed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Round {
    /// Which fault was asked for.
    pub fault: Fault,
    /// It was left out, or nothing was seen of it.
    pub seen: bool,
    /// The board stayed stopped after the wire was whole, the control had rested and was pressed again; `None`: that was not
    /// tried long enough.
    pub latched: Option<bool>,
    /// When the input left its window, seconds after the first sample.
    pub at_s: Option<f64>,
    /// Figures of the round.
    #[serde(serialize_with = "as_object")]
    pub figures: Vec<Row>,
    /// What the profile's wiring says beforehand.
    pub foretold: Option<String>,
    /// Why nothing was measured.
    pub note: Option<String>,
}

/// The block that the board was held against.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BlockFacts {
    /// CRC-16/IBM-3740 of its bytes, four hex digits.
    pub crc: String,
    /// Resolution of its inputs.
    pub adc_bits: u8,
    /// Resolution of its output.
    pub dac_bits: u8,
    /// Steps a second.
    pub rate_hz: u16,
    /// The columns taken as its inputs, in order.
    pub inputs: Vec<String>,
    /// The column taken as its output.
    pub output: String,
}

/// Everything that a capture said about a flashed board.
#[derive(Debug, Clone, PartialEq)]
pub struct Proof {
    /// The outcome.
    pub verdict: Verdict,
    /// The block.
    pub block: BlockFacts,
    /// The recording.
    pub capture: CaptureFacts,
    /// What was assumed or scaled, in sentences.
    pub notes: Vec<String>,
    /// Figures of the output.
    pub figures: Vec<Row>,
    /// Where the inputs stood still.
    pub places: Vec<SettledPoint>,
    /// The rounds of faults.
    pub rounds: Vec<Round>,
    /// Figures held against limits.
    pub findings: Vec<Finding>,
}

impl Proof {
    /// A figure of the output.
    #[must_use]
    pub fn figure(&self, name: &str) -> Option<&Figure> {
        named(&self.figures, name)
    }

    /// The finding on a figure of the output or of a round.
    #[must_use]
    pub fn finding(&self, of: &str, figure: &str) -> Option<&Finding> {
        self.findings
            .iter()
            .find(|finding| finding.of == of && finding.figure == figure)
    }
}

/// A figure by name.
pub(super) fn named<'a>(rows: &'a [Row], name: &str) -> Option<&'a Figure> {
    rows.iter()
        .find(|(known, _)| *known == name)
        .and_then(|(_, row)| row.as_ref().map(|row| &row.figure))
}

/// Rows as an object in their order.
fn as_object<S: Serializer>(rows: &[Row], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_map(rows.iter().map(|(name, row)| (name, row)))
}

impl Serialize for Proof {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        use serde::ser::SerializeStruct;
        struct Object<'a>(&'a [Row]);
        impl Serialize for Object<'_> {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                as_object(self.0, serializer)
            }
        }
        let mut out = serializer.serialize_struct("Proof", 9)?;
        out.serialize_field("format", "proof/1")?;
        out.serialize_field("verdict", &self.verdict)?;
        out.serialize_field("block", &self.block)?;
        out.serialize_field("capture", &self.capture)?;
        out.serialize_field("notes", &self.notes)?;
        out.serialize_field("figures", &Object(&self.figures))?;
        out.serialize_field("places", &self.places)?;
        out.serialize_field("rounds", &self.rounds)?;
        out.serialize_field("findings", &self.findings)?;
        out.end()
    }
}
