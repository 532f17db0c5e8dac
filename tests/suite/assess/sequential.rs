//! The rule of looks by simulation: at the limit neither false accept nor false reject exceeds 2.5 %, however early a card
//! may stop, and clear units stop early.
//!
//! Belongs here: units drawn on the limit, looked at several times. The looks' intervals come from the program; what is
//! drawn and what is true come from here. `cargo test --test suite sequential:: -- --ignored --nocapture` draws more of them.
#![allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss
)] // counts of draws

use measure::figure::{Evidence, Figure, Law, Shrink};
use measure::judge::sequential::{Look, Looks};
use measure::judge::{Limit, Outcome};
use measure::statistics::{coverage_factor, sd_interval};
use measure::units::Step;
use pedalproof::bench::EvidencePlan;
use pedalproof::profile;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// What of so many values is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Measurand {
    /// Their mean, the scatter not known: a level over holds, a figure over strokes.
    Mean,
    /// Their standard deviation: the scatter of returns.
    Sd,
    /// The standard deviation of a hundred times as many: noise over seconds.
    Noise,
}

/// The figure of the first `n` values, as `measure` makes it of returns or of a hold.
fn figure(of: Measurand, values: &[f64], evidence: f64) -> Figure {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let sd = (values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let spread = |shrink| {
        let (low, high) = sd_interval(sd, n - 1.0);
        Figure {
            low: Some(low),
            high: Some(high),
            ..Figure::symmetric(sd, sd / (2.0 * (n - 1.0)).sqrt(), 2.0, values.len(), "")
        }
        .shrinking(shrink)
    };
    match of {
        Measurand::Mean => {
            let k = coverage_factor(n - 1.0);
            Figure::symmetric(mean, sd / n.sqrt(), k, values.len(), "").shrinking(Shrink::pieces(
                Evidence::Holds,
                values.len(),
                0.0,
            ))
        }
        Measurand::Sd => spread(Shrink::by(Law::Spread, Evidence::Returns, n, 0.0)),
        Measurand::Noise => spread(Shrink::by(
            Law::Rms { dof: n - 1.0 },
            Evidence::Seconds,
            evidence,
            0.0,
        )),
    }
}

/// Shares of draws, and the mean evidence at which it stopped.
#[derive(Debug)]
struct Came {
    accepted: f64,
    rejected: f64,
    evidence: f64,
}

/// What one unit came to: the verdict of the capture at the look that it ended at, and the evidence there.
///
/// The rule of `bench`: end when the look decides, and judge at the end with that look. `also`
/// ends the card for another reason at any look, as another finding may.
fn end(
    of: Measurand,
    looks: &Looks,
    limit: Limit,
    mut draw: impl FnMut() -> f64,
    also: impl Fn(usize) -> bool,
) -> (Outcome, f64) {
    let per = if of == Measurand::Noise { 100.0 } else { 1.0 };
    let mut values: Vec<f64> = Vec::new();
    let planned = looks.at().len();
    for (index, at) in looks.at().iter().enumerate() {
        while values.len() < (at * per).round() as usize {
            values.push(draw());
        }
        let look = Look::new(index + 1, planned).unwrap();
        let figure = figure(of, &values, *at);
        let outcome = look.outcome(limit, &figure);
        if outcome != Outcome::Undecided || index + 1 == planned || also(index) {
            return (outcome, *at);
        }
    }
    unreachable!("a test ends at its last look")
}

/// Draws units whose true mean is `mean` and whose true sd is 1, and follows the rule.
fn follow(of: Measurand, looks: &Looks, mean: f64, limit: f64, draws: u32, seed: u64) -> Came {
    let limit = Limit::new(None, Some(limit)).unwrap();
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let (mut accepted, mut rejected, mut evidence) = (0_u32, 0_u32, 0.0);
    for unit in 0..draws {
        let draw = || {
            let x: f64 = StandardNormal.sample(&mut random);
            mean + x
        };
        // Every seventh unit is ended by something else after its second look.
        let (outcome, at) = end(of, looks, limit, draw, |index| unit % 7 == 0 && index == 1);
        accepted += u32::from(outcome == Outcome::Pass);
        rejected += u32::from(outcome == Outcome::Fail);
        evidence += at;
    }
    let draws = f64::from(draws);
    Came {
        accepted: f64::from(accepted) / draws,
        rejected: f64::from(rejected) / draws,
        evidence: evidence / draws,
    }
}

/// The looks of a card as `bench` plans them.
fn planned(step: Step) -> Looks {
    let profile = profile::find("pedal-hall-two-track").unwrap();
    EvidencePlan::at_first(&profile).looks(step).unwrap()
}

fn never_beyond(draws: u32) {
    // Three standard deviations of a count of 2.5 %.
    let chance = 3.0 * (0.025 * 0.975 / f64::from(draws)).sqrt();
    for (of, limit, step) in [
        (Measurand::Mean, 0.0, Step::Release),
        (Measurand::Sd, 1.0, Step::Release),
        (Measurand::Mean, 0.0, Step::Strokes),
        (Measurand::Noise, 1.0, Step::Rest),
    ] {
        let looks = planned(step);
        let draws = if of == Measurand::Noise {
            draws / 4
        } else {
            draws
        };
        let came = follow(of, &looks, 0.0, limit, draws, 7);
        println!("{of:?} of {step} at looks {:?}: {came:?}", looks.at());
        for share in [came.accepted, came.rejected] {
            assert!(share <= 0.025 + chance, "{of:?} {looks:?}: {came:?}");
            // It is no rule that never decides: the last look alone spends 1.75 %, on six of seven units.
            assert!(share >= 0.010, "{of:?} {looks:?}: {came:?}");
        }
    }
}

#[test]
fn on_the_limit_neither_error_exceeds_what_it_may() {
    never_beyond(20_000);
}

#[test]
#[ignore = "a million units: minutes"]
fn on_the_limit_neither_error_exceeds_what_it_may_in_a_million() {
    never_beyond(250_000);
}

/// What the rule is for: the 95 % interval at each look, stopping at the first that is clear, is wrong too often. The
/// check fails if repeated looks cost nothing, and then the rule is not needed.
#[test]
fn the_plain_interval_at_every_look_would_be_wrong_too_often() {
    let limit = Limit::new(None, Some(0.0)).unwrap();
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let draws = 4000;
    let mut accepted = 0;
    for _ in 0..draws {
        let values: Vec<f64> = (0..16)
            .map(|_| StandardNormal.sample(&mut random))
            .collect();
        let first = planned(Step::Strokes)
            .at()
            .iter()
            .map(|n| {
                Look::ONLY.outcome(limit, &figure(Measurand::Mean, &values[..*n as usize], *n))
            })
            .find(|outcome| *outcome != Outcome::Undecided);
        accepted += u32::from(first == Some(Outcome::Pass));
    }
    let share = f64::from(accepted) / f64::from(draws);
    println!("plain interval at four looks: {share}");
    assert!(share > 0.035, "{share}");
}

#[test]
fn clear_units_stop_at_the_first_look() {
    let looks = planned(Step::Strokes);
    // Six standard deviations of one value inside the limit: t(5) at 0.0025 is 4.77, 4.77 / sqrt 6 = 1.9.
    for mean in [-6.0, 6.0] {
        let came = follow(Measurand::Mean, &looks, mean, 0.0, 500, 3);
        let right = if mean < 0.0 {
            came.accepted
        } else {
            came.rejected
        };
        assert!(right > 0.999 && came.evidence < 6.5, "{came:?}");
    }
}
