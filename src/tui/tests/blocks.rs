//! What a block puts out, and a flashed board held against it: what leads there, what is seen in each outcome.

use super::scene::{self, draw, ended, letters, press, tell, text};
use super::screens::{choosing, shot};
use crate::bench::{
    Batch, FlashedBoard, Hand, ProofColumns, ProofOptions, RunCommand, RunEvent, StepProgress,
    StepState, StreamInfo, trolley_block,
};
use crate::link::LineSource;
use crate::proof::{Fault, ProofSetup, Samples, prove};
use crate::record::CaptureFacts;
use crate::tui::keys::Situation;
use crate::tui::run::Phase;
use crate::tui::{
    BlockOffer, Effect, Message, ProofRecording, ProofResult, ProofRound, SourceKind, State, update,
};
use crossterm::event::KeyCode;
use measure::judge::Verdict;
use measure::units::{Code, Role, Scale, Step, Track};

pub fn offers() -> Vec<BlockOffer> {
    let offer = |name: &str, simulated| BlockOffer {
        name: name.to_owned(),
        detail: "3 inputs of 10 bits, output of 12 bits".to_owned(),
        block: trolley_block().unwrap(),
        simulated,
    };
    vec![
        offer("T1.block.json", false),
        offer("trolley T1, simulated", true),
    ]
}

pub fn taking() -> StreamInfo {
    let signal = |name: &str, track| (name.to_owned(), Some(track));
    StreamInfo {
        channels: vec![
            signal("pedal_a", Track::One),
            signal("pedal_b", Track::Two),
            signal("dial", Track::One),
            ("output".to_owned(), None),
            ("enable".to_owned(), None),
        ],
        ..scene::taking()
    }
}

/// What a flashed board's measuring board prints in so many seconds.
pub fn measured(script: Vec<Hand>, seconds: u64, latches: bool) -> Batch {
    let mut board = FlashedBoard::new(&trolley_block().unwrap(), script, 1000.0, 1).unwrap();
    if !latches {
        board = board.without_latch();
    }
    let mut batch = Batch {
        codes: vec![Vec::new(); 5],
        ..Batch::default()
    };
    for _ in 0..seconds * 1001 {
        let mut line = Vec::new();
        board.next_line(&mut line);
        let line = String::from_utf8(line).unwrap();
        let numbers = line.split(['*', '\n']).next().unwrap().split(',');
        let row: Vec<u32> = numbers.map_while(|number| number.parse().ok()).collect();
        let [t_us, codes @ ..] = &row[..] else {
            continue; // the header
        };
        batch.t_us.push(u64::from(*t_us));
        batch.step.push(Step::Strokes);
        for (column, code) in batch.codes.iter_mut().zip(codes) {
            column.push(Code(*code));
        }
    }
    batch
}

/// The verdict on such samples, as the outside would give it.
fn judged(batch: &Batch, taken: &ProofRecording) -> ProofResult {
    let block = &taken.choice.offer.block;
    let columns = [
        ("pedal_a", Role::Signal),
        ("pedal_b", Role::Signal),
        ("dial", Role::Signal),
        ("output", Role::Output),
        ("enable", Role::Enable),
    ];
    let chosen = ProofColumns::choose(&columns, None, None, block).unwrap();
    let scale = Scale::new(10, 5000.0).unwrap();
    let inputs: Vec<&[Code]> = chosen
        .inputs
        .iter()
        .map(|at| &batch.codes[*at][..])
        .collect();
    let asked = ProofSetup {
        block,
        inputs: chosen
            .inputs
            .iter()
            .map(|at| columns[*at].0.to_owned())
            .collect(),
        output: "output".to_owned(),
        conditions: ProofOptions::usual(block).conditions(scale),
        foretold: Vec::new(),
        marks: taken.marks.clone(),
        enable: Some(&batch.codes[4]),
        capture: CaptureFacts {
            file: Some("board.csv".to_owned()),
            samples: 27_000,
            duration_s: 27.0,
            ..CaptureFacts::default()
        },
    };
    let samples = Samples {
        t_us: &batch.t_us,
        inputs: &inputs,
        output: &batch.codes[3],
        scale,
    };
    let proof = prove(asked, samples).unwrap();
    ProofResult {
        verdict: proof.verdict,
        text: crate::report::proof(&proof).text(),
    }
}

