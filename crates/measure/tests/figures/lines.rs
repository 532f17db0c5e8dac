//! Lines against values from outside the program: `tests/reference/01`, `03`, `04`, `21`, `22`, `32`, `33`.

use crate::support::outside::{close, number, numbers, reference};
use measure::statistics::{BoundedLine, minimax, terminal, zero_based};
use measure::statistics::{LineFit, least_squares, least_squares_through};
use serde_json::Value;

/// Share of the variance explained: about the mean, or about `centre` through which the line is held.
fn r_squared(fit: &LineFit, y: &[f64], centre: f64) -> f64 {
    let all: f64 = y.iter().map(|y| (y - centre).powi(2)).sum();
    1.0 - fit.residual_sd.unwrap().powi(2) * f64::from(u32::try_from(fit.dof).unwrap()) / all
}

fn mean(y: &[f64]) -> f64 {
    y.iter().sum::<f64>() / f64::from(u32::try_from(y.len()).unwrap())
}

/// Covariance of intercept and slope.
fn covariance(fit: &LineFit) -> f64 {
    -fit.u_slope().unwrap().powi(2) * fit.line.x0
}

#[test]
fn norris_of_nist_strd() {
    let check = reference("01-nist-strd-norris");
    let (x, y) = (
        numbers(&check["inputs"]["x"]),
        numbers(&check["inputs"]["y"]),
    );
    let (expected, tolerance) = (&check["expected"], number(&check["tolerance"]["relative"]));
    let fit = least_squares(&x, &y).unwrap();
    assert_eq!(x.len() as u64, expected["n"]);
    assert_eq!(fit.dof as u64, expected["degrees_of_freedom"]);
    for (name, value) in [
        ("slope", fit.line.slope),
        ("intercept", fit.line.at(0.0)),
        ("slope_sd", fit.u_slope().unwrap()),
        ("intercept_sd", fit.u_at(0.0).unwrap()),
        ("residual_sd", fit.residual_sd.unwrap()),
        ("r_squared", r_squared(&fit, &y, mean(&y))),
    ] {
        let target = number(&expected[name]);
        close(name, value, target, tolerance * target.abs());
    }
}

#[test]
fn thermometer_line_of_gum_h3() {
    let check = reference("03-gum-h3-thermometer-line");
    let t0 = number(&check["inputs"]["t0"]);
    let t: Vec<f64> = numbers(&check["inputs"]["t"])
        .iter()
        .map(|t| t - t0)
        .collect();
    let b = numbers(&check["inputs"]["b"]);
    let fit = least_squares(&t, &b).unwrap();
    let correlation = covariance(&fit) / (fit.u_at(0.0).unwrap() * fit.u_slope().unwrap());
    let values = [
        ("intercept", fit.line.at(0.0)),
        ("intercept_u", fit.u_at(0.0).unwrap()),
        ("slope", fit.line.slope),
        ("slope_u", fit.u_slope().unwrap()),
        ("r_intercept_slope", correlation),
        ("residual_sd", fit.residual_sd.unwrap()),
        ("prediction_at_30", fit.line.at(10.0)),
        ("prediction_u_at_30", fit.u_at(10.0).unwrap()),
    ];
    for (name, value) in values {
        let recomputed = number(&check["expected"]["recomputed"][name]);
        close(name, value, recomputed, 1e-10 * recomputed.abs());
        let printed = &check["expected"]["published"][name];
        let digits = printed.to_string().split('.').nth(1).unwrap().len();
        let half_a_digit = 0.5 * 10f64.powi(-i32::try_from(digits).unwrap());
        close(name, value, number(printed), half_a_digit * (1.0 + 1e-9));
    }
    for ((t, b), residual) in t
        .iter()
        .zip(&b)
        .zip(numbers(&check["expected"]["residuals"]))
    {
        close("residual", b - fit.line.at(*t), residual, 1e-13);
    }
}

#[test]
fn four_linearities_of_eight_sets() {
    let check = reference("04-linearity-lines");
    let tolerance = number(&check["tolerance"]["max_error_relative_to_span"]);
    let sets = check["inputs"].as_object().unwrap();
    assert_eq!(sets.len(), 8);
    for (name, set) in sets {
        four_lines(name, set, &check["expected"][name], tolerance);
    }
}

