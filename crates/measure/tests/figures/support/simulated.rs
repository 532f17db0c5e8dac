//! A simulated run as a recording to measure.

use measure::{BoardFacts, Channel, Recording, Reference};
use simulator::SimRun;

/// The run with stated positions, if any, and their standard uncertainty.
pub fn recording<'a>(run: &'a SimRun, positions: Option<&'a [f64]>, u: f64) -> Recording<'a> {
    let channels = run.channels.iter().zip(&run.codes);
    let board = BoardFacts::new(run.board.scale().unwrap(), run.board.rate_hz);
    Recording {
        channels: channels
            .map(|((name, role, track), codes)| Channel {
                name,
                role: *role,
                track: *track,
                codes,
            })
            .collect(),
        reference: positions.map(|position| Reference {
            position,
            low: None,
            high: None,
            u,
        }),
        ..Recording::new(board, &run.t_us, &run.passages)
    }
}
