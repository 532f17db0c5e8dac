//! Many captures at once: a line each, as wide as names and words need.

use super::findings::decisive;
use crate::record::Assessment;
use crate::report::document::{Block, Document, Table, columns};
use measure::figure::numbers::{limit, reading};
use measure::judge::{Finding, Verdict};

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BatchLine {
    capture: String,
    unit: String,
    verdict: Option<Verdict>,
    decided: String,
}

impl BatchLine {
    /// The line of a capture that was called `capture` when it was asked for.
    pub fn of(capture: &str, assessment: &Assessment) -> Self {
        Self {
            capture: capture.to_owned(),
            unit: assessment
                .unit
                .tag
                .clone()
                .unwrap_or_else(|| "-".to_owned()),
            verdict: assessment.verdict,
            decided: decided(assessment),
        }
    }
}

fn decided(assessment: &Assessment) -> String {
    match assessment.verdict {
        Some(Verdict::Pass) => format!("all {} limits kept", assessment.findings.len()),
        Some(Verdict::Fail | Verdict::Undecided) => first(assessment, &decisive(assessment)),
        None => "no limits to check it by".to_owned(),
    }
}

/// The first finding, and how many more there are.
fn first(assessment: &Assessment, findings: &[&Finding]) -> String {
    let Some(finding) = findings.first() else {
        return String::new();
    };
    let figures = assessment.figures(&finding.channel);
    let value = figures
        .and_then(|figures| figures.get(finding.figure))
        .map_or_else(|| "not measured".to_owned(), |figure| reading(figure).value);
    let more = match findings.len() {
        1 => String::new(),
        n => format!(", and {} more", n - 1),
    };
    let allowed = limit(finding.min, finding.max);
    format!(
        "{} {}: {value}, allowed {allowed}{more}",
        finding.channel,
        finding.figure.facts().label
    )
}

/// The table, and under it how many came out which way; `bad` captures could not be assessed.
pub fn batch(lines: &[BatchLine], bad: usize) -> Document<'static> {
    let mut intro = Vec::new();
    if !lines.is_empty() {
        intro.push(Block::Table(table(lines)));
    }
    let count =
        |wanted: Option<Verdict>| lines.iter().filter(|line| line.verdict == wanted).count();
    let mut counts: Vec<String> = [
        (count(Some(Verdict::Pass)), "pass"),
        (count(Some(Verdict::Fail)), "fail"),
        (count(Some(Verdict::Undecided)), "undecided"),
        (count(None), "without a verdict"),
        (bad, "could not be assessed"),
    ]
    .into_iter()
    .filter(|(n, _)| *n > 0)
    .map(|(n, what)| format!("{n} {what}"))
    .collect();
    if counts.is_empty() {
        counts.push("nothing to assess".to_owned());
    }
    intro.push(Block::line(counts.join(", ")));
    Document {
        intro,
        ..Document::default()
    }
}

fn table(lines: &[BatchLine]) -> Table {
    let row = |line: &BatchLine| {
        vec![
            line.capture.clone().into(),
            line.unit.clone().into(),
            verdict(line.verdict).into(),
            line.decided.clone().into(),
        ]
    };
    Table {
        columns: columns(["recording", "part", "verdict", "what decided it"]),
        rows: lines.iter().map(row).collect(),
        ..Table::default()
    }
}

fn verdict(verdict: Option<Verdict>) -> String {
    match verdict {
        Some(Verdict::Pass) => "pass".to_owned(),
        Some(verdict) => verdict.to_string().to_uppercase(),
        None => "-".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(capture: &str, verdict: Option<Verdict>, decided: &str) -> BatchLine {
        BatchLine {
            capture: capture.to_owned(),
            unit: "T1".to_owned(),
            verdict,
            decided: decided.to_owned(),
        }
    }

    #[test]
    fn a_line_each_and_the_sum() {
        let lines = [
            line("a.csv", Some(Verdict::Pass), "all 7 limits kept"),
            line(
                "folder/long-name.csv",
                Some(Verdict::Fail),
                "lever worn spots: 2, allowed <= 0, and 3 more of them",
            ),
            line("c.csv", None, "no limits to check it by"),
        ];
        let want = [
            "recording             part  verdict  what decided it",
            "a.csv                 T1    pass     all 7 limits kept",
            "folder/long-name.csv  T1    FAIL     lever worn spots: 2, allowed <= 0, and 3 more of them",
            "c.csv                 T1    -        no limits to check it by",
            "1 pass, 1 fail, 1 without a verdict, 1 could not be assessed",
        ];
        assert_eq!(batch(&lines, 1).text().lines().collect::<Vec<_>>(), want);
        assert_eq!(batch(&[], 0).text(), "nothing to assess\n");
    }
}
