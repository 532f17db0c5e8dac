//! The sequential rule by simulation: at the limit neither false accept nor false reject exceeds 2.5 %, however early it
//! may stop, and clear units stop early.
//!
//! Belongs here: units drawn on the limit, looked at several times. The looks' intervals come from the program; what is
//! drawn and what is true come from here. `cargo test --test sequential -- --ignored --nocapture` draws more of them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
#![allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss
)] // counts of draws

use pedalproof::figure::{Evidence, Figure, Law, Shrink};
use pedalproof::judge::sequential::Looks;
use pedalproof::judge::{Limit, Outcome};
use pedalproof::measure::interval::{coverage_factor, sd_interval};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// What of so many values is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Measurand {
    /// Their mean, the scatter not known.
    Mean,
    /// Their standard deviation.
    Sd,
}

/// The figure of the first `n` values, as `measure` makes it of returns.
fn figure(of: Measurand, values: &[f64]) -> Figure {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let sd = (values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    match of {
        Measurand::Mean => {
            let k = coverage_factor(n - 1.0);
            Figure::symmetric(mean, sd / n.sqrt(), k, values.len(), "").shrinking(Shrink::pieces(
                Evidence::Holds,
                values.len(),
                0.0,
            ))
        }
        Measurand::Sd => {
            let (low, high) = sd_interval(sd, n - 1.0);
            Figure {
                low: Some(low),
                high: Some(high),
                ..Figure::symmetric(sd, sd / (2.0 * (n - 1.0)).sqrt(), 2.0, values.len(), "")
            }
            .shrinking(Shrink::by(Law::Spread, Evidence::Returns, n, 0.0))
        }
    }
}

/// Shares of draws, and the mean evidence at which it stopped.
#[derive(Debug)]
struct Came {
    accepted: f64,
    rejected: f64,
    evidence: f64,
}

/// Draws units whose true mean is `mean` and whose true sd is 1, and follows the rule.
fn follow(of: Measurand, looks: &Looks, mean: f64, limit: f64, draws: u32, seed: u64) -> Came {
    let limit = Limit::new(None, Some(limit)).unwrap();
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let (mut accepted, mut rejected, mut evidence) = (0_u32, 0_u32, 0.0);
    for _ in 0..draws {
        let mut values: Vec<f64> = Vec::new();
        for (look, at) in looks.at().iter().enumerate() {
            while values.len() < at.round() as usize {
                let x: f64 = StandardNormal.sample(&mut random);
                values.push(mean + x);
            }
            let outcome = looks.outcome(look, limit, &figure(of, &values));
            accepted += u32::from(outcome == Outcome::Pass);
            rejected += u32::from(outcome == Outcome::Fail);
            if outcome != Outcome::Undecided {
                break;
            }
        }
        evidence += values.len() as f64;
    }
    let draws = f64::from(draws);
    Came {
        accepted: f64::from(accepted) / draws,
        rejected: f64::from(rejected) / draws,
        evidence: evidence / draws,
    }
}

/// Returns 4, 7, 10 and strokes 6, 8.5, 11, 13.5, 16, as the bench plans them.
fn plans() -> [Looks; 2] {
    [Looks::between(4.0, 10.0, 3), Looks::between(6.0, 16.0, 5)]
}

fn never_beyond(draws: u32) {
    // Three standard deviations of a count of 2.5 %.
    let chance = 3.0 * (0.025 * 0.975 / f64::from(draws)).sqrt();
    for (at, looks) in plans().iter().enumerate() {
        for (of, limit) in [(Measurand::Mean, 0.0), (Measurand::Sd, 1.0)] {
            let came = follow(of, looks, 0.0, limit, draws, 7 + at as u64);
            println!("{of:?} at looks {:?}: {came:?}", looks.at());
            for share in [came.accepted, came.rejected] {
                assert!(share <= 0.025 + chance, "{of:?} {looks:?}: {came:?}");
                // It is no rule that never decides: the last look alone spends 2.3 %.
                assert!(share >= 0.021 - chance, "{of:?} {looks:?}: {came:?}");
            }
        }
    }
}

#[test]
fn on_the_limit_neither_error_exceeds_what_it_may() {
    never_beyond(10_000);
}

#[test]
#[ignore = "a million units: minutes"]
fn on_the_limit_neither_error_exceeds_what_it_may_in_a_million() {
    never_beyond(250_000);
}

/// What the rule is for: the 95 % interval at each look, stopping at the first that is clear, is wrong too often. The
/// same draws as above; the check fails if repeated looks cost nothing, and then the rule is not needed.
#[test]
fn the_plain_interval_at_every_look_would_be_wrong_too_often() {
    let limit = Limit::new(None, Some(0.0)).unwrap();
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let plain = Looks::between(1.0, 1.0, 1);
    let draws = 4000;
    let mut accepted = 0;
    for _ in 0..draws {
        let values: Vec<f64> = (0..16)
            .map(|_| StandardNormal.sample(&mut random))
            .collect();
        let first = (6..=16)
            .map(|n| plain.outcome(0, limit, &figure(Measurand::Mean, &values[..n])))
            .find(|outcome| *outcome != Outcome::Undecided);
        accepted += u32::from(first == Some(Outcome::Pass));
    }
    let share = f64::from(accepted) / f64::from(draws);
    println!("plain interval at 11 looks: {share}");
    assert!(share > 0.035, "{share}");
}

#[test]
fn clear_units_stop_early() {
    let looks = Looks::between(6.0, 16.0, 5);
    // Six standard deviations of one value inside the limit: t(5) at 0.0005 is 6.87, 6.87 / sqrt 6 = 2.8.
    let came = follow(Measurand::Mean, &looks, -6.0, 0.0, 500, 3);
    assert!(came.accepted > 0.999 && came.evidence < 7.0, "{came:?}");
    let came = follow(Measurand::Mean, &looks, 6.0, 0.0, 500, 3);
    assert!(came.rejected > 0.999 && came.evidence < 7.0, "{came:?}");
}
