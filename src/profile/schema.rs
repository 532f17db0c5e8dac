//! The JSON Schema of `profile/1`, generated from the types that read it.
//!
//! Belongs here: what the types alone cannot say (which figures, which steps, which numbers). Shipped as
//! `profiles/profile.schema.json` and held in step by a test.

use super::format::{LimitText, Text};
use measure::figure::{FigureName, Scope};
use measure::units::Step;
use schemars::{Schema, SchemaGenerator, json_schema};
use serde_json::{Map, Value};

/// The schema as text: what `profiles/profile.schema.json` holds.
#[must_use]
pub fn schema_json() -> String {
    let schema = schemars::schema_for!(Text);
    // A schema is a tree of plain values: writing it cannot fail.
    serde_json::to_string_pretty(&schema).unwrap_or_default() + "\n"
}

/// A card: a list of the known steps.
pub(super) fn steps(_: &mut SchemaGenerator) -> Schema {
    let words: Vec<&str> = Step::ALL.iter().map(|step| step.word()).collect();
    json_schema!({ "type": "array", "items": { "type": "string", "enum": words } })
}

/// Limits on figures of a channel.
pub(super) fn channel_limits(generator: &mut SchemaGenerator) -> Schema {
    limits(generator, Scope::Channel)
}

/// Limits on figures of a pair of tracks.
pub(super) fn pair_limits(generator: &mut SchemaGenerator) -> Schema {
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
                format!("{} Unit: {}.", name.definition(), name.unit()).into(),
            );
            (name.word().to_owned(), one.to_value())
        })
        .collect();
    json_schema!({ "type": "object", "properties": properties, "additionalProperties": false })
}
