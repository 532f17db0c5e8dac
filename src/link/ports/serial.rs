//! A serial port as a source: opened for us alone, survives a pulled cable, explains why it cannot be opened.
//!
//! Belongs here: opening, reading, waiting for the return. Does not belong here: what the bytes mean.

use super::access::{self, Access};
use super::rates::{Heard, Rates};
use crate::link::{LinkError, Received, Source};
use crate::outlet;
use serialport::{ClearBuffer, ErrorKind, SerialPort};
use std::io;
use std::time::{Duration, Instant};

/// How often a port that went away is looked for.
const LOOK_AGAIN: Duration = Duration::from_millis(250);

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SerialSettings {
    /// Path or name of the port, e.g. `/dev/ttyUSB0`.
    pub path: String,
    /// Symbols a second; 8 data bits, no parity, 1 stop bit. `None`: the usual ones are tried in turn, by what can be read.
    pub baud: Option<u32>,
    /// What to do when the cable is pulled.
    pub when_lost: WhenLost,
}

/// What to do when the port goes away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhenLost {
    /// Look for it until it comes back.
    Wait,
    /// That was all.
    End,
}

/// A serial port. Dropping it closes the port and gives up its lock.
pub struct SerialSource {
    settings: SerialSettings,
    state: State,
    search: Search,
    /// Bytes that were heard while the rate was looked for, to be given first.
    waiting: Vec<u8>,
}

/// Whether the board's rate is known.
#[derive(Debug)]
enum Search {
    /// Somebody said it, or it was found.
    Over(u32),
    /// Nothing is passed on yet; since the first byte at this rate.
    Under(Rates, Option<Instant>),
    /// Text was passed on, but no numbers yet: the board may start up at one rate and go on at another.
    Doubtful(Rates),
}

impl Search {
    fn baud(&self) -> u32 {
        match self {
            Self::Over(baud) => *baud,
            Self::Under(rates, _) | Self::Doubtful(rates) => rates.baud(),
        }
    }
}

enum State {
    Open(Box<dyn SerialPort>),
    Away { look_at: Instant },
    Over,
}

impl std::fmt::Debug for SerialSource {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("SerialSource").field(&self.settings).finish()
    }
}

impl SerialSource {
    /// Opens the port for us alone and throws away what had piled up before.
    pub fn open(settings: SerialSettings) -> Result<Self, LinkError> {
        let mut search = match settings.baud {
            Some(baud) => Search::Over(baud),
            None => Search::Under(Rates::default(), None),
        };
        let mut opened = open(&settings, search.baud());
        if let (Search::Under(rates, _), Err(error)) = (&mut search, &opened)
            && error.kind() == ErrorKind::InvalidInput
        {
            // A port that cannot do the first rate.
            opened = open(&settings, rates.next());
        }
        let baud = search.baud();
        let port = opened.map_err(|error| explain(&settings, baud, &error))?;
        Ok(Self {
            settings,
            state: State::Open(port),
            search,
            waiting: Vec::new(),
        })
    }

    /// Listens to fresh bytes with an ear for their rate; true when they may be passed on as they are.
    fn listen(&mut self, bytes: &[u8]) -> bool {
        match &mut self.search {
            Search::Over(_) => true,
            Search::Doubtful(rates) => match rates.hear_on(bytes) {
                Heard::Numbers => {
                    self.search = Search::Over(rates.baud());
                    true
                }
                Heard::Garbage => {
                    self.try_next();
                    false
                }
                Heard::Little | Heard::Text => true,
            },
            Search::Under(rates, since) => {
                let since = since.get_or_insert_with(Instant::now).elapsed();
                match rates.hear(bytes, since) {
                    Heard::Little => {}
                    Heard::Garbage => self.try_next(),
                    heard @ (Heard::Text | Heard::Numbers) => {
                        self.waiting = rates.take();
                        self.search = match heard {
                            Heard::Numbers => Search::Over(rates.baud()),
                            _ => Search::Doubtful(rates.clone()),
                        };
                    }
                }
                false
            }
        }
    }

    /// Nothing came for a moment: what was heard before is judged once more.
    fn listen_to_silence(&mut self) {
        if matches!(self.search, Search::Under(_, Some(_))) {
            self.listen(&[]);
        }
    }

    /// Sets the port to the next rate that it can do.
    fn try_next(&mut self) {
        let (Search::Under(rates, _) | Search::Doubtful(rates)) = &mut self.search else {
            return;
        };
        if let State::Open(port) = &mut self.state {
            // A rate that the port cannot do is passed over.
            for _ in 0..super::rates::USUAL_BAUDS.len() {
                if port.set_baud_rate(rates.next()).is_ok() {
                    break;
                }
            }
            // What came at the rate before is no evidence.
            let _ = port.clear(ClearBuffer::Input);
        }
        self.search = Search::Under(rates.clone(), None);
    }

