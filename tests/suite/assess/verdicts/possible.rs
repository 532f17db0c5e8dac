//! No impossible number, in any figure and any text, whatever was recorded.

use super::part::{Adc, CODE, Part, Session};
use measure::figure::{Figure, FigureName};
use measure::units::{Step, Track};
use pedalproof::bench::assess;
use pedalproof::capture::Capture;
use pedalproof::profile::{BUILT_IN, Profile};
use pedalproof::record::Assessment;
use pedalproof::report;
use proptest::prelude::*;

fn possible(name: FigureName, figure: &Figure, capture: &Capture) -> Result<(), String> {
    let whole = |what: &str| Err(format!("{name}: {what}: {figure:?}"));
    let numbers = [Some(figure.value), figure.u, figure.low, figure.high];
    if numbers.iter().flatten().any(|x| !x.is_finite()) {
        return whole("no number");
    }
    if figure.u.is_some_and(|u| u < 0.0) {
        return whole("a negative uncertainty");
    }
    if figure.low.is_some_and(|low| low > figure.value)
        || figure.high.is_some_and(|high| high < figure.value)
    {
        return whole("an interval without its value");
    }
    let top = f64::from(capture.meta.board.bits).exp2() - 1.0;
    let least = match name.word() {
        "span_code" | "noise_free_bits" | "drift_per_min" | "rest_creep" | "track_gain"
        | "track_offset" | "track_lag" | "ratiometric_error" => f64::NEG_INFINITY,
        _ => 0.0,
    };
    let most = match name.word() {
        "rest_ratio" | "full_ratio" => 1.0,
        "rest_code" | "full_code" | "board_low_code" | "board_high_code" => top,
        "interference_share" | "lost_share" => 100.0,
        _ => f64::INFINITY,
    };
    let ends = [Some(figure.value), figure.low, figure.high];
    if ends.iter().flatten().any(|x| *x < least || *x > most) {
        return whole("beyond what it can be");
    }
    counts(&figure.method, capture.t_us.len()).map_err(|what| format!("{name}: {what}"))
}

/// `of N samples, M of them independent` with M above N; a count beyond the recording's samples.
fn counts(words: &str, samples: usize) -> Result<(), String> {
    let number = |text: &str| {
        text.split_whitespace()
            .last()
            .and_then(|w| w.parse::<f64>().ok())
    };
    if let Some((before, rest)) = words.split_once(" samples, ")
        && let Some((independent, _)) = rest.split_once(" of them independent")
        && let (Some(all), Some(part)) = (number(before), number(independent))
        && part > all
    {
        return Err(words.to_owned());
    }
    if let Some((before, _)) = words.split_once(" effective degrees of freedom")
        && number(before).is_some_and(|dof| dof > samples as f64)
    {
        return Err(words.to_owned());
    }
    Ok(())
}

/// `a, between b and c`: b <= a <= c as they are written, and no ratio outside 0 to 1.
fn between(name: FigureName, reason: &str) -> Result<(), String> {
    let Some((value, rest)) = reason.split_once(", between ") else {
        return Ok(());
    };
    let first = |text: &str| {
        let word = text.split_whitespace().next().unwrap_or_default();
        word.trim_end_matches([':', ',', ';']).parse::<f64>().ok()
    };
    let (low, high) = rest.split_once(" and ").unwrap_or((rest, ""));
    let (value, low, high) = (first(value), first(low), first(high));
    let outside = |x: Option<f64>| x.is_some_and(|x| !(0.0..=1.0).contains(&x));
    let ratio = matches!(name, FigureName::RestRatio | FigureName::FullRatio);
    let crossed = |a: Option<f64>, b: Option<f64>| a.zip(b).is_some_and(|(a, b)| a > b);
    if (ratio && (outside(low) || outside(high))) || crossed(low, value) || crossed(value, high) {
        return Err(format!("{name}: {reason}"));
    }
    Ok(())
}

/// Words that no number may become.
fn readable(text: &str) -> Result<(), String> {
    let odd = text
        .split(|c: char| c.is_whitespace() || "()[],;:%".contains(c))
        .find(|word| {
            let bare = word
                .trim_start_matches(['+', '-', '/', '<', '>', '='])
                .to_lowercase();
            matches!(bare.trim_end_matches('.'), "inf" | "nan" | "infinity")
        });
    odd.map_or(Ok(()), |word| Err(format!("`{word}` in: {text}")))
}

fn checked(capture: &Capture, profile: &Profile) -> Result<Assessment, String> {
    let assessment = assess(capture, Some(profile)).map_err(|e| e.to_string())?;
    for (_, figures) in assessment.parts() {
        for (name, figure) in figures.iter() {
            if let Some(figure) = figure {
                possible(name, figure, capture)?;
            }
        }
    }
    for finding in &assessment.findings {
        between(finding.figure, &finding.reason)?;
        readable(&finding.reason)?;
        readable(finding.advice.as_deref().unwrap_or_default())?;
    }
    readable(&report::assessment(&assessment).text())?;
    Ok(assessment)
}

/// What a person may do, in any order, with any part.
fn session(acts: &[(u8, f64)], part: Part, seed: u64) -> Session {
    let mut session = Session::new(part, seed);
    for (act, amount) in acts {
        match act {
            0 => session.rest(*amount),
            1 => session.full(*amount),
            2 => session.strokes(3),
            3 => session.releases(2),
            4 => session.go(Step::Strokes, *amount / 2.0, 0.3),
            5 => session.stay(Step::Ground, *amount),
            6 => session.stay(Step::Release, *amount / 20.0),
            _ => session.stay(Step::Shake, *amount),
        }
    }
    session
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    #[test]
    fn no_recording_makes_an_impossible_number(
        acts in prop::collection::vec((0_u8..8, 0.005_f64..1.2), 1..9),
        rest in prop_oneof![Just(0.0), Just(1.0), 0.0_f64..1.0],
        full in prop_oneof![Just(0.0), Just(1.0), 0.0_f64..1.0],
        noise in prop_oneof![Just(0.0), 0.0_f64..3.0, Just(400.0)],
        scatter in prop_oneof![Just(0.0), 0.0_f64..30.0],
        creep in prop_oneof![Just(0.0), 0.0_f64..0.1],
        bits in prop_oneof![Just(8_u32), Just(10), Just(12), Just(16)],
        looks in prop_oneof![Just(None), (1_u32..=4).prop_map(|taken| Some((taken, 4)))],
        kind in 0..BUILT_IN.len(),
        seed in any::<u64>(),
    ) {
        let part = Part {
            rest,
            full,
            noise: noise * CODE,
            full_scatter: scatter * CODE,
            rest_scatter: scatter * CODE,
            creep,
            creep_s: 0.7,
        };
        let session = session(&acts, part, seed);
        let tracks = [("a", Track::One, 1.0), ("b", Track::Two, 0.5)];
        let capture = session.tracks(Adc::of(bits, 5000.0), looks, &tracks);
        let profile = Profile::from_json(BUILT_IN[kind].1).unwrap();
        let ok = checked(&capture, &profile);
        prop_assert!(ok.is_ok(), "{}", ok.unwrap_err());
    }
}

#[test]
fn the_check_can_fail() {
    assert!(
        counts(
            "mean of one hold of 1000 samples, 1776 of them independent",
            2000
        )
        .is_err()
    );
    assert!(
        between(
            FigureName::RestRatio,
            "0.1, between -0.1433 and 0.3382: open"
        )
        .is_err()
    );
    assert!(readable("nearest limit at inf sigma").is_err());
    assert!(readable("infinite patience is information").is_ok());
}
