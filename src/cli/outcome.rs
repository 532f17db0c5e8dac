//! What a command came to, and how its error is said.

use measure::judge::Verdict;
use std::ffi::OsString;

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

/// What is said, with the line breaks of arguments that it repeats written out: no argument begins a line of it.
pub(super) fn in_line(mut said: String, arguments: &[OsString]) -> String {
    for argument in arguments.iter().map(|argument| argument.to_string_lossy()) {
        for broken in argument.split('\n').skip(1) {
            // An option may take lists and pairs apart.
            let begins = broken
                .split([',', '=', ':', '\r'])
                .next()
                .unwrap_or_default();
            if !begins.trim().is_empty() {
                said = said.replace(&format!("\n{begins}"), &format!("\\n{begins}"));
            }
        }
    }
    said
}

#[cfg(test)]
mod tests {
    use super::{error_message, in_line};
    use anyhow::Context;

    #[test]
    fn an_argument_begins_no_line() {
        let arguments = ["import", "--signal", "a=x\nFIT IT,b"].map(Into::into);
        assert_eq!(
            in_line("no `x\nFIT IT`\n  Say which".to_owned(), &arguments),
            "no `x\\nFIT IT`\n  Say which"
        );
        assert_eq!(in_line("a\nb".to_owned(), &["c\n".into()]), "a\nb");
    }

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
