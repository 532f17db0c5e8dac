//! The proof of a flashed board against its block: the run, the verdict.

mod state;
mod view;
mod watch;

pub use state::Prove;
