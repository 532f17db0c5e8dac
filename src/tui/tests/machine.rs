//! The machine's page, and what it makes of runs and proofs.

use super::scene::{self, draw, ended, letters, press, tell, text};
use super::screens::shot;
use crate::machine::{Link, LinkState};
use crate::profile;
use crate::tui::{
    Effect, MachinePage, MachineTask, Message, Part, SourceKind, SourceOffer, State, Subject,
    update,
};
use crossterm::event::KeyCode;

fn link(link: &str, state: LinkState, why: &str) -> Link {
    Link {
        link: link.to_owned(),
        state,
        evidence: None,
        why: why.to_owned(),
        next: None,
        simulated: false,
        waits: false,
    }
}

fn page() -> MachinePage {
    use LinkState::{Done, Failed, Missing, Stale};
    let worn = "T1-pedal, 11 Apr 2026: DO NOT FIT: the track is worn at 30-39 % of travel";
    MachinePage {
        name: "trolley T1".to_owned(),
        links: vec![
            link("control pedal", Failed, worn),
            link("control dial", Missing, "not measured yet"),
            link(
                "wiring pedal",
                Done,
                "safe: no broken or touching wire brings more speed",
            ),
            link("constants", Stale, "pedal was measured again since"),
        ],
        next: "measure dial".to_owned(),
        task: MachineTask::Measure(Box::new(Part {
            control: "dial".to_owned(),
            tag: "T1-dial".to_owned(),
            profile: profile::find("dial-rheostat").unwrap(),
            pins: vec!["A2".to_owned()],
        })),
        ready: false,
        open: true,
    }
}

fn opened() -> State {
    let theme = scene::state().session.theme;
    let mut state = State::at_machine(theme, Vec::new());
    update(&mut state, Message::Machine(Box::new(Ok(page()))));
    state
}

fn shown(state: &State) -> String {
    text(&draw(state, 100, 30))
}

#[test]
fn the_page_says_what_stands_and_what_is_next() {
    let state = opened();
    shot("machine", &state);
    for words in [
        "trolley T1: not ready",
        "failed",
        "stale",
        "NEXT measure dial: press enter",
    ] {
        assert!(shown(&state).contains(words), "{words}: {}", shown(&state));
    }
}

#[test]
fn enter_measures_the_part_and_its_end_is_saved_without_a_key() {
    let mut state = opened();
    assert_eq!(press(&mut state, KeyCode::Enter), [Effect::Rescan]);
    let offer = SourceOffer::new(SourceKind::Simulated, "T1-dial", "");
    update(&mut state, Message::Sources(vec![offer]));
    let asked = shown(&state);
    for words in [
        "Wire dial",
        "one end  o---",
        "o A2",
        "a good part, simulated",
    ] {
        assert!(asked.contains(words), "{words}: {asked}");
    }
    shot("machine-wire", &state);
    let begun = press(&mut state, KeyCode::Enter);
    let [Effect::Start(choice)] = &begun[..] else {
        panic!("{begun:?}");
    };
    assert_eq!(choice.control.as_deref(), Some("dial"));
    assert_eq!(choice.tag.as_deref(), Some("T1-dial"));
    // Nothing was seen, nothing is to be saved.
    assert_eq!(tell(&mut state, ended(None)), []);
    state.session.run.assessment = scene::finished((0.95, 0.02), Some(0.8))
        .session
        .run
        .assessment;
    assert_eq!(tell(&mut state, ended(Some("T1-dial.csv"))), [Effect::Save]);
    update(
        &mut state,
        Message::Saved(Ok("saved: T1-dial.csv".to_owned())),
    );
    assert_eq!(letters(&mut state, "s"), []);
    assert_eq!(
        state.session.run.saved,
        Some(Ok("already saved: T1-dial.csv".to_owned()))
    );
    // On to what is next: the machine is looked at again, and what has failed is to be read first.
    assert_eq!(press(&mut state, KeyCode::Enter), [Effect::Machine]);
    update(&mut state, Message::Machine(Box::new(Ok(page()))));
    assert!(shown(&state).contains("trolley T1: not ready"));
    // From the choice of a board q goes back, not out.
    press(&mut state, KeyCode::Enter);
    assert_eq!(letters(&mut state, "q"), []);
    assert_eq!(letters(&mut state, "q"), [Effect::Leave]);
}

