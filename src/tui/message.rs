//! What happens to the screen, and what it asks for.

use super::host::{
    BlockOffer, Choice, EarlierOffer, EarlierRun, ProofChoice, ProofRecording, ProofResult,
    ProofRound, SourceOffer, Subject, UnitSummary,
};
use super::keys::Action;
use super::list::Listed;
use crate::bench::{RunCommand, RunEvent};
use crossterm::event::{KeyCode, KeyEvent};
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
    /// The run reports something.
    Run(RunEvent),
    /// The run has gone without a word.
    RunGone,
    /// What samples can come from.
    Sources(Vec<SourceOffer>),
    /// Whether the chosen run began.
    Started(Result<(), String>),
    /// The mouse, when the person asked for it.
    Mouse(Pointed),
    /// The units on record.
    Units(Result<Vec<UnitSummary>, String>),
    /// A page to read.
    Page(Box<Subject>, Result<String, String>),
    /// Earlier runs of the unit.
    Earlier(Result<Vec<EarlierOffer>, String>),
    /// The earlier run that was chosen.
    Fetched(Box<Result<EarlierRun, String>>),
    /// What became of saving the run or the proof.
    Saved(Result<String, String>),
    /// The blocks.
    Blocks(Result<Vec<BlockOffer>, String>),
    /// Whether the proof began.
    ProofStarted(Result<(), String>),
    /// What a proof came to.
    Proved(Box<ProofRecording>, Result<ProofResult, String>),
    /// The system asks the program to end.
    Terminate,
}

/// What the mouse did.
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
    /// Begin a run; comes back as [`Message::Started`].
    Start(Box<Choice>),
    /// Command the run.
    Command(RunCommand),
    /// List the units on record; comes back as [`Message::Units`].
    Units,
    /// Make a page to read; comes back as [`Message::Page`].
    Page(Box<Subject>),
    /// List earlier runs of the unit with this tag; comes back as [`Message::Earlier`].
    Earlier(String),
    /// Read an earlier run; comes back as [`Message::Fetched`].
    Fetch(Box<EarlierOffer>),
    /// List the blocks; comes back as [`Message::Blocks`].
    Blocks,
    /// Begin a proof; comes back as [`Message::ProofStarted`].
    Prove(Box<ProofChoice>),
    /// Judge a proof; comes back as [`Message::Proved`].
    Judge(Box<ProofRecording>),
    /// Save a proof; comes back as [`Message::Saved`].
    SaveProof(Box<ProofRecording>),
    /// Save what was found; comes back as [`Message::Saved`].
    Save,
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
    /// To begin a run.
    Begin(Box<Choice>),
    /// A page to read, or why there is none.
    Page(Result<Box<Subject>, &'static str>),
    /// The position of a station.
    Station,
    /// The earlier runs to choose from.
    Earlier(Listed<EarlierOffer>),
    /// This earlier run under the trace, or none.
    Overlay(Option<Box<EarlierOffer>>),
    /// What this block puts out.
    Blend(Box<BlockOffer>),
    /// To prove a board that was flashed with this block.
    ProveAsk(Box<BlockOffer>, ProofRound),
    /// To begin a proof.
    Prove(Box<ProofChoice>),
}

/// A command to the run.
pub fn command(command: RunCommand) -> Vec<Request> {
    vec![Request::Effect(Effect::Command(command))]
}
