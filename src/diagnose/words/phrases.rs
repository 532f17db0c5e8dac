//! Numbers and lists as people say them.

use crate::diagnose::evidence::Lost;
use measure::figure::numbers::fixed;

/// `29-39 % and 70-74 %`; a spot narrower than 2 % by its middle.
pub(in crate::diagnose) fn each_place(places: &[(f64, f64)]) -> String {
    let each = places.iter().map(|(from, to)| {
        if to - from < 2.0 {
            format!("{} %", fixed(f64::midpoint(*from, *to), 0))
        } else {
            format!("{}-{} %", fixed(*from, 0), fixed(*to, 0))
        }
    });
    joined(&each.collect::<Vec<_>>())
}

/// `a, b and c`.
pub(in crate::diagnose) fn joined(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// `3.0 times`.
pub(in crate::diagnose) fn times(ratio: f64) -> String {
    format!("{} times", fixed(ratio, 1))
}

/// The longest of some losses: `8 ms`, from two seconds on `5.0 s`.
pub(in crate::diagnose) fn longest_ms(lost: &[Lost]) -> String {
    let each = lost.iter().map(|lost| lost.dropout.duration_ms);
    let longest = each.fold(0.0, f64::max);
    if longest < 2000.0 {
        format!("{} ms", fixed(longest, 0))
    } else {
        format!("{} s", fixed(longest / 1000.0, 1))
    }
}

/// How often: `once`, `7 times`.
pub(in crate::diagnose) fn often(n: usize) -> String {
    match n {
        1 => "once".to_owned(),
        n => format!("{n} times"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_as_people_say_them() {
        assert_eq!(
            each_place(&[(29.0, 39.0), (70.2, 74.4)]),
            "29-39 % and 70-74 %"
        );
        assert_eq!(each_place(&[(83.4, 84.4)]), "84 %");
        assert_eq!(
            each_place(&[(1.0, 4.0), (5.0, 9.0), (20.0, 30.0)]),
            "1-4 %, 5-9 % and 20-30 %"
        );
        assert_eq!(each_place(&[]), "");
        assert_eq!(times(3.04), "3.0 times");
    }
}