    /// Gives what waits, as much as there is room for.
    fn give_waiting(&mut self, buffer: &mut [u8]) -> Option<Received> {
        let count = self.waiting.len().min(buffer.len());
        buffer[..count].copy_from_slice(&self.waiting[..count]);
        self.waiting.drain(..count);
        (count > 0).then_some(Received::Bytes(count))
    }

    fn read(&mut self, buffer: &mut [u8], wait: Duration) -> Option<Received> {
        let State::Open(port) = &mut self.state else {
            return None;
        };
        if port.timeout() != wait && port.set_timeout(wait).is_err() {
            return None;
        }
        match port.read(buffer) {
            Ok(0) => None,
            Ok(count) => Some(Received::Bytes(count)),
            Err(error) => match error.kind() {
                io::ErrorKind::TimedOut
                | io::ErrorKind::Interrupted
                | io::ErrorKind::WouldBlock => Some(Received::Nothing),
                // A pulled cable shows as any of several errors, by driver and system.
                _ => None,
            },
        }
    }
}

impl Source for SerialSource {
    fn receive(&mut self, buffer: &mut [u8], wait: Duration) -> Result<Received, LinkError> {
        if let Some(waiting) = self.give_waiting(buffer) {
            return Ok(waiting);
        }
        match self.state {
            State::Over => Ok(Received::Ended),
            State::Open(_) => {
                match self.read(buffer, wait) {
                    Some(Received::Bytes(n)) if !self.listen(&buffer[..n]) => {
                        return Ok(self.give_waiting(buffer).unwrap_or(Received::Nothing));
                    }
                    Some(Received::Nothing) => {
                        self.listen_to_silence();
                        return Ok(self.give_waiting(buffer).unwrap_or(Received::Nothing));
                    }
                    Some(received) => return Ok(received),
                    None => {}
                }
                if let Search::Under(rates, since) = &mut self.search
                    && since.take().is_some()
                {
                    // What little was heard is given before the end is told.
                    self.waiting = rates.take();
                    if let Some(waiting) = self.give_waiting(buffer) {
                        return Ok(waiting);
                    }
                }
                if self.settings.when_lost == WhenLost::End {
                    self.state = State::Over;
                    return Ok(Received::Ended);
                }
                let look_at = Instant::now() + LOOK_AGAIN;
                self.state = State::Away { look_at };
                Ok(Received::Lost)
            }
            State::Away { look_at } => {
                let until = look_at.saturating_duration_since(Instant::now());
                std::thread::sleep(until.min(wait));
                if until > wait {
                    return Ok(Received::Nothing);
                }
                // It may appear before its permissions do: every error means to look again.
                if let Ok(port) = open(&self.settings, self.search.baud()) {
                    self.state = State::Open(port);
                    return Ok(Received::Back);
                }
                let look_at = Instant::now() + LOOK_AGAIN;
                self.state = State::Away { look_at };
                Ok(Received::Nothing)
            }
        }
    }

    fn describe(&self) -> String {
        let path = &self.settings.path;
        match &self.search {
            Search::Over(baud) => format!("serial port {path} at {baud} baud"),
            Search::Under(..) | Search::Doubtful(_) => format!("serial port {path}"),
        }
    }

    fn search(&self) -> Option<String> {
        match &self.search {
            Search::Under(rates, _) => rates.describe(),
            Search::Over(_) | Search::Doubtful(_) => None,
        }
    }
}

fn open(settings: &SerialSettings, baud: u32) -> serialport::Result<Box<dyn SerialPort>> {
    let builder = serialport::new(&settings.path, baud).dtr_on_open(true);
    // `mut` only where the lock has to be softened.
    #[cfg_attr(not(unix), allow(unused_mut))]
    let mut port = builder.open_native()?;
    outlet::did(|| {
        format!(
            "opened: {} at {baud} baud, DTR set",
            outlet::line(&settings.path)
        )
    });
    #[cfg(unix)]
    if is_pseudo_terminal(&settings.path) {
        // The kernel's exclusive mark outlives a killed reader while the other side lives, and would shut everybody
        // out; a real port loses it with its last close. The advisory lock stays.
        let _ = port.set_exclusive(false);
    }
    // A pseudo-terminal or a board that cannot do it is no reason to refuse.
    let _ = port.clear(ClearBuffer::Input);
    Ok(Box::new(port))
}

#[cfg(unix)]
fn is_pseudo_terminal(path: &str) -> bool {
    std::fs::canonicalize(path).is_ok_and(|path| path.starts_with("/dev/pts"))
}

