//! A good recording altered as a person would spoil it: what is said first, and what a friend who knows the trade would say.

use measure::judge::Verdict;
use measure::units::{Code, Step};
use pedalproof::capture::Capture;
use pedalproof::diagnose::{ActsTowards, CauseWord, Diagnosis};
use pedalproof::{bench, profile};
use simulator::{Simulation, examples, scenario};

/// An example recording, as `pedalproof examples` writes it, or one pass of a lever's card; and the profile it is checked as.
fn example(name: &str) -> (Capture, &'static str) {
    let all = examples();
    let known = all.iter().find(|example| example.name == name);
    let (run, profile) = if let Some(example) = known {
        let mut simulation = Simulation::new(&example.unit, example.seed).unwrap();
        (simulation.run(600.0), example.profile)
    } else {
        // Its card begins again after some forty seconds.
        let mut simulation = Simulation::new(&scenario(name).unwrap(), 11).unwrap();
        (simulation.run(40.0), "lever-shunting")
    };
    (bench::simulated_capture(&run, None), profile)
}

fn said(capture: &Capture, profile_name: &str) -> (Diagnosis, Option<Verdict>) {
    let profile = profile::find(profile_name).unwrap();
    let assessment = bench::assess(capture, Some(&profile)).unwrap();
    (assessment.diagnosis, assessment.verdict)
}

/// What is said of an altered example: the first cause and the headline.
fn altered(name: &str, alter: impl Fn(&mut Capture)) -> (CauseWord, Diagnosis) {
    let (mut capture, profile) = example(name);
    alter(&mut capture);
    let (diagnosis, verdict) = said(&capture, profile);
    let first = diagnosis.causes.first();
    let word = first.unwrap_or_else(|| panic!("{diagnosis:?}")).cause;
    // The room does not fail the part.
    let right = match word {
        CauseWord::MainsHum | CauseWord::Interference => Verdict::Undecided,
        _ => Verdict::Fail,
    };
    assert_eq!(verdict, Some(right), "{diagnosis:?}");
    (word, diagnosis)
}

fn steady(codes: &mut [Code], to: u32) {
    codes.fill(Code(to));
}

#[test]
fn the_failed_examples_are_told_as_a_friend_would() {
    for (name, word, words) in [
        (
            "T2-pedal",
            CauseWord::StickyReturn,
            "DO NOT FIT: the pedal does not come back",
        ),
        (
            "T3-lever-2026",
            CauseWord::WornTrack,
            "DO NOT FIT: the track is worn at",
        ),
        (
            "T2-lever",
            CauseWord::Backwards,
            "CHECK THE WIRING FIRST: it works backwards",
        ),
        (
            "T4-dial",
            CauseWord::LooseWiper,
            "DO NOT FIT: the wiper breaks contact at",
        ),
    ] {
        let (first, diagnosis) = altered(name, |_| ());
        let all: Vec<CauseWord> = diagnosis.causes.iter().map(|cause| cause.cause).collect();
        assert!(all.contains(&word), "{name}: {diagnosis:?}");
        assert!(
            diagnosis.headline.starts_with(words),
            "{name}: {}",
            diagnosis.headline
        );
        // The same two wires must not be told to be swapped twice.
        if word == CauseWord::Backwards {
            let changes = diagnosis.wiring_dangers.iter();
            let swaps = changes.filter(|d| format!("{:?}", d.change).contains("wap supply"));
            assert_eq!(swaps.count(), 0, "{diagnosis:?}");
        }
        let replaced = diagnosis.headline.starts_with("DO NOT FIT");
        assert_eq!(
            diagnosis.blames_the_part(Some(Verdict::Fail)),
            replaced,
            "{name}"
        );
        if name == "T4-dial" {
            assert!(
                all.contains(&CauseWord::LooseConnection),
                "shaken, too: {diagnosis:?}"
            );
            assert!(
                diagnosis
                    .causes
                    .iter()
                    .all(|c| c.acts_towards == ActsTowards::Full)
            );
        } else {
            assert_eq!(first, word, "{name}");
        }
    }
}

#[test]
fn good_examples_have_no_cause() {
    for name in ["T1-pedal", "T1-dial", "T1-lever"] {
        let (capture, profile) = example(name);
        let (diagnosis, _) = said(&capture, profile);
        assert_eq!(diagnosis.causes, [], "{name}");
        assert!(
            diagnosis.headline.starts_with("FIT IT"),
            "{name}: {}",
            diagnosis.headline
        );
    }
    // The lever is good, its wiring is not.
    let (capture, profile) = example("T1-lever");
    let (diagnosis, _) = said(&capture, profile);
    let worst = &diagnosis.wiring_dangers[0];
    assert_eq!(
        (worst.channel.as_str(), worst.fault.as_str()),
        ("lever", "ground wire breaks")
    );
}

