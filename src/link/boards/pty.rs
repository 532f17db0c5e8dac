//! A simulated board on a real pseudo-terminal, opened by the same serial code as a USB adapter.
//!
//! Belongs here: the terminal, its stable path, the thread that prints, pulling and plugging its cable. Does not belong
//! here: what the board prints.
//!
//! As with real hardware, what is printed while nobody listens is gone, and a line is never printed in part. Facts of
//! Linux that this relies on: a slave set raw once stays raw while the master lives, so no fresh reader is echoed at;
//! the master polls as hung up while no slave is open.

use super::lines::{Due, LineSource, Pace, PacedLines};
use super::pty_pair::PtyPair;
use crate::link::LinkError;
use crate::outlet::Shown;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Lines are handed over in bunches at least this far apart, as USB does.
const BUNCH: Duration = Duration::from_millis(2);
/// Longest time that the thread does not look for commands.
const ATTENTION: Duration = Duration::from_millis(10);
/// A listener sets the terminal up and throws away what is in it for a moment after opening it; a board that goes by
/// its reader must not have begun by then.
const SETTLING: Duration = Duration::from_millis(100);
/// Bytes collected for one write.
const CHUNK: usize = 4096;

/// What happens when the listener is slower than the board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Overflow {
    /// The board waits: nothing is lost, time is late.
    Wait,
    /// Whole lines are dropped, as firmware does: for tests.
    #[cfg_attr(not(feature = "inside"), allow(dead_code))]
    DropLines,
}

/// A board that prints on a pseudo-terminal until it is stopped or dropped.
#[derive(Debug)]
pub struct PtyBoard {
    path: PathBuf,
    orders: Sender<(Order, Sender<Result<(), LinkError>>)>,
    #[cfg_attr(not(feature = "inside"), allow(dead_code))]
    progress: Arc<Progress>,
    thread: Option<JoinHandle<()>>,
}

#[derive(Debug, Default)]
struct Progress {
    dropped: AtomicU64,
    finished: AtomicBool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(not(feature = "inside"), allow(dead_code))] // the product pulls no cable
enum Order {
    Unplug,
    Replug,
    ReplugAfterPowerCycle,
    Stop,
}

impl PtyBoard {
    /// Starts a board that prints `lines` at a pace. Where the system gives no pseudo-terminal, a
    /// [`MemoryBoard`](super::MemoryBoard) does without.
    pub fn start(
        lines: impl LineSource + 'static,
        pace: Pace,
        overflow: Overflow,
    ) -> Result<Self, LinkError> {
        let socket = Socket::new()?;
        let path = socket.path.clone();
        let progress = Arc::new(Progress::default());
        let (orders, inbox) = mpsc::channel();
        let mut board = PtyThread {
            lines: PacedLines::new(lines, pace),
            overflow,
            socket,
            out: Vec::with_capacity(2 * CHUNK),
            written: 0,
            listened_since: None,
            powered: false,
            progress: Arc::clone(&progress),
        };
        let thread = std::thread::Builder::new()
            .name("board".to_owned())
            .spawn(move || board.run(&inbox))
            .map_err(|error| failed("no thread for the simulated board", &error))?;
        Ok(Self {
            path,
            orders,
            progress,
            thread: Some(thread),
        })
    }

    /// The path to open: the same after a replug, though the terminal behind it is another.
    pub fn path(&self) -> &Path {
        &self.path
    }

    fn halt(&mut self) {
        if let Some(thread) = self.thread.take() {
            // A thread that is gone already has stopped.
            let _ = self.order(Order::Stop);
            let _ = thread.join();
        }
    }

    fn order(&self, order: Order) -> Result<(), LinkError> {
        let (answer, answered) = mpsc::channel();
        let gone = || LinkError {
            what: "the simulated board has stopped".to_owned(),
            next: "start it again".to_owned(),
        };
        self.orders.send((order, answer)).map_err(|_| gone())?;
        answered.recv().map_err(|_| gone())?
    }
}

/// What tests do to a board.
#[cfg(feature = "inside")]
impl PtyBoard {
    /// Lines dropped because the listener was too slow ([`Overflow::DropLines`]).
    pub fn dropped(&self) -> u64 {
        self.progress.dropped.load(Ordering::Relaxed)
    }

    /// Whether the last line was handed to the system. The board stays plugged in.
    pub fn finished(&self) -> bool {
        self.progress.finished.load(Ordering::Acquire)
    }

    /// Pulls the cable: the terminal and its path are gone when this returns. The board goes on by itself.
    pub fn unplug(&self) -> Result<(), LinkError> {
        self.order(Order::Unplug)
    }

    /// Plugs the cable in again: a new terminal under the old path.
    pub fn replug(&self) -> Result<(), LinkError> {
        self.order(Order::Replug)
    }

    /// Plugs the cable in again after the board had lost its power: its time begins anew.
    pub fn replug_after_power_cycle(&self) -> Result<(), LinkError> {
        self.order(Order::ReplugAfterPowerCycle)
    }

    /// Stops the board and removes its path. Dropping it does the same.
    pub fn stop(mut self) {
        self.halt();
    }
}

impl Drop for PtyBoard {
    fn drop(&mut self) {
        self.halt();
    }
}

/// The folder with the stable path, and the terminal that it leads to while the cable is in.
struct Socket {
    path: PathBuf,
    pty: Option<PtyPair>,
    _folder: TempDir,
}

