//! A hold under way: where it stands, as far as `holds` has seen.

/// A hold under way.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Hold {
    /// Since when the control has stood still.
    pub still_us: Option<u64>,
    /// What of the step was in before this hold; absent when none is under way.
    pub before: Option<f64>,
    /// Since when it has stood where it should not.
    pub wrong_us: Option<u64>,
    /// A place where it should not stand was taken as it is.
    pub accepted: Option<f64>,
    /// Where it stood in this step before.
    pub seen: Option<f64>,
}

impl Hold {
    /// What of the step was in before does not count any more.
    pub fn forget_before(&mut self) {
        self.before = None;
    }
}
