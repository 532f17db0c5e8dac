//! The real terminal: taken and given back, its keys, the system's signals.

use super::message::{Message, Pointed};
use crate::outlet::tell;
use crossterm::event::{self, Event, KeyEventKind, MouseButton, MouseEvent, MouseEventKind};
use crossterm::style::Print;
use crossterm::{cursor, execute, terminal};
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
#[cfg(unix)]
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use signal_hook::SigId;
#[cfg(unix)]
use signal_hook::consts::{SIGCONT, SIGHUP, SIGTSTP};
use signal_hook::consts::{SIGINT, SIGTERM};
use std::io::{self, IsTerminal, Stdout};
use std::panic::{self, PanicHookInfo};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::SyncSender;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

/// How long the key thread waits before it looks whether it should end.
const KEY_WAIT: Duration = Duration::from_millis(100);

/// Whether the mouse is the screen's, or the terminal's own (to select text with).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Mouse {
    #[default]
    Terminal,
    Screen,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(not(unix), allow(dead_code))] // deferred there is no job control
pub enum SystemRequest {
    Terminate,
    /// To stop as job control does.
    Suspend,
    /// To draw everything again.
    Redraw,
}

/// The terminal apart from drawing: what the system asks, and stopping.
pub trait TerminalControl {
    /// What the system asks for since the last call.
    fn request(&mut self) -> Option<SystemRequest>;

    /// Whether the other end of the terminal is closed: nobody will see or press anything any more.
    fn has_gone(&mut self) -> bool {
        false
    }

    /// Gives the terminal back, stops as job control does, and takes it again when told to go on.
    fn suspend(&mut self) -> std::io::Result<()>;

    /// Takes the terminal again after a stop that nobody announced.
    fn retake(&mut self) -> std::io::Result<()>;
}

/// Rings the bell. One that cannot be rung is let go.
pub fn ring(times: u8) {
    let bells = "\x07".repeat(usize::from(times));
    let _ = execute!(io::stdout(), Print(bells));
}

