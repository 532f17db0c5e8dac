//! One machine: its controls, its constants file, its proofs. Which link stands, which is stale, what is next (DESIGN 4.9).
//!
//! Belongs here: the file `machine/1`, bytes <-> values (`disk` alone touches files), and from what was seen of its evidence to the links.
//! Does not belong here: judging a recording or a proof (`bench::machine` does, and gives what it saw), how it is shown (`report`, `tui`).

mod add;
mod change;
mod check;
mod commands;
mod disk;
mod format;
mod link;
mod links;
mod proofs;
mod seen;
mod types;

pub use add::NewEvidence;
pub use change::Changed;
pub use commands::Commands;
pub use disk::{add, change, create, inside, read};
pub use format::schema_json;
pub use link::{Link, LinkState};
pub use links::{Standing, standing};
pub use seen::{
    BlockSeen, CaptureSeen, Ends, FileState, ProofSeen, Seen, SeenControl, SeenProof, WiringSeen,
};
pub use types::{Control, Evidence, EvidenceKind, Machine, USUAL_MONTHS, day, has_come, minute};