/// The pedal's row with this code.
fn pedal(code: u16) -> String {
    format!("{:<16}{code:>4}", "pedal")
}

fn at_blocks(mut state: State) -> State {
    assert_eq!(letters(&mut state, "o"), [Effect::Blocks]);
    update(&mut state, Message::Blocks(Ok(offers())));
    state
}

fn shown(state: &State) -> String {
    text(&draw(state, 80, 24))
}

#[test]
fn blocks_are_listed_or_it_is_said_why_not() {
    let mut state = at_blocks(choosing());
    shot("blocks", &state);
    update(&mut state, Message::Blocks(Ok(Vec::new())));
    assert!(shown(&state).contains("No constants file"));
    update(
        &mut state,
        Message::Blocks(Err("cannot look into the folder".to_owned())),
    );
    assert!(shown(&state).contains("cannot look into the folder"));
    assert_eq!(press(&mut state, KeyCode::Enter), []);
    press(&mut state, KeyCode::Esc);
    assert_eq!(state.situation(), Situation::Sources);
}

/// The trolley's pedal: rest edge 135, full edge 860, window 60 to 960; its check track half of it.
#[test]
fn one_control_alone_is_tried_by_keys() {
    let mut state = at_blocks(choosing());
    press(&mut state, KeyCode::Enter);
    assert_eq!(state.situation(), Situation::Blend);
    shot("blend", &state);
    // (135 + 860) / 2 = 497, its check track 248.5 at half; the dial (30 + 680) / 2 = 355.
    assert!(shown(&state).contains(&pedal(497)), "{}", shown(&state));
    press(&mut state, KeyCode::Right);
    press(&mut state, KeyCode::PageUp);
    assert!(shown(&state).contains(&pedal(514)), "{}", shown(&state));
    for _ in 0..40 {
        press(&mut state, KeyCode::PageUp);
    }
    let stopped = shown(&state);
    assert!(
        stopped.contains(&pedal(1023)) && stopped.contains("STOPS: an input is outside"),
        "{stopped}"
    );
    shot("blend-stopped", &state);
    press(&mut state, KeyCode::Down);
    letters(&mut state, "f");
    assert_eq!(scene::blend(&mut state).at, 1);
}

#[test]
fn tracks_that_do_not_agree_stop_it() {
    let mut state = at_blocks(choosing());
    press(&mut state, KeyCode::Enter);
    press(&mut state, KeyCode::Down);
    press(&mut state, KeyCode::PageUp);
    assert!(
        shown(&state).contains("the two tracks do not agree"),
        "{}",
        shown(&state)
    );
    letters(&mut state, "f");
    assert!(
        !shown(&state).contains("STOPS"),
        "in agreement with its partner again"
    );
}

/// At the pedal's full travel, with the dial by hand at 355.
#[test]
fn the_point_follows_a_run() {
    let mut state = at_blocks(scene::stroking());
    press(&mut state, KeyCode::Enter);
    shot("blend-live", &state);
    let live = shown(&state);
    assert!(
        live.contains("live: pedal_a") && live.contains("live: pedal_b"),
        "{live}"
    );
    assert!(live.contains("by hand"), "the run has no dial: {live}");
    let before = shown(&state);
    scene::tell(&mut state, scene::samples(19_000, 700, Step::Strokes));
    assert_ne!(before, shown(&state), "the point moves with the samples");
    press(&mut state, KeyCode::Right);
    assert!(
        !shown(&state).contains("live: pedal_a"),
        "a key takes it over"
    );
    letters(&mut state, "p");
    assert_eq!(
        state.situation(),
        Situation::Blend,
        "no proof while a run is under way"
    );
}

/// At the question for a simulated board.
pub fn asked() -> State {
    let mut state = at_blocks(choosing());
    press(&mut state, KeyCode::Down);
    assert_eq!(letters(&mut state, "p"), [Effect::Rescan]);
    update(&mut state, Message::Sources(super::screens::offers()));
    press(&mut state, KeyCode::Down);
    press(&mut state, KeyCode::Down);
    state
}

