//! Known answers of a sound channel and board: levels, curves, noise, hum, drift, supply, ends, lag.

use super::*;

#[test]
fn a_perfect_pedal_reads_164_and_860() {
    // Common practice, no source: 0.8 and 4.2 V on 10 bits and 5 V.
    let script = Script::once(vec![
        Movement::Rest(0.1),
        Movement::Go { to: 1.0, s: 0.2 },
        Movement::Full(0.1),
    ]);
    let run = run(&unit(Control::hall_pedal(0.0), script), 1, 9.0);
    assert_eq!(run.t_us.len(), 400);
    assert_eq!((run.codes[0][0], run.codes[0][399]), (Code(164), Code(860)));
    assert_eq!((run.codes[1][0], run.codes[1][399]), (Code(82), Code(430)));
    // Half travel of the path of least jerk is at half its time: (164 + 860) / 2.
    assert_eq!(run.codes[0][200], Code(512));
    let (gain, offset) = run.truth.track_line(0, 1).unwrap();
    assert!(
        (gain - 0.5).abs() < 1e-12 && offset.abs() < 1e-9,
        "{gain} {offset}"
    );
}

#[test]
fn the_dial_reads_what_its_divider_gives() {
    // Source: reference file 31, dial 10k with pull-up 4k7: 50/97 at half travel and 100/147 at full; x 1024.
    let mut control = Control::dial(0.0);
    let Sensor::Rheostat { end_ohm, .. } = &mut control.channels[0].network.sensor else {
        panic!("the dial is a rheostat")
    };
    *end_ohm = 0.0;
    let script = Script::once(vec![
        Movement::Go { to: 0.5, s: 0.1 },
        Movement::Wait(0.1),
        Movement::Go { to: 1.0, s: 0.1 },
        Movement::Wait(0.1),
    ]);
    let run = run(&unit(control, script), 1, 9.0);
    assert_eq!(
        (run.codes[0][150], run.codes[0][350]),
        (Code(528), Code(697))
    );
    // By hand, y = x / (x + 0.47): farthest from its chord at x = sqrt(0.47 x 1.47) - 0.47 = 0.361204, where y =
    // 0.434558 and the chord 0.245717: 27.760 % of the span of 0.680272. Half of that from the minimax line.
    let truth = &run.truth.channels[0];
    assert!(
        (truth.linearity_terminal_pct - 27.760).abs() < 2e-3,
        "{truth:?}"
    );
    assert!((truth.linearity_independent_pct.unwrap() - 13.880).abs() < 1e-3);
}

#[test]
fn a_bow_is_told_as_its_linearity() {
    let script = Script::once(vec![Movement::Rest(0.1)]);
    let bowed = run(&unit(one(ramp().bow(1.5)), script.clone()), 1, 1.0);
    assert!((bowed.truth.channels[0].linearity_terminal_pct - 1.5).abs() < 1e-9);
    assert!((bowed.truth.channels[0].linearity_independent_pct.unwrap() - 0.75).abs() < 1e-9);
    // A curve that bends both ways has no closed form here: missing, not guessed.
    let s_curve = Curve::Points(vec![(0.0, 0.0), (0.25, 0.3), (0.75, 0.7), (1.0, 1.0)]);
    let both_ways = ChannelModel {
        curve: s_curve,
        ..ramp()
    };
    let both_ways = run(&unit(one(both_ways), script), 1, 1.0);
    assert!((both_ways.truth.channels[0].linearity_terminal_pct - 5.0).abs() < 1e-9);
    assert_eq!(both_ways.truth.channels[0].linearity_independent_pct, None);
}

#[test]
fn noise_has_the_deviation_asked_for() {
    let script = Script::once(vec![Movement::Rest(60.0)]);
    let mut unit = unit(one(ramp().noise(1.6)), script);
    unit.board.noise_rms_code = 1.2;
    let run = run(&unit, 3, 60.0);
    // By hand: 1.6 and 1.2 make 2.0; rounding adds 1/12 (Sheppard, reference file 11).
    assert!((run.truth.channels[0].noise_rms_code - 2.0).abs() < 1e-12);
    assert_variance(&reals(&run.codes[0]), 4.0 + 1.0 / 12.0);
    let rounded = run.truth.channels[0].rounded_noise_rms_code();
    assert!((rounded * rounded - 4.0 - 1.0 / 12.0).abs() < 1e-12);
    // White: the correlation of neighbours is within four of its standard errors, 1/sqrt(n).
    assert!(neighbours(&reals(&run.codes[0])).abs() < 4.0 / 60_000f64.sqrt());
}

fn neighbours(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let product: f64 = values
        .windows(2)
        .map(|w| (w[0] - mean) * (w[1] - mean))
        .sum();
    product / values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>()
}

#[test]
fn correlated_noise_keeps_its_deviation() {
    let channel = ChannelModel {
        noise_correlation: 0.8,
        ..ramp().noise(5.0)
    };
    let run = run(
        &unit(one(channel), Script::once(vec![Movement::Rest(60.0)])),
        5,
        60.0,
    );
    let codes = reals(&run.codes[0]);
    // AR(1): the variance of the variance grows by (1 + phi^2) / (1 - phi^2) = 4.556; four standard errors.
    let spread = 4.0 * (2.0 * 4.556 / 60_000f64).sqrt();
    assert!((variance(&codes) / (25.0 + 1.0 / 12.0) - 1.0).abs() < spread);
    assert!((neighbours(&codes) - 0.8).abs() < 0.015);
}

