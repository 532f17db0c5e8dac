//! Tests only: opens the checks of `tests/reference/` at the root of the repository.

/// One file of `tests/reference/`.
pub fn reference(name: &str) -> serde_json::Value {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../tests/reference")
        .join(name);
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// A JSON list of numbers.
pub fn numbers(value: &serde_json::Value) -> Vec<f64> {
    let list = value.as_array().unwrap();
    list.iter().map(|v| v.as_f64().unwrap()).collect()
}
