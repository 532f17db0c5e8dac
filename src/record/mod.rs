//! A unit's assessment as a value that can be shown, written and kept (format `assessment/1`, DESIGN 4.4).
//!
//! Belongs here: the format. Does not belong here: how figures came about, screens.

mod assessment;
mod compare;
mod disk;
mod doubt;
mod ends;
mod history;
mod kept;
mod series;
mod tracks;
mod visits;
mod zones;

pub use assessment::{Assessment, CaptureFacts, ChannelPart, PairFacts, UnitFacts, WornOn};
pub use compare::{Compared, Earlier};
pub use disk::{RecordFile, RecordStore, RecordStoreError, Saved};
pub use doubt::{Clock, Doubt};
pub use ends::{NotCompared, Why};
pub use history::{Course, UnitHistory, unit_history};
pub use kept::{BoardKept, FigureKept, NewRecord, Record, assessment_schema_json, schema_json};
pub use series::{Series, Step};
pub use visits::{Entry, Remark, folded};
pub use zones::ZoneStory;
