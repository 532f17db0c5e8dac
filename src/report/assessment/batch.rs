//! Many captures at once: first how many fit and which do not, then each with its headline.

use super::overview::headline;
use crate::record::Assessment;
use crate::report::document::{Block, Document, Table, columns};
use measure::judge::Verdict;

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BatchLine {
    capture: String,
    unit: Option<String>,
    verdict: Option<Verdict>,
    headline: String,
}

impl BatchLine {
    /// The line of a capture that was called `capture` when it was asked for.
    pub fn of(capture: &str, assessment: &Assessment) -> Self {
        Self {
            capture: capture.to_owned(),
            unit: assessment.unit.tag.clone(),
            verdict: assessment.verdict,
            headline: headline(assessment),
        }
    }

    /// The part, or the recording of a part without a tag.
    fn name(&self) -> &str {
        self.unit.as_deref().unwrap_or(&self.capture)
    }
}

/// The sum, and below it each recording; `bad` captures could not be assessed, `place` is the folder that they lie in.
pub fn batch(lines: &[BatchLine], bad: usize, place: Option<&str>) -> Document<'static> {
    let mut intro = vec![Block::line(sum(lines, bad))];
    if !lines.is_empty() {
        let place = place.map(|place| Block::line(format!("in {place}")));
        intro.extend(place);
        intro.push(Block::Table(table(lines)));
    }
    Document {
        intro,
        ..Document::default()
    }
}

/// `10 recordings: 6 fit. Do not fit: T3-lever, T4-dial. Not decided: T2-pedal.`
fn sum(lines: &[BatchLine], bad: usize) -> String {
    let named = |wanted: Option<Verdict>| -> Vec<&str> {
        let lines = lines.iter().filter(|line| line.verdict == wanted);
        let mut names: Vec<&str> = lines.map(BatchLine::name).collect();
        names.dedup();
        names
    };
    let count = |wanted| lines.iter().filter(|line| line.verdict == wanted).count();
    let all = lines.len() + bad;
    let recordings = match all {
        0 => return "Nothing to assess.".to_owned(),
        1 => "1 recording".to_owned(),
        n => format!("{n} recordings"),
    };
    let fit = match count(Some(Verdict::Pass)) {
        0 => "none fits".to_owned(),
        n if n == all => "all fit".to_owned(),
        1 => "1 fits".to_owned(),
        n => format!("{n} fit"),
    };
    let mut sentences = vec![format!("{recordings}: {fit}.")];
    for (words, verdict) in [
        ("Failed", Some(Verdict::Fail)),
        ("Not decided", Some(Verdict::Undecided)),
        ("Measured only", None),
    ] {
        let (n, names) = (count(verdict), named(verdict));
        if n > 0 {
            sentences.push(format!("{words} ({n}): {}.", names.join(", ")));
        }
    }
    if bad > 0 {
        sentences.push(format!("{bad} could not be assessed."));
    }
    sentences.join(" ")
}

fn table(lines: &[BatchLine]) -> Table {
    let row = |line: &BatchLine| {
        vec![
            line.capture.clone().into(),
            line.unit.as_deref().unwrap_or("-").into(),
            line.headline.clone().into(),
        ]
    };
    Table {
        columns: columns(["recording", "part", "what to do"]),
        rows: lines.iter().map(row).collect(),
        wrapped: Some(2),
        ..Table::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(capture: &str, unit: &str, verdict: Option<Verdict>, headline: &str) -> BatchLine {
        BatchLine {
            capture: capture.to_owned(),
            unit: (!unit.is_empty()).then(|| unit.to_owned()),
            verdict,
            headline: headline.to_owned(),
        }
    }

    #[test]
    fn the_sum_and_a_headline_each() {
        let lines = [
            line(
                "a.csv",
                "T1",
                Some(Verdict::Pass),
                "FIT IT: all 7 checks passed",
            ),
            line(
                "folder/long-name.csv",
                "T3",
                Some(Verdict::Fail),
                "DO NOT FIT: the track is worn at 29-39 % of travel",
            ),
            line(
                "c.csv",
                "",
                None,
                "MEASURED ONLY: no profile to check it by",
            ),
        ];
        let want = [
            "4 recordings: 1 fits. Failed (1): T3. Measured only (1): c.csv. 1 could not be",
            "  assessed.",
            "recording             part  what to do",
            "a.csv                 T1    FIT IT: all 7 checks passed",
            "folder/long-name.csv  T3    DO NOT FIT: the track is worn at 29-39 % of travel",
            "c.csv                 -     MEASURED ONLY: no profile to check it by",
        ];
        let text = batch(&lines, 1, None).text();
        assert_eq!(text.lines().collect::<Vec<_>>(), want, "{text}");
        assert_eq!(batch(&[], 0, None).text().trim_end(), "Nothing to assess.");
        let good = [
            line("a.csv", "T1", Some(Verdict::Pass), "FIT IT"),
            line("b.csv", "T2", Some(Verdict::Pass), "FIT IT"),
        ];
        assert!(
            batch(&good, 0, Some("bench"))
                .text()
                .starts_with("2 recordings: all fit.\n")
        );
    }
}