#[test]
fn wires_room_and_travel_are_not_blamed_on_the_part() {
    let first = |alter: &dyn Fn(&mut Capture)| {
        let (word, diagnosis) = altered("T1-pedal", alter);
        assert!(
            !diagnosis.headline.starts_with("DO NOT FIT"),
            "{}",
            diagnosis.headline
        );
        (word, diagnosis.headline)
    };
    let (word, headline) = first(&|capture| capture.codes.swap(0, 1));
    assert_eq!(word, CauseWord::TracksSwapped, "{headline}");
    assert_eq!(
        headline,
        "CHECK THE WIRING FIRST: signal wires A0 and A1 are swapped"
    );

    let (word, headline) = first(&|capture| capture.codes[1] = capture.codes[0].clone());
    assert_eq!(word, CauseWord::TracksJoined, "{headline}");

    let (word, headline) = first(&|capture| {
        capture.codes.iter_mut().for_each(|codes| steady(codes, 0));
    });
    assert!(
        matches!(word, CauseWord::NoSupply | CauseWord::NoGround),
        "{headline}"
    );

    let (word, headline) = first(&|capture| {
        for (i, code) in capture.codes[1].iter_mut().enumerate() {
            *code = Code(u32::from(i % 7 == 0));
        }
    });
    assert_eq!(word, CauseWord::SignalOpen, "{headline}");

    let (word, headline) = first(&|capture| {
        let times = capture.t_us.clone();
        for codes in &mut capture.codes {
            for (code, t_us) in codes.iter_mut().zip(&times) {
                let hum = 8.0 * (std::f64::consts::TAU * 50.0 * *t_us as f64 * 1e-6).sin();
                *code = Code((f64::from(code.0) + hum).round().max(0.0) as u32);
            }
        }
    });
    assert_eq!(word, CauseWord::MainsHum, "{headline}");
    assert!(headline.contains("50 Hz"), "{headline}");

    let (word, headline) = first(&|capture| {
        let rest = [164.0, 82.0];
        for (codes, rest) in capture.codes.iter_mut().zip(rest) {
            for code in codes {
                *code = Code((rest + 0.85 * (f64::from(code.0) - rest)).round() as u32);
            }
        }
    });
    assert_eq!(word, CauseWord::ShortTravel, "{headline}");
    assert!(headline.starts_with("CHECK THE TRAVEL FIRST"), "{headline}");
}

#[test]
fn the_wrong_kind_is_seen() {
    let (capture, _) = example("T1-pedal");
    let (diagnosis, _) = said(&capture, "dial-rheostat");
    assert_eq!(
        diagnosis.causes[0].cause,
        CauseWord::WrongProfile,
        "{diagnosis:?}"
    );
    assert!(
        diagnosis.headline.contains("hall pedal, two tracks"),
        "{}",
        diagnosis.headline
    );
}

#[test]
fn spikes_at_any_time_are_the_room() {
    let (mut capture, profile) = example("T1-pedal");
    let mut state = 12345_u64;
    for code in &mut capture.codes[0] {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        if (state >> 33).is_multiple_of(100) {
            let spike = if (state >> 20) & 1 == 0 { 60 } else { -60 };
            *code = Code(u32::try_from(i64::from(code.0) + spike).unwrap_or(0));
        }
    }
    let (diagnosis, _) = said(&capture, profile);
    assert_eq!(
        diagnosis.causes[0].cause,
        CauseWord::Interference,
        "{diagnosis:?}"
    );
    assert!(
        diagnosis.headline.starts_with("CHECK THE ROOM FIRST"),
        "{}",
        diagnosis.headline
    );
    assert!(
        capture
            .passages
            .iter()
            .any(|passage| passage.step == Step::Shake)
    );
}

/// Too few strokes show it to be called a worn track, and its place is known all the same.
#[test]
fn a_lone_worn_spot_is_told_with_its_place() {
    let (capture, profile) = example("T3-lever-2024");
    let (diagnosis, _) = said(&capture, profile);
    let headline = &diagnosis.headline;
    assert!(
        headline.starts_with("DO NOT FIT: one worn spot at "),
        "{headline}"
    );
    assert!(
        headline.ends_with(" times the noise; none allowed)"),
        "{headline}"
    );
}

/// Seconds for which an input at ground was put where contact is lost.
const LIFTED_S: f64 = 0.015;

/// Contact lost wherever `begins` says so: the input falls to ground.
fn losing(capture: &mut Capture, mut begins: impl FnMut(f64) -> bool) -> usize {
    let level = |step: Step| {
        let passage = capture.passages.iter().find(|p| p.step == step).unwrap();
        f64::from(capture.codes[0][passage.range.clone()][0].0)
    };
    let (rest, full) = (level(Step::Rest), level(Step::Full));
    let long = (LIFTED_S * capture.meta.board.rate_hz) as usize;
    let (mut left, mut times) = (0, 0);
    for code in &mut capture.codes[0] {
        if begins((f64::from(code.0) - rest) / (full - rest)) {
            (left, times) = (long, times + 1);
        }
        if left > 0 {
            left -= 1;
            *code = Code(0);
        }
    }
    times
}

/// A wiper that lifts off its track where it comes to rest; and contact lost as often, but at any time.
#[test]
fn contact_lost_on_coming_to_rest_is_the_wipers_before_the_plugs() {
    let (word, diagnosis) = altered("T1-lever", |capture| {
        let mut away = false;
        let times = losing(capture, |travel| {
            away |= travel > 0.5;
            let comes = away && travel < 0.005;
            away &= !comes;
            comes
        });
        assert!(times > 5, "{times}");
    });
    assert_eq!(word, CauseWord::LooseWiper, "{diagnosis:?}");
    let first = &diagnosis.causes[0];
    assert!(
        first.from_pct == Some(0.0) && first.to_pct == Some(3.0),
        "{first:?}"
    );
    assert!(first.because[0].contains("as it came to rest"), "{first:?}");

    let (word, diagnosis) = altered("T1-lever", |capture| {
        let mut state = 4_321_u64;
        losing(capture, |_| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 33).is_multiple_of(4000)
        });
    });
    assert_eq!(word, CauseWord::LooseConnection, "{diagnosis:?}");
}
