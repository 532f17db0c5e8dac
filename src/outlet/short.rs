//! What is said of a file, a board or an argument, at a length that a person reads.

/// A number as it was stated, in the fewest digits: `5000`, `1e308`.
pub fn number(stated: f64) -> String {
    let text = format!("{stated:?}");
    match text.strip_suffix(".0") {
        Some(whole) => whole.to_owned(),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_any_size_are_short() {
        for (stated, said) in [
            (5000.0, "5000"),
            (4998.5, "4998.5"),
            (1e308, "1e308"),
            (1e-320, "1e-320"),
            (-2.5e-7, "-2.5e-7"),
            (f64::NAN, "NaN"),
        ] {
            assert_eq!(number(stated), said);
        }
    }
}