impl Socket {
    fn new() -> Result<Self, LinkError> {
        let folder = tempfile::Builder::new()
            .prefix("pedalproof-board-")
            .tempdir()
            .map_err(|error| failed("no folder for the simulated board", &error))?;
        let mut socket = Self {
            path: folder.path().join("port"),
            pty: None,
            _folder: folder,
        };
        socket.plug()?;
        Ok(socket)
    }

    fn plug(&mut self) -> Result<(), LinkError> {
        if self.pty.is_none() {
            let pty = PtyPair::new()
                .map_err(|error| failed("the system gives no pseudo-terminal", &error))?;
            std::os::unix::fs::symlink(pty.path(), &self.path).map_err(|error| {
                failed(&format!("{} cannot be made", self.path.shown()), &error)
            })?;
            self.pty = Some(pty);
        }
        Ok(())
    }

    fn unplug(&mut self) {
        // The path goes first, so that nobody opens a terminal that is another's by then.
        let _ = std::fs::remove_file(&self.path);
        self.pty = None;
    }
}

impl Drop for Socket {
    fn drop(&mut self) {
        self.unplug();
    }
}

struct PtyThread<L> {
    lines: PacedLines<L>,
    overflow: Overflow,
    socket: Socket,
    /// Whole lines on their way, and how many of their bytes are out.
    out: Vec<u8>,
    written: usize,
    listened_since: Option<Instant>,
    /// The port powers the board: its time begins with the first listener.
    powered: bool,
    progress: Arc<Progress>,
}

impl<L: LineSource> PtyThread<L> {
    fn run(&mut self, inbox: &Receiver<(Order, Sender<Result<(), LinkError>>)>) {
        let mut pause = Duration::ZERO;
        loop {
            let (order, answer) = match inbox.recv_timeout(pause) {
                Ok(received) => received,
                Err(RecvTimeoutError::Timeout) => {
                    pause = self.turn();
                    continue;
                }
                Err(RecvTimeoutError::Disconnected) => return,
            };
            let done = match order {
                Order::Stop | Order::Unplug => {
                    self.socket.unplug();
                    self.forget();
                    Ok(())
                }
                Order::ReplugAfterPowerCycle => {
                    self.lines.power_cycle();
                    self.socket.plug()
                }
                Order::Replug => self.socket.plug(),
            };
            // Whoever asked may be gone.
            let _ = answer.send(done);
            if order == Order::Stop {
                return;
            }
            pause = Duration::ZERO;
        }
    }

    /// Prints what is due; gives how long there is nothing to do.
    fn turn(&mut self) -> Duration {
        let Some(pty) = self.socket.pty.as_ref().filter(|pty| pty.has_listener()) else {
            self.listened_since = None;
            return self.print_to_nobody();
        };
        let now = Instant::now();
        let since = *self.listened_since.get_or_insert_with(|| {
            pty.discard_unread();
            now
        });
        if now.duration_since(since) < SETTLING {
            return self.print_to_nobody();
        }
        self.powered = true;
        if self.written == self.out.len() {
            self.forget();
            match self.lines.collect(now, CHUNK, &mut self.out) {
                Due::Lines => {}
                Due::In(wait) => return wait.clamp(BUNCH, ATTENTION),
                Due::Over => {
                    self.progress.finished.store(true, Ordering::Release);
                    return ATTENTION;
                }
            }
        }
        self.write()
    }

    /// Nobody listens: a board that goes by the clock prints all the same; one that goes by its reader waits.
    fn print_to_nobody(&mut self) -> Duration {
        self.forget();
        if self.powered && self.lines.is_timed() {
            // Piece by piece: one that is far behind still hears that it is to stop, and holds no more than a piece.
            self.lines.collect(Instant::now(), CHUNK, &mut self.out);
            let behind = self.out.len() >= CHUNK;
            self.forget();
            if behind {
                return Duration::ZERO;
            }
        }
        BUNCH
    }

    fn write(&mut self) -> Duration {
        let Some(pty) = &self.socket.pty else {
            return ATTENTION;
        };
        self.written += pty.write(&self.out[self.written..]);
        if self.written == self.out.len() {
            return Duration::ZERO;
        }
        match self.overflow {
            Overflow::Wait => pty.wait_for_room(ATTENTION),
            Overflow::DropLines => self.drop_lines(),
        }
        Duration::ZERO
    }

    /// Keeps the rest of a line that is out in part and drops the whole ones behind it.
    fn drop_lines(&mut self) {
        let between_lines = self.written == 0 || self.out[self.written - 1] == b'\n';
        let rest = &self.out[self.written..];
        let keep = if between_lines {
            0
        } else {
            memchr::memchr(b'\n', rest).map_or(rest.len(), |end| end + 1)
        };
        let lines = memchr::memchr_iter(b'\n', &rest[keep..]).count() as u64;
        self.progress.dropped.fetch_add(lines, Ordering::Relaxed);
        self.out.truncate(self.written + keep);
        if lines == 0
            && let Some(pty) = &self.socket.pty
        {
            pty.wait_for_room(BUNCH);
        }
    }

    fn forget(&mut self) {
        self.out.clear();
        self.written = 0;
    }
}

fn failed(what: &str, error: &dyn std::fmt::Display) -> LinkError {
    LinkError {
        what: format!("{what}: {error}"),
        next:
            "the simulated board can run in memory instead, or close some terminals and try again"
                .to_owned(),
    }
}
