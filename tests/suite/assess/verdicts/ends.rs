//! A level that sits on an end of the ADC, and a part that has failed.

use super::part::{Adc, CODE, Part, Session};
use measure::judge::{Outcome, Verdict};
use measure::units::Step;
use pedalproof::bench::assess;
use pedalproof::profile;

/// A dial as its profile describes it, at rest on ground or a little above.
fn dial(rest_codes: f64, seed: u64) -> Session {
    let part = Part {
        rest: rest_codes * CODE,
        full: 0.68,
        noise: 0.7 * CODE,
        ..Part::GOOD
    };
    let mut session = Session::new(part, seed);
    for _ in 0..3 {
        session.rest(1.0);
        session.full(1.0);
    }
    session.strokes(12);
    session.stay(Step::Shake, 4.0);
    session
}

/// Issue 14.8: 60 of 60 undecided, and no advice could help.
#[test]
fn a_rest_on_ground_is_decided() {
    let profile = profile::find("dial-rheostat").unwrap();
    for (seed, rest) in (0..).zip([0.0, 0.3, 0.6, 1.2, 3.0]) {
        let capture = dial(rest, seed).capture(Adc::TEN, None);
        let assessment = assess(&capture, Some(&profile)).unwrap();
        let open = assessment.findings.iter();
        let open: Vec<_> = open.filter(|f| f.outcome != Outcome::Pass).collect();
        assert_eq!(assessment.verdict, Some(Verdict::Pass), "{rest}: {open:#?}");
    }
}

/// What the end of the scale hides is no noise that passes: a loud dial on ground fails or stays open.
#[test]
fn a_loud_rest_on_ground_does_not_pass() {
    let profile = profile::find("dial-rheostat").unwrap();
    for seed in 0..10 {
        let mut session = dial(0.3, seed);
        session.part.noise = 4.0 * CODE;
        let mut loud = Session::new(session.part, seed);
        loud.rest(2.0);
        loud.full(1.0);
        let assessment = assess(&loud.capture(Adc::TEN, None), Some(&profile)).unwrap();
        let finding = assessment
            .finding("pedal", measure::figure::FigureName::NoiseRestRms)
            .unwrap();
        assert_ne!(finding.outcome, Outcome::Pass, "{}", finding.reason);
    }
}

/// Issue 14.14: a part that failed asks for nothing, one that is open asks for what would decide it.
#[test]
fn a_part_that_has_failed_asks_for_nothing_more() {
    let profile = profile::find("pedal-hall-one-track").unwrap();
    let told = |rest: f64| {
        let part = Part { rest, ..Part::GOOD };
        let mut session = Session::new(part, 1);
        session.rest(1.0);
        session.full(1.0);
        assess(&session.capture(Adc::TEN, None), Some(&profile)).unwrap()
    };
    let (failed, open) = (told(0.3), told(0.16));
    assert_eq!(failed.verdict, Some(Verdict::Fail));
    assert_eq!(open.verdict, Some(Verdict::Undecided));
    let asks = |assessment: &pedalproof::record::Assessment| {
        let findings = assessment.findings.iter();
        findings
            .filter(|f| matches!(f.outcome, Outcome::Undecided | Outcome::NotMeasured))
            .map(|f| f.advice.is_some())
            .collect::<Vec<_>>()
    };
    assert!(asks(&failed).len() >= 3 && !asks(&failed).contains(&true));
    assert!(asks(&open).len() >= 3 && asks(&open).contains(&true));
    let text = pedalproof::report::assessment(&failed).text();
    for words in ["record ", "more presses", "decide it"] {
        assert!(!text.contains(words), "{words}: {text}");
    }
}
