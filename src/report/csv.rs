//! Tables for spreadsheets and other programs: RFC 4180, a number as it is, a missing one as an empty cell.

use super::history::UnitLine;
use crate::record::{Assessment, UnitHistory};
use measure::judge::Verdict;
use std::fmt::Write as _;

/// The columns of [`assessment_csv`].
pub const ASSESSMENT_COLUMNS: &str =
    "capture,tag,profile,verdict,channel,figure,value,unit,u,low,high,n,min,max,outcome,reason\r\n";

/// The columns of [`units_csv`].
const UNITS_COLUMNS: &str = "tag,records,unreadable,course,taken,verdict,profile\r\n";

/// The columns of [`history_csv`].
const HISTORY_COLUMNS: &str =
    "tag,channel,figure,unit,taken,value,u,low,high,n,min,max,profile,verdict\r\n";

/// A row for every figure of a capture that was called `capture` when it was asked for, in the order in which figures are shown; those
/// that it does not support without a value.
pub fn assessment_csv(capture: &str, assessment: &Assessment) -> String {
    let mut out = String::new();
    for (channel, figures) in assessment.parts() {
        for (name, figure) in figures.iter() {
            let finding = assessment.finding(channel, name);
            let mut row = Row::new(&mut out);
            row.text(Some(capture))
                .text(assessment.unit.tag.as_deref())
                .text(assessment.unit.profile.as_deref())
                .verdict(assessment.verdict)
                .text(Some(channel))
                .text(Some(name.word()))
                .number(figure.map(|figure| figure.value))
                .text(Some(name.unit().word()))
                .number(figure.and_then(|figure| figure.u))
                .number(figure.and_then(|figure| figure.low))
                .number(figure.and_then(|figure| figure.high))
                .count(figure.map(|figure| figure.n))
                .number(finding.and_then(|finding| finding.min))
                .number(finding.and_then(|finding| finding.max))
                .text(finding.map(|of| of.outcome.to_string()).as_deref())
                .text(finding.map(|finding| &finding.reason[..]));
            row.end();
        }
    }
    out
}

/// A row for every unit.
pub fn units_csv(units: &[UnitLine]) -> String {
    let mut out = UNITS_COLUMNS.to_owned();
    for unit in units {
        let newest = unit.newest.as_ref();
        let mut row = Row::new(&mut out);
        row.text(Some(&unit.tag))
            .count(Some(unit.records as u64))
            .count(Some(unit.unreadable as u64))
            .text(Some(unit.course.word()))
            .text(newest.map(|entry| entry.when.to_string()).as_deref())
            .verdict(unit.verdict())
            .text(newest.and_then(|entry| entry.profile.as_deref()));
        row.end();
    }
    out
}

/// A row for every value of every figure of a unit, the oldest first.
pub fn history_csv(of: &UnitHistory) -> String {
    let mut out = HISTORY_COLUMNS.to_owned();
    for series in &of.series {
        for point in &series.points {
            let (entry, figure) = (&of.entries[point.entry], &point.figure);
            let mut row = Row::new(&mut out);
            row.text(Some(&of.tag))
                .text(Some(&series.channel))
                .text(Some(series.figure.word()))
                .text(Some(series.figure.unit().word()))
                .text(Some(&entry.when.to_string()))
                .number(Some(figure.value))
                .number(figure.u)
                .number(figure.low)
                .number(figure.high)
                .count(Some(figure.n))
                .number(series.min)
                .number(series.max)
                .text(entry.profile.as_deref())
                .verdict(entry.verdict);
            row.end();
        }
    }
    out
}

/// One row, cell by cell.
struct Row<'a> {
    out: &'a mut String,
    begun: bool,
}

impl<'a> Row<'a> {
    fn new(out: &'a mut String) -> Self {
        Self { out, begun: false }
    }

    fn next(&mut self) {
        if self.begun {
            self.out.push(',');
        }
        self.begun = true;
    }

    /// A text in quotes where RFC 4180 asks for them. What a spreadsheet would take for a formula gets an apostrophe ahead: a tag from
    /// elsewhere is never run.
    fn text(&mut self, text: Option<&str>) -> &mut Self {
        self.next();
        let text = text.unwrap_or_default();
        let formula = text.starts_with(['=', '+', '-', '@']);
        let ahead = if formula { "'" } else { "" };
        if text.contains([',', '"', '\r', '\n']) {
            let _ = write!(self.out, "\"{ahead}{}\"", text.replace('"', "\"\""));
        } else {
            let _ = write!(self.out, "{ahead}{text}");
        }
        self
    }

    fn number(&mut self, number: Option<f64>) -> &mut Self {
        self.next();
        if let Some(number) = number {
            let _ = write!(self.out, "{number}");
        }
        self
    }

    fn count(&mut self, count: Option<u64>) -> &mut Self {
        self.next();
        if let Some(count) = count {
            let _ = write!(self.out, "{count}");
        }
        self
    }

    fn verdict(&mut self, verdict: Option<Verdict>) -> &mut Self {
        self.text(verdict.map(|verdict| verdict.to_string()).as_deref())
    }

    fn end(self) {
        self.out.push_str("\r\n");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand, after RFC 4180, 2.5 to 2.7.
    #[test]
    fn cells_are_quoted_and_no_formula_gets_in() {
        let mut out = String::new();
        let mut row = Row::new(&mut out);
        row.text(Some("T1, the \"old\" one"))
            .text(None)
            .text(Some("=cmd()"))
            .text(Some("-3 V, cold"))
            .number(Some(-0.25))
            .number(None)
            .count(Some(7));
        row.end();
        assert_eq!(
            out,
            "\"T1, the \"\"old\"\" one\",,'=cmd(),\"'-3 V, cold\",-0.25,,7\r\n"
        );
    }
}
