//! `constants` of a part that lost contact: refused in those words first, and no loss is a visit of an end.

use super::part::{Adc, CODE, Part, Session};
use measure::units::Step;
use pedalproof::bench::{assess, write_capture};
use pedalproof::profile;

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
    use crate::support::program::{pedalproof, words};
    let dir = tempfile::tempdir().unwrap();
    let capture = loose().capture(Adc::TEN, None);
    let dial = profile::find("dial-rheostat").unwrap();
    let assessment = assess(&capture, Some(&dial)).unwrap();
    assert_eq!(assessment.verdict, Some(measure::judge::Verdict::Fail));
    write_capture(&capture, &dir.path().join("dial.csv")).unwrap();
    let ran = pedalproof(
        dir.path(),
        &["constants", "dial.csv", "--profile", "dial-rheostat"],
    );
    assert_eq!(ran.status.code(), Some(1), "{ran:?}");
    let told = words(&ran);
    let fails = told.find("dropouts_count").unwrap_or(usize::MAX);
    for later in ["full end at", "window", "the edges"] {
        assert!(
            told.find(later).is_none_or(|at| at > fails),
            "{later} before the failure: {told}"
        );
    }
    let level = told.split_once("full end at ").map(|(_, rest)| rest);
    let level = level.and_then(|rest| rest.split_whitespace().next()?.parse::<f64>().ok());
    if let Some(level) = level {
        assert!((level - 0.68 * 1024.0).abs() < 3.0, "{level}: {told}");
    }
}
