//! A cell as a number: decimal points and commas, exponents, times of day.

/// The number that a cell holds, with `decimal` as its decimal sign; a time of day (`09:30:01,25`, a date before it) in seconds.
/// Nothing for what is no finite number.
pub fn number(cell: &str, decimal: char) -> Option<f64> {
    let cell = cell.trim();
    if cell.contains(':') {
        return time_of_day(cell, decimal);
    }
    // Letters would let `inf` and `nan` pass; an exponent has one.
    let plain = |c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | 'e' | 'E') || c == decimal;
    if !cell.chars().all(plain) || !cell.contains(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let number = match decimal {
        '.' => cell.parse::<f64>(),
        _ => cell.replacen(decimal, ".", 1).parse::<f64>(),
    };
    number.ok().filter(|number| number.is_finite())
}

fn time_of_day(cell: &str, decimal: char) -> Option<f64> {
    let time = cell.rsplit(['T', ' ']).next()?.trim_end_matches('Z');
    let mut parts = time.split(':');
    let mut whole = |below: f64| {
        let part = parts.next()?.parse::<u32>().ok().map(f64::from);
        part.filter(|part| *part < below)
    };
    let (hours, minutes) = (whole(24.0)?, whole(60.0)?);
    let seconds = match parts.next() {
        Some(text) => number(text, decimal).or_else(|| number(text, '.'))?,
        None => 0.0,
    };
    let ends = parts.next().is_none() && (0.0..61.0).contains(&seconds);
    ends.then_some(hours * 3600.0 + minutes * 60.0 + seconds)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_many_hands() {
        for (cell, decimal, want) in [
            (" 1.5 ", '.', Some(1.5)),
            ("-2,50E-03", ',', Some(-0.0025)),
            ("+.5", '.', Some(0.5)),
            ("512", ',', Some(512.0)),
            ("1.5", ',', None),
            ("1,5", '.', None),
            ("1.2.3", '.', None),
            ("inf", '.', None),
            ("1e999", '.', None),
            ("", '.', None),
            ("-", '.', None),
            ("0x10", '.', None),
            ("09:30:01,25", ',', Some(34_201.25)),
            ("2026-04-11T09:30:01.25Z", '.', Some(34_201.25)),
            ("11.04.2026 09:30", ',', Some(34_200.0)),
            ("25:00:00", '.', None),
            ("A0:512", '.', None),
        ] {
            assert_eq!(number(cell, decimal), want, "{cell}");
        }
    }
}