#[test]
fn nothing_is_begun_before_yes_is_typed() {
    let mut state = asked();
    shot("proof-question", &state);
    assert!(shown(&state).contains("wheels off the ground"));
    assert_eq!(press(&mut state, KeyCode::Enter), []);
    letters(&mut state, "ye");
    assert_eq!(press(&mut state, KeyCode::Enter), []);
    assert_eq!(state.situation(), Situation::ProveAsk);
    shot("proof-not-yet", &state);
    letters(&mut state, "s");
    let effects = press(&mut state, KeyCode::Enter);
    let [Effect::Prove(choice)] = &effects[..] else {
        panic!("{effects:?}");
    };
    assert_eq!(choice.source.kind, SourceKind::Simulated);
    assert_eq!(choice.round, ProofRound::Compare);
    update(
        &mut state,
        Message::ProofStarted(Err("the port is in use".to_owned())),
    );
    assert_eq!(state.situation(), Situation::ProveAsk);
    assert!(shown(&state).contains("the port is in use") && !state.is_live());
    press(&mut state, KeyCode::Esc);
    assert_eq!(state.situation(), Situation::Sources);
}

/// A proof that has begun.
pub fn proving(round: ProofRound) -> State {
    let mut state = asked();
    if round == ProofRound::Faults {
        press(&mut state, KeyCode::Tab);
    }
    letters(&mut state, "yes");
    press(&mut state, KeyCode::Enter);
    update(&mut state, Message::ProofStarted(Ok(())));
    state
}

fn progress(have: f64) -> RunEvent {
    RunEvent::Progress(vec![StepProgress {
        step: Step::Strokes,
        state: StepState::Current,
        have,
        want: 22.5,
        unit: "s",
        uncounted: 0,
        instruction: "".into(),
        asked: None,
        cue: None,
        remark: None,
        ends_in_s: None,
        trial: None,
    }])
}

/// Through a run to what the outside says of it.
fn proved(round: ProofRound, batch: &Batch) -> (State, Verdict) {
    let mut state = proving(round);
    tell(&mut state, RunEvent::Stream(taking()));
    tell(&mut state, RunEvent::Samples(batch.clone()));
    let effects = tell(&mut state, ended(Some("board.csv")));
    let [Effect::Judge(taken)] = &effects[..] else {
        panic!("{effects:?}");
    };
    let message = judged(batch, taken);
    let verdict = message.verdict;
    update(&mut state, Message::Proved(taken.clone(), Ok(message)));
    (state, verdict)
}

#[test]
fn the_output_is_watched_in_its_band() {
    let mut state = proving(ProofRound::Compare);
    scene::tick(&mut state, 3);
    shot("proof-waiting", &state);
    tell(&mut state, RunEvent::Stream(taking()));
    tell(
        &mut state,
        RunEvent::Samples(measured(Hand::comparing(), 12, true)),
    );
    tell(&mut state, progress(12.0));
    shot("proof-output", &state);
    let live = shown(&state);
    assert!(live.contains("12 of 22 s") && !live.contains('╳'), "{live}");
    tell(
        &mut state,
        scene::health(12_000, crate::bench::LinkState::Lost),
    );
    assert!(shown(&state).contains("The measuring board is gone"));
}

#[test]
fn a_good_board_passes_and_is_saved() {
    let batch = measured(Hand::comparing(), 27, true);
    let (mut state, verdict) = proved(ProofRound::Compare, &batch);
    assert_eq!(verdict, Verdict::Pass);
    assert_eq!(state.situation(), Situation::Proved);
    shot("proof-pass", &state);
    press(&mut state, KeyCode::PageDown);
    assert!(!shown(&state).contains("Checks"), "the text moves");
    // Nothing is lost by one key.
    assert_eq!(letters(&mut state, "q"), []);
    assert!(shown(&state).contains("s saves it"));
    let effects = letters(&mut state, "s");
    assert!(
        matches!(&effects[..], [Effect::SaveProof(_)]),
        "{effects:?}"
    );
    update(
        &mut state,
        Message::Saved(Ok("saved: board.csv".to_owned())),
    );
    assert!(shown(&state).contains("saved: board.csv"));
    assert_eq!(letters(&mut state, "s"), []);
    assert!(shown(&state).contains("already saved: board.csv"));
    // On to the faults, with the question asked anew.
    letters(&mut state, "f");
    let ask = scene::prove_ask(&mut state);
    assert_eq!((ask.round, ask.typed.as_str()), (ProofRound::Faults, ""));
    press(&mut state, KeyCode::Esc);
    assert_eq!(state.situation(), Situation::Proved);
}

