//! What a file says of itself, in headings and lines for a person: as much as fits there.

use std::borrow::Cow;
use std::collections::BTreeMap;

/// Characters of a tag in a heading: what fits a sticker.
const TAG: usize = 40;
/// So many causes are named, the first of them.
const CAUSES: usize = 6;

/// A part's tag where a heading names it.
pub(in crate::report) fn tag(of: &str) -> Cow<'_, str> {
    match of.char_indices().nth(TAG) {
        Some((end, _)) => Cow::Owned(format!("{}...", &of[..end])),
        None => Cow::Borrowed(of),
    }
}

/// Lines left out by cause, each as `words` has it, and of how many causes no more is said.
pub(in crate::report) fn causes(
    rejected: &BTreeMap<String, u64>,
    words: impl Fn(u64, &str) -> String,
) -> Vec<String> {
    let named = rejected.iter().take(CAUSES);
    let mut said: Vec<String> = named.map(|(cause, n)| words(*n, &tag(cause))).collect();
    if rejected.len() > CAUSES {
        let n = rejected.len() - CAUSES;
        said.push(format!(
            "and {n} more cause{}",
            if n == 1 { "" } else { "s" }
        ));
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tag_and_a_list_fit_their_line() {
        assert_eq!(tag("T1-pedal"), "T1-pedal");
        let long = format!("{} FIT IT: all 6 checks passed", "A".repeat(80));
        assert_eq!(tag(&long), format!("{}...", "A".repeat(40)));
        let many = (0..100_000).map(|n| (format!("cause {n:06}"), 1)).collect();
        let said = causes(&many, |n, cause| format!("{n} {cause}"));
        assert_eq!(said.len(), 7);
        assert_eq!(
            (said[0].as_str(), said[6].as_str()),
            ("1 cause 000000", "and 99994 more causes")
        );
    }
}
