//! What keys lead to.

use super::scene::{self, ended, letter, press, tell};
use crate::bench::{RunCommand, RunEvent, StationWords};
use crate::profile;
use crate::record::Assessment;
use crate::tui::keys::Situation;
use crate::tui::{Effect, Message, update};
use crossterm::event::KeyCode;
use measure::units::Trial;
use std::sync::Arc;

#[test]
fn steps_are_left_out_and_repeated_by_one_key() {
    let mut state = scene::stroking();
    assert_eq!(letter(&mut state, 'k'), [Effect::Command(RunCommand::Skip)]);
    assert_eq!(
        letter(&mut state, 'r'),
        [Effect::Command(RunCommand::Repeat)]
    );
}

#[test]
fn what_the_card_asks_is_answered_by_one_key() {
    let mut state = scene::stroking();
    assert_eq!(press(&mut state, KeyCode::Enter), [], "nothing is asked");
    let mut steps = scene::card(4, 0.0, Some("two causes fit"));
    steps[4].trial = Some(Trial::Plug);
    steps[4].ends_in_s = Some(42.0);
    tell(&mut state, RunEvent::Progress(steps.clone()));
    let screen = scene::text(&scene::draw(&state, 80, 24));
    assert!(
        screen.contains("two causes fit (42 s): enter tries it, k skips it")
            && screen.contains("trial: plug"),
        "{screen}"
    );
    let yes = [Effect::Command(RunCommand::GoAhead)];
    assert_eq!(press(&mut state, KeyCode::Enter), yes);
    (steps[4].trial, steps[4].remark) = (None, Some("nothing moves".to_owned()));
    tell(&mut state, RunEvent::Progress(steps));
    let screen = scene::text(&scene::draw(&state, 80, 24));
    assert!(
        screen.contains("nothing moves (42 s): enter goes on, q ends it"),
        "{screen}"
    );
    assert_eq!(press(&mut state, KeyCode::Enter), yes);
}

#[test]
fn a_part_of_another_kind_is_checked_as_that_by_one_key() {
    let mut state = scene::stroking();
    assert_eq!(letter(&mut state, 'x'), [], "it looks like what it is");
    let other = profile::find("lever-shunting").unwrap();
    let mut seen = Assessment::clone(state.session.run.assessment.as_ref().unwrap());
    seen.diagnosis.headline = "CHECK THE PROFILE FIRST: it is another kind".to_owned();
    seen.diagnosis.other_profile = Some(other.name.clone());
    tell(&mut state, RunEvent::Assessed(Arc::new(seen)));
    let screen = scene::text(&scene::draw(&state, 120, 30));
    assert!(
        screen.contains("x checks it as") && screen.contains(&other.name),
        "{screen}"
    );
    let asked = letter(&mut state, 'x');
    let [Effect::Command(RunCommand::CheckAs(profile))] = &asked[..] else {
        panic!("{asked:?}");
    };
    assert_eq!(**profile, other);
    assert_eq!(state.session.run.profile.as_ref(), Some(&other));
}

#[test]
fn a_live_run_is_not_ended_by_one_key() {
    let mut state = scene::stroking();
    assert_eq!(letter(&mut state, 'q'), []);
    assert_eq!(press(&mut state, KeyCode::Esc), []);
    assert_eq!(state.situation(), Situation::Live);
    letter(&mut state, 'q');
    assert_eq!(letter(&mut state, 'e'), [Effect::Command(RunCommand::Stop)]);
    assert!(!state.session.leaving);
}

#[test]
fn leaving_a_live_run_waits_for_its_last_word() {
    let mut state = scene::stroking();
    letter(&mut state, 'q');
    assert_eq!(letter(&mut state, 'q'), [Effect::Command(RunCommand::Stop)]);
    assert_eq!(tell(&mut state, ended(Some("T2.csv"))), [Effect::Leave]);
    assert!(
        state.session.run.assessment.is_some(),
        "the last assessment is kept"
    );
}

#[test]
fn the_system_can_end_it_and_insist() {
    let mut state = scene::stroking();
    assert_eq!(
        update(&mut state, Message::Terminate),
        [Effect::Command(RunCommand::Stop)]
    );
    assert_eq!(update(&mut state, Message::Terminate), [Effect::Leave]);
}

