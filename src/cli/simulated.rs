//! Simulated boards: on a pseudo-terminal, opened by the same code as a USB adapter; in memory where there is none.

use crate::link::{LineSource, Pace, Source};

/// What must be kept as long as the board's run lasts.
pub(super) struct SimulatedBoard {
    #[cfg(unix)]
    _board: crate::link::PtyBoard,
}

/// Starts a board called `name` that prints `lines`, `speed` times as fast as life.
pub(super) fn start(
    name: &str,
    lines: impl LineSource + 'static,
    speed: f64,
) -> anyhow::Result<(Box<dyn Source>, SimulatedBoard)> {
    let pace = Pace::Times(speed);
    #[cfg(unix)]
    {
        use crate::link::{Overflow, PtyBoard, SerialSettings, SerialSource, WhenLost};
        let _ = name; // the port's path stands for it
        let board = PtyBoard::start(lines, pace, Overflow::Wait)?;
        let source = SerialSource::open(SerialSettings {
            path: board.path().to_string_lossy().into_owned(),
            baud: 1_000_000,
            when_lost: WhenLost::Wait,
        })?;
        Ok((Box::new(source), SimulatedBoard { _board: board }))
    }
    #[cfg(not(unix))]
    {
        let source = crate::link::MemoryBoard::new(name, lines, pace);
        Ok((Box::new(source), SimulatedBoard {}))
    }
}