fn four_lines(name: &str, set: &Value, expected: &Value, tolerance: f64) {
    let (x, y) = (numbers(&set["x"]), numbers(&set["y"]));
    let zero = numbers(&set["zero_point"]);
    let span = number(&expected["span"]);
    let fit = least_squares(&x, &y).unwrap();
    let lines = [
        ("independent", minimax(&x, &y).unwrap()),
        (
            "zero_based",
            zero_based(&x, &y, (zero[0], zero[1])).unwrap(),
        ),
        ("terminal_based", terminal(&x, &y).unwrap()),
        (
            "least_squares",
            BoundedLine {
                line: fit.line,
                max_error: fit.line.largest_deviation(&x, &y),
            },
        ),
    ];
    for (kind, line) in lines {
        let what = format!("{name} {kind}");
        let target = &expected[kind];
        close(
            &what,
            line.max_error,
            number(&target["max_error"]),
            tolerance * span,
        );
        // The line itself keeps the error it claims.
        close(
            &format!("{what}: the line's own largest deviation"),
            line.line.largest_deviation(&x, &y),
            line.max_error,
            tolerance * span,
        );
        // Slopes agree wherever the line is unique: its effect over the x range within the error's tolerance.
        let reach =
            x.iter().copied().fold(0.0, f64::max) - x.iter().copied().fold(f64::MAX, f64::min);
        close(
            &format!("{what}: slope over the travel"),
            line.line.slope * reach,
            number(&target["slope"]) * reach,
            10.0 * tolerance * span,
        );
    }
}

#[test]
fn lines_through_the_origin_of_nist_strd() {
    let check = reference("21-nist-strd-noint");
    let tolerance = number(&check["tolerance"]["relative"]);
    for name in ["NoInt1", "NoInt2"] {
        let inputs = &check["inputs"][name];
        let expected = &check["expected"][name];
        let y = numbers(&inputs["y"]);
        let fit = least_squares_through(&numbers(&inputs["x"]), &y, (0.0, 0.0)).unwrap();
        assert_eq!(fit.dof as u64, expected["degrees_of_freedom"]);
        for (what, value) in [
            ("slope", fit.line.slope),
            ("slope_sd", fit.u_slope().unwrap()),
            ("residual_sd", fit.residual_sd.unwrap()),
            ("r_squared", r_squared(&fit, &y, 0.0)),
        ] {
            let target = number(&expected[what]);
            close(what, value, target, tolerance * target.abs());
        }
        assert!(fit.u_at(0.0).unwrap().abs() < f64::MIN_POSITIVE);
    }
}

#[test]
fn load_cell_of_nist_strd_pontius() {
    let check = reference("22-nist-strd-pontius");
    let (x, y) = (
        numbers(&check["inputs"]["x"]),
        numbers(&check["inputs"]["y"]),
    );
    let tolerance = number(&check["tolerance"]["line_error_absolute"]);
    let expected = &check["expected"];
    let fit = least_squares(&x, &y).unwrap();
    for (kind, line, error) in [
        {
            let found = minimax(&x, &y).unwrap();
            ("independent", found.line, found.max_error)
        },
        {
            let found = zero_based(&x, &y, (0.0, 0.0)).unwrap();
            ("zero_based", found.line, found.max_error)
        },
        {
            let found = terminal(&x, &y).unwrap();
            ("terminal_based", found.line, found.max_error)
        },
        (
            "least_squares",
            fit.line,
            fit.line.largest_deviation(&x, &y),
        ),
    ] {
        let target = &expected[kind];
        close(kind, error, number(&target["max_error"]), tolerance);
        let pct = 100.0 * error / number(&expected["span"]);
        close(kind, pct, number(&target["max_error_pct_of_span"]), 1e-8);
        close(kind, line.at(0.0), number(&target["intercept"]), 1e-9);
        let slope = number(&target["slope"]);
        close(kind, line.slope, slope, 1e-9 * slope);
    }
}

