//! A control of a machine as it was measured.

use crate::capture::Capture;
use crate::machine::SeenControl;
use crate::outlet::line;
use crate::profile::Profile;
use crate::record::Assessment;
use std::path::Path;

/// A control with what its newest recording gave.
pub(super) struct Judged {
    pub seen: SeenControl,
    pub profile: Option<Profile>,
    /// The recording with its file's name and its assessment.
    pub measured: Option<(String, Capture, Assessment)>,
}

/// A text from a file as a part of a line.
pub(super) fn shown(text: &str) -> String {
    line(text).into_owned()
}

pub(super) fn is_csv(path: &Path) -> bool {
    path.extension()
        .is_some_and(|end| end.eq_ignore_ascii_case("csv"))
}
