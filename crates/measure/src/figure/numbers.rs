//! Numbers for people, formatted in one place.
//!
//! One rule for screen, text and report: a value, its uncertainty and its interval are rounded to the place of the second
//! significant digit of the standard uncertainty (GUM, JCGM 100:2008, 7.2.6: at most two significant digits for u, the
//! estimate rounded to match). Missing is a dash.

use super::Figure;

/// What stands where there is no number.
pub const DASH: &str = "-";

/// Most decimals ever shown.
const MOST_DECIMALS: usize = 7;

/// Decimals that show two significant digits of `u`: 0 for u >= 10.
#[must_use]
pub fn decimals_for(u: f64) -> usize {
    if !u.is_finite() || u <= 0.0 {
        return 0;
    }
    // The place of the leading digit, after rounding to two digits may have carried (0.0996 -> 0.10).
    let mut decimals = 0;
    while decimals < MOST_DECIMALS
        && (u * 10f64.powi(i32::try_from(decimals).unwrap_or(0))).round() < 10.0
    {
        decimals += 1;
    }
    decimals
}

/// Decimals for a value without an uncertainty: four significant digits, none for whole numbers.
fn plain_decimals(value: f64) -> usize {
    if (value - value.round()).abs() < 1e-9 {
        return 0;
    }
    decimals_for(value.abs() / 100.0)
}

/// `value` with so many decimals; never `-0`.
#[must_use]
pub fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return DASH.to_owned();
    }
    let text = format!("{value:.decimals$}");
    if text.starts_with('-') && text[1..].bytes().all(|b| matches!(b, b'0' | b'.')) {
        text[1..].to_owned()
    } else {
        text
    }
}

/// A number that stands alone, such as a limit: as it was written when that is short, else four significant digits.
#[must_use]
pub fn plain(value: f64) -> String {
    let written = format!("{value}");
    if value.is_finite() && written.len() <= 6 {
        return written;
    }
    four_digits(value)
}

/// An amount that is itself only a usual one: two significant digits, whole from ten on.
#[must_use]
pub fn two_digits(value: f64) -> String {
    without_zeros(fixed(value, decimals_for(value.abs())))
}

/// A number without an uncertainty to round it by: whole if it is whole, else to four significant digits.
#[must_use]
pub fn four_digits(value: f64) -> String {
    without_zeros(fixed(value, plain_decimals(value)))
}

fn without_zeros(text: String) -> String {
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// A figure as `value`, `u` and `low .. high`, all to the same place.
pub fn reading(figure: &Figure) -> Reading {
    let place = figure
        .u
        .filter(|u| *u > 0.0)
        .or_else(|| match (figure.low, figure.high) {
            (Some(low), Some(high)) if high > low => Some((high - low) / 4.0),
            _ => None,
        });
    let decimals = place.map_or_else(|| plain_decimals(figure.value), decimals_for);
    let end = |x: Option<f64>| x.map_or_else(|| DASH.to_owned(), |x| fixed(x, decimals));
    let (low, high) = (end(figure.low), end(figure.high));
    let interval = match (figure.low, figure.high) {
        (None, None) => DASH.to_owned(),
        _ => format!("{low} .. {high}"),
    };
    let half = figure.u.and(figure.low.zip(figure.high));
    let half = half.map(|(low, high)| (high - low) / 2.0);
    Reading {
        value: place.map_or_else(
            || four_digits(figure.value),
            |_| fixed(figure.value, decimals),
        ),
        u: end(figure.u),
        half: half
            .filter(|half| half.is_finite() && *half > 0.0)
            .map(|half| fixed(half, decimals)),
        low,
        high,
        interval,
    }
}

/// A figure's numbers as text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// The value.
    pub value: String,
    /// Standard uncertainty, or a dash.
    pub u: String,
    /// Half the 95 % interval; absent for what is counted or open on a side.
    pub half: Option<String>,
    /// Lower end of the 95 % interval, or a dash.
    pub low: String,
    /// Upper end of the 95 % interval, or a dash.
    pub high: String,
    /// The 95 % interval, or a dash.
    pub interval: String,
}

/// A limit as `0.12 to 0.2`, `at most 2`, `at least 8`; one that is not 0 does not read so: `at most 1e-9`.
#[must_use]
pub fn limit(min: Option<f64>, max: Option<f64>) -> String {
    let stated = |limit: f64| match plain(limit) {
        digits if digits == "0" && limit != 0.0 => format!("{limit:e}"),
        digits => digits,
    };
    match (min.map(stated), max.map(stated)) {
        (Some(min), Some(max)) => format!("{min} to {max}"),
        (Some(min), None) => format!("at least {min}"),
        (None, Some(max)) => format!("at most {max}"),
        (None, None) => DASH.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_digits_of_u_set_the_place() {
        // Worked by hand after GUM 7.2.6.
        let told = |value, u| {
            let reading = reading(&Figure::symmetric(value, u, 2.0, 1, ""));
            (reading.value, reading.u)
        };
        assert_eq!(told(163.98765, 0.0321), ("163.988".into(), "0.032".into()));
        assert_eq!(told(163.98765, 3.21), ("164.0".into(), "3.2".into()));
        assert_eq!(told(163.98765, 32.1), ("164".into(), "32".into()));
        assert_eq!(told(0.5, 0.0996), ("0.50".into(), "0.10".into()));
        assert_eq!(told(-0.0001, 0.05), ("0.000".into(), "0.050".into()));
        assert_eq!(told(7.0, 0.0), ("7".into(), "0".into()));
    }

    #[test]
    fn missing_is_a_dash() {
        assert_eq!(fixed(f64::NAN, 2), DASH);
        let figure = Figure {
            value: 3.0,
            u: None,
            low: None,
            high: None,
            n: 1,
            method: String::new(),
            shrink: None,
        };
        let told = reading(&figure);
        assert_eq!(
            (told.value.as_str(), told.u.as_str(), told.interval.as_str()),
            ("3", DASH, DASH)
        );
    }

    #[test]
    fn limits_read_like_limits() {
        assert_eq!(limit(Some(0.12), Some(0.2)), "0.12 to 0.2");
        assert_eq!(limit(None, Some(2.0)), "at most 2");
        assert_eq!(limit(Some(7.5), None), "at least 7.5");
        assert_eq!(limit(Some(0.0), Some(1e-9)), "0 to 1e-9");
        // A limit that was worked out is rounded to a hundredth of itself and a digit more, one that was written short is not.
        assert_eq!(limit(None, Some(9.765_625)), "at most 9.77");
        assert_eq!(plain(1234.5), "1234.5");
        assert_eq!(plain(0.0123), "0.0123");
        assert_eq!(four_digits(2.999_96), "3");
        assert_eq!(four_digits(0.123_456), "0.1235");
        assert_eq!(four_digits(f64::INFINITY), DASH);
        // 4 codes of 1024, and the square root of 8: as a person rounds them.
        assert_eq!(two_digits(0.003_906_25), "0.0039");
        assert_eq!(two_digits(2.828_427), "2.8");
        assert_eq!(two_digits(2.0), "2");
        assert_eq!(two_digits(16.0), "16");
    }
}
