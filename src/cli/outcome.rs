//! What a command came to, and how its error is said.

use measure::judge::Verdict;

/// What a command came to, the worst last; the exit code is part of the contract (DESIGN 4.3).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Outcome {
    /// Pass, or done: 0.
    Good,
    /// Undecided: 3.
    Undecided,
    /// Fail: 1.
    Fail,
}

impl From<Option<Verdict>> for Outcome {
    fn from(verdict: Option<Verdict>) -> Self {
        match verdict {
            None | Some(Verdict::Pass) => Self::Good,
            Some(Verdict::Fail) => Self::Fail,
            Some(Verdict::Undecided) => Self::Undecided,
        }
    }
}

/// An error with its causes, each once: many an error names its cause itself.
pub(super) fn error_message(error: &anyhow::Error) -> String {
    error.chain().fold(String::new(), |message, cause| {
        let cause = cause.to_string();
        match message {
            message if message.is_empty() => cause,
            message if message.contains(&cause) => message,
            message => format!("{message}: {cause}"),
        }
    })
}

#[cfg(test)]
mod tests {
    use super::error_message;
    use anyhow::Context;

    #[test]
    fn a_cause_is_said_once() {
        #[derive(Debug, thiserror::Error)]
        #[error("cannot read it: {source}")]
        struct Said {
            source: std::fmt::Error,
        }
        let said = Said {
            source: std::fmt::Error,
        };
        let error = anyhow::Error::from(said).context("first");
        let cause = std::fmt::Error.to_string();
        assert_eq!(
            error_message(&error),
            format!("first: cannot read it: {cause}")
        );
        let error = Err::<(), _>(std::fmt::Error).context("first").unwrap_err();
        assert_eq!(error_message(&error), format!("first: {cause}"));
    }
}
