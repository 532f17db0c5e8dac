//! Things that print lines as a board does: simulated, or a recording gone through again.

mod board_lines;
mod lines;
mod memory;
#[cfg(unix)]
mod pty;
#[cfg(unix)]
mod pty_pair;
mod replay;

pub use board_lines::{AskedOfHand, BoardLines};
pub use lines::{LineSource, Pace};
pub use memory::MemoryBoard;
#[cfg(unix)]
pub use pty::{Overflow, PtyBoard};
pub use replay::{RecordedLines, ReplaySource};
