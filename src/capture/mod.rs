//! Recordings: format `capture/1` of DESIGN 4.2, bytes <-> values.
//!
//! Belongs here: the CSV table and its metadata, read and written. `disk` alone touches files.
//! Does not belong here: screens, figures.

mod ahead;
mod disk;
mod metadata;
mod plain;
mod table;
mod text;
mod types;
mod writer;

pub use disk::{
    About, CaptureError, Disk, Opened, RealDisk, TableFile, about, metadata_path, open,
};
pub use metadata::MetadataError;
pub use table::TableError;
pub use types::{
    Board, Capture, ChannelMeta, Clock, LooksTaken, Metadata, RefMeta, StreamCounts, UnitMeta,
};
pub use writer::{CaptureWriter, OnDisk};
