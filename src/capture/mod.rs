//! Recordings: format `capture/1` of DESIGN 4.2, bytes <-> values.
//!
//! Belongs here: the CSV table and its metadata, read and written. `disk` alone touches files.
//! Does not belong here: screens, figures.

mod aside;
mod disk;
mod metadata;
mod plain;
mod read_ahead;
mod reader;
mod row;
mod running;
mod table;
mod trials;
mod tried;
mod types;
mod writer;

pub use aside::SetAside;
#[cfg(feature = "inside")]
pub use disk::TableFile;
pub use disk::{
    CaptureError, Disk, LONGEST_PIPED, Opened, RealDisk, metadata_path, open, piped, summary,
};
pub use metadata::schema_json;
pub use tried::Tried;
pub use types::{
    BoardMeta, Capture, ChannelMeta, Clock, ImportedFrom, LooksTaken, Metadata, RefMeta,
    StreamCounts, UnitMeta,
};
pub use writer::{CaptureWriter, OnDisk};