#[test]
fn hum_and_drift_are_what_they_are() {
    let channel = ChannelModel {
        hum: Some((8.0, 50.0)),
        drift_per_min: 30.0,
        ..ramp().noise(1.0) // without noise, rounding would be no part of chance
    };
    let run = run(
        &unit(one(channel), Script::once(vec![Movement::Rest(60.0)])),
        1,
        60.0,
    );
    let codes = reals(&run.codes[0]);
    // Whole periods of 20 samples average the hum away: the last second lies 30 x 59/60 codes above the first. Each mean
    // of 1000 has a standard error of 0.033; four of the difference's are 0.19.
    let mean = |of: &[f64]| of.iter().sum::<f64>() / of.len() as f64;
    assert!((mean(&codes[59_000..]) - mean(&codes[..1000]) - 29.5).abs() < 0.19);
    // A sine's amplitude from its projection over the first ten seconds, less drift: 8 codes; four standard
    // errors of sqrt(2/10000) x 1.04 are 0.06.
    let part = |phase: f64| {
        let product = codes[..10_000].iter().enumerate().map(|(n, c)| {
            (c - 30.0 * n as f64 / 60_000.0)
                * (std::f64::consts::TAU * 50.0 * n as f64 / 1000.0 + phase).sin()
        });
        product.sum::<f64>() / 5_000.0
    };
    assert!((part(0.0).hypot(part(std::f64::consts::FRAC_PI_2)) - 8.0).abs() < 0.06);
    assert!((run.truth.channels[0].hum_rms_code - 8.0 / 2f64.sqrt()).abs() < 1e-12);
}

#[test]
fn a_signal_follows_the_supply_as_far_as_it_is_ratiometric() {
    let follows = |error| ChannelModel {
        ratiometry: Ratiometry::Follows { error },
        ..ChannelModel::volts("x", 0.5, 3.5)
    };
    let alone = ChannelModel {
        ratiometry: Ratiometry::Independent,
        ..follows(0.0)
    };
    let channels = vec![
        follows(0.0),
        follows(0.2),
        alone,
        ChannelModel::supply("supply", 0.5),
    ];
    let mut unit = unit(Control::new(channels), Script::supply_sweep());
    unit.board.bits = 20;
    let run = run(&unit, 2, 60.0);
    let sweep = run.passages_of(Step::Supply).next().unwrap().range.clone();
    let supply: Vec<f64> = run.codes[3][sweep.clone()]
        .iter()
        .map(|c| c.as_f64() / 524_288.0)
        .collect();
    let lowest = supply.iter().copied().fold(f64::MAX, f64::min);
    let highest = supply.iter().copied().fold(0.0, f64::max);
    assert!(
        (lowest - 0.9).abs() < 1e-3 && (highest - 1.1).abs() < 1e-3,
        "{lowest} {highest}"
    );
    for (n, supply) in sweep.zip(supply) {
        // At half travel: 2 V of 5 V. By the definition of the error: 0.4 s (1 + e (s - 1)), or 0.4.
        let ratio = |channel: usize| run.codes[channel][n].as_f64() / 1_048_576.0;
        assert!((ratio(0) - 0.4 * supply).abs() < 3e-6);
        assert!((ratio(1) - 0.4 * supply * (1.0 + 0.2 * (supply - 1.0))).abs() < 3e-6);
        assert!((ratio(2) - 0.4).abs() < 3e-6);
    }
}

#[test]
fn the_board_shows_its_own_ends() {
    let mut unit = unit(Control::hall_pedal(5.0), Script::board_ends());
    unit.board.offset_code = 2.0;
    unit.board.gain = 0.99;
    unit.board.noise_rms_code = 0.8;
    let run = run(&unit, 2, 60.0);
    let held = |step| {
        let range = run.passages_of(step).next().unwrap().range.clone();
        reals(&run.codes[0][range])
    };
    let mean = |of: &[f64]| of.iter().sum::<f64>() / of.len() as f64;
    // By hand: 0 x 0.99 + 2 = 2 and 1024 x 0.99 + 2 = 1015.76; 3000 samples of 0.85: four standard errors are 0.06.
    // Ground is 2.5 deviations above the stop at 0, which lifts its mean by 0.002.
    assert!((mean(&held(Step::Ground)) - 2.0).abs() < 0.07);
    assert!((mean(&held(Step::Reference)) - 1015.76).abs() < 0.06);
    assert_variance(&held(Step::Reference), 0.64 + 1.0 / 12.0);
}

#[test]
fn a_late_track_is_late() {
    let mut control = Control::new(vec![ramp(), ramp().track(Track::Two)]);
    control.channels[1].lag_ms = 7.0;
    let run = run(
        &unit(control, Script::once(vec![Movement::Rest(0.5), strokes(3)])),
        2,
        20.0,
    );
    assert_eq!(run.codes[0][..run.t_us.len() - 7], run.codes[1][7..]);
}
