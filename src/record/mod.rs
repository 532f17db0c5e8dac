//! A unit's assessment as a value that can be shown, written and kept (format `assessment/1`, DESIGN 4.4).
//!
//! Belongs here: the format. Does not belong here: how figures came about, screens.

mod assessment;

pub use assessment::{Assessment, CaptureFacts, ChannelPart, PairFacts, UnitFacts, WornOn};
