//! The places beside the bench and the run that is laid under: what leads there, what comes back, what is seen.

use super::scene::{self, ended, letter, press};
use super::screens::{choosing, shot};
use crate::bench::Batch;
use crate::record::Earlier;
use crate::tui::keys::Situation;
use crate::tui::{
    EarlierOffer, EarlierRun, EarlierTrace, Effect, Message, State, Subject, UnitSummary, update,
};
use crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use measure::judge::Verdict;
use measure::units::{Code, Step};

pub fn units() -> Vec<UnitSummary> {
    let unit = |tag: &str, verdict, records, course| UnitSummary {
        tag: tag.to_owned(),
        taken: "2026-05-02".to_owned(),
        verdict,
        records,
        unreadable: 0,
        newest_unreadable: false,
        doubted: None,
        course,
        profile: Some("hall pedal, two tracks, half slope".to_owned()),
    };
    vec![
        unit("T1-pedal", Some(Verdict::Pass), 3, "steady"),
        unit("T2-pedal", Some(Verdict::Fail), 1, "first record"),
        unit("T3-lever", Some(Verdict::Undecided), 5, "wearing"),
        unit("spare dial", None, 2, "changed"),
    ]
}

pub fn earlier() -> Vec<EarlierOffer> {
    vec![
        EarlierOffer {
            name: "2025-10-04".to_owned(),
            detail: "record, pass, with its trace".to_owned(),
            record: Some("T2.json".into()),
            capture: Some("T2-2025.csv".into()),
        },
        EarlierOffer {
            name: "2024-10-12".to_owned(),
            detail: "record, pass, results alone".to_owned(),
            record: Some("T2-2024.json".into()),
            capture: None,
        },
    ]
}

/// A run of last season: quieter at rest, its strokes half a second later and a little lower.
pub fn fetched() -> EarlierRun {
    let mut samples = Batch {
        codes: vec![Vec::new(); 2],
        ..Batch::default()
    };
    let steps = [
        (Step::Rest, 2000_u32),
        (Step::Full, 2000),
        (Step::Strokes, 14_000),
    ];
    let all = steps
        .iter()
        .flat_map(|(step, n)| (0..*n).map(move |i| (*step, i)));
    for (t, (step, i)) in (0_u64..).zip(all) {
        let x = match step {
            Step::Full => 700,
            Step::Strokes => 350 + (i / 3) % 350,
            _ => 0,
        };
        samples.t_us.push(t * 1000);
        samples.step.push(step);
        samples.codes[0].push(Code(150 + x));
        samples.codes[1].push(Code(75 + x / 2));
    }
    EarlierRun {
        name: "2025-10-04".to_owned(),
        figures: Earlier::of(&scene::assessment((0.7, 0.02), Some(0.6)), 10),
        trace: Some(EarlierTrace {
            channels: vec!["pedal_a".to_owned(), "pedal_b".to_owned()],
            rate_hz: 1000.0,
            samples,
        }),
    }
}

#[test]
fn units_are_listed_and_one_is_read_while_the_run_goes_on() {
    let mut state = scene::stroking();
    assert_eq!(letter(&mut state, 'u'), [Effect::Units]);
    update(&mut state, Message::Units(Ok(units())));
    shot("units", &state);
    press(&mut state, KeyCode::Down);
    press(&mut state, KeyCode::Down);
    let story = Subject::Unit("T3-lever".to_owned());
    assert_eq!(
        press(&mut state, KeyCode::Enter),
        [Effect::Page(Box::new(story.clone()))]
    );
    let before = state.session.run.store.len();
    scene::tell(&mut state, scene::samples(19_000, 500, Step::Strokes));
    assert_eq!(state.session.run.store.len(), before + 500);
    let text: String = (1..=60).fold(String::new(), |text, n| {
        text + &format!("row {n} of the story\n")
    });
    update(&mut state, Message::Page(Box::new(story), Ok(text)));
    press(&mut state, KeyCode::PageDown);
    shot("story", &state);
    for situation in [Situation::Units, Situation::Live] {
        press(&mut state, KeyCode::Esc);
        assert_eq!(state.situation(), situation);
    }
}

/// What could not be read is never hidden: the newest record of a unit that was a failure once, in a format of later, leaves no `pass`.
#[test]
fn an_unreadable_record_is_seen_and_a_word_finds_a_unit() {
    let mut state = scene::stroking();
    letter(&mut state, 'u');
    let mut listed = units();
    listed[0].unreadable = 2;
    listed[0].newest_unreadable = true;
    listed[0].verdict = None;
    listed[3].doubted = Some(Verdict::Fail);
    update(&mut state, Message::Units(Ok(listed)));
    shot("units-unread", &state);
    for key in "unread".chars() {
        letter(&mut state, key);
    }
    assert_eq!(
        press(&mut state, KeyCode::Enter),
        [Effect::Page(Box::new(Subject::Unit("T1-pedal".to_owned())))]
    );
    press(&mut state, KeyCode::Esc);
    for _ in "unread".chars() {
        press(&mut state, KeyCode::Backspace);
    }
    for key in "wear".chars() {
        letter(&mut state, key);
    }
    shot("units-found", &state);
    assert_eq!(
        press(&mut state, KeyCode::Enter),
        [Effect::Page(Box::new(Subject::Unit("T3-lever".to_owned())))]
    );
}

