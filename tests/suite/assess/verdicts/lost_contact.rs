//! `constants` of a part that lost contact: refused in those words first, and no loss is a visit of an end.

use super::part::{Adc, CODE, Part, Session};
use measure::judge::Verdict;
use measure::units::Step;
use pedalproof::bench::{assess, write_capture};
use pedalproof::capture::Capture;
use pedalproof::profile;
use std::f64::consts::PI;

/// A dial whose wiper lifts at 55 % of travel in every stroke: the pull-up then takes the signal to the supply.
fn loose() -> Session {
    let part = Part {
        rest: 0.01,
        full: 0.68,
        noise: 0.7 * CODE,
        ..Part::GOOD
    };
    let mut session = Session::new(part, 5);
    session.rest(1.0);
    session.full(1.0);
    session.go(Step::Idle, part.rest, 0.5);
    for stroke in 0..10 {
        let (from, to) = if stroke % 2 == 0 {
            (part.rest, part.full)
        } else {
            (part.full, part.rest)
        };
        let way = |share: f64| from + (to - from) * share;
        session.go(Step::Strokes, way(0.55), 0.6);
        session.lost(Step::Strokes, 0.999, 0.03);
        session.go(Step::Strokes, to, 0.6);
    }
    session.stay(Step::Shake, 4.0);
    session
}

/// Issue 14.13: "full end at 915, sd 187".
#[test]
fn lost_contact_is_no_visit_of_an_end_and_a_failed_part_is_refused_first() {
    use crate::support::program::{pedalproof, stderr};
    let dir = tempfile::tempdir().unwrap();
    let capture = loose().capture(Adc::TEN, None);
    let dial = profile::find("dial-rheostat").unwrap();
    let assessment = assess(&capture, Some(&dial)).unwrap();
    assert_eq!(assessment.verdict, Some(Verdict::Fail));
    write_capture(&capture, &dir.path().join("dial.csv")).unwrap();
    let ran = pedalproof(dir.path(), "constants dial.csv --profile dial-rheostat");
    assert_eq!(ran.status.code(), Some(1), "{ran:?}");
    let message = stderr(&ran);
    let fails = message
        .find("this part failed (pedal dropouts")
        .unwrap_or(usize::MAX);
    for later in ["full end at", "window", "the edges"] {
        assert!(
            message.find(later).is_none_or(|at| at > fails),
            "{later} before the failure: {message}"
        );
    }
    let level = message.split_once("full end at ").map(|(_, rest)| rest);
    let level = level.and_then(|rest| rest.split_whitespace().next()?.parse::<f64>().ok());
    if let Some(level) = level {
        assert!((level - 0.68 * 1024.0).abs() < 3.0, "{level}: {message}");
    }
}

/// A good pedal that loses contact between steps and after the last one, where no step is taken, for so many seconds each.
fn lost_when_idle(losses: usize, elsewhere: f64, seconds: f64) -> (Verdict, u64) {
    let part = Part::GOOD;
    let mut session = Session::new(part, 9);
    let lose = |session: &mut Session, more: bool| {
        session.stay(Step::Idle, 0.15);
        if more {
            session.lost(Step::Idle, elsewhere, seconds);
        }
        session.stay(Step::Idle, 0.15);
    };
    session.rest(1.0);
    session.full(1.0);
    session.strokes(8);
    for release in 0..12 {
        session.releases(1);
        lose(&mut session, release < losses / 2);
    }
    session.stay(Step::Shake, 4.0);
    for _ in losses / 2..losses {
        lose(&mut session, true);
    }
    let profile = profile::find("pedal-hall-one-track").unwrap();
    let assessment = assess(&session.capture(Adc::TEN, None), Some(&profile)).unwrap();
    let found = assessment.channels[0].1.dropouts.len() as u64;
    (assessment.verdict.unwrap(), found)
}

/// Issue 14.7: every sample tells of lost contact, those of no step as well. Four losses of 20 ms to 0 V passed before.
#[test]
fn contact_lost_between_steps_and_after_the_last_fails_the_part() {
    assert_eq!(lost_when_idle(0, 0.0, 0.02), (Verdict::Pass, 0));
    for (losses, elsewhere, seconds) in [
        (4, 0.0, 0.02),
        (2, 0.0, 0.02),
        (4, 0.999, 0.002),
        (4, 0.999, 0.001),
        (3, 0.0, 0.35),
        (2, 0.0, 1.5),
    ] {
        let message = format!("{losses} of {seconds} s to {elsewhere}");
        let (verdict, found) = lost_when_idle(losses, elsewhere, seconds);
        assert_eq!(
            (verdict, found),
            (Verdict::Fail, losses as u64),
            "{message}"
        );
    }
    // A spike of one sample from near: it may be the room's, but it is seen.
    assert_eq!(lost_when_idle(4, 0.0, 0.001), (Verdict::Undecided, 4));
}

