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
        })),
        ready: false,
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
    let offer = SourceOffer {
        kind: SourceKind::Simulated,
        name: "T1-dial".to_owned(),
        detail: String::new(),
        blocked: None,
        tag: None,
        profile: None,
    };
    update(&mut state, Message::Sources(vec![offer]));
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
    // Back to the machine, which is looked at again.
    assert_eq!(letters(&mut state, "n"), [Effect::Machine]);
    assert!(shown(&state).contains("trolley T1"));
    // From the choice of a board q goes back, not out.
    press(&mut state, KeyCode::Enter);
    assert_eq!(letters(&mut state, "q"), []);
    assert_eq!(letters(&mut state, "q"), [Effect::Leave]);
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
