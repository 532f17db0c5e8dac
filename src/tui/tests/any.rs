//! Anything in any order: no panic, no sample lost.

use super::{beside, blocks, scene};
use crate::bench::{Batch, LinkState, RunEvent, StepProgress, StepState, StreamInfo};
use crate::tui::screens::Screen;
use crate::tui::{
    Charset, Colour, Effect, Message, Pointed, ProofResult, ProofRound, Subject, Theme, update,
};
use crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use measure::judge::Verdict;
use measure::units::{Code, Step, Track};
use proptest::prelude::*;
use std::time::Duration;

fn key() -> impl Strategy<Value = Message> {
    let code = prop_oneof![
        any::<char>().prop_map(KeyCode::Char),
        prop::sample::select("?kraspnqve+-= 123hx.tcbuiof".chars().collect::<Vec<_>>())
            .prop_map(KeyCode::Char),
        prop::sample::select(vec![
            KeyCode::Enter,
            KeyCode::Esc,
            KeyCode::Up,
            KeyCode::Down,
            KeyCode::Left,
            KeyCode::Right,
            KeyCode::Home,
            KeyCode::End,
            KeyCode::PageUp,
            KeyCode::PageDown,
            KeyCode::Backspace,
            KeyCode::Tab,
            KeyCode::F(1),
            KeyCode::F(2),
            KeyCode::F(3),
            KeyCode::F(5),
        ]),
    ];
    (code, any::<bool>()).prop_map(|(code, control)| {
        let modifiers = [KeyModifiers::NONE, KeyModifiers::CONTROL][usize::from(control)];
        Message::Key(KeyEvent::new(code, modifiers))
    })
}

/// Columns of any length, times in any order.
fn batch() -> impl Strategy<Value = Batch> {
    let steps = prop::collection::vec(prop::sample::select(Step::ALL.to_vec()), 0..20);
    let codes = prop::collection::vec(
        prop::collection::vec(any::<u32>().prop_map(Code), 0..20),
        0..5,
    );
    let t_us = prop::collection::vec(prop_oneof![0_u64..100_000, any::<u64>()], 0..20);
    (t_us, steps, codes).prop_map(|(t_us, step, codes)| Batch { t_us, step, codes })
}

fn taking() -> impl Strategy<Value = StreamInfo> {
    let track = prop::option::of(prop::sample::select(vec![Track::One, Track::Two]));
    let channels = prop::collection::vec(("[a-c/é]{0,3}", track), 0..5);
    (
        channels,
        any::<u32>(),
        any::<f64>(),
        any::<f64>(),
        any::<bool>(),
    )
        .prop_map(
            |(channels, bits, vref_mv, rate_hz, board_time)| StreamInfo {
                channels,
                bits,
                vref_mv,
                rate_hz,
                board_time,
                source: "any".to_owned(),
                tag: None,
            },
        )
}

fn progress() -> impl Strategy<Value = Vec<StepProgress>> {
    let states = vec![
        StepState::Waiting,
        StepState::Current,
        StepState::Done,
        StepState::Skipped,
    ];
    let step = (
        prop::sample::select(Step::ALL.to_vec()),
        prop::sample::select(states),
        any::<f64>(),
        any::<f64>(),
    );
    prop::collection::vec(
        step.prop_map(|(step, state, have, want)| StepProgress {
            step,
            state,
            have,
            want,
            unit: "s",
            uncounted: 0,
            instruction: "Do it.".into(),
            asked: None,
            cue: None,
            remark: Some("\u{7}線".to_owned()),
            ends_in_s: None,
            trial: None,
        }),
        0..9,
    )
}

fn event() -> impl Strategy<Value = RunEvent> {
    let links = vec![LinkState::Connected, LinkState::Lost, LinkState::Ended];
    prop_oneof![
        4 => batch().prop_map(RunEvent::Samples),
        1 => taking().prop_map(RunEvent::Stream),
        1 => Just(RunEvent::Stream(blocks::taking())),
        1 => progress().prop_map(RunEvent::Progress),
        1 => (any::<u64>(), prop::sample::select(links)).prop_map(|(n, link)| scene::health(n / 2, link)),
        1 => (any::<f64>(), any::<f64>()).prop_map(|(x, u)| RunEvent::Assessed(scene::assessment((x, u), Some(x)))),
        1 => any::<f64>().prop_map(|bow| {
            RunEvent::Assessed(scene::with_curve(&scene::assessment((0.9, 0.02), Some(0.8)), bow))
        }),
        1 => Just(scene::ended(None)),
        1 => ".{0,40}".prop_map(RunEvent::Failed),
    ]
}

