//! Reads the reference values of `tests/reference/` for the tests that compare with them.

use serde_json::Value;

/// One reference file by its name without `.json`.
pub fn reference(name: &str) -> Value {
    let path = format!(
        "{}/../../tests/reference/{name}.json",
        env!("CARGO_MANIFEST_DIR")
    );
    let text = std::fs::read_to_string(&path).unwrap_or_else(|why| panic!("{path}: {why}"));
    serde_json::from_str(&text).unwrap_or_else(|why| panic!("{path}: {why}"))
}

/// A number, or a number written as text to keep its digits.
pub fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .or_else(|| value.as_str().and_then(|text| text.parse().ok()))
        .unwrap_or_else(|| panic!("not a number: {value}"))
}

/// A list of numbers.
pub fn numbers(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .unwrap_or_else(|| panic!("not a list: {value}"))
        .iter()
        .map(number)
        .collect()
}

/// Fails with both numbers when they differ by more than `tolerance`.
#[track_caller]
pub fn close(what: &str, value: f64, target: f64, tolerance: f64) {
    assert!(
        (value - target).abs() <= tolerance,
        "{what}: {value:e} should be {target:e} within {tolerance:e}"
    );
}
