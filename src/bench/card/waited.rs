//! Since when a card has waited, for what `patience` looks at.

/// Who is at the control, as far as a card has to know.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Presence {
    /// Somebody who can be asked, and may be away for a minute.
    #[default]
    Somebody,
    /// Somebody who sees what is said and cannot answer.
    Unheard,
    /// It is a recording: there is all the time there is.
    Past,
}

#[derive(Debug, Clone, Default)]
pub(super) struct Patience {
    pub presence: Presence,
    /// Since when it goes on without having been asked.
    pub since_us: Option<u64>,
    pub asked_us: Option<u64>,
    /// Whether it was asked because nothing moved: a movement answers.
    pub asked_stuck: bool,
    /// What was done when it was asked: the step and how much of it.
    pub done_then: Option<(usize, f64)>,
    /// Since when nothing has moved, or stood still, that should.
    pub stuck_us: Option<u64>,
    /// What is said of that.
    pub words: Option<String>,
    pub looked_us: Option<u64>,
}

impl Patience {
    /// Begins to wait anew.
    pub fn renew(&mut self) {
        let presence = self.presence;
        *self = Self {
            presence,
            ..Self::default()
        };
    }
}
