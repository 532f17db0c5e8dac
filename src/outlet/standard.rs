//! The standard output and the standard error.

use super::visible::Visible;
use std::io::{self, IsTerminal, Write};

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
    say_part(&format!("{words}\n"));
}

/// The same without a line end.
pub fn say_part(words: &str) {
    let mut err = io::stderr().lock();
    let _ = err
        .write_all(Visible::of(words).as_str().as_bytes())
        .and_then(|()| err.flush());
}

/// A line that is written over the last one of these, while a person watches a terminal.
pub fn watched(words: &str) {
    let mut err = io::stderr().lock();
    if err.is_terminal() {
        let _ = write!(err, "\r{:60}\r", Visible::of(words).as_str()).and_then(|()| err.flush());
    }
}
