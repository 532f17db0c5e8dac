//! What stands on the screen in each situation.

use super::scene::{self, draw, tell, text};
use crate::bench::{LinkState, RunEvent};
use crate::tui::keys::{Action, within};
use crate::tui::{Charset, Colour, Message, SourceKind, SourceOffer, State, Theme, update};

pub fn shot(name: &str, state: &State) {
    for (width, height) in [(80, 24), (160, 50)] {
        let name = format!("{name}-{width}x{height}");
        insta::with_settings!({ prepend_module_to_snapshot => false, omit_expression => true }, {
            insta::assert_snapshot!(name, text(&draw(state, width, height)));
        });
    }
}

#[test]
fn waiting_for_bytes() {
    let mut state = scene::state();
    scene::tick(&mut state, 4);
    shot("waiting", &state);
}

#[test]
fn resting_and_strokes() {
    shot("resting", &scene::resting());
    shot("strokes", &scene::stroking());
}

#[test]
fn link_lost() {
    let mut state = scene::stroking();
    tell(&mut state, scene::health(19_000, LinkState::Lost));
    shot("lost", &state);
}

#[test]
fn verdicts() {
    shot("pass", &scene::finished((0.95, 0.02), Some(0.8)));
    shot("fail", &scene::finished((2.6, 0.05), Some(0.8)));
    shot("undecided", &scene::finished((1.97, 0.04), None));
}

/// "All checks passed" does not speak for a track of which the profile says nothing.
#[test]
fn a_track_that_the_profile_does_not_know_is_said_to_be_not_judged() {
    let told = |profile: crate::profile::Profile| {
        let mut state = scene::finished((0.95, 0.02), Some(0.8));
        state.session.run.profile = Some(profile);
        [(64, 18), (80, 24), (160, 50)].map(|(width, height)| {
            text(&draw(&state, width, height)).contains("pedal_b was not judged")
        })
    };
    let mut one_track = scene::profile();
    one_track.tracks.remove(&measure::units::Track::Two);
    "one".clone_into(&mut one_track.name); // that it stands in one row
    assert_eq!(told(one_track), [true; 3]);
    assert_eq!(told(scene::profile()), [false; 3]);
}

#[test]
fn at_the_end_what_is_open_or_broken_comes_first() {
    let order = |state: &State| -> Vec<String> {
        let rows = crate::tui::screens::rows(&state.session);
        let limited = rows.iter().filter(|row| row.limited());
        limited
            .map(|row| row.finding.unwrap().outcome.to_string())
            .collect()
    };
    let outcomes = order(&scene::finished((2.6, 0.05), None));
    assert_eq!(outcomes[..3], ["fail", "not measured", "pass"]);
    let live = order(&scene::stroking());
    assert_eq!(
        live[..3],
        ["pass", "pass", "undecided"],
        "rows keep their places"
    );
}

#[test]
fn failed() {
    let mut state = scene::stroking();
    tell(
        &mut state,
        RunEvent::Failed(
            "/dev/ttyUSB0 is in use by another program.\n  Close it and start again.".into(),
        ),
    );
    shot("failed", &state);
}

#[test]
fn explained() {
    let mut state = scene::stroking();
    scene::bench(&mut state).figure = 2;
    scene::letters(&mut state, "?");
    shot("explained", &state);
}

#[test]
fn asked_whether_to_end() {
    let mut state = scene::stroking();
    scene::letters(&mut state, "q");
    shot("ask", &state);
}

#[test]
fn held() {
    let mut state = scene::stroking();
    let extent = state.session.run.extent_us();
    scene::bench(&mut state).window.toggle(extent);
    scene::bench(&mut state).window.stretch(true);
    shot("held", &state);
}

pub fn offers() -> Vec<SourceOffer> {
    let offer = |kind, name: &str, detail: &str| SourceOffer::new(kind, name, detail);
    let mut list = vec![
        offer(
            SourceKind::Port,
            "/dev/ttyUSB0",
            "USB serial adapter, 1000000 baud",
        ),
        offer(SourceKind::Port, "/dev/ttyS4", "built-in port"),
        offer(
            SourceKind::Simulated,
            "foot pedal, good",
            "two hall tracks, the second at half slope",
        ),
        offer(
            SourceKind::Capture,
            "T3-2026-04-11.csv",
            "trolley T3, lever, 62 s",
        ),
    ];
    list[1].blocked = Some("no permission: join the group dialout".to_owned());
    list[2].tag = Some("T1".to_owned());
    list[2].profile = Some(scene::profile().name);
    list
}

pub fn choosing() -> State {
    let theme = Theme {
        charset: Charset::Unicode,
        colour: Colour::True,
    };
    let mut state = State::choosing(theme, vec![scene::profile()]);
    update(&mut state, Message::Sources(offers()));
    state
}

