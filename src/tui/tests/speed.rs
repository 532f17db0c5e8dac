//! How long a frame takes with a million samples behind it. Run by hand:
//! `cargo test --release --lib tui::tests::speed -- --ignored --nocapture`.

use super::scene::{self, tell};
use crate::tui::{State, view};
use crate::units::Step;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use std::time::{Duration, Instant};

fn frame(state: &State) -> Duration {
    let mut terminal = Terminal::new(TestBackend::new(200, 60)).unwrap();
    let began = Instant::now();
    for _ in 0..100 {
        terminal.draw(|frame| view(state, frame)).unwrap();
    }
    began.elapsed() / 100
}

#[test]
#[ignore = "a measurement, not a check: needs a quiet machine and a release build"]
fn one_frame_at_200_by_60() {
    let mut state = scene::stroking();
    println!("19 000 samples: {:?} a frame", frame(&state));
    let began = Instant::now();
    for second in 0..981 {
        tell(
            &mut state,
            scene::samples(19_000 + second * 1000, 1000, Step::Strokes),
        );
    }
    println!(
        "feeding: {:?} for 981 000 samples of 3 channels",
        began.elapsed()
    );
    assert_eq!(state.run.store.len(), 1_000_000);
    println!("1 000 000 samples, live: {:?} a frame", frame(&state));
    for _ in 0..6 {
        state.window.stretch(false);
    }
    println!(
        "1 000 000 samples, all on the screen: {:?} a frame",
        frame(&state)
    );
}
