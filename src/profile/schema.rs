//! The text of `profile/1` as it is written, and its JSON Schema, which is generated from the same types.

use super::types::{Kind, USUAL_CODE_BITS};
use crate::outlet;
use crate::wiring::WiringText;
use crate::wiring::faults::ZeroEnd;
use measure::figure::{FigureName, Scope};
use measure::units::Step;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use serde_json::{Map, Value};
use std::collections::BTreeMap;

/// What a good unit of a kind looks like. Units are in the names: `_ohm`, `_mv`, `_ms`, `_pct`; ratios are fractions of the
/// ADC's reference.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "profile/1")]
pub(super) struct Text {
    /// Always `profile/1`.
    #[schemars(extend("const" = "profile/1"))]
    pub(super) format: String,
    /// What this kind of control is called.
    pub(super) name: String,
    /// What sort of control.
    pub(super) kind: Kind,
    /// The steps a unit goes through, in order.
    #[schemars(schema_with = "steps")]
    pub(super) card: Vec<Step>,
    /// Bits of the board whose codes the limits in codes are: 10 when not said. On a board of other bits they are scaled, so that
    /// they mean the same voltage.
    #[serde(default = "usual_code_bits")]
    #[schemars(extend("minimum" = 1, "maximum" = 24))]
    pub(super) code_bits: u32,
    /// Nominal supply of the control in millivolts.
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub(super) supply_mv: f64,
    /// Its tracks: "1", or "1" and "2".
    #[schemars(with = "BTreeMap<TrackKey, TrackText>")]
    pub(super) tracks: BTreeMap<String, TrackText>,
    /// What the two tracks must do together.
    #[serde(default)]
    pub(super) pair: Option<PairText>,
    /// What must be seen before the board lets the motor run.
    pub(super) start: StartText,
    /// Within how many milliseconds a fault must have stopped the output.
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub(super) stop_within_ms: f64,
    /// How far warmth and age may move the control's ends, percent of span: 3 when not said. The edges of the constants leave it, so that a
    /// released control commands zero in winter and in summer.
    #[serde(default = "usual_drift")]
    #[schemars(extend("minimum" = 0, "maximum" = 25))]
    pub(super) drift_allowance_pct: f64,
    /// A word to the reader.
    #[serde(default)]
    pub(super) comment: Option<String>,
    /// For editors: where the schema is.
    #[serde(default, rename = "$schema")]
    _schema: Option<String>,
}

/// A track's number as the key of a JSON object: for the schema alone, so that a refusal can name the key.
#[derive(JsonSchema)]
#[allow(dead_code)] // only its schema is used
enum TrackKey {
    #[serde(rename = "1")]
    One,
    #[serde(rename = "2")]
    Two,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "Track")]
pub(super) struct TrackText {
    /// How it is wired to the board.
    #[serde(default)]
    pub(super) wiring: Option<WiringText>,
    /// Limits on its figures.
    #[serde(default)]
    #[schemars(schema_with = "channel_limits")]
    pub(super) limits: BTreeMap<String, LimitText>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "Pair")]
pub(super) struct PairText {
    /// Limits on the pair's figures.
    #[serde(default)]
    #[schemars(schema_with = "pair_limits")]
    pub(super) limits: BTreeMap<String, LimitText>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "Start")]
pub(super) struct StartText {
    /// The end of travel that commands zero, which must be seen first.
    pub(super) zero_command_at: ZeroEnd,
}

/// What a figure must stay within: `min`, `max` or both, in the figure's unit.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "Limit")]
pub(super) struct LimitText {
    /// Lower side.
    #[serde(default)]
    pub(super) min: Option<f64>,
    /// Upper side.
    #[serde(default)]
    pub(super) max: Option<f64>,
    /// Why this number.
    #[serde(default)]
    pub(super) reason: Option<String>,
}

fn usual_drift() -> f64 {
    super::types::USUAL_DRIFT_PCT
}

fn usual_code_bits() -> u32 {
    USUAL_CODE_BITS
}

/// The schema as text: what `profiles/profile.schema.json` holds.
pub fn schema_json() -> String {
    outlet::schema_json::<Text>()
}

/// A card: a list of the known steps.
fn steps(_: &mut SchemaGenerator) -> Schema {
    let words: Vec<&str> = Step::ALL.iter().map(|step| step.word()).collect();
    json_schema!({ "type": "array", "items": { "type": "string", "enum": words } })
}

/// Limits on figures of a channel.
fn channel_limits(generator: &mut SchemaGenerator) -> Schema {
    limits(generator, Scope::Channel)
}

/// Limits on figures of a pair of tracks.
fn pair_limits(generator: &mut SchemaGenerator) -> Schema {
    limits(generator, Scope::Pair)
}

/// One property per figure, with its definition and unit, so that an editor can offer and explain them.
fn limits(generator: &mut SchemaGenerator, scope: Scope) -> Schema {
    let limit = generator.subschema_for::<LimitText>();
    let properties: Map<String, Value> = FigureName::of(scope)
        .map(|name| {
            let mut one = limit.clone();
            one.insert(
                "description".to_owned(),
                format!("{} Unit: {}.", name.facts().definition, name.unit().word()).into(),
            );
            (name.word().to_owned(), one.to_value())
        })
        .collect();
    json_schema!({ "type": "object", "properties": properties, "additionalProperties": false })
}
