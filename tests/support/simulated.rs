//! A simulated run as the capture that a perfect operator would have taken: every step labelled as it was.

use pedalproof::capture::{Board, Capture, ChannelMeta, Metadata, RefMeta, StreamCounts, UnitMeta};
use pedalproof::link::simulated::SimRun;

/// The capture. `placed_deg` is the standard uncertainty that it states for its positions, if it has any.
pub fn capture(run: &SimRun, placed_deg: Option<f64>) -> Capture {
    let channels = run.channels.iter().map(|(name, role, track)| {
        let meta = ChannelMeta {
            role: *role,
            track: Some(*track),
        };
        (name.clone(), meta)
    });
    Capture {
        meta: Metadata {
            board: Board {
                name: "simulated".to_owned(),
                bits: run.board.bits,
                vref_mv: run.board.vref_mv,
                rate_hz: run.board.rate_hz,
                inl_code: None,
                clock: None,
            },
            unit: UnitMeta {
                tag: Some(run.tag.clone()),
                profile: None,
            },
            channels: channels.collect(),
            reference: run.reference.as_ref().map(|_| RefMeta {
                unit: "deg".to_owned(),
                low: None,
                high: None,
                u: placed_deg,
            }),
            started: None,
            stream: StreamCounts {
                lines: run.t_us.len() as u64,
                samples: run.t_us.len() as u64,
                ..StreamCounts::default()
            },
            looks: None,
            note: None,
        },
        t_us: run.t_us.clone(),
        passages: run.passages.clone(),
        codes: run.codes.clone(),
        reference: run.reference.clone(),
        lost: None,
    }
}