#[test]
fn sources() {
    let mut state = choosing();
    scene::sources(&mut state).refused =
        Some("/dev/ttyUSB0 is in use by another program.\n  Close it and choose again.".to_owned());
    shot("sources", &state);
}

/// The plain set stays plain whatever comes in; without colour there is no colour.
#[test]
fn plain_terminals_get_plain_screens() {
    let theme = Theme {
        charset: Charset::Ascii,
        colour: Colour::None,
    };
    let mut all = vec![
        scene::state(),
        scene::resting(),
        scene::stroking(),
        scene::finished((2.6, 0.05), None),
        choosing(),
    ];
    let mut explained = scene::stroking();
    scene::letters(&mut explained, "?");
    all.push(explained);
    let mut under = scene::stroking();
    scene::bench(&mut under).fetching = Some("then".to_owned());
    update(
        &mut under,
        Message::Fetched(Box::new(Ok(super::beside::fetched()))),
    );
    let curved = scene::with_curve(&scene::assessment((2.6, 0.05), None), 0.9);
    tell(&mut under, RunEvent::Assessed(curved));
    all.push(under);
    let mut units = choosing();
    scene::letters(&mut units, "u");
    update(&mut units, Message::Units(Ok(super::beside::units())));
    all.push(units);
    let mut odd = scene::resting();
    tell(&mut odd, RunEvent::Failed("°±µ— 線".into()));
    all.push(odd);
    for mut state in all {
        state.session.theme = theme;
        let buffer = draw(&state, 160, 50);
        for cell in &buffer.content {
            assert!(cell.symbol().is_ascii(), "{:?}", cell.symbol());
            assert_eq!(cell.fg, ratatui::style::Color::Reset);
            assert_eq!(cell.bg, ratatui::style::Color::Reset);
        }
    }
    let mut state = scene::stroking();
    state.session.theme = theme;
    insta::with_settings!({ prepend_module_to_snapshot => false, omit_expression => true }, {
        insta::assert_snapshot!("plain-80x24", text(&draw(&state, 80, 24)));
    });
}

#[test]
fn sixteen_colours_are_the_terminals_own() {
    let mut state = scene::stroking();
    state.session.theme.colour = Colour::Sixteen;
    for cell in &draw(&state, 160, 50).content {
        assert!(
            !matches!(cell.fg, ratatui::style::Color::Rgb(..)),
            "{:?}",
            cell.fg
        );
    }
}

#[test]
fn too_small_says_so_and_that_the_run_goes_on() {
    let state = scene::stroking();
    let small = text(&draw(&state, 40, 10));
    assert!(small.contains("Window too small (40 x 10)"), "{small}");
    assert!(small.contains("The run goes on: 19 000 samples"), "{small}");
    assert!(small.contains("Press and let up slowly"), "{small}");
}

#[test]
fn no_size_is_too_small_to_survive() {
    for state in [
        scene::state(),
        scene::stroking(),
        scene::finished((2.6, 0.05), None),
        choosing(),
    ] {
        for width in [0, 1, 2, 3, 7, 20, 63, 64, 65, 80] {
            for height in [0, 1, 2, 3, 5, 17, 18, 19, 24] {
                draw(&state, width, height);
            }
        }
    }
}

/// A key that is shown must be on the key line or the help page, and the key line must fit where it matters most.
#[test]
fn the_way_out_and_the_help_are_on_every_narrow_screen() {
    for state in [
        scene::stroking(),
        scene::finished((2.6, 0.05), None),
        choosing(),
    ] {
        let screen = text(&draw(&state, 80, 24));
        let line = screen.lines().last().unwrap();
        for action in [Action::Help, Action::End, Action::Leave] {
            for binding in
                within(state.situation()).filter(|b| b.action == action && !b.short.is_empty())
            {
                assert!(line.contains(binding.short), "{line}");
            }
        }
    }
}

/// Seven hundred seconds at 1 kHz: the first of them are kept by 16 samples, the last each.
#[test]
fn an_old_stretch_says_that_its_samples_are_shown_together() {
    use crossterm::event::KeyCode;
    let mut state = scene::stroking();
    for from in (20_000..700_000).step_by(10_000) {
        tell(
            &mut state,
            scene::samples(from, 10_000, measure::units::Step::Rest),
        );
    }
    let mut shown_after = |key: KeyCode| {
        scene::press(&mut state, key);
        text(&draw(&state, 120, 40))
    };
    let newest = shown_after(KeyCode::Char(' '));
    assert!(
        newest.contains("held, 20.0 s wide") && !newest.contains("by 16"),
        "{newest}"
    );
    let oldest = shown_after(KeyCode::Home);
    assert!(
        oldest.contains("held, 20.0 s wide, by 16 samples"),
        "{oldest}"
    );
}
