//! A recording made with something else: the text of a scope, a logger, a spreadsheet, a serial monitor -> codes of a board.
//!
//! Belongs here: what such a file is made of (characters, separators, decimal signs, headings, units), and its columns as
//! samples. Does not belong here: which step a sample is of (`bench`), how a capture is written (`capture`).

mod columns;
mod disk;
mod errors;
mod lines;
mod numbers;
mod samples;
mod sheet;
mod style;
mod text;
mod times;
mod units;

pub use columns::{Asked, ChannelColumn, TimeColumn, listed};
pub use disk::{Source, columns, read, read_from};
pub use errors::{Asks, SamplesError};
pub use samples::{Imported, samples};
pub use units::{SignalUnit, TimeUnit};
