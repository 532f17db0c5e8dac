//! Fractions of a whole, as readings and commands are.

/// From 0 to 1. A zero has no sign, which would be read as `-0`.
pub(super) fn fraction(x: f64) -> f64 {
    x.clamp(0.0, 1.0) + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nought_is_nought() {
        for (x, want) in [(-0.0, "0"), (-1e-20, "0"), (0.25, "0.25"), (1.5, "1")] {
            assert_eq!(fraction(x).to_string(), want);
        }
    }
}