type Hook = Box<dyn Fn(&PanicHookInfo<'_>) + Sync + Send>;

/// The terminal while it is ours. Given back when dropped, whatever the way out.
pub struct TerminalSession {
    flags: Flags,
    signals: Vec<SigId>,
    hook: Arc<Hook>,
    deferred: Arc<Mutex<Vec<String>>>,
    keys_end: Arc<AtomicBool>,
    mouse: Mouse,
}

#[derive(Default)]
struct Flags {
    terminate: Arc<AtomicBool>,
    #[cfg(unix)]
    stop: Arc<AtomicBool>,
    #[cfg(unix)]
    went_on: Arc<AtomicBool>,
}

/// Whether a screen can be shown: both ends are a terminal.
pub fn is_there() -> bool {
    io::stdout().is_terminal() && io::stdin().is_terminal()
}

impl TerminalSession {
    /// Takes the terminal: raw, alternate screen, no cursor. Keys go to `post` from now on.
    ///
    /// # Errors
    /// When the terminal refuses.
    pub fn take(post: SyncSender<Message>, mouse: Mouse) -> io::Result<Self> {
        let flags = Flags::default();
        let signals = watch(&flags)?;
        let deferred = Arc::new(Mutex::new(Vec::new()));
        let session = Self {
            flags,
            signals,
            hook: hook(Arc::clone(&deferred)),
            deferred,
            keys_end: Arc::new(AtomicBool::new(false)),
            mouse,
        };
        enter(mouse)?;
        let end = Arc::clone(&session.keys_end);
        thread::Builder::new()
            .name("keys".to_owned())
            .spawn(move || keys(&post, &end))?;
        Ok(session)
    }

    /// A drawing surface on it.
    ///
    /// # Errors
    /// When its size cannot be asked.
    pub fn terminal() -> io::Result<Terminal<CrosstermBackend<Stdout>>> {
        Terminal::new(CrosstermBackend::new(io::stdout()))
    }
}

impl TerminalControl for TerminalSession {
    fn request(&mut self) -> Option<SystemRequest> {
        if self.flags.terminate.swap(false, Ordering::Relaxed) {
            return Some(SystemRequest::Terminate);
        }
        #[cfg(unix)]
        {
            if self.flags.stop.swap(false, Ordering::Relaxed) {
                return Some(SystemRequest::Suspend);
            }
            if self.flags.went_on.swap(false, Ordering::Relaxed) {
                return Some(SystemRequest::Redraw);
            }
        }
        None
    }

    // SIGHUP says so, too, but only to who belongs to the terminal.
    #[cfg(unix)]
    fn has_gone(&mut self) -> bool {
        let keys = io::stdin();
        let mut ends = [PollFd::new(&keys, PollFlags::empty())];
        let asked = poll(&mut ends, Some(&Timespec::default()));
        asked.is_ok() && ends[0].revents().contains(PollFlags::HUP)
    }

    #[cfg(unix)]
    fn suspend(&mut self) -> io::Result<()> {
        give_back();
        signal_hook::low_level::emulate_default_handler(SIGTSTP)?;
        self.flags.went_on.store(false, Ordering::Relaxed);
        enter(self.mouse)
    }

    /// There is no job control here.
    #[cfg(not(unix))]
    fn suspend(&mut self) -> io::Result<()> {
        Ok(())
    }

    fn retake(&mut self) -> io::Result<()> {
        enter(self.mouse)
    }
}

impl Drop for TerminalSession {
    fn drop(&mut self) {
        self.keys_end.store(true, Ordering::Relaxed);
        give_back();
        for id in self.signals.drain(..) {
            signal_hook::low_level::unregister(id);
        }
        if !thread::panicking() {
            let before = Arc::clone(&self.hook);
            panic::set_hook(Box::new(move |info| before(info)));
        }
        let messages = self.deferred.lock().unwrap_or_else(PoisonError::into_inner);
        for words in messages.iter() {
            tell!("{words}");
        }
    }
}

fn enter(mouse: Mouse) -> io::Result<()> {
    terminal::enable_raw_mode()?;
    execute!(io::stdout(), terminal::EnterAlternateScreen, cursor::Hide)?;
    match mouse {
        Mouse::Terminal => Ok(()),
        Mouse::Screen => execute!(io::stdout(), event::EnableMouseCapture),
    }
}

/// Gives the terminal back as it was. Nobody is there to be told when that fails.
fn give_back() {
    let _ = execute!(
        io::stdout(),
        event::DisableMouseCapture,
        cursor::Show,
        terminal::LeaveAlternateScreen
    );
    let _ = terminal::disable_raw_mode();
}

/// Before a panic of this thread is told, the terminal is given back; what other threads say is kept for later, so
/// that it does not land in the middle of the screen.
fn hook(deferred: Arc<Mutex<Vec<String>>>) -> Arc<Hook> {
    let before = Arc::new(panic::take_hook());
    let (screen, then) = (thread::current().id(), Arc::clone(&before));
    panic::set_hook(Box::new(move |info| {
        if thread::current().id() == screen {
            give_back();
            then(info);
        } else {
            let mut messages = deferred.lock().unwrap_or_else(PoisonError::into_inner);
            messages.push(info.to_string());
        }
    }));
    before
}

fn watch(flags: &Flags) -> io::Result<Vec<SigId>> {
    let mut ids = Vec::new();
    let mut to = |signal, flag: &Arc<AtomicBool>| -> io::Result<()> {
        ids.push(signal_hook::flag::register(signal, Arc::clone(flag))?);
        Ok(())
    };
    to(SIGTERM, &flags.terminate)?;
    to(SIGINT, &flags.terminate)?;
    #[cfg(unix)]
    {
        to(SIGHUP, &flags.terminate)?;
        to(SIGTSTP, &flags.stop)?;
        to(SIGCONT, &flags.went_on)?;
    }
    Ok(ids)
}

/// Reads keys until told to end or nobody listens.
fn keys(post: &SyncSender<Message>, end: &AtomicBool) {
    while !end.load(Ordering::Relaxed) {
        let message = match event::poll(KEY_WAIT) {
            Ok(false) => continue,
            Ok(true) => match event::read() {
                Ok(Event::Key(key)) if key.kind != KeyEventKind::Release => Message::Key(key),
                Ok(Event::Resize(..)) => Message::Resized,
                Ok(Event::Mouse(mouse)) => match pointed(mouse) {
                    Some(pointed) => Message::Mouse(pointed),
                    None => continue,
                },
                Ok(_) => continue,
                Err(_) => return,
            },
            Err(_) => return, // the terminal has gone: SIGHUP says so
        };
        if post.send(message).is_err() {
            return;
        }
    }
}

/// A click or a turn of the wheel; everything else the mouse does is nothing to the screen.
fn pointed(mouse: MouseEvent) -> Option<Pointed> {
    let wheel = match mouse.kind {
        MouseEventKind::Down(MouseButton::Left) => None,
        MouseEventKind::ScrollUp => Some(true),
        MouseEventKind::ScrollDown => Some(false),
        _ => return None,
    };
    Some(Pointed {
        at: (mouse.column, mouse.row),
        size: terminal::size().ok()?,
        wheel,
    })
}