#[test]
fn too_little_is_undecided() {
    let (state, verdict) = proved(ProofRound::Compare, &measured(Hand::comparing(), 3, true));
    assert_eq!(verdict, Verdict::Undecided);
    shot("proof-undecided", &state);
}

#[test]
fn faults_are_asked_for_in_turn_and_the_run_ends_by_itself() {
    let mut state = proving(ProofRound::Faults);
    tell(&mut state, RunEvent::Stream(taking()));
    let batch = measured(Hand::round(&trolley_block().unwrap()), 136, true);
    let part = |from: usize, to: usize| Batch {
        t_us: batch.t_us[from..to].to_vec(),
        step: batch.step[from..to].to_vec(),
        codes: batch
            .codes
            .iter()
            .map(|column| column[from..to].to_vec())
            .collect(),
    };
    assert_eq!(tell(&mut state, RunEvent::Samples(part(0, 3_000))), []);
    shot("proof-fault-asked", &state);
    assert_eq!(tell(&mut state, RunEvent::Samples(part(3_000, 14_000))), []);
    shot("proof-fault-seen", &state);
    let last = tell(
        &mut state,
        RunEvent::Samples(part(14_000, batch.t_us.len())),
    );
    assert_eq!(last, [Effect::Command(RunCommand::Stop)]);
    assert_eq!(state.session.run.store.len(), batch.t_us.len());
}

#[test]
fn faults_have_their_verdict() {
    let (state, verdict) = proved(
        ProofRound::Faults,
        &measured(Hand::round(&trolley_block().unwrap()), 136, true),
    );
    assert_ne!(verdict, Verdict::Fail, "{}", shown(&state));
    shot("proof-faults", &state);
    let (state, verdict) = proved(
        ProofRound::Faults,
        &measured(Hand::faults(&[Fault::Open.on(0)]), 11, false),
    );
    assert_eq!(verdict, Verdict::Fail);
    shot("proof-fail", &state);
}

#[test]
fn what_is_left_out_ends_the_run_too() {
    let mut state = proving(ProofRound::Faults);
    tell(&mut state, RunEvent::Stream(taking()));
    let effects = letters(&mut state, &"k".repeat(40));
    assert_eq!(effects, [Effect::Command(RunCommand::Stop)]);
    assert!(
        shown(&state).contains("A0, wire open: skipped"),
        "{}",
        shown(&state)
    );
}

#[test]
fn a_board_that_does_not_fit_the_block_is_told() {
    let mut state = proving(ProofRound::Compare);
    let effects = tell(&mut state, RunEvent::Stream(scene::taking()));
    assert_eq!(effects, [Effect::Command(RunCommand::Stop)]);
    let last = tell(&mut state, ended(Some("board.csv")));
    assert_eq!(last, [], "there is nothing to judge");
    assert!(shown(&state).contains("There is no verdict."));
    shot("proof-unfit", &state);
    let mut broken = proving(ProofRound::Compare);
    update(&mut broken, Message::RunGone);
    assert!(matches!(broken.session.run.phase, Phase::Failed(_)));
    shot("proof-broken", &broken);
}

#[test]
fn ending_a_proof_is_asked_first_and_leaving_waits_for_its_last_word() {
    let mut state = proving(ProofRound::Compare);
    assert_eq!(letters(&mut state, "q"), []);
    assert_eq!(state.situation(), Situation::EndRun);
    assert_eq!(
        letters(&mut state, "q"),
        [Effect::Command(RunCommand::Stop)]
    );
    assert_eq!(tell(&mut state, ended(None)), [Effect::Leave]);
}
