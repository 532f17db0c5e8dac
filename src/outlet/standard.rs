//! The standard output and the standard error.

use super::short::brief;
use super::visible::Visible;
use std::io::{self, IsTerminal, Write};
use std::sync::atomic::{AtomicU8, Ordering};

/// How much is said on the standard error.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd)]
pub enum Talk {
    /// What went wrong
    Errors,
    /// What a person wants to know beside the answer
    Usual,
    /// What is done to ports and files, too
    All,
}

/// One for the program: what is said is no part of any answer.
static TALK: AtomicU8 = AtomicU8::new(Talk::Usual as u8);

/// From now on so much is said.
pub fn talk(much: Talk) {
    TALK.store(much as u8, Ordering::Relaxed);
}

/// Nothing of ports and files from now on: a screen is drawn where it would be said.
pub fn calm() {
    TALK.fetch_min(Talk::Usual as u8, Ordering::Relaxed);
}

/// Whether nothing is said but what went wrong.
pub fn quiet() -> bool {
    !hears(Talk::Usual)
}

fn hears(what: Talk) -> bool {
    TALK.load(Ordering::Relaxed) >= what as u8
}

/// Writes an answer. A reader that has gone away (`| head`) is no error.
pub fn print(text: &Visible) -> io::Result<()> {
    let mut out = io::stdout().lock();
    match out
        .write_all(text.as_str().as_bytes())
        .and_then(|()| out.flush())
    {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => Err(e),
        _ => Ok(()),
    }
}

/// Says a line for a person. What cannot be written is let go: a recording does not end because nobody listens.
pub fn say(words: &str) {
    if hears(Talk::Usual) {
        say_part(&format!("{words}\n"));
    }
}

/// The same of what is done to a port or a file, where a person asked to hear it.
pub fn did(words: impl FnOnce() -> String) {
    if hears(Talk::All) {
        say_part(&format!("{}\n", words()));
    }
}

/// The same without a line end, and in any case: what went wrong, a question.
pub fn say_part(words: &str) {
    let mut err = io::stderr().lock();
    let _ = err
        .write_all(Visible::of(&brief(words)).as_str().as_bytes())
        .and_then(|()| err.flush());
}

/// A line that is written over the last one of these, while a person watches a terminal.
pub fn watched(words: &str) {
    let mut err = io::stderr().lock();
    if err.is_terminal() && hears(Talk::Usual) {
        let _ = write!(err, "\r{:60}\r", Visible::of(words).as_str()).and_then(|()| err.flush());
    }
}
