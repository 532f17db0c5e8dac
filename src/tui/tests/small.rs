//! The smallest screen: what must stand there whatever else has no room.

use super::blocks::asked;
use super::scene::{self, draw, press, text};
use crate::tui::State;
use crossterm::event::KeyCode;
use std::sync::Arc;

fn small(state: &State) -> String {
    text(&draw(state, 64, 18))
}

/// The board that is made to run stands right above the question, also while the keys change it.
#[test]
fn yes_is_asked_for_below_the_board_that_it_is_about() {
    let mut state = asked();
    for board in ["simulated flashed board", "/dev/ttyS4", "/dev/ttyUSB0"] {
        let screen = small(&state);
        let rows: Vec<&str> = screen.lines().collect();
        let question = rows.iter().position(|row| row.contains("Are the drive"));
        let above = rows[question.unwrap() - 1];
        let words = format!("measured at: {board} (up/down changes it)");
        assert!(above.contains(&words), "{screen}");
        assert!(screen.contains("replaces neither local"), "{screen}");
        press(&mut state, KeyCode::Up);
    }
}

fn with(headline: &str, evidence: usize, remedies: &[&str]) -> State {
    let mut state = scene::finished((2.6, 0.05), Some(0.8));
    let assessment = state.session.run.assessment.as_mut().unwrap();
    let diagnosis = &mut Arc::make_mut(assessment).diagnosis;
    headline.clone_into(&mut diagnosis.headline);
    let cause = &mut diagnosis.causes[0];
    cause.because = vec!["because of this".to_owned(); evidence];
    cause.remedies = remedies.iter().map(|text| (*text).to_owned()).collect();
    state
}

/// What to do stays, why it is so goes; and the first words are whole.
#[test]
fn what_to_do_stays_before_the_evidence() {
    let words = "MEASURE MORE: record strokes and release as well (return scatter is missing)";
    let screen = small(&with(words, 12, &["Oil it.", "Free it.", "Send it back."]));
    assert!(screen.contains("MEASURE MORE: record"), "{screen}");
    assert!(screen.contains("release as well"), "{screen}");
    for action in ["> Oil it.", "> Free it.", "> Send it back."] {
        assert!(screen.contains(action), "{screen}");
    }
    let more = "more: make the window larger, or `pedalproof assess FILE`";
    assert!(screen.contains(more), "{screen}");
    // With room enough everything stands where it belongs.
    let large = text(&draw(&with(words, 3, &["Oil it."]), 160, 60));
    let place = |words: &str| large.find(words).unwrap();
    assert!(place("because of this") < place("> Oil it."), "{large}");
}