#[test]
fn the_end_of_a_run_is_not_missed_at_another_place() {
    let mut state = scene::stroking();
    letter(&mut state, 'u');
    scene::tell(&mut state, ended(None));
    press(&mut state, KeyCode::Esc);
    assert_eq!(state.situation(), Situation::Ended);
    let mut gone = scene::stroking();
    letter(&mut gone, 'u');
    update(&mut gone, Message::RunGone);
    assert!(matches!(
        gone.session.run.phase,
        crate::tui::run::Phase::Failed(_)
    ));
}

#[test]
fn leaving_from_another_place_ends_the_run_first() {
    let mut state = scene::stroking();
    letter(&mut state, 'i');
    let ctrl_c = KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL);
    let effects = update(&mut state, Message::Key(ctrl_c));
    assert_eq!(effects, [Effect::Command(crate::bench::RunCommand::Stop)]);
}

#[test]
fn a_list_that_cannot_be_had_says_why() {
    let mut state = choosing();
    letter(&mut state, 'u');
    let why = "cannot read /srv/records: permission denied";
    update(&mut state, Message::Units(Err(why.to_owned())));
    shot("units-refused", &state);
}

#[test]
fn the_wiring_of_the_profile_under_the_pointer_is_read_before_a_run() {
    let mut state = choosing();
    letter(&mut state, '3');
    let effects = press(&mut state, KeyCode::F(2));
    let wiring = Subject::Wiring(Box::new(scene::profile()), 10);
    assert_eq!(effects, [Effect::Page(Box::new(wiring.clone()))]);
    assert_eq!(state.situation(), Situation::Page);
    // Another page has been asked for since: this one is not shown.
    update(
        &mut state,
        Message::Page(Box::new(Subject::Unit("x".to_owned())), Ok("no".to_owned())),
    );
    assert_eq!(scene::page(&mut state).rows, None);
    let report = crate::wiring::WiringReport::of(&scene::profile().control_wiring(10)).unwrap();
    let text = crate::report::wiring(&report).text();
    update(&mut state, Message::Page(Box::new(wiring), Ok(text)));
    shot("wiring", &state);
    press(&mut state, KeyCode::Esc);
    assert_eq!(state.situation(), Situation::Unit);
}

/// Lays last season's run under a state.
fn lay(state: &mut State) {
    assert_eq!(letter(state, 'c'), [Effect::Earlier("T2".to_owned())]);
    update(state, Message::Earlier(Ok(earlier())));
    let offer = Box::new(earlier().swap_remove(0));
    assert_eq!(press(state, KeyCode::Enter), [Effect::Fetch(offer)]);
    update(state, Message::Fetched(Box::new(Ok(fetched()))));
}

#[test]
fn an_earlier_run_is_chosen() {
    let mut state = scene::stroking();
    letter(&mut state, 'c');
    update(&mut state, Message::Earlier(Ok(earlier())));
    press(&mut state, KeyCode::Down);
    shot("earlier", &state);
}

#[test]
fn an_earlier_run_lies_under_with_its_figures() {
    let mut state = scene::stroking();
    lay(&mut state);
    shot("under", &state);
    let compared = |state: &mut State| -> Vec<String> {
        let overlay = scene::bench(state).overlay.as_ref().unwrap();
        let marked = overlay.compared.iter().filter(|c| c.stands_out);
        marked
            .map(|c| format!("{} {}", c.channel, c.name))
            .collect()
    };
    // Noise went from 0.70 to 1.95 with u of 0.02 and 0.04: 28 standard uncertainties.
    assert_eq!(compared(&mut state), ["pedal_a noise_rest_rms"]);
    scene::tell(
        &mut state,
        crate::bench::RunEvent::Assessed(scene::assessment((0.7, 0.02), None)),
    );
    assert_eq!(
        compared(&mut state),
        Vec::<String>::new(),
        "held against each new assessment"
    );
    letter(&mut state, 'b');
    shot("under-from-the-beginning", &state);
    letter(&mut state, 'c');
    update(&mut state, Message::Earlier(Ok(earlier())));
    press(&mut state, KeyCode::Down);
    press(&mut state, KeyCode::Down);
    assert_eq!(
        press(&mut state, KeyCode::Enter),
        [],
        "nothing is laid under"
    );
    assert!(scene::bench(&mut state).overlay.is_none());
    assert_eq!(state.situation(), Situation::Live);
}

#[test]
fn a_run_without_a_tag_says_what_to_do_and_a_broken_one_why() {
    let mut state = scene::stroking();
    state.session.run.tag = None;
    state.session.run.taking.as_mut().unwrap().tag = None;
    assert_eq!(letter(&mut state, 'c'), []);
    assert_eq!(state.situation(), Situation::Earlier);
    shot("no-tag", &state);
    press(&mut state, KeyCode::Esc);
    update(&mut state, Message::Fetched(Box::new(Ok(fetched()))));
    assert!(
        scene::bench(&mut state).overlay.is_none(),
        "nobody asked for it"
    );
    scene::bench(&mut state).fetching = Some("then".to_owned());
    update(
        &mut state,
        Message::Fetched(Box::new(Err("T2-2025.csv: cut".to_owned()))),
    );
    assert_eq!(state.situation(), Situation::Earlier);
}
