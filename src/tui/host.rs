//! What the screen asks of the rest of the program, as values: it knows no ports and no files.

use crate::bench::{Batch, RunCommand, RunEvent};
use crate::constants::Block;
use crate::machine::Link;
use crate::profile::Profile;
use crate::proof::Marks;
use crate::record::{Assessment, Earlier};
use measure::judge::Verdict;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender};

#[derive(Debug)]
pub struct RunHandles {
    pub events: Receiver<RunEvent>,
    pub commands: Sender<RunCommand>,
}

/// What sort of source; offers are listed by sort, in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum SourceKind {
    Port,
    Simulated,
    /// A capture to go through again.
    Capture,
    /// A recording made with something else.
    Foreign,
}

/// The simulated part that is as the chosen profile says.
pub const FITTING: &str = "a good part, simulated";

/// Something that samples can come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceOffer {
    pub kind: SourceKind,
    /// What it is called: `/dev/ttyUSB0`.
    pub name: String,
    pub detail: String,
    /// Why it cannot be used as it is, and what to do; absent when it can.
    pub blocked: Option<String>,
    /// The tag of the unit on it, when known.
    pub tag: Option<String>,
    /// The name of the profile that goes with it, when known.
    pub profile: Option<String>,
    /// What the person says of a file of something else.
    pub answers: Option<Box<FileAnswers>>,
}

impl SourceOffer {
    /// One that can be used as it is; what part is on it is not known.
    pub fn new(kind: SourceKind, name: impl Into<String>, detail: impl Into<String>) -> Self {
        Self {
            kind,
            name: name.into(),
            detail: detail.into(),
            blocked: None,
            tag: None,
            profile: None,
            answers: None,
        }
    }
}

/// What a person says of a file of something else, as it was typed. Empty: as it is seen in the file.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FileAnswers {
    pub file: String,
    /// Of the board that the control is for.
    pub bits: String,
    pub vref_mv: String,
    /// A column, or `250 Hz` where there is none.
    pub time: String,
    pub time_unit: String,
    /// Columns, with commas between; `lever=2` names the channel, too.
    pub signals: String,
    pub unit: String,
}

/// One of these answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileRow {
    File,
    Bits,
    Vref,
    Time,
    TimeUnit,
    Signals,
    Unit,
}

/// What a look at a file of something else gave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileRead {
    /// Its rows and columns, in words.
    pub holds: String,
    /// What was understood, in words; or what has to be said, and where.
    pub answer: Result<Vec<String>, (Option<FileRow>, String)>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    pub source: SourceOffer,
    pub tag: Option<String>,
    /// What to hold the unit against; absent for figures without a verdict.
    pub profile: Option<Profile>,
    /// The machine's control that it is measured as; absent for a part of no machine.
    pub control: Option<String>,
}

/// A control of the machine that is to be measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// What the machine calls it.
    pub control: String,
    pub tag: String,
    pub profile: Profile,
    /// The board's pins of its tracks.
    pub pins: Vec<String>,
}

/// A machine's file that can be opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MachineOffer {
    pub name: String,
    pub file: PathBuf,
}

/// A machine that is to be started.
#[derive(Debug, Clone, PartialEq)]
pub struct NewMachine {
    pub name: String,
    /// Its file, as it was typed; empty: called after the machine.
    pub file: String,
    /// In the order of the board's pins.
    pub controls: Vec<NewControl>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct NewControl {
    pub name: String,
    /// What is written on its sticker, if that is other than the machine's and the control's name.
    pub tag: Option<String>,
    pub profile: Profile,
}

/// What is next for a machine.
#[derive(Debug, Clone, PartialEq)]
pub enum MachineTask {
    Measure(Box<Part>),
    /// To read what a wiring hides, as a board of so many bits reads it.
    Wiring(Box<Profile>, u32),
    /// To make the constants of all its controls.
    Constants,
    Prove(Box<BlockOffer>, ProofRound),
    /// None is open: to open one of these, or to start one.
    Open(Vec<MachineOffer>),
    Nothing,
}

/// A machine as its page shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct MachinePage {
    pub name: String,
    pub links: Vec<Link>,
    /// What is next, in words.
    pub next: String,
    pub task: MachineTask,
    pub ready: bool,
    /// Whether a machine is open; else it is only said which there are.
    pub open: bool,
}

/// A unit of which records are kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitSummary {
    pub tag: String,
    /// The day of its last record.
    pub taken: String,
    /// The outcome of its last record.
    pub verdict: Option<Verdict>,
    pub records: usize,
    /// Files of it that could not be read.
    pub unreadable: usize,
    /// Whether one of these is the newest: then no verdict stands.
    pub newest_unreadable: bool,
    /// What a record says that may be newer, by a clock that was wrong: then no verdict stands either.
    pub doubted: Option<Verdict>,
    /// Where it is going, in a word.
    pub course: &'static str,
    /// The profile of its last record.
    pub profile: Option<String>,
}

#[derive(Debug, Clone, PartialEq)]
pub enum Subject {
    /// The story of the unit with this tag.
    Unit(String),
    /// The wiring of a profile with its single faults, as a board of so many bits reads it.
    Wiring(Box<Profile>, u32),
    /// The constants of all controls of the machine: made, written, added to it and told.
    Constants,
    /// The machine's two boards: firmware and streamer written, and how to flash them.
    Boards,
}

