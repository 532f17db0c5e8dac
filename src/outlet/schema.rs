//! What a format is, for other programs.

use schemars::JsonSchema;

/// The JSON Schema of what a type is written as or read from, as text.
pub fn schema_json<T: JsonSchema>() -> String {
    let schema = schemars::schema_for!(T);
    // A schema is a tree of plain values: writing it cannot fail.
    serde_json::to_string_pretty(&schema).unwrap_or_default() + "\n"
}
