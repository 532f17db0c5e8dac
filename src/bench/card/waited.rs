//! Since when a card has waited, for what `patience` looks at.

#[derive(Debug, Clone, Default)]
pub(super) struct Patience {
    /// Since when it goes on without having been asked.
    pub since_us: Option<u64>,
    pub asked_us: Option<u64>,
    /// What was done when it was asked: the step and how much of it.
    pub done_then: Option<(usize, f64)>,
    /// Since when nothing has moved, or stood still, that should.
    pub stuck_us: Option<u64>,
    /// What is said of that.
    pub words: Option<String>,
    pub looked_us: Option<u64>,
}
