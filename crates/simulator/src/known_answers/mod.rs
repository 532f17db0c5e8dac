//! Known answers of the simulation as a whole: what was asked for is what comes out.
#![allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss
)] // counts of samples in tests, far below 2^53

mod defects;
mod movement;
mod signal;
mod units;

use super::*;

use measure::units::{Code, Step, Track};
use serde_json::Value;
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// A board without any noise of its own.
fn quiet_board() -> Board {
    Board {
        noise_rms_code: 0.0,
        ..Board::default()
    }
}

fn unit(control: Control, script: Script) -> SimUnit {
    SimUnit {
        tag: "test".to_owned(),
        control,
        board: quiet_board(),
        script,
    }
}

fn run(unit: &SimUnit, seed: u64, s: f64) -> SimRun {
    Simulation::new(unit, seed).unwrap().run(s)
}

fn one(channel: ChannelModel) -> Control {
    Control::new(vec![channel])
}

fn ramp() -> ChannelModel {
    ChannelModel::volts("x", 0.5, 4.5)
}

/// Variance about the mean, with n - 1.
fn variance(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (n - 1.0)
}

/// Holds a sample variance against the true one: the two-sided 99.9 % interval of chi-square / (n - 1).
fn assert_variance(values: &[f64], truth: f64) {
    let freedom = values.len() as f64 - 1.0;
    let chi = ChiSquared::new(freedom).unwrap();
    let (low, high) = (
        chi.inverse_cdf(0.0005) / freedom,
        chi.inverse_cdf(0.9995) / freedom,
    );
    let ratio = variance(values) / truth;
    assert!(
        (low..=high).contains(&ratio),
        "variance ratio {ratio} not in {low} ..= {high}"
    );
}

fn reals(codes: &[Code]) -> Vec<f64> {
    codes.iter().map(|code| code.as_f64()).collect()
}

fn strokes(count: u32) -> Movement {
    Movement::Strokes {
        count,
        s: 1.0,
        dwell_s: 0.2,
        time_scatter: 0.05,
        end_scatter: 0.003,
    }
}