/// Why a port cannot be opened, in words for the person at the bench.
fn explain(settings: &SerialSettings, baud: u32, error: &serialport::Error) -> LinkError {
    let path = &settings.path;
    let (why, next) = match access::of(path) {
        Access::NotThere => ("there is no such port".to_owned(), name_others(path)),
        // Before its permissions: nobody shall open up an ordinary file.
        _ if !is_device(path) => ("that is no serial port".to_owned(), name_others(path)),
        shut @ Access::NotAllowed { .. } => (
            "it is there, but you may not use it".to_owned(),
            access::how_to_get_in(path, &shut),
        ),
        Access::Open => why_the_device_refuses(settings, baud, error),
    };
    LinkError {
        what: format!("{path} cannot be opened: {why}"),
        next,
    }
}

fn why_the_device_refuses(
    settings: &SerialSettings,
    baud: u32,
    error: &serialport::Error,
) -> (String, String) {
    match error.kind() {
        ErrorKind::NoDevice if cfg!(unix) => (
            "another program has it open".to_owned(),
            format!(
                "close that program (`fuser -v {}` names it), or wait until it is done",
                settings.path
            ),
        ),
        // Windows says the same of a port that another program has and of one that is not there.
        ErrorKind::NoDevice if is_listed(&settings.path) => (
            "another program has it open".to_owned(),
            "close that program, or wait until it is done".to_owned(),
        ),
        ErrorKind::NoDevice => (
            "there is no such port".to_owned(),
            name_others(&settings.path),
        ),
        ErrorKind::Io(io::ErrorKind::PermissionDenied) => (
            "the system refuses, or another program has it open".to_owned(),
            "close other programs that use it, then try again".to_owned(),
        ),
        ErrorKind::InvalidInput => (
            format!("{error}"),
            format!("the port may not do {baud} baud: try a common one, e.g. --baud 115200"),
        ),
        // Not a terminal (/dev/null), or a listed port without hardware (`I/O error`).
        _ => (
            format!("no serial port answers there ({error})"),
            name_others(&settings.path),
        ),
    }
}

#[cfg(unix)]
fn is_device(path: &str) -> bool {
    use std::os::unix::fs::FileTypeExt;
    std::fs::metadata(path).is_ok_and(|metadata| metadata.file_type().is_char_device())
}

#[cfg(not(unix))]
fn is_device(_path: &str) -> bool {
    true
}

fn is_listed(path: &str) -> bool {
    super::candidates().is_ok_and(|found| found.iter().any(|c| c.path.eq_ignore_ascii_case(path)))
}

/// The next step when a path leads nowhere: the ports that could be meant.
fn name_others(path: &str) -> String {
    let found = super::candidates().unwrap_or_default();
    let others: Vec<_> = found
        .iter()
        .filter(|c| c.path != path && c.attachment != super::Attachment::Phantom)
        .map(|c| format!("{} ({})", c.path, c.describe()))
        .collect();
    if others.is_empty() {
        "no other port could be a board: plug the board in, then look with `pedalproof ports`"
            .to_owned()
    } else {
        format!("could be a board: {}", others.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings(path: &str) -> SerialSettings {
        SerialSettings {
            path: path.to_owned(),
            baud: Some(115_200),
            when_lost: WhenLost::End,
        }
    }

    fn refused(path: &str) -> LinkError {
        SerialSource::open(settings(path)).unwrap_err()
    }

    #[test]
    fn a_port_that_is_not_there() {
        let error = refused("/dev/ttyUSB_nowhere");
        assert!(
            error.what.contains("/dev/ttyUSB_nowhere") && error.what.contains("no such port"),
            "{error}"
        );
        assert!(!error.next.is_empty());
    }

    #[test]
    #[cfg(unix)]
    fn what_is_no_serial_port() {
        let error = refused("/dev/null");
        assert!(error.what.contains("no serial port"), "{error}");
        let error = refused(env!("CARGO_MANIFEST_DIR"));
        assert!(error.what.contains("no serial port"), "{error}");
        let error = refused(concat!(env!("CARGO_MANIFEST_DIR"), "/Cargo.toml"));
        assert!(error.what.contains("no serial port"), "{error}");
    }

    #[test]
    fn each_refusal_of_the_device_has_its_words() {
        let told = |kind, text: &str| {
            let error = serialport::Error::new(kind, text);
            why_the_device_refuses(&settings("/dev/ttyACM0"), 115_200, &error)
        };
        let (why, next) = told(ErrorKind::InvalidInput, "unsupported");
        assert!(
            why.contains("unsupported") && next.contains("115200"),
            "{why} {next}"
        );
        let (why, _) = told(ErrorKind::Unknown, "I/O error");
        assert!(why.contains("I/O error"), "{why}");
        if cfg!(unix) {
            let (why, next) = told(ErrorKind::NoDevice, "busy");
            assert!(
                why.contains("another program") && next.contains("fuser"),
                "{why} {next}"
            );
        }
    }
}
