//! One figure explained: what it is, how it is computed, where that comes from, and what a capture made of it.
//!
//! Belongs here: words about one figure. ASCII, 80 columns. Does not belong here: the catalogue's own words (`figure`).

use super::figures_text::{steps, unit};
use super::page::Page;
use crate::record::Assessment;
use measure::figure::numbers::{DASH, limit, reading};
use measure::figure::{Figure, FigureName, Scope};
use measure::judge::Finding;
use measure::units::Step;
use std::fmt::Write as _;

/// A capture to explain a figure with.
#[derive(Debug, Clone, Copy)]
pub struct Seen<'a> {
    /// What the capture showed.
    pub assessment: &'a Assessment,
    /// The steps that are in it.
    pub steps: &'a [Step],
}

/// The whole explanation, ending in a newline; with a capture, also what this capture used or lacks.
#[must_use]
pub fn explain(name: FigureName, seen: Option<Seen<'_>>) -> String {
    let mut page = Page::default();
    page.line(name.word());
    page.words(name.definition());
    page.gap();
    let unit = match (name.unit(), name.scope()) {
        ("1", _) => "none, a plain number",
        (unit, _) => unit,
    };
    entry(&mut page, "unit", unit);
    entry(
        &mut page,
        "belongs to",
        match name.scope() {
            Scope::Channel => "one channel",
            Scope::Pair => "two tracks of one control, a and b",
            Scope::Stream => "the stream that the recording came through",
        },
    );
    entry(&mut page, "formula", name.formula());
    let supplied = match name.steps() {
        [] => "every step".to_owned(),
        _ => steps(name).join(", "),
    };
    entry(&mut page, "from steps", &supplied);
    entry(&mut page, "needs", name.needs());
    entry(&mut page, "source", name.source());
    if let Some(seen) = seen {
        page.gap();
        let file = seen.assessment.capture.file.as_deref();
        page.line(&format!("In {}", file.unwrap_or("this capture")));
        used(&mut page, name, seen);
    }
    page.text()
}

/// Every figure of the catalogue as Markdown: the same words as [`explain`] without a capture. Ends with a line end.
#[must_use]
pub fn handbook() -> String {
    let mut text = String::from(
        "# The figures\n\nEvery figure that `pedalproof assess` gives, in the order in which it shows them. Percent is of span \
         unless the figure says otherwise; `low` and `high` are the ends of the 95 % interval.\n",
    );
    for &name in FigureName::ALL {
        let explained = explain(name, None);
        let words = explained.split_once('\n').map_or("", |(_, rest)| rest);
        let _ = write!(text, "\n## {}\n\n```text\n{words}```\n", name.word());
    }
    text
}

fn entry(page: &mut Page, label: &str, words: &str) {
    page.hang(&format!("  {label:<12}"), &" ".repeat(14), words);
}

fn used(page: &mut Page, name: FigureName, seen: Seen<'_>) {
    let assessment = seen.assessment;
    match name.scope() {
        Scope::Channel => {
            for (channel, part) in &assessment.channels {
                one(page, name, channel, part.figures.get(name), seen);
            }
        }
        Scope::Pair if assessment.pairs.is_empty() => page.hang(
            "  ",
            "    ",
            "not measured: it takes two signal channels, one of track 1 and one of track 2",
        ),
        Scope::Pair => {
            for (pair, part) in &assessment.pairs {
                one(page, name, pair, part.figures.get(name), seen);
            }
        }
        Scope::Stream => {
            let facts = &assessment.capture;
            let rejected: u64 = facts.rejected.values().sum();
            page.hang(
                "  ",
                "    ",
                &format!(
                    "{} samples, {} missing between them, {rejected} lines rejected",
                    facts.samples, facts.missing
                ),
            );
        }
    }
}

fn one(page: &mut Page, name: FigureName, channel: &str, figure: Option<&Figure>, seen: Seen<'_>) {
    match figure {
        Some(figure) => {
            page.hang("  ", "    ", &format!("{channel}: {}", told(name, figure)));
            page.hang("    how: ", "         ", &figure.method);
        }
        None => page.hang(
            "  ",
            "    ",
            &format!("{channel}: not measured; {}", missing(name, seen.steps)),
        ),
    }
    if let Some(finding) = seen.assessment.finding(channel, name) {
        held(page, finding);
    }
}

fn told(name: FigureName, figure: &Figure) -> String {
    let reading = reading(figure);
    let value = format!("{} {}", reading.value, unit(name));
    let mut words = value.trim_end().to_owned();
    if reading.u == DASH {
        words.push_str(", counted");
    } else {
        let interval = format!(
            ", standard uncertainty {}, 95 % interval {}",
            reading.u, reading.interval
        );
        words.push_str(&interval);
    }
    words
}

/// What a capture with these steps lacks for a figure.
pub(super) fn missing(name: FigureName, steps: &[Step]) -> String {
    let absent: Vec<&str> = name
        .steps()
        .iter()
        .filter(|step| !steps.contains(step))
        .map(|step| step.word())
        .collect();
    let needs = format!("it needs {}", name.needs());
    if absent.is_empty() {
        format!("its steps are here, but {needs}")
    } else {
        format!("no step {} in the capture: {needs}", absent.join(", "))
    }
}

fn held(page: &mut Page, finding: &Finding) {
    let allowed = limit(finding.min, finding.max);
    page.hang(
        "    held: ",
        "          ",
        &format!("allowed {allowed}: {}; {}", finding.outcome, finding.reason),
    );
    if let Some(advice) = &finding.advice {
        page.hang("    -> ", "       ", advice);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_figure_reads_well_in_eighty_columns() {
        for name in FigureName::ALL {
            let text = explain(*name, None);
            assert!(text.is_ascii(), "{text}");
            assert!(text.lines().all(|line| line.len() <= 80), "{text}");
            assert!(text.starts_with(name.word()), "{text}");
        }
    }

    #[test]
    fn what_is_missing_is_a_step_or_evidence_in_it() {
        let told = missing(FigureName::Hysteresis, &[Step::Rest]);
        assert!(told.starts_with("no step stations"), "{told}");
        let told = missing(FigureName::ReturnScatter, &[Step::Release]);
        assert!(
            told.contains("its steps are here") && told.contains("three returns"),
            "{told}"
        );
    }

    #[test]
    fn the_handbook_has_every_figure_with_its_source() {
        let book = handbook();
        for &name in FigureName::ALL {
            assert!(book.contains(&format!("\n## {}\n", name.word())), "{name}");
        }
        let sections = book.matches("\n  source").count();
        assert_eq!(sections, FigureName::ALL.len(), "{book}");
    }
}
