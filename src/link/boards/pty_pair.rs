//! One pseudo-terminal: the system calls, and nothing about boards.

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fd::OwnedFd;
use rustix::fs::{Mode, OFlags};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, QueueSelector, tcflush, tcgetattr, tcsetattr};
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// The master's side of a raw pseudo-terminal. Dropping it hangs up whoever has the slave open.
pub(super) struct PtyPair {
    master: OwnedFd,
    path: PathBuf,
    /// Where a closed slave would forget that it is raw, one is kept open; listeners are then not told apart.
    _slave: Option<OwnedFd>,
}

impl PtyPair {
    pub fn new() -> io::Result<Self> {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
        rustix::io::ioctl_fionbio(&master, true)?;
        rustix::io::fcntl_setfd(&master, rustix::io::FdFlags::CLOEXEC)?;
        grantpt(&master)?;
        unlockpt(&master)?;
        let name = ptsname(&master, Vec::new())?;
        let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
        let slave = rustix::fs::open(&name, flags, Mode::empty())?;
        let mut raw = tcgetattr(&slave)?;
        raw.make_raw();
        tcsetattr(&slave, OptionalActions::Now, &raw)?;
        Ok(Self {
            master,
            path: PathBuf::from(name.to_string_lossy().into_owned()),
            _slave: (!cfg!(target_os = "linux")).then_some(slave),
        })
    }

    /// The slave's path; another terminal may have it after this one is dropped.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether somebody has the slave open.
    pub fn has_listener(&self) -> bool {
        let mut fds = [PollFd::new(&self.master, PollFlags::OUT)];
        match poll(&mut fds, Some(&timespec(Duration::ZERO))) {
            Ok(_) => !fds[0].revents().contains(PollFlags::HUP),
            Err(_) => false,
        }
    }

    /// Writes what there is room for, without waiting; gives how many bytes.
    pub fn write(&self, bytes: &[u8]) -> usize {
        // Full, interrupted or just closed: the caller sees that nothing went out and looks again.
        rustix::io::write(&self.master, bytes).unwrap_or(0)
    }

    pub fn wait_for_room(&self, at_most: Duration) {
        let mut fds = [PollFd::new(&self.master, PollFlags::OUT)];
        // Interrupted or timed out: the caller looks again.
        let _ = poll(&mut fds, Some(&timespec(at_most)));
    }

    /// Throws away what a listener before this one did not read.
    pub fn discard_unread(&self) {
        // The worst case is a few stale lines.
        let _ = tcflush(&self.master, QueueSelector::OFlush);
    }
}

fn timespec(duration: Duration) -> Timespec {
    Timespec::try_from(duration).unwrap_or(Timespec {
        tv_sec: 1,
        tv_nsec: 0,
    })
}
