//! A rheostat dial whose divider is known by construction: `assess` finds its ratio and how straight the element is, with
//! the profile that says rheostat and not without.

use crate::support::recording::signal;
use measure::figure::{Figure, FigureName};
use measure::travel::resistance_share;
use measure::units::{Code, Passage, Step, Track};
use pedalproof::bench::assess;
use pedalproof::capture::{BoardMeta, Capture, Metadata, RefMeta};
use pedalproof::profile;
use pedalproof::wiring::pull_up::rheostat_position;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

const BITS: u32 = 12;
/// 9.1 kOhm of track (a unit 9 % below nominal), 150 ohm at its end, 4.7 kOhm pull-up.
const TRUE_RATIO: f64 = 4_700.0 / 9_100.0;

/// Stations every 5 % up and down; the element bends by `bow` of the travel, as a cubic that no divider looks like.
fn dial(seed: u64, noise: f64, bow: f64) -> Capture {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let (mut t_us, mut codes, mut position, mut passages) =
        (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for k in (0..=20_u32).chain((0..20).rev()) {
        let travel = f64::from(k) / 20.0;
        let x = 2.0 * travel - 1.0;
        // 3 sqrt(3)/2 (x - x^3) has extremes of -1 and 1 and is 0 at both ends and in the middle.
        let share = travel + bow * 1.5 * 3.0_f64.sqrt() * (x - x.powi(3));
        // Another end for each seed: in quiet noise rounding would be the same for all.
        let ohm = 150.0 + f64::from(u32::try_from(seed % 97).unwrap()) + 9_100.0 * share;
        let level = 4096.0 * ohm / (ohm + 4_700.0);
        let start = codes.len();
        for _ in 0..100 {
            let white: f64 = StandardNormal.sample(&mut random);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            codes.push(Code((level + noise * white).round().max(0.0) as u32));
            position.push(270.0 * travel);
            t_us.push(t_us.len() as u64 * 1000);
        }
        passages.push(Passage {
            step: Step::Stations,
            range: start..codes.len(),
        });
    }
    let channel = signal(Track::One);
    Capture {
        meta: Metadata {
            reference: Some(RefMeta {
                unit: "deg".into(),
                low: Some(0.0),
                high: Some(270.0),
                u: None,
            }),
            ..Metadata::new(
                BoardMeta::new("b", BITS, 5000.0, 1000.0),
                vec![("dial".into(), channel)],
            )
        },
        t_us,
        passages,
        codes: vec![codes],
        reference: Some(position),
        lost: None,
    }
}

fn figure(capture: &Capture, profile: Option<&str>, name: FigureName) -> Option<Figure> {
    let profile = profile.map(|name| profile::find(name).unwrap());
    let assessed = assess(capture, profile.as_ref()).unwrap();
    assessed.figures("dial").unwrap().get(name).cloned()
}

const RHEOSTAT: Option<&str> = Some("dial-rheostat");

#[test]
fn the_ratio_and_the_straight_element_are_found() {
    let capture = dial(1, 1.0, 0.0);
    let ratio = figure(&capture, RHEOSTAT, FigureName::DividerRatio).unwrap();
    assert!((ratio.value - TRUE_RATIO).abs() < 0.001, "{ratio:?}");
    assert!(
        ratio.low.unwrap() < TRUE_RATIO && TRUE_RATIO < ratio.high.unwrap(),
        "{ratio:?}"
    );
    assert!(ratio.method.contains("nominal 0.4700"), "{ratio:?}");
    // Read through the divider the dial is far from straight; its element is straight.
    let read = figure(&capture, RHEOSTAT, FigureName::LinearityIndependent).unwrap();
    assert!(read.value > 5.0, "{read:?}");
    let element = figure(&capture, RHEOSTAT, FigureName::LinearityElement).unwrap();
    assert!(element.value < 0.1, "{element:?}");
}

#[test]
fn a_bend_that_is_not_the_dividers_is_left_in_the_element() {
    let capture = dial(2, 1.0, 0.01);
    let element = figure(&capture, RHEOSTAT, FigureName::LinearityElement).unwrap();
    // Of all lines the best leaves a quarter of the cubic's coefficient (Chebyshev: x^3 - 3x/4 stays within 1/4 on -1 .. 1);
    // that is 1 % x 3 sqrt(3)/2 / 4 = 0.65 %.
    assert!((element.value - 0.65).abs() < 0.12, "{element:?}");
}

#[test]
fn without_a_profile_that_says_rheostat_there_is_none() {
    let capture = dial(3, 1.0, 0.0);
    for profile in [None, Some("dial-three-wire")] {
        for name in [FigureName::DividerRatio, FigureName::LinearityElement] {
            assert_eq!(figure(&capture, profile, name), None, "{profile:?} {name}");
        }
    }
    let mut unstated = capture;
    unstated.meta.reference.as_mut().unwrap().high = None;
    assert_eq!(figure(&unstated, RHEOSTAT, FigureName::DividerRatio), None);
}

/// Units drawn: `PEDALPROOF_UNITS=400 cargo test --test suite divider:: -- --nocapture` prints the shares of the validity table.
fn units() -> u64 {
    std::env::var("PEDALPROOF_UNITS").map_or(40, |units| units.parse().unwrap())
}

#[test]
fn the_intervals_cover_over_seeded_units() {
    let drawn = units();
    // 92 % of the draws, less 2.6 standard deviations of such a count (one in 200).
    let n = f64::from(u32::try_from(drawn).unwrap());
    let least = 0.92 * n - 2.6 * (n * 0.92 * 0.08).sqrt();
    let profile = profile::find("dial-rheostat").unwrap();
    // Of the cubic's bend the minimax line leaves a quarter of its coefficient; the ratio takes up nothing of it.
    let left = 100.0 * 0.01 * 1.5 * 3.0_f64.sqrt() / 4.0;
    for (noise, bow) in [(0.2, 0.0), (1.5, 0.0), (6.0, 0.0), (1.5, 0.01), (6.0, 0.01)] {
        let (mut ratio, mut element) = (0_u32, 0_u32);
        for seed in 0..drawn {
            let assessed = assess(&dial(1000 + seed, noise, bow), Some(&profile)).unwrap();
            let figures = assessed.figures("dial").unwrap();
            let holds = |name, truth: f64| {
                let figure = figures.get(name).unwrap();
                u32::from(figure.low.unwrap() <= truth && truth <= figure.high.unwrap())
            };
            ratio += holds(FigureName::DividerRatio, TRUE_RATIO);
            let truth = if bow > 0.0 { left } else { 0.0 };
            element += holds(FigureName::LinearityElement, truth);
        }
        println!("noise {noise}, bow {bow}: ratio {ratio}, element {element} of {drawn}");
        assert!(f64::from(ratio) >= least && f64::from(element) >= least);
    }
}

/// The two rooms that know the divider's inverse say the same.
#[test]
fn measure_and_wiring_agree_on_the_inverse() {
    for k in 0..100 {
        let reading = f64::from(k) / 100.0;
        let (a, b) = (
            resistance_share(reading, 0.47).unwrap(),
            rheostat_position(reading, 0.47, 0.015).unwrap() + 0.015,
        );
        assert!((a - b).abs() < 1e-12, "{reading}: {a} {b}");
    }
}
