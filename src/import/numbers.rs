//! A cell as a number: decimal points and commas, exponents, times of day.

/// The number that a cell holds, with `decimal` as its decimal sign; a time of day (`09:30:01,25`, a date before it) in seconds.
/// Nothing for what is no finite number.
pub fn number(cell: &str, decimal: char) -> Option<f64> {
    let cell = cell.trim();
    if cell.contains(':') {
        return time_of_day(cell, decimal);
    }
    if cell.contains('\u{2212}') {
        return number(&cell.replace('\u{2212}', "-"), decimal);
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

/// `09:30`, `09:30:01.25`, `9:30:01 PM`, `30:01.2` (minutes and seconds); a date before it and a zone behind it count for nothing.
fn time_of_day(cell: &str, decimal: char) -> Option<f64> {
    let (cell, half) = half_of_day(cell);
    let time = cell.rsplit(['T', ' ']).next()?.trim_end_matches('Z');
    let zone = time.rfind(['+', '-']).filter(|at| *at > 0);
    let parts: Vec<&str> = time[..zone.unwrap_or(time.len())].split(':').collect();
    let whole = |part: &str, below: u32| {
        let part = part.parse::<u32>().ok().filter(|part| *part < below);
        part.map(f64::from)
    };
    let seconds = |part: &str| {
        let seconds = number(part, decimal).or_else(|| number(part, '.'))?;
        (0.0..61.0).contains(&seconds).then_some(seconds)
    };
    let hours = |part: &str| match half {
        None => whole(part, 24),
        Some(half) => whole(part, 13).map(|hours| hours % 12.0 + half),
    };
    match parts[..] {
        [m, s] if s.contains(['.', decimal]) => Some(whole(m, 1440)? * 60.0 + seconds(s)?),
        [h, m] => Some(hours(h)? * 3600.0 + whole(m, 60)? * 60.0),
        [h, m, s] => Some(hours(h)? * 3600.0 + whole(m, 60)? * 60.0 + seconds(s)?),
        _ => None,
    }
}

/// A time without its `AM` or `PM`, and the hours that this adds.
fn half_of_day(cell: &str) -> (&str, Option<f64>) {
    let split = cell.len().saturating_sub(2);
    let (time, half) = cell.split_at_checked(split).unwrap_or((cell, ""));
    match half.to_ascii_uppercase().as_str() {
        "AM" => (time.trim_end(), Some(0.0)),
        "PM" => (time.trim_end(), Some(12.0)),
        _ => (cell, None),
    }
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
            ("2026-04-11T09:30:01.25+02:00", '.', Some(34_201.25)),
            ("04/11/2026 09:30:01.25 PM", '.', Some(77_401.25)),
            ("12:00:01 am", '.', Some(1.0)),
            ("75:01.5", '.', Some(4501.5)),
            ("\u{2212}1.5", '.', Some(-1.5)),
            ("13:00:00 PM", '.', None),
            ("25:00:00", '.', None),
            ("A0:512", '.', None),
        ] {
            assert_eq!(number(cell, decimal), want, "{cell}");
        }
    }
}
