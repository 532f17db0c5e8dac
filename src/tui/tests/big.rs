//! A run in big letters.

use super::scene::{self, card, draw, letter, tell, text};
use super::screens::shot;
use crate::bench::{Cue, LinkState, RunEvent};
use crate::tui::{Charset, Effect, State};

/// A run in its strokes, with the cue and the remark of this moment.
fn cued(at: usize, have: f64, cue: Cue, remark: Option<&str>) -> State {
    let mut state = scene::stroking();
    state.session.prompting.big = true;
    let mut steps = card(at, have, remark);
    steps[at].cue = Some(cue);
    tell(&mut state, RunEvent::Progress(steps));
    state
}

/// Rows that hold cells of letters.
fn letter_rows(screen: &str) -> usize {
    screen.lines().filter(|row| row.contains("██")).count()
}

#[test]
fn what_to_do_fills_the_screen() {
    shot("big-press", &cued(2, 3.0, Cue::Press, Some("good")));
    let turned = Some("not counted: go all the way to both ends");
    shot("big-back", &cued(2, 3.0, Cue::LetGo, turned));
    let mut lost = cued(3, 1.0, Cue::Hold, None);
    tell(&mut lost, scene::health(19_000, LinkState::Lost));
    shot("big-lost", &lost);
}

/// Letters five rows high or more at every size that everything fits on, and where the control is, in volts.
#[test]
fn it_can_be_read_at_every_size() {
    let state = cued(3, 1.0, Cue::LetGo, None);
    for (width, height) in [(64, 18), (80, 24), (120, 40), (200, 60)] {
        let screen = text(&draw(&state, width, height));
        assert!(letter_rows(&screen) >= 5, "{width} x {height}:\n{screen}");
        for words in [" V", "rest", "full", "d  details"] {
            assert!(
                screen.contains(words),
                "{words} at {width} x {height}:\n{screen}"
            );
        }
    }
    let mut plain = cued(3, 1.0, Cue::LetGo, None);
    plain.session.theme.charset = Charset::Ascii;
    let screen = text(&draw(&plain, 80, 24));
    assert!(screen.is_ascii() && screen.contains("####"), "{screen}");
}

#[test]
fn a_key_shows_the_details_and_back_and_the_end_has_them() {
    let mut state = cued(3, 1.0, Cue::LetGo, None);
    assert!(letter_rows(&text(&draw(&state, 80, 24))) > 0);
    letter(&mut state, 'd');
    assert_eq!(letter_rows(&text(&draw(&state, 80, 24))), 0);
    letter(&mut state, 'd');
    assert!(letter_rows(&text(&draw(&state, 80, 24))) > 0);
    tell(&mut state, scene::ended(None));
    assert_eq!(letter_rows(&text(&draw(&state, 80, 24))), 0);
}

#[test]
fn the_bell_rings_when_something_counts_until_it_is_silenced() {
    let mut state = cued(2, 3.0, Cue::Press, None);
    state.session.prompting.bell = true;
    let rung = |state: &mut State, have| tell(state, RunEvent::Progress(card(2, have, None)));
    assert_eq!(rung(&mut state, 4.0), [Effect::Bell(1)]);
    assert_eq!(rung(&mut state, 4.0), []);
    letter(&mut state, 'm');
    assert_eq!(rung(&mut state, 5.0), []);
}
