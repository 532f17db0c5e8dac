//! Known answers of the simulation as a whole: what was asked for is what comes out.
#![allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss
)] // counts of samples in tests, far below 2^53

use super::*;
use crate::link::LineSource;
use crate::units::{Code, Step, Track};
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

#[test]
fn least_jerk_goes_through_its_known_points() {
    // By hand: 10/64 - 15/256 + 6/1024 = 0.103515625; symmetric about the middle; at rest outside.
    for (part, way) in [
        (0.0, 0.0),
        (0.25, 0.103_515_625),
        (0.5, 0.5),
        (0.75, 0.896_484_375),
        (1.0, 1.0),
        (7.0, 1.0),
    ] {
        assert!((minimum_jerk(part) - way).abs() < 1e-15, "at {part}");
    }
    // By hand: the largest speed is 1.875 ways a duration, in the middle.
    assert!(((minimum_jerk(0.5005) - minimum_jerk(0.4995)) / 0.001 - 1.875).abs() < 1e-5);
}

#[test]
fn a_release_takes_ln_nine_time_constants_from_90_to_10_percent() {
    let file = include_str!("../../../tests/reference/15-first-order.json");
    let file: Value = serde_json::from_str(file).unwrap();
    let want = file["expected"]["first_order"]["rise_10_90_over_tau"]
        .as_f64()
        .unwrap();
    let control = Control {
        spring: Spring {
            tau_s: 0.05,
            bounce: 0.0,
        },
        ..one(ramp())
    };
    let script = Script::once(vec![Movement::Returns {
        count: 1,
        press_s: 0.2,
        hold_s: 0.3,
        by: ReturnBy::Spring,
        rest_s: 1.0,
        passages: Passages::Apart,
    }]);
    let mut unit = unit(control, script);
    unit.board.rate_hz = 100_000.0;
    let run = run(&unit, 1, 10.0);
    let falling = run.passages_of(Step::Release).next().unwrap().range.clone();
    let crossing = |level: f64| {
        run.travel[falling.clone()]
            .iter()
            .position(|x| *x < level)
            .unwrap() as f64
    };
    let got = (crossing(0.1) - crossing(0.9)) / 100_000.0 / 0.05;
    assert!((got - want).abs() < 5e-4, "{got}, not {want}"); // two crossings to 1/5000 of the time constant
    assert!((run.truth.release_time_s / 0.05 - want).abs() < 1e-12);
}

#[test]
fn a_released_spring_bounces_late_and_dies_away() {
    let spring = Spring {
        tau_s: 0.05,
        bounce: 0.02,
    };
    assert!(
        (spring_return(&spring, 0.1)
            - spring_return(
                &Spring {
                    bounce: 0.0,
                    ..spring
                },
                0.1
            ))
        .abs()
            < 1e-15
    );
    let highest = (200..400)
        .map(|ms| spring_return(&spring, f64::from(ms) / 1000.0))
        .fold(0.0, f64::max);
    assert!(highest > 0.01 && highest < 0.04, "{highest}");
    assert!(spring_return(&spring, 1.5) < 1e-5);
}

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
fn one_seed_gives_one_stream() {
    let t3 = scenario("T3-lever").unwrap();
    let lines = |seed: u64| {
        let mut lines = BoardLines::new(Simulation::new(&t3, seed).unwrap());
        let mut out = Vec::new();
        for _ in 0..20_000 {
            lines.next_line(&mut out).unwrap();
        }
        out
    };
    assert_eq!(lines(11), lines(11));
    assert_ne!(lines(11), lines(12));
}

#[test]
fn a_defect_of_one_channel_leaves_the_other_as_it_was() {
    let good = unit(Control::hall_pedal(1.0), Card::default().script());
    let mut bad = good.clone();
    bad.control.channels[1].bursts = Some(Bursts {
        rate_per_s: 3.0,
        duration_ms: 30.0,
        rms_code: 20.0,
    });
    let (good, bad) = (run(&good, 9, 30.0), run(&bad, 9, 30.0));
    assert_eq!(good.codes[0], bad.codes[0]);
    assert_ne!(good.codes[1], bad.codes[1]);
}

