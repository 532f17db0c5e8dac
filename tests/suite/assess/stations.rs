//! The metadata of a 12-bit lever at 200 samples a second, held at stated angles of 0 to 60 degrees.

use crate::support::recording::signal;
use measure::units::Track;
use pedalproof::capture::{BoardMeta, Metadata, RefMeta};

pub fn metadata() -> Metadata {
    Metadata {
        reference: Some(RefMeta {
            unit: "deg".into(),
            low: Some(0.0),
            high: Some(60.0),
            u: None,
        }),
        ..Metadata::new(
            BoardMeta::new("b", 12, 5000.0, 200.0),
            vec![("lever".into(), signal(Track::One))],
        )
    }
}