fn mouse() -> impl Strategy<Value = Message> {
    let place = || (0_u16..200, 0_u16..70);
    let wheel = prop::option::of(any::<bool>());
    (place(), place(), wheel)
        .prop_map(|(at, size, wheel)| Message::Mouse(Pointed { at, size, wheel }))
}

fn no() -> String {
    "no\u{7} 線".to_owned()
}

/// What comes from outside for blocks and proofs, well or not.
fn boards() -> impl Strategy<Value = Message> {
    prop_oneof![
        2 => Just(Message::Blocks(Ok(blocks::offers()))),
        1 => Just(Message::Blocks(Ok(Vec::new()))),
        1 => Just(Message::Blocks(Err(no()))),
        1 => Just(Message::ProofStarted(Ok(()))),
        1 => Just(Message::ProofStarted(Err(no()))),
        1 => Just(Message::Saved(Ok(no()))),
        1 => Just(Message::Saved(Err(no()))),
    ]
}

/// What comes from outside for the places beside the bench, well or not.
fn beside() -> impl Strategy<Value = Message> {
    let page = |text| Message::Page(Box::new(Subject::Unit("T3-lever".to_owned())), text);
    prop_oneof![
        Just(Message::Units(Ok(beside::units()))),
        Just(Message::Units(Ok(Vec::new()))),
        Just(Message::Units(Err(no()))),
        Just(Message::Earlier(Ok(beside::earlier()))),
        Just(Message::Earlier(Err(no()))),
        (any::<u32>(), batch()).prop_map(|(bits, samples)| {
            let mut run = beside::fetched();
            run.figures.bits = bits;
            if let Some(trace) = &mut run.trace {
                trace.samples = samples;
            }
            Message::Fetched(Box::new(Ok(run)))
        }),
        Just(Message::Fetched(Box::new(Ok(beside::fetched())))),
        Just(Message::Fetched(Box::new(Err(no())))),
        Just(page(Ok("one\n線\n".repeat(40)))),
        Just(page(Err(no()))),
    ]
}

fn message() -> impl Strategy<Value = Message> {
    prop_oneof![
        1 => mouse(),
        2 => beside(),
        2 => boards(),
        6 => key(),
        6 => event().prop_map(Message::Run),
        1 => any::<u32>().prop_map(|s| Message::Tick(Duration::from_secs(s.into()))),
        1 => Just(Message::Sources(super::screens::offers())),
        1 => Just(Message::Sources(Vec::new())),
        1 => Just(Message::Started(Err("no".to_owned()))),
        1 => Just(Message::Saved(Ok("kept".to_owned()))),
        1 => Just(Message::RunGone),
        1 => Just(Message::Terminate),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(192))]

    #[test]
    fn any_messages_are_survived_and_no_sample_is_lost(
        from in 0..4, plain in any::<bool>(), messages in prop::collection::vec(message(), 0..60),
        width in 0_u16..140, height in 0_u16..45,
    ) {
        let mut state = match from {
            0 => super::screens::choosing(),
            1 => blocks::proving(ProofRound::Compare),
            2 => blocks::proving(ProofRound::Faults),
            _ => scene::state(),
        };
        if plain {
            state.session.theme = Theme { charset: Charset::Ascii, colour: Colour::None };
        }
        let mut fed = 0;
        for message in messages {
            let samples = match &message {
                Message::Run(RunEvent::Samples(batch)) => batch.t_us.len(),
                _ => 0,
            };
            // As if it had been asked for.
            if matches!(message, Message::Fetched(_)) {
                for screen in &mut state.screens {
                    if let Screen::Bench(bench) = screen {
                        bench.fetching = Some("then".to_owned());
                    }
                }
            }
            let effects = update(&mut state, message);
            let began = effects.iter().any(|e| matches!(e, Effect::Start(_) | Effect::Prove(_)));
            fed = if began { 0 } else { fed + samples };
            prop_assert_eq!(state.session.run.store.len(), fed);
            scene::draw(&state, width, height);
            // The outside answers what is asked of it.
            for effect in effects {
                if let Effect::Judge(taken) = effect {
                    let told = ProofResult {
                        verdict: Verdict::Fail,
                        text: "FAIL\n  fail  x\n線\n".repeat(30),
                    };
                    update(&mut state, Message::Proved(taken, Ok(told)));
                    scene::draw(&state, width, height);
                }
            }
        }
    }
}
