//! Numbers and durations as people read them; to which place a number is rounded is for `figure::numbers`.

/// A count with its thousands set apart: `12 345`.
pub fn count(number: u64) -> String {
    let digits = number.to_string();
    let mut grouped = String::with_capacity(digits.len() + digits.len() / 3);
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            grouped.push(' ');
        }
        grouped.push(digit);
    }
    grouped
}

/// Seconds as `7.4 s`, or `3:05 min` from two minutes on.
pub fn duration(seconds: f64) -> String {
    if !seconds.is_finite() {
        return "-".to_owned();
    }
    if seconds.abs() < 120.0 {
        return format!("{seconds:.1} s");
    }
    let minutes = (seconds / 60.0).trunc();
    format!("{minutes:.0}:{:02.0} min", (seconds % 60.0).abs().floor())
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::figure::numbers::{four_digits, reading};
    use measure::figure::{Figure, FigureName};

    fn shown(value: f64, u: f64) -> String {
        let figure = Figure::symmetric(value, u, 2.0, 9, "by hand");
        let r = reading(&figure);
        let unit = FigureName::RestCode.unit().label();
        format!("{} ± {} {unit}", r.value, r.half.unwrap())
    }

    #[test]
    fn digits_are_those_that_the_uncertainty_supports() {
        // By hand: ± is 2 u; two digits of u count.
        assert_eq!(shown(163.8712, 0.123), "163.87 ± 0.25 code");
        assert_eq!(shown(163.8712, 12.3), "164 ± 25 code");
        assert_eq!(shown(0.160_123, 0.000_21), "0.16012 ± 0.00042 code");
        assert_eq!(shown(163.8712, 0.6), "163.87 ± 1.20 code");
    }

    #[test]
    fn no_uncertainty_no_half() {
        let counted = reading(&Figure::counted(3.0, 3, "counted"));
        assert_eq!((counted.value.as_str(), counted.half), ("3", None));
        let certain = Figure::symmetric(2.5, 0.0, 2.0, 3, "by hand");
        assert_eq!(reading(&certain).value, "2.5");
        let broken = Figure::symmetric(2.5, f64::NAN, 2.0, 3, "by hand");
        assert_eq!(reading(&broken).half, None);
    }

    #[test]
    fn counts_and_durations() {
        assert_eq!(count(0), "0");
        assert_eq!(count(999), "999");
        assert_eq!(count(1_234_567), "1 234 567");
        assert_eq!(duration(7.42), "7.4 s");
        assert_eq!(duration(185.0), "3:05 min");
        assert_eq!(four_digits(f64::NAN), "-");
        assert_eq!(four_digits(0.12), "0.12");
    }
}