/// An earlier run of a unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EarlierOffer {
    /// What it is called: its day.
    pub name: String,
    pub detail: String,
    pub record: Option<PathBuf>,
    pub capture: Option<PathBuf>,
}

/// An earlier run as it was read.
#[derive(Debug, Clone, PartialEq)]
pub struct EarlierRun {
    pub name: String,
    pub figures: Earlier,
    /// Its samples, when its capture is there.
    pub trace: Option<EarlierTrace>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct EarlierTrace {
    /// Channel names in column order.
    pub channels: Vec<String>,
    pub rate_hz: f64,
    pub samples: Batch,
}

/// A block that can be shown, and that a board can be proved against.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BlockOffer {
    /// What it is called: its file.
    pub name: String,
    pub detail: String,
    pub block: Block,
    /// Whether there is a simulated board flashed with it.
    pub simulated: bool,
}

/// What a board is to show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ProofRound {
    /// The right output everywhere.
    #[default]
    Compare,
    /// Output zero at every fault, and staying there.
    Faults,
}

impl ProofRound {
    pub(super) fn title(self) -> &'static str {
        match self {
            Self::Compare => "the right output everywhere",
            Self::Faults => "a stop at every fault",
        }
    }

    /// What a person does in it.
    pub(super) fn instruction(self) -> &'static str {
        match self {
            Self::Compare => {
                "set the dial, press the pedal to several positions, hold each for a second; begin and end released"
            }
            Self::Faults => {
                "the signal wire pulled, tied to ground, tied to the supply, each asked for in turn"
            }
        }
    }

    pub(super) fn other(self) -> Self {
        match self {
            Self::Compare => Self::Faults,
            Self::Faults => Self::Compare,
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProofChoice {
    /// What the board was flashed with.
    pub offer: BlockOffer,
    pub source: SourceOffer,
    pub round: ProofRound,
}

/// A proof whose run is over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProofRecording {
    pub choice: ProofChoice,
    pub capture: PathBuf,
    /// What happened when; empty without faults.
    pub marks: Marks,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProofResult {
    pub verdict: Verdict,
    /// What decided it, as text of at most 80 columns.
    pub text: String,
}

/// Work that may take a moment: the screen has it done elsewhere and goes on.
pub type Job<T> = Box<dyn FnOnce() -> Result<T, String> + Send>;

/// What the screen asks of the rest of the program. The real one opens ports and files; a test scripts it.
pub trait Host {
    /// What samples can come from, now.
    fn sources(&mut self) -> Vec<SourceOffer>;

    /// Looks at a file of something else with these answers; fails with what it is and what to do, in words.
    fn read_file(&mut self, answers: &FileAnswers) -> Job<FileRead>;

    /// Begins a run.
    ///
    /// # Errors
    /// Why it cannot begin and what to do, in words.
    fn start(&mut self, choice: &Choice) -> Result<RunHandles, String>;

    /// Keeps what was found (record, copy of the capture). Gives what was saved and where, in words.
    ///
    /// # Errors
    /// Why it could not be saved and what to do, in words.
    fn save(&mut self, assessment: &Assessment, capture: Option<&Path>) -> Result<String, String>;

    /// The units of which records are kept; fails with why not and what to do, in words.
    fn units(&mut self) -> Job<Vec<UnitSummary>>;

    /// A page to read, as text of at most 80 columns; fails with why not and what to do, in words.
    fn page(&mut self, subject: &Subject) -> Job<String>;

    /// Earlier runs of the unit with this tag, the newest first; not the one under way.
    fn earlier(&mut self, tag: &str) -> Job<Vec<EarlierOffer>>;

    /// Reads one of them, with its figures as this profile's wiring has them; fails with why not and what to do, in words.
    fn fetch(&mut self, offer: &EarlierOffer, profile: Option<&Profile>) -> Job<EarlierRun>;

    /// The blocks that can be looked at and proved against; fails with why not and what to do, in words.
    fn blocks(&mut self) -> Job<Vec<BlockOffer>>;

    /// Looks at the machine and everything that belongs to it; fails with why not and what to do, in words.
    fn machine(&mut self) -> Job<MachinePage>;

    /// Opens a machine, whose page is looked at from then on.
    fn open_machine(&mut self, file: &Path);

    /// Starts a machine and opens it.
    ///
    /// # Errors
    /// Why it cannot be started and what to do, in words.
    fn start_machine(&mut self, new: &NewMachine) -> Result<(), String>;

    /// Begins the run of a proof.
    ///
    /// # Errors
    /// Why it cannot begin and what to do, in words.
    fn prove(&mut self, choice: &ProofChoice) -> Result<RunHandles, String>;

    /// Judges a proof whose run is over; fails with why not and what to do, in words.
    fn judge(&mut self, taken: &ProofRecording) -> Job<ProofResult>;

    /// Keeps a proof as the command `prove` does. Gives what was saved and where, in words.
    ///
    /// # Errors
    /// Why it could not be saved and what to do, in words.
    fn save_proof(&mut self, taken: &ProofRecording) -> Result<String, String>;
}