/// References of our own finding: data sets inside statsmodels, computed by statsmodels, scipy and numpy.
#[test]
fn household_budgets_and_the_nile() {
    for name in ["32-engel-lines", "33-nile-lines"] {
        let check = reference(name);
        let (x, y) = (
            numbers(&check["inputs"]["x"]),
            numbers(&check["inputs"]["y"]),
        );
        let expected = &check["expected"];
        let relative = number(&check["tolerance"]["relative"]);
        let near = |what: &str, value: f64, target: &Value| {
            let target = number(target);
            close(
                &format!("{name} {what}"),
                value,
                target,
                relative * target.abs(),
            );
        };
        let fit = least_squares(&x, &y).unwrap();
        near("slope", fit.line.slope, &expected["slope"]);
        near("intercept", fit.line.at(0.0), &expected["intercept"]);
        near("slope_sd", fit.u_slope().unwrap(), &expected["slope_sd"]);
        near(
            "intercept_sd",
            fit.u_at(0.0).unwrap(),
            &expected["intercept_sd"],
        );
        near("covariance", covariance(&fit), &expected["covariance"]);
        near(
            "residual_sd",
            fit.residual_sd.unwrap(),
            &expected["residual_sd"],
        );
        near(
            "r_squared",
            r_squared(&fit, &y, mean(&y)),
            &expected["r_squared"],
        );
        for row in expected["predictions"].as_array().unwrap() {
            let x = number(&row["x"]);
            let (value, u) = (fit.line.at(x), fit.u_at(x));
            near("prediction", value, &row["value"]);
            near("its uncertainty", u.unwrap(), &row["u"]);
        }
        let through = least_squares_through(&x, &y, (0.0, 0.0)).unwrap();
        let origin = &expected["through_origin"];
        near("origin: slope", through.line.slope, &origin["slope"]);
        near(
            "origin: slope_sd",
            through.u_slope().unwrap(),
            &origin["slope_sd"],
        );
        near(
            "origin: residual_sd",
            through.residual_sd.unwrap(),
            &origin["residual_sd"],
        );
        near(
            "origin: r_squared",
            r_squared(&through, &y, 0.0),
            &origin["r_squared"],
        );
        let room = number(&check["tolerance"]["max_error_relative"]);
        let independent = minimax(&x, &y).unwrap();
        let target = number(&expected["independent"]["max_error"]);
        close(name, independent.max_error, target, room * target);
        near(
            "minimax slope",
            independent.line.slope,
            &expected["independent"]["slope"],
        );
        let from_origin = zero_based(&x, &y, (0.0, 0.0)).unwrap();
        let target = number(&expected["zero_based_through_origin"]["max_error"]);
        close(name, from_origin.max_error, target, room * target);
    }
}

#[test]
fn what_carries_no_line() {
    let nan = f64::NAN;
    for (x, y) in [
        (&[][..], &[][..]),
        (&[1.0][..], &[2.0][..]),
        (&[1.0, 1.0][..], &[2.0, 3.0][..]),
        (&[1.0, 2.0][..], &[2.0][..]),
        (&[1.0, 2.0][..], &[2.0, nan][..]),
    ] {
        assert!(least_squares(x, y).is_none());
        assert!(minimax(x, y).is_none());
        assert!(terminal(x, y).is_none());
    }
    assert!(least_squares_through(&[1.0], &[2.0], (1.0, 0.0)).is_none());
    assert!(least_squares_through(&[1.0], &[2.0], (nan, 0.0)).is_none());
    assert!(zero_based(&[3.0, 3.0], &[2.0, 1.0], (3.0, 0.0)).is_none());
    // Two points: a line, and nothing known of its uncertainty.
    let two = least_squares(&[0.0, 2.0], &[1.0, 5.0]).unwrap();
    close("slope", two.line.slope, 2.0, 1e-15);
    close("intercept", two.line.at(0.0), 1.0, 1e-15);
    assert!(two.residual_sd.is_none() && two.u_slope().is_none());
    // A constant: no slope, nothing to explain.
    let flat = least_squares(&[0.0, 1.0, 2.0], &[7.0; 3]).unwrap();
    close("flat slope", flat.line.slope, 0.0, 0.0);
    close("flat residuals", flat.residual_sd.unwrap(), 0.0, 0.0);
    let flat = minimax(&[0.0, 1.0, 2.0], &[7.0; 3]).unwrap();
    close("flat error", flat.max_error, 0.0, 0.0);
}
