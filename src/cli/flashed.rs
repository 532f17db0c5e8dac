//! The simulated flashed board of `prove --demo` and of the screen.

use super::demo;
use crate::bench::{FlashedBoard, Hand};
use crate::constants::Block;
use crate::link::{Pace, Source};

/// Samples a second of the simulated measuring board.
const RATE_HZ: f64 = 1000.0;
/// The same proof every time.
const SEED: u64 = 1;

/// What must be kept as long as the board's run lasts.
pub(super) struct Flashed {
    #[cfg(unix)]
    _board: crate::link::PtyBoard,
}

/// A board flashed with this block, moved by this hand, `speed` times as fast as life: on a pseudo-terminal where there is
/// such a thing, else in memory.
pub(super) fn start(
    block: &Block,
    script: Vec<Hand>,
    speed: f64,
) -> anyhow::Result<(Box<dyn Source>, Flashed)> {
    let lines = FlashedBoard::new(block, script, RATE_HZ, SEED)?;
    let pace = Pace::Times(speed);
    #[cfg(unix)]
    {
        let board = crate::link::PtyBoard::start(lines, pace, crate::link::Overflow::Wait)?;
        let source = demo::listen(&board)?;
        Ok((source, Flashed { _board: board }))
    }
    #[cfg(not(unix))]
    {
        let source = crate::link::MemoryBoard::new("simulated flashed board", lines, pace);
        Ok((Box::new(source), Flashed {}))
    }
}