#[test]
fn dropouts_come_exactly_where_asked() {
    let placed = |at_s, duration_ms, depth_pct, rail| PlacedDropout {
        at_s,
        drop: Drop {
            duration_ms,
            depth_pct,
            rail,
        },
    };
    // At rest: 0.5 V is 102.4 codes; the span is 819.2 codes.
    let channel = ramp()
        .dropout(placed(2.0, 5.0, 50.0, Rail::Supply))
        .dropout(placed(1.0, 3.0, Drop::TO_THE_RAIL, Rail::Ground))
        .dropout(placed(3.0005, 2.0, Drop::TO_THE_RAIL, Rail::Supply));
    let run = run(
        &unit(one(channel), Script::once(vec![Movement::Rest(5.0)])),
        1,
        5.0,
    );
    let mut want = vec![Code(102); 5000];
    want[1000..1003].fill(Code(0));
    want[2000..2005].fill(Code(512));
    want[3001..3003].fill(Code(1023));
    assert_eq!(run.codes[0], want);
    let truth = &run.truth.channels[0].dropouts;
    assert_eq!(truth.len(), 3);
    assert!(
        (truth[0].depth_pct - 12.5).abs() < 1e-9,
        "102.4 of 819.2 codes: {truth:?}"
    );
    assert!((truth[1].depth_pct - 50.0).abs() < 1e-9 && truth[1].samples == 5);
    assert!((truth[2].t_s - 3.001).abs() < 1e-12 && truth[2].towards == Rail::Supply);
}

#[test]
fn scattered_dropouts_keep_apart_and_are_as_many_as_asked() {
    let drop = Drop::to_the(Rail::Ground, 4.0);
    let placed = PlacedDropout::scattered(12, 1.0, 19.0, drop, 5);
    assert_eq!(placed.len(), 12);
    assert!(placed.windows(2).all(|w| w[1].at_s - w[0].at_s > 0.02));
    assert!(placed.iter().all(|d| (1.0..19.0).contains(&d.at_s)));
    let channel = ChannelModel {
        dropouts: placed,
        ..ramp()
    };
    let run = run(
        &unit(one(channel), Script::once(vec![Movement::Rest(20.0)])),
        1,
        20.0,
    );
    assert_eq!(run.truth.channels[0].dropouts.len(), 12);
    assert_eq!(
        run.codes[0].iter().filter(|code| **code == Code(0)).count(),
        48
    );
}

