//! The metadata of a 12-bit lever at 200 samples a second, held at stated angles of 0 to 60 degrees.

use measure::units::{Role, Track};
use pedalproof::capture::{BoardMeta, ChannelMeta, Metadata, RefMeta, StreamCounts, UnitMeta};

pub fn metadata() -> Metadata {
    Metadata {
        board: BoardMeta {
            name: "b".into(),
            bits: 12,
            vref_mv: 5000.0,
            rate_hz: 200.0,
            inl_code: None,
            clock: None,
        },
        unit: UnitMeta::default(),
        channels: vec![(
            "lever".into(),
            ChannelMeta {
                role: Role::Signal,
                track: Some(Track::One),
            },
        )],
        reference: Some(RefMeta {
            unit: "deg".into(),
            low: Some(0.0),
            high: Some(60.0),
            u: None,
        }),
        started: None,
        stream: StreamCounts::default(),
        looks: None,
        set_aside: Vec::new(),
        tried: Vec::new(),
        imported: None,
        note: None,
    }
}