/// A machine from its name to the file: a pedal by one key, a dial of 5 kOhm, and that is all.
#[test]
fn a_machine_is_started_with_a_dial_that_no_built_in_profile_has() {
    let theme = scene::state().session.theme;
    let profiles = profile::built_in_names().filter_map(profile::find);
    let mut state = State::at_machine(theme, profiles.collect());
    let none = MachinePage {
        name: String::new(),
        task: MachineTask::Open(Vec::new()),
        open: false,
        links: Vec::new(),
        ..page()
    };
    update(&mut state, Message::Machine(Box::new(Ok(none.clone()))));
    assert!(shown(&state).contains("No machine here yet"));
    shot("machine-none", &state);
    press(&mut state, KeyCode::Enter);
    assert_eq!(press(&mut state, KeyCode::Enter), []);
    assert!(shown(&state).contains("Type what the machine is called"));
    letters(&mut state, "trolley T1");
    press(&mut state, KeyCode::Enter);
    let kinds = shown(&state);
    assert!(
        kinds.contains("its first control?") && kinds.contains("supply   o---"),
        "{kinds}"
    );
    shot("machine-kinds", &state);
    letters(&mut state, "2");
    assert!(shown(&state).contains("so far: pedal (hall pedal, two tracks, half slope)"));
    letters(&mut state, "65000");
    let values = shown(&state);
    assert!(
        values.contains("5000_") && values.contains("o A2"),
        "{values}"
    );
    shot("machine-values", &state);
    press(&mut state, KeyCode::Enter);
    let begun = press(&mut state, KeyCode::Enter);
    let [Effect::StartMachine(new)] = &begun[..] else {
        panic!("{begun:?}");
    };
    assert_eq!((new.name.as_str(), new.file.as_str()), ("trolley T1", ""));
    let names: Vec<&str> = new.controls.iter().map(|c| c.name.as_str()).collect();
    assert_eq!(names, ["pedal", "dial"]);
    let stated = new.controls[1].profile.stated_parts().unwrap();
    assert_eq!(stated.parts.track_ohm, Some(5000.0));
    // Refused, it stands there with everything; esc takes the last control back.
    update(
        &mut state,
        Message::MachineStarted(Err("T1.json is there already".to_owned())),
    );
    assert!(shown(&state).contains("there already"));
    press(&mut state, KeyCode::Esc);
    assert!(!shown(&state).contains("dial (rheostat"));
    let started = update(&mut state, Message::MachineStarted(Ok(())));
    assert_eq!(started, [Effect::Machine]);
}

/// A part that nobody knows: three answers, and its values stand in the form.
#[test]
fn an_unknown_part_is_found_with_a_meter() {
    let theme = scene::state().session.theme;
    let profiles = profile::built_in_names().filter_map(profile::find);
    let mut state = State::at_machine(theme, profiles.collect());
    let none = MachinePage {
        task: MachineTask::Open(Vec::new()),
        open: false,
        ..page()
    };
    update(&mut state, Message::Machine(Box::new(Ok(none))));
    press(&mut state, KeyCode::Enter);
    letters(&mut state, "T9");
    press(&mut state, KeyCode::Enter);
    for _ in 0..9 {
        press(&mut state, KeyCode::Down);
    }
    press(&mut state, KeyCode::Enter);
    assert!(shown(&state).contains("question 1 of at most three"));
    shot("machine-meter", &state);
    letters(&mut state, "320.5");
    press(&mut state, KeyCode::Tab);
    letters(&mut state, "4.5");
    press(&mut state, KeyCode::Enter);
    let values = shown(&state);
    for words in ["hall pedal, two tracks, half slope", "0.5", "4.5"] {
        assert!(values.contains(words), "{words}: {values}");
    }
    press(&mut state, KeyCode::Enter);
    assert!(
        shown(&state).contains("0.5 V let go, 4.5 V pressed"),
        "{}",
        shown(&state)
    );
}

#[test]
fn a_lone_part_makes_no_constants_and_g_says_what_is_missing() {
    let mut state = scene::finished((0.95, 0.02), Some(0.8));
    assert_eq!(letters(&mut state, "g"), []);
    assert!(
        shown(&state).contains("belongs to no machine"),
        "{}",
        shown(&state)
    );
    shot("constants-refused", &state);
    press(&mut state, KeyCode::Esc);
    state.session.machine = true;
    let asked = letters(&mut state, "g");
    assert!(matches!(&asked[..], [Effect::Page(subject)] if **subject == Subject::Constants));
}