#[test]
fn only_a_loose_unit_suffers_from_shaking() {
    let script = || {
        Script::once(vec![
            Movement::Rest(5.0),
            Movement::Shake(20.0),
            Movement::Rest(5.0),
        ])
    };
    let tight = run(&unit(one(ramp()), script()), 1, 30.0);
    assert!(tight.codes[0].iter().all(|code| *code == Code(102)));
    let loose = ChannelModel {
        loose: Some(Loose {
            rate_per_s: 2.0,
            drop: Drop::to_the(Rail::Ground, 10.0),
        }),
        ..ramp()
    };
    let loose = run(&unit(one(loose), script()), 1, 30.0);
    let truth = &loose.truth.channels[0].dropouts;
    // 40 expected of a rare-event count: four standard deviations of sqrt(40).
    assert!((15..=65).contains(&truth.len()), "{}", truth.len());
    assert!(truth.iter().all(|d| d.t_s >= 5.0 && d.t_s < 25.0));
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

#[test]
fn wear_recurs_at_its_travel_and_nowhere_else() {
    let pattern = Wear {
        from: 0.3,
        to: 0.5,
        rms_code: 10.0,
        pattern_share: 1.0,
    };
    let unit = unit(one(ramp().worn(pattern)), Script::once(vec![strokes(40)]));
    let mut simulation = Simulation::new(&unit, 4).unwrap();
    let run = simulation.run(200.0);
    let mut inside = std::collections::BTreeMap::<i64, Vec<f64>>::new();
    for (code, travel) in run.codes[0].iter().zip(&run.travel) {
        let excess = code.as_f64() - simulation.code_at(0, *travel).unwrap();
        if (0.3..=0.5).contains(travel) {
            inside
                .entry((travel * 10_000.0).round() as i64)
                .or_default()
                .push(excess);
        } else {
            assert!(excess.abs() <= 0.5 + 1e-9, "{excess} at {travel}");
        }
    }
    // The same travel to 0.01 % bears the same bump each time: bumps are 0.1 % apart, so within a tenth of one.
    let often: Vec<_> = inside.values().filter(|seen| seen.len() >= 5).collect();
    assert!(often.len() > 500, "{}", often.len());
    let within = often.iter().map(|seen| variance(seen)).sum::<f64>() / often.len() as f64;
    assert!(within.sqrt() < 2.0, "{}", within.sqrt());
    // 200 bumps of deviation 10: relative standard error 1/sqrt(2 x 200) = 5 %; four of them.
    let everywhere: Vec<f64> = inside.values().flatten().copied().collect();
    assert!((variance(&everywhere).sqrt() / 10.0 - 1.0).abs() < 0.2);
    assert_eq!(run.truth.strokes, 80);
}

#[test]
fn wear_of_the_random_kind_is_as_strong() {
    let random = Wear {
        from: -1.0,
        to: 2.0,
        rms_code: 4.0,
        pattern_share: 0.0,
    };
    let run = run(
        &unit(
            one(ramp().worn(random)),
            Script::once(vec![Movement::Rest(30.0)]),
        ),
        4,
        30.0,
    );
    assert_variance(&reals(&run.codes[0]), 16.0 + 1.0 / 12.0);
}

#[test]
fn a_wiper_lifts_only_at_its_place_and_as_often_as_likely() {
    let lift = Lift {
        travel: 0.6,
        width: 0.02,
        probability: 0.5,
        drop: Drop::to_the(Rail::Ground, 5.0),
    };
    let run = run(
        &unit(one(ramp().lifting(lift)), Script::once(vec![strokes(100)])),
        4,
        300.0,
    );
    let truth = &run.truth.channels[0].dropouts;
    // 200 crossings, half of them lift: four standard deviations of sqrt(200 / 4) = 7.07.
    assert!((72..=128).contains(&truth.len()), "{}", truth.len());
    assert!(
        truth.iter().all(|d| (d.travel - 0.6).abs() < 0.013),
        "{truth:?}"
    );
    let low = run.codes[0].iter().filter(|code| **code == Code(0)).count();
    assert_eq!(low, 5 * truth.len());
}

#[test]
fn interference_comes_at_any_travel_in_bursts() {
    let channel = ChannelModel {
        bursts: Some(Bursts {
            rate_per_s: 2.0,
            duration_ms: 50.0,
            rms_code: 6.0,
        }),
        ..ramp()
    };
    let run = run(
        &unit(one(channel), Script::once(vec![Movement::Rest(100.0)])),
        4,
        100.0,
    );
    let mut quiet = vec![true; run.t_us.len()];
    let mut loud = Vec::new();
    for burst in &run.truth.channels[0].bursts {
        let begin = (burst.t_s * 1000.0).round() as usize;
        for n in begin..(begin + 50).min(quiet.len()) {
            quiet[n] = false;
            loud.push(run.codes[0][n].as_f64());
        }
    }
    // Bursts wait 0.5 s on average and last 0.05 s: 182 in 100 s, standard deviation below 14.
    assert!(
        (120..=240).contains(&(loud.len() / 50)),
        "{}",
        loud.len() / 50
    );
    assert_variance(&loud, 36.0 + 1.0 / 12.0);
    assert!(
        run.codes[0]
            .iter()
            .zip(&quiet)
            .all(|(code, quiet)| !quiet || *code == Code(102))
    );
}

#[test]
fn returns_scatter_as_asked() {
    let script = Script::once(vec![Movement::Returns {
        count: 300,
        press_s: 0.05,
        hold_s: 0.02,
        by: ReturnBy::Hand(0.05),
        rest_s: 0.1,
        passages: Passages::Apart,
    }]);
    let control = Control {
        returning: Returning::Codes(12.0),
        ..one(ramp())
    };
    let run = run(&unit(control, script), 8, 1000.0);
    assert!((run.truth.channels[0].return_scatter_code - 12.0).abs() < 1e-6);
    let stops: Vec<f64> = run.truth.returns.iter().map(|r| r.travel * 819.2).collect();
    assert_eq!(stops.len(), 300);
    assert_variance(&stops, 144.0);
    // What the channel reads at the end of each passage is where the control stopped.
    let passages: Vec<_> = run.passages_of(Step::Release).collect();
    assert_eq!(passages.len(), 300);
    for (passage, stop) in passages.iter().zip(&stops) {
        let read = run.codes[0][passage.range.end - 1].as_f64();
        assert!((read - 102.4 - stop).abs() <= 0.5 + 1e-9);
    }
}

#[test]
fn stations_state_their_positions_and_show_the_hysteresis() {
    let script = Script::stations(0.0, 60.0);
    let mut simulation = Simulation::new(&unit(one(ramp().hysteresis(4.0)), script), 2).unwrap();
    let run = simulation.run(200.0);
    let reference = run.reference.as_ref().unwrap();
    let stations: Vec<_> = run.passages_of(Step::Stations).collect();
    assert_eq!(stations.len(), 21);
    let middle: Vec<f64> = stations
        .iter()
        .filter(|passage| (reference[passage.range.start] - 30.0).abs() < 1e-9)
        .map(|passage| run.codes[0][passage.range.start].as_f64())
        .collect();
    // 4 % of 819.2 is 32.8 codes; placing errs by 0.05 % (0.4 codes) and rounding by half a code each time.
    assert_eq!(middle.len(), 2);
    assert!((middle[1] - middle[0] - 32.8).abs() < 3.0, "{middle:?}");
    let stated = |step: Step| {
        run.passages_of(step)
            .all(|p| reference[p.range.clone()].iter().all(|r| r.is_nan()))
    };
    assert!(stated(Step::Idle) && stated(Step::Rest) && !stated(Step::Stations));
}

#[test]
fn an_encoder_sees_every_sample() {
    let mut script = Script::once(vec![Movement::Rest(0.5), strokes(3)]);
    script.reference = Some(ReferenceModel {
        low: 10.0,
        high: 70.0,
        kind: ReferenceKind::Encoder(0.0),
    });
    let run = run(&unit(one(ramp()), script), 2, 20.0);
    let reference = run.reference.unwrap();
    assert!(
        reference
            .iter()
            .zip(&run.travel)
            .all(|(r, x)| (r - 10.0 - 60.0 * x).abs() < 1e-9)
    );
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

#[test]
fn a_held_control_trembles_and_a_resting_one_does_not() {
    let mut script = Script::once(vec![
        Movement::Rest(20.0),
        Movement::Go { to: 1.0, s: 0.5 },
        Movement::Full(20.0),
    ]);
    script.tremor = 0.005;
    let run = run(&unit(one(ramp()), script), 2, 60.0);
    assert!(run.codes[0][..20_000].iter().all(|code| *code == Code(102)));
    let full = run.passages_of(Step::Full).next().unwrap().range.clone();
    let sd = variance(&reals(&run.codes[0][full])).sqrt();
    // By hand: 0.5 % of 819.2 codes is 4.1; rounding adds a little.
    assert!((run.truth.channels[0].tremor_rms_code - 4.096).abs() < 1e-3);
    assert!(
        (sd - (4.096f64.powi(2) + 1.0 / 12.0).sqrt()).abs() < 0.05,
        "{sd}"
    );
}

#[test]
fn every_ready_unit_goes_through_its_card_again_and_again() {
    for (name, _) in SCENARIO_UNITS {
        let run = run(&scenario(name).unwrap(), 1, 120.0);
        assert_eq!(run.t_us.len(), 120_000);
        let order: Vec<Step> = run
            .passages
            .iter()
            .map(|p| p.step)
            .filter(|s| *s != Step::Idle)
            .collect();
        let card: Vec<Step> = [Step::Rest, Step::Full, Step::Strokes]
            .into_iter()
            .chain([Step::Release; 5])
            .chain([Step::Shake])
            .collect();
        assert_eq!(order[..18], [card.clone(), card].concat()[..], "{name}");
        let again = run.passages_of(Step::Rest).nth(1).unwrap().range.start;
        assert!(
            (42_000..52_000).contains(&again),
            "{name}: a card of {again} ms"
        );
        let second = &run.codes[0][again..again + 3000];
        assert_ne!(&run.codes[0][..3000], second, "{name}: fresh randomness");
    }
    assert!(scenario("T9-wheel").is_none());
}

#[test]
fn good_units_lose_nothing_and_the_loose_dial_does() {
    for name in ["T1-pedal", "T2-pedal", "T1-dial", "T1-lever", "T3-lever"] {
        let truth = run(&scenario(name).unwrap(), 1, 60.0).truth;
        assert!(
            truth.channels.iter().all(|c| c.dropouts.is_empty()),
            "{name}"
        );
    }
    let truth = run(&scenario("T4-dial").unwrap(), 1, 48.0).truth;
    assert!(truth.channels[0].dropouts.len() >= 5);
}

#[test]
fn what_cannot_be_is_refused() {
    let mut unit = unit(one(ramp()), Script::once(Vec::new()));
    assert!(run(&unit, 1, 5.0).t_us.is_empty());
    unit.script.repeat = Repeat::ForEver;
    assert!(run(&unit, 1, 5.0).t_us.is_empty());
    unit.script.movements = vec![Movement::Rest(0.0)];
    assert!(
        run(&unit, 1, 5.0).t_us.is_empty(),
        "a script that takes no time ends"
    );
    unit.board.rate_hz = 0.0;
    assert!(matches!(Simulation::new(&unit, 1), Err(SimError::Rate(_))));
    unit.board = Board {
        bits: 40,
        ..quiet_board()
    };
    assert!(matches!(Simulation::new(&unit, 1), Err(SimError::Scale(_))));
    unit.board = quiet_board();
    unit.control.channels.clear();
    assert!(matches!(
        Simulation::new(&unit, 1),
        Err(SimError::NoChannels)
    ));
}
