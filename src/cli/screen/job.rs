//! Work that the screen has done elsewhere.

use crate::tui::Job;

/// A job whose errors carry their causes.
pub(super) fn job<T: 'static>(work: impl FnOnce() -> anyhow::Result<T> + Send + 'static) -> Job<T> {
    Box::new(move || work().map_err(|e| format!("{e:#}")))
}
