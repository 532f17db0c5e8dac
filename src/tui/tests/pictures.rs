//! The pictures along the travel, the bands of faults, and what the mouse points at.

use super::scene;
use super::screens::shot;
use crate::bench::{Batch, RunEvent};
use crate::diagnose::Hum;
use crate::tui::screens::Picture;
use crate::tui::{Message, Pointed, State, update};
use measure::figure::FigureName;
use measure::judge::Limit;
use measure::units::{Code, Step, Track};
use std::sync::Arc;

fn picture(state: &mut State) {
    scene::letter(state, 't');
}

#[test]
fn noise_along_the_travel() {
    let mut state = scene::stroking();
    picture(&mut state);
    assert_eq!(scene::bench(&mut state).picture, Picture::Travel);
    shot("travel", &state);
    let mut good = scene::finished((0.95, 0.02), Some(0.8));
    picture(&mut good);
    shot("travel-pass", &good);
    let mut worn = scene::finished((2.6, 0.05), Some(0.8));
    picture(&mut worn);
    shot("travel-worn", &worn);
    picture(&mut worn);
    // There is no curve to see; what recurs is laid over each other.
    for (name, of) in [
        ("along", Picture::Along),
        ("over-strokes", Picture::Strokes),
        ("over-tracks", Picture::Tracks),
        ("over-rest", Picture::AtRest),
    ] {
        assert_eq!(scene::bench(&mut worn).picture, of);
        shot(name, &worn);
        picture(&mut worn);
    }
    assert_eq!(scene::bench(&mut worn).picture, Picture::Trace);
}

/// Where the mains are heard in the noise, and only there, what it is made of comes behind the readings at rest.
#[test]
fn hum_is_shown_hertz_by_hertz() {
    let mut state = scene::finished((0.95, 0.02), Some(0.8));
    scene::bench(&mut state).picture = Picture::AtRest;
    picture(&mut state);
    assert_eq!(scene::bench(&mut state).picture, Picture::Trace);
    let mut assessment = state.session.run.assessment.as_deref().unwrap().clone();
    assessment.diagnosis.hum = vec![Hum {
        channel: "pedal_a".to_owned(),
        hz: 50,
        rms: 1.2,
        noise: 1.4,
        most: true,
    }];
    state.session.run.assessment = Some(Arc::new(assessment));
    // Two seconds at rest with three codes of 50 Hz on the first track.
    let t_us: Vec<u64> = (0..2000).map(|k| 900_000_000 + k * 1000).collect();
    let hum = |k: u32| {
        164 + [0, 1, 2, 3, 3, 3, 3, 2, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0][k as usize % 20]
    };
    scene::tell(
        &mut state,
        RunEvent::Samples(Batch {
            step: vec![Step::Rest; t_us.len()],
            codes: vec![
                (0..2000).map(|k| Code(hum(k))).collect(),
                vec![Code(82); 2000],
            ],
            t_us,
        }),
    );
    scene::bench(&mut state).picture = Picture::AtRest;
    picture(&mut state);
    assert_eq!(scene::bench(&mut state).picture, Picture::Lines);
    shot("over-lines", &state);
}

#[test]
fn before_the_first_stroke_the_picture_says_what_it_waits_for() {
    let mut state = scene::resting();
    picture(&mut state);
    shot("travel-waiting", &state);
}

#[test]
fn deviation_along_the_travel() {
    let mut state = scene::stroking();
    let profile = state.session.run.profile.as_mut().unwrap();
    let limit = Limit::new(None, Some(1.0)).unwrap();
    let first = profile.tracks.get_mut(&Track::One).unwrap();
    first.limits.insert(FigureName::LinearityIndependent, limit);
    let assessment = scene::with_curve(&scene::assessment((0.9, 0.02), Some(0.8)), 0.9);
    scene::tell(&mut state, RunEvent::Assessed(assessment));
    picture(&mut state);
    picture(&mut state);
    assert_eq!(scene::bench(&mut state).picture, Picture::Deviation);
    shot("deviation", &state);
}

#[test]
fn the_thresholds_of_the_wiring_are_those_of_the_wiring_room() {
    let state = scene::stroking();
    let windows = scene::profile().control_wiring(10).windows().unwrap();
    assert_eq!(state.session.run.fault_edges.len(), windows.len());
    assert!(!windows.is_empty());
    for (track, windows) in windows {
        let edges = state.session.run.fault_edges[&track];
        assert_eq!(edges.low, windows.low.map(|edge| edge.ratio));
        assert_eq!(edges.high, windows.high.map(|edge| edge.ratio));
    }
}

#[test]
fn a_click_chooses_a_figure_and_the_wheel_stretches_the_trace() {
    for (size, figures, trace) in [
        ((80, 24), (10, 17), (20, 8)),
        ((160, 50), (90, 9), (20, 12)),
    ] {
        let mut state = scene::stroking();
        let point = |at, wheel| Message::Mouse(Pointed { at, size, wheel });
        let screen = scene::text(&scene::draw(&state, size.0, size.1));
        let row = screen.lines().nth(usize::from(figures.1)).unwrap();
        update(&mut state, point(figures, None));
        let figure = scene::bench(&mut state).figure;
        let rows = crate::tui::screens::rows(&state.session);
        let chosen = rows[figure].name.facts().label;
        assert!(figure > 0 && row.contains(chosen), "{chosen}: {row}");
        let span = |state: &mut State| {
            let (from, to) = scene::bench(state).window.edges((0, 0));
            to - from
        };
        let before = span(&mut state);
        update(&mut state, point(trace, Some(true)));
        assert_eq!(span(&mut state), before / 2);
        update(&mut state, point((0, 0), None));
        assert!(
            scene::bench(&mut state).figure > 0,
            "a click elsewhere changes nothing"
        );
    }
}

/// The help page must list every key that has a meaning, at the smallest size, too.
#[test]
fn every_key_is_on_the_help_page() {
    let mut state = scene::stroking();
    scene::letters(&mut state, "?");
    let page = scene::text(&scene::draw(&state, 80, 24));
    for binding in crate::tui::keys::within(crate::tui::keys::Situation::Live) {
        assert!(page.contains(binding.long), "{}: {page}", binding.long);
    }
}
