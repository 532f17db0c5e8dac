//! What was seen of a machine's evidence: handed in, so that the links can be told without a file.

use jiff::Timestamp;
use measure::judge::{Outcome, Verdict};

/// Whether a file is the one that was added.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FileState {
    Same,
    /// Its SHA-256 is another.
    Changed,
    /// It is not there, or cannot be read: why.
    Unreadable(String),
}

/// A recording of a control, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct CaptureSeen {
    /// `None`: the profile has no limits.
    pub verdict: Option<Verdict>,
    /// What to do and why, in a line.
    pub headline: String,
    pub tag: Option<String>,
    /// The profile that the recording itself names.
    pub recorded_as: Option<String>,
    /// What its signals read at either end.
    pub ends: Vec<Ends>,
    /// Of a simulated board.
    pub simulated: bool,
    /// What it should be a recording of and is not, if so.
    pub stranger: Option<String>,
    /// A recording that was added later, is dated earlier and says another thing, if there is one.
    pub contradicted: Option<String>,
}

/// A signal's ends as a meter shows them, millivolts; `None` where they were not measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Ends {
    pub channel: String,
    pub rest_mv: Option<f64>,
    pub full_mv: Option<f64>,
}

/// A constants file, read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BlockSeen {
    /// CRC-16/IBM-3740, four hex digits.
    pub crc: String,
    /// A version that today's firmware refuses.
    pub is_old: bool,
    /// SHA-256 of the recordings that it says it was made from; empty when its format has no place for them.
    pub made_from: Vec<String>,
    /// The reason why something was accepted, when something was.
    pub accepted: Option<String>,
    /// Made again from the newest recordings: what differs, `Ok` with nothing when nothing does; `Err` when it cannot be made.
    pub made_again: Result<Vec<String>, String>,
    /// What `constants` objects to when it makes it again.
    pub objections: Vec<String>,
}

/// What a proof shows, judged against the constants in force.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProofSeen {
    /// Check sum of the constants that it was judged against.
    pub crc: String,
    /// Whether faults were made at all.
    pub has_faults: bool,
    /// The worst of what was found of the output, and why.
    pub output: (Outcome, String),
    /// The same of the faults that were made.
    pub faults: (Outcome, String),
    /// Faults that were made and that the constants cannot notice: their reading is one of a good control.
    pub hidden: Vec<String>,
    /// Faults that were not made, or of which nothing was seen.
    pub left_out: Vec<String>,
    /// Of a simulated board.
    pub simulated: bool,
}

/// A proof, and the recording behind it: what was said of one is no younger than it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeenProof {
    /// Its place in the evidence.
    pub at: usize,
    pub file: FileState,
    /// SHA-256 of the recording; of the file itself where that does not say it.
    pub recording: String,
    /// When the recording was made; `None`: nothing says it.
    pub recorded: Option<Timestamp>,
    /// The constants file that was in force when the recording was first added, by its place in the evidence.
    pub constants: Option<usize>,
    /// Check sum of these constants; `None`: their file is no longer the one that was added.
    pub constants_crc: Option<String>,
    /// `Err`: why it cannot be judged.
    pub judged: Result<ProofSeen, String>,
}

/// Of one control.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenControl {
    /// Its newest recording; `Err`: why it cannot be judged.
    pub capture: Option<(FileState, Result<CaptureSeen, String>)>,
    /// Whether a supply wire goes to it; a variable resistor has none.
    pub has_supply_wire: bool,
    /// Its profile's wiring; `Err`: why it cannot be looked at.
    pub wiring: Result<WiringSeen, String>,
}

#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct WiringSeen {
    /// Single faults that bring output while it stands at its zero end, or too much elsewhere, and that nothing catches: no constants
    /// are made with them unless they are accepted.
    pub drives_at_rest: Vec<String>,
    /// Other single faults that nobody notices, the worst first.
    pub others: Vec<String>,
    /// What comes by degrees and may then give more than was asked, in words, the worst first.
    pub by_degrees: Vec<String>,
    /// Whether a change of the wiring leaves fewer of those that drive it at rest.
    pub helps: bool,
}

/// Everything that was seen.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Seen {
    /// In the machine's order.
    pub controls: Vec<SeenControl>,
    /// The newest constants file.
    pub block: Option<(FileState, Result<BlockSeen, String>)>,
    /// Every proof, in the order of the evidence.
    pub proofs: Vec<SeenProof>,
}
