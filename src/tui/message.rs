//! What happens to the screen, and what it asks for.

use super::host::{
    BlockOffer, Choice, EarlierOffer, EarlierRun, FileAnswers, FileRead, MachinePage, NewMachine,
    Part, ProofChoice, ProofRecording, ProofResult, ProofRound, SourceOffer, Subject, UnitSummary,
};
use super::keys::Action;
use super::list::Listed;
use crate::bench::{RunCommand, RunEvent};
use crossterm::event::{KeyCode, KeyEvent};
use std::path::PathBuf;
use std::time::Duration;

/// Everything that can happen to the screen.
#[derive(Debug, Clone)]
pub enum Message {
    /// A key was pressed.
    Key(KeyEvent),
    /// What that key means on the screen in front.
    Action(Action, KeyCode),
    /// The terminal has another size; the next frame is drawn to it.
    Resized,
    /// Time since the screen was opened.
    Tick(Duration),
    Run(RunEvent),
    /// The run has gone without a word.
    RunGone,
    Sources(Vec<SourceOffer>),
    /// The file that was looked at, with the answers of then.
    FileRead(Box<FileAnswers>, Result<FileRead, String>),
    Started(Result<(), String>),
    /// The mouse, when the person asked for it.
    Mouse(Pointed),
    Units(Result<Vec<UnitSummary>, String>),
    Page(Box<Subject>, Result<String, String>),
    Earlier(Result<Vec<EarlierOffer>, String>),
    Fetched(Box<Result<EarlierRun, String>>),
    Saved(Result<String, String>),
    Blocks(Result<Vec<BlockOffer>, String>),
    Machine(Box<Result<MachinePage, String>>),
    MachineStarted(Result<(), String>),
    ProofStarted(Result<(), String>),
    Proved(Box<ProofRecording>, Result<ProofResult, String>),
    Terminate,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pointed {
    /// Column and row, from 0.
    pub at: (u16, u16),
    /// Columns and rows of the screen.
    pub size: (u16, u16),
    /// The wheel: towards (`true`, closer) or away; absent for a click.
    pub wheel: Option<bool>,
}

/// What is to be done outside.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// Look for sources; comes back as [`Message::Sources`].
    Rescan,
    Start(Box<Choice>),
    /// Look at a file of something else; comes back as [`Message::FileRead`].
    ReadFile(Box<FileAnswers>),
    Command(RunCommand),
    Units,
    Page(Box<Subject>),
    /// List earlier runs of the unit with this tag; comes back as [`Message::Earlier`].
    Earlier(String),
    Fetch(Box<EarlierOffer>),
    Blocks,
    /// Look at the machine; comes back as [`Message::Machine`].
    Machine,
    /// Open a machine's file and look at it; comes back as [`Message::Machine`].
    OpenMachine(PathBuf),
    /// Start a machine; comes back as [`Message::MachineStarted`].
    StartMachine(Box<NewMachine>),
    /// Begin a proof; comes back as [`Message::ProofStarted`].
    Prove(Box<ProofChoice>),
    /// Judge a proof; comes back as [`Message::Proved`].
    Judge(Box<ProofRecording>),
    SaveProof(Box<ProofRecording>),
    Save,
    /// Ring the terminal's bell so many times.
    Bell(u8),
    /// Give the terminal back and stop as job control does.
    Suspend,
    /// Give the terminal back and return.
    Leave,
}

/// What a screen asks of the stack that it stands on.
#[derive(Debug, Clone)]
pub enum Request {
    Effect(Effect),
    /// To go back to the screen below.
    Close,
    /// To name the unit at this source.
    Unit(Box<SourceOffer>),
    /// To say what this file of something else holds; of the machine's control, if there is one.
    Import(Box<SourceOffer>, Option<Box<Part>>),
    Begin(Box<Choice>),
    /// To choose a source for this control of the machine.
    Measure(Box<Part>),
    /// To name a machine and its controls.
    NewMachine,
    /// To go back to the machine and begin what is next.
    Next,
    /// A page to read, or why there is none.
    Page(Result<Box<Subject>, &'static str>),
    /// To type a known position; this one is asked for.
    Station(Option<String>),
    Earlier(Listed<EarlierOffer>),
    /// This earlier run under the trace, or none.
    Overlay(Option<Box<EarlierOffer>>),
    /// What this block puts out.
    Blend(Box<BlockOffer>),
    ProveAsk(Box<BlockOffer>, ProofRound),
    Prove(Box<ProofChoice>),
}

/// A command to the run.
pub fn command(command: RunCommand) -> Vec<Request> {
    vec![Request::Effect(Effect::Command(command))]
}
