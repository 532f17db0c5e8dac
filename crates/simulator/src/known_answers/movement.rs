//! Known answers of the hand: paths, releases, returns, stations, the reference, the tremor.

use super::*;
use crate::hand::{minimum_jerk, spring_return};

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
    let file = include_str!(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../tests/reference/15-first-order.json"
    ));
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
