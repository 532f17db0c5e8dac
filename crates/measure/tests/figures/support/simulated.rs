//! A simulated run as a recording to measure.

use measure::{BoardFacts, Channel, Recording, Reference};
use simulator::SimRun;

/// The run with stated positions, if any, and their standard uncertainty.
pub fn recording<'a>(run: &'a SimRun, positions: Option<&'a [f64]>, u: f64) -> Recording<'a> {
    let channels = run.channels.iter().zip(&run.codes);
    Recording {
        board: BoardFacts {
            scale: run.board.scale().unwrap(),
            rate_hz: run.board.rate_hz,
            inl_code: None,
            board_time: true,
        },
        t_us: &run.t_us,
        passages: &run.passages,
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
    }
}
