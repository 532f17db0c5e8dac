//! Whether another record than the newest may be the last test: one kept after it whose clock was wrong, and whose verdict is another.

use super::visits::{AHEAD, Visit, content};
use jiff::Timestamp;
use measure::judge::Verdict;

/// Which way a clock may have been wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clock {
    /// The record's date has not come yet: it is set aside.
    Ahead,
    /// So has the day when it was kept not: nothing can be told from it to be newer.
    AheadWhenKept,
    /// It was kept last, and says it is older than the newest.
    Behind,
}

impl Clock {
    /// For programs.
    pub fn word(self) -> &'static str {
        match self {
            Self::Ahead | Self::AheadWhenKept => "clock ahead",
            Self::Behind => "clock behind",
        }
    }
}

/// The record that leaves no verdict standing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Doubt {
    pub capture: Option<String>,
    /// What it says of its date.
    pub dated: Timestamp,
    pub verdict: Verdict,
    pub clock: Clock,
}

/// Of the records that count, the oldest first, and of those set aside for their date.
pub(super) fn doubt(visits: &[Visit], ahead: &[Visit], now: Timestamp) -> Option<Doubt> {
    let (newest, earlier) = visits.split_last()?;
    let of = |visit: &Visit, clock| {
        let assessment = &visit.record.assessment;
        let doubt = Doubt {
            capture: assessment.capture.file.clone(),
            dated: visit.when,
            verdict: assessment.verdict?,
            clock,
        };
        Some((visit.first_kept, doubt))
    };
    let kept_ahead = |visit: &Visit| visit.first_kept.duration_since(now) > AHEAD;
    let clock = |visit: &Visit| {
        if kept_ahead(visit) {
            Clock::AheadWhenKept
        } else {
            Clock::Ahead
        }
    };
    // The same recording with its date set right is no other test.
    let counts = |visit: &&Visit| visits.iter().any(|other| content(other) == content(visit));
    let ahead = ahead.iter().filter(|visit| !counts(visit));
    let ahead = ahead.filter_map(|visit| of(visit, clock(visit)));
    // A date that can be is believed where the day of keeping cannot.
    let behind = earlier.iter().filter(|visit| !kept_ahead(visit));
    let behind = behind.filter_map(|visit| of(visit, Clock::Behind));
    let after = ahead
        .chain(behind)
        .filter(|(kept, _)| *kept > newest.first_kept);
    let (by_kept, never): (Vec<_>, Vec<_>) =
        after.partition(|(_, doubt)| doubt.clock != Clock::AheadWhenKept);
    let last = by_kept.into_iter().max_by_key(|(kept, _)| *kept);
    let another = |doubt: &Doubt| Some(doubt.verdict) != newest.record.assessment.verdict;
    let all = last.into_iter().chain(never);
    all.map(|(_, doubt)| doubt).find(another)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Record, unit_history};
    use serde_json::json;

    const NOW: &str = "2026-06-01T00:00:00Z";

    /// A record without figures: when it says it was taken, when it was kept, what came of it, and of which recording it is.
    fn record((taken, kept, verdict, sum): (&str, &str, &str, &str)) -> Record {
        let midnight = |day: &str| format!("{day}T00:00:00Z");
        let text = json!({
            "format": "record/1", "kept": midnight(kept), "taken": midnight(taken), "program": "test",
            "board": { "name": "b", "bits": 10, "vref_mv": 5000.0, "rate_hz": 1000.0 },
            "assessment": {
                "format": "assessment/1", "verdict": verdict,
                "capture": { "file": format!("{sum}.csv"), "sha256": sum, "samples": 10, "duration_s": 1.0 },
                "unit": { "tag": "T1", "profile": "made" }, "channels": {}, "pairs": {}, "findings": [],
            },
        });
        Record::from_json(text.to_string().as_bytes()).unwrap()
    }

    fn doubted(records: &[(&str, &str, &str, &str)]) -> Option<(String, Clock)> {
        let records = records.iter().copied().map(record).collect();
        let doubt = unit_history("T1", records, NOW.parse().unwrap()).doubt?;
        Some((doubt.capture?, doubt.clock))
    }

    #[test]
    fn the_record_kept_last_counts_against_the_newest() {
        let good = ("2025-04-01", "2025-04-01", "pass", "a");
        let ahead = ("2036-01-01", "2025-05-01", "fail", "b");
        let behind = ("2020-01-01", "2025-05-01", "fail", "c");
        let told = |name: &str, clock| Some((format!("{name}.csv"), clock));
        assert_eq!(doubted(&[good, ahead]), told("b", Clock::Ahead));
        assert_eq!(doubted(&[good, behind]), told("c", Clock::Behind));
        // Measured again with a clock that is right.
        let again = ("2025-06-01", "2025-06-01", "pass", "d");
        assert_eq!(doubted(&[good, ahead, behind, again]), None);
        // The same verdict.
        let passed = ("2036-01-01", "2025-05-01", "pass", "e");
        assert_eq!(doubted(&[good, passed]), None);
        // Kept at one moment.
        let together = ("2020-01-01", "2025-04-01", "fail", "f");
        assert_eq!(doubted(&[good, together]), None);
    }

    #[test]
    fn the_same_recording_is_no_other_test() {
        let good = ("2025-04-01", "2025-04-01", "pass", "a");
        // Assessed again, by other limits.
        let old = ("2024-04-01", "2024-04-01", "pass", "b");
        let again = ("2024-04-01", "2025-05-01", "fail", "b");
        assert_eq!(doubted(&[old, good, again]), None);
        // With its date set right: it counts itself.
        let ahead = ("2036-01-01", "2025-05-01", "fail", "c");
        let right = ("2025-03-01", "2025-03-01", "fail", "c");
        assert_eq!(doubted(&[right, good, ahead]), None);
    }

    /// On a computer whose clock was ahead when it was kept, too: nothing kept since can be told to be newer.
    #[test]
    fn a_record_kept_ahead_leaves_a_doubt_until_it_is_taken_away() {
        let good = ("2025-04-01", "2025-04-01", "pass", "a");
        let ahead = ("2036-01-01", "2036-01-01", "fail", "b");
        let again = ("2026-05-01", "2026-05-01", "pass", "c");
        let told = Some(("b.csv".to_owned(), Clock::AheadWhenKept));
        assert_eq!(doubted(&[good, ahead]), told);
        assert_eq!(doubted(&[good, ahead, again]), told);
        // A date that can be, kept by such a clock.
        let kept = ("2025-03-01", "2036-01-01", "fail", "d");
        assert_eq!(doubted(&[good, kept]), None);
    }
}