#[test]
fn saving_is_asked_for_and_told() {
    let mut state = scene::finished((0.9, 0.02), Some(0.8));
    assert_eq!(letter(&mut state, 's'), [Effect::Save]);
    update(
        &mut state,
        Message::Saved(Ok("Record kept in units/T2".to_owned())),
    );
    assert!(scene::text(&scene::draw(&state, 80, 24)).contains("Record kept in units/T2"));
}

#[test]
fn from_a_source_to_a_run() {
    let mut state = super::screens::choosing();
    press(&mut state, KeyCode::Down);
    press(&mut state, KeyCode::Enter);
    assert_eq!(
        state.situation(),
        Situation::Sources,
        "a blocked source says why and stays"
    );
    assert!(
        scene::sources(&mut state)
            .refused
            .as_ref()
            .unwrap()
            .contains("dialout")
    );
    letter(&mut state, '3');
    assert_eq!(state.situation(), Situation::Unit);
    assert_eq!(scene::unit(&mut state).tag, "T1");
    letter(&mut state, 'b');
    let effects = press(&mut state, KeyCode::Enter);
    let [Effect::Start(choice)] = effects.as_slice() else {
        panic!("{effects:?}");
    };
    assert_eq!(choice.source.name, "foot pedal, good");
    assert_eq!(choice.tag.as_deref(), Some("T1b"));
    assert_eq!(choice.profile.as_ref().unwrap().name, scene::profile().name);
    assert_eq!(
        update(&mut state, Message::Started(Err("busy".into()))),
        [Effect::Rescan]
    );
    assert_eq!(state.situation(), Situation::Sources);
    assert_eq!(scene::sources(&mut state).refused.as_deref(), Some("busy"));
}

#[test]
fn a_station_is_typed_as_a_number() {
    let mut state = scene::stroking();
    letter(&mut state, 'p');
    assert_eq!(
        state.situation(),
        Situation::Live,
        "this card has no stations"
    );
    let mut steps = scene::card(0, 0.0, None);
    steps[0].step = measure::units::Step::Stations;
    steps[0].asked = Some("20 deg".to_owned());
    tell(&mut state, RunEvent::Progress(steps));
    letter(&mut state, 'p');
    for key in "12.x5".chars() {
        letter(&mut state, key);
    }
    assert!(press(&mut state, KeyCode::Enter).is_empty());
    let screen = scene::text(&scene::draw(&state, 80, 24));
    assert!(screen.contains("`12.x5"), "the letter is refused: {screen}");
    for _ in 0..2 {
        press(&mut state, KeyCode::Backspace);
    }
    letter(&mut state, '5');
    let screen = scene::text(&scene::draw(&state, 80, 24));
    assert!(screen.contains(" 12.5_"), "{screen}");
    assert_eq!(
        press(&mut state, KeyCode::Enter),
        [Effect::Command(RunCommand::Station(StationWords::Here(
            Some(12.5)
        )))]
    );
}

#[test]
fn a_changed_header_keeps_channels_on_their_lanes() {
    let mut state = scene::resting();
    let mut taking = scene::taking();
    taking.channels.swap(0, 1);
    tell(&mut state, RunEvent::Stream(taking));
    assert_eq!(state.session.run.columns, [1, 0, 2]);
    assert_eq!(state.session.run.lanes.len(), 3);
}

/// Nobody loses a verdict by one key: the first says that it is not saved, the second leaves; saved, one is enough.
#[test]
fn an_unsaved_verdict_is_left_only_by_the_second_key() {
    for key in ['q', 'n'] {
        let mut state = scene::finished((0.8, 0.8), Some(1.0));
        assert_eq!(letter(&mut state, key), []);
        assert!(scene::text(&scene::draw(&state, 80, 24)).contains("the same key again leaves it"));
        assert_eq!(state.situation(), Situation::Ended);
    }
    let mut state = scene::finished((0.8, 0.8), Some(1.0));
    letter(&mut state, 'q');
    assert_eq!(letter(&mut state, 'q'), [Effect::Leave]);
    let mut state = scene::finished((0.8, 0.8), Some(1.0));
    update(&mut state, Message::Saved(Ok("saved".to_owned())));
    assert_eq!(letter(&mut state, 'q'), [Effect::Leave]);
}
