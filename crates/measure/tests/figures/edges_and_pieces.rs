//! Tolerance factors and piecewise lines against values from outside: `tests/reference/24` and `10`.

use crate::support::outside::{close, number, numbers, reference};
use measure::statistics::{fewest_knots, one_sided_factor, two_sided_factor};

/// `p=0.95 c=0.99` as two numbers.
fn asked(key: &str) -> (f64, f64) {
    let (p, c) = key.split_once(' ').unwrap();
    let value = |part: &str| part.split_once('=').unwrap().1.parse().unwrap();
    (value(p), value(c))
}

#[test]
fn factors_of_normal_tolerance_limits() {
    let check = reference("24-tolerance-limits");
    let tolerance = number(&check["tolerance"]["factor_relative"]);
    let mut compared = 0;
    for (table, factor) in [
        (
            "one_sided_k",
            one_sided_factor as fn(usize, f64, f64) -> Option<f64>,
        ),
        ("two_sided_k", two_sided_factor),
    ] {
        for (key, row) in check["expected"][table].as_object().unwrap() {
            let (p, c) = asked(key);
            for (n, expected) in row.as_object().unwrap() {
                let k = factor(n.parse().unwrap(), p, c).unwrap();
                let expected = number(expected);
                close(
                    &format!("{table} n={n} {key}"),
                    k,
                    expected,
                    tolerance * expected,
                );
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 9 * 13);
    let printed = check["expected"]["printed_two_decimal_two_sided_c_0.95"].as_object();
    for (n, row) in printed.unwrap() {
        for (p, expected) in row.as_object().unwrap() {
            let p = p.strip_prefix("p=").unwrap().parse().unwrap();
            let k = two_sided_factor(n.parse().unwrap(), p, 0.95).unwrap();
            close(
                &format!("printed n={n} p={p}"),
                k,
                number(expected),
                0.005 + 1e-9,
            );
        }
    }
    let example = &check["expected"]["handbook_example"];
    let k1 = one_sided_factor(43, 0.9, 0.99).unwrap();
    close(
        "handbook, one side",
        k1,
        number(&example["k1_exact"]),
        1e-6 * k1,
    );
    let k2 = two_sided_factor(43, 0.9, 0.99).unwrap();
    close(
        "handbook, two sides",
        k2,
        number(&example["k2_exact"]),
        1e-6 * k2,
    );
}

#[test]
fn fewest_pieces_of_three_curves() {
    let check = reference("10-piecewise-linear");
    let x = numbers(&check["inputs"]["x"]);
    for (name, curve) in check["inputs"]["y"].as_object().unwrap() {
        let y = numbers(curve);
        let expected = &check["expected"]["segments"][name];
        for row in expected["by_max_error"].as_array().unwrap() {
            let max_error = number(&row["max_error"]);
            let knots = fewest_knots(&x, &y, max_error).unwrap();
            let what = format!("{name} within {max_error}");
            assert_eq!(
                knots.len() as u64 - 1,
                row["interpolating_segments"],
                "{what}"
            );
            within(&what, &x, &y, &knots, max_error);
        }
    }
}

/// The pieces join the first sample to the last and keep the error at every sample.
fn within(what: &str, x: &[f64], y: &[f64], knots: &[usize], max_error: f64) {
    assert_eq!(knots[0], 0);
    assert_eq!(knots[knots.len() - 1], x.len() - 1);
    for pair in knots.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        assert!(a < b);
        for k in a..=b {
            let share = (x[k] - x[a]) / (x[b] - x[a]);
            let value = y[a] + share * (y[b] - y[a]);
            close(
                &format!("{what} at sample {k}"),
                value,
                y[k],
                max_error * (1.0 + 1e-9),
            );
        }
    }
}