/// Lost under the shake to where no broken wire takes it: no cause is known, and the first line says what is wrong in grammar.
#[test]
fn what_no_cause_explains_is_told_in_a_sentence() {
    let mut session = Session::new(Part::GOOD, 9);
    session.rest(1.0);
    session.full(1.0);
    session.strokes(8);
    session.releases(12);
    session.stay(Step::Shake, 3.0);
    session.lost(Step::Shake, 0.999, 0.3);
    session.stay(Step::Shake, 3.0);
    let profile = profile::find("pedal-hall-one-track").unwrap();
    let assessment = assess(&session.capture(Adc::TEN, None), Some(&profile)).unwrap();
    let first = &assessment.diagnosis.headline;
    assert_eq!(first, "DO NOT FIT: pedal dropouts are out of limits");
}

/// Every so many samples of a recording, as a slower board takes them.
fn thinned(of: &Capture, by: usize) -> Capture {
    let mut slow = of.clone();
    slow.t_us = of.t_us.iter().copied().step_by(by).collect();
    slow.codes = of
        .codes
        .iter()
        .map(|codes| codes.iter().copied().step_by(by).collect())
        .collect();
    for passage in &mut slow.passages {
        passage.range = passage.range.start.div_ceil(by)..passage.range.end.div_ceil(by);
    }
    slow.passages.retain(|passage| !passage.range.is_empty());
    let n = slow.t_us.len() as u64;
    slow.meta.board.rate_hz = of.meta.board.rate_hz / by as f64;
    (slow.meta.stream.lines, slow.meta.stream.samples) = (n, n);
    slow
}

/// A control that is let go falls by a third from one sample of a slow board to the next (50 ms, 56 samples a second): a corner, and
/// nothing lost.
#[test]
fn where_a_release_begins_no_contact_is_lost() {
    for seed in 1..=8 {
        let part = Part {
            noise: 2.0 / 4096.0,
            ..Part::GOOD
        };
        let capture = thinned(
            &Session::card(part, seed, 8, 12).capture(Adc::of(12, 5000.0), None),
            18,
        );
        let profile = profile::find("pedal-hall-one-track").unwrap();
        let assessment = assess(&capture, Some(&profile)).unwrap();
        assert_eq!(assessment.channels[0].1.dropouts, [], "seed {seed}");
    }
}

/// A rheostat of 0 ohm at rest, set by a hand that turns from end to end, stops, and never quite comes back to the same place.
fn turned(seed: u64) -> Capture {
    let part = Part {
        rest: 0.0,
        noise: 2.0 / 4096.0,
        ..Part::GOOD
    };
    let level = |x: f64| x / (x + 0.47);
    let mut session = Session::new(part, seed);
    let mut at = 0.0;
    let mut turn = |session: &mut Session, step, to: f64, seconds: f64| {
        let (from, to) = (at, to + 0.0008 * session.gauss());
        session.take(step, seconds, |t| {
            level(from + (to - from) * (0.5 - 0.5 * (PI * t / seconds).cos()))
        });
        at = to;
    };
    session.stay(Step::Rest, 2.0);
    turn(&mut session, Step::Idle, 1.0, 0.5);
    session.stay(Step::Full, 2.0);
    turn(&mut session, Step::Idle, 0.0, 0.5);
    for stroke in 0_u8..20 {
        let (to, more) = (f64::from((stroke + 1) % 2), f64::from(stroke % 5));
        turn(&mut session, Step::Strokes, to, 0.7 + 0.2 * more);
        session.stay(Step::Strokes, 0.05 + 0.06 * more);
    }
    session.stay(Step::Shake, 3.0);
    session.capture(Adc::of(12, 5000.0), None)
}

/// A rheostat at 0 ohm rests on the end of the scale, which cuts the noise off, in dwells as in holds: what moves is no louder for
/// that. With the dwells believed, two of these are called worn.
#[test]
fn a_dial_that_rests_on_the_end_of_the_scale_is_not_worn() {
    let dial = profile::find("dial-rheostat").unwrap();
    for seed in 1..=12 {
        let assessment = assess(&turned(seed), Some(&dial)).unwrap();
        assert_eq!(assessment.channels[0].1.worn_zones, [], "seed {seed}");
        assert_ne!(assessment.verdict, Some(Verdict::Fail), "seed {seed}");
    }
}
