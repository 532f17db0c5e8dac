//! One figure explained: what it is, how it is computed, where that comes from, and what a capture made of it.

use super::figures::steps;
use crate::record::Assessment;
use crate::report::document::{Block, Document, Section};
use measure::figure::numbers::{DASH, limit, reading};
use measure::figure::{Figure, FigureName, Scope, Unit};
use measure::judge::Finding;
use measure::units::Step;
use std::fmt::Write as _;

#[derive(Debug, Clone, Copy)]
pub struct Evidence<'a> {
    pub assessment: &'a Assessment,
    pub steps: &'a [Step],
}

/// The whole explanation; with a capture, also what this capture used or lacks.
pub fn explain(name: FigureName, evidence: Option<Evidence<'_>>) -> Document<'static> {
    let facts = name.facts();
    let supplied = match name.steps() {
        [] => "every step".to_owned(),
        _ => steps(name).join(", "),
    };
    let unit = match name.unit() {
        Unit::Number => "none, a plain number",
        unit => unit.word(),
    };
    let belongs_to = match name.scope() {
        Scope::Channel => "one channel",
        Scope::Pair => "two tracks of one control, a and b",
        Scope::Stream => "the stream that the recording came through",
    };
    let terms = [
        ("unit", unit),
        ("belongs to", belongs_to),
        ("formula", facts.formula),
        ("from steps", supplied.as_str()),
        ("needs", facts.needs),
        ("source", facts.source),
    ];
    let mut sections = vec![Section::untitled(vec![Block::terms(terms)])];
    if let Some(evidence) = evidence {
        let file = evidence.assessment.capture.file.as_deref();
        sections.push(Section::new(
            format!("In {}", file.unwrap_or("this recording")),
            used(name, evidence),
        ));
    }
    Document {
        title: name.word().to_owned(),
        intro: vec![Block::paragraph(facts.definition)],
        sections,
    }
}

/// Every figure of the catalogue as Markdown: the same words as [`explain`] without a capture. Ends with a line end.
pub fn handbook() -> String {
    let mut text = String::from(
        "# The results\n\nEvery result that `pedalproof assess` gives, in the order in which it shows them. Percent is of span \
         unless the result says otherwise; `low` and `high` are the ends of the 95 % interval.\n",
    );
    for &name in FigureName::ALL {
        let explained = explain(name, None).text();
        let rest = explained.split_once('\n').map_or("", |(_, rest)| rest);
        let _ = write!(
            text,
            "\n## {} (`{}`)\n\n```text\n{rest}```\n",
            name.facts().label,
            name.word()
        );
    }
    text
}

fn used(name: FigureName, evidence: Evidence<'_>) -> Vec<Block<'static>> {
    let assessment = evidence.assessment;
    let channels = assessment.channels.iter();
    let pairs = assessment.pairs.iter();
    match name.scope() {
        Scope::Channel => channels
            .flat_map(|(channel, part)| one(name, channel, part.figures.get(name), evidence))
            .collect(),
        Scope::Pair if assessment.pairs.is_empty() => vec![sentence(
            "not measured: it takes two signal channels, one of track 1 and one of track 2"
                .to_owned(),
        )],
        Scope::Pair => pairs
            .flat_map(|(pair, part)| one(name, pair, part.figures.get(name), evidence))
            .collect(),
        Scope::Stream => {
            let facts = &assessment.capture;
            let rejected: u64 = facts.rejected.values().sum();
            vec![sentence(format!(
                "{} samples, {} lost between them, {rejected} lines left out",
                facts.samples, facts.missing
            ))]
        }
    }
}

fn sentence(text: String) -> Block<'static> {
    Block::List("", vec![text])
}

fn one(
    name: FigureName,
    channel: &str,
    figure: Option<&Figure>,
    evidence: Evidence<'_>,
) -> Vec<Block<'static>> {
    let mut blocks = match figure {
        Some(figure) => vec![
            sentence(format!("{channel}: {}", value(name, figure))),
            Block::item("    how: ", &*figure.method),
        ],
        None => vec![sentence(format!(
            "{channel}: not measured; {}",
            missing(name, evidence.steps)
        ))],
    };
    if let Some(finding) = evidence.assessment.finding(channel, name) {
        blocks.push(held(finding));
        let advice = finding.advice.as_deref();
        blocks.extend(advice.map(|advice| Block::item("    -> ", advice)));
    }
    blocks
}

fn value(name: FigureName, figure: &Figure) -> String {
    let reading = reading(figure);
    let value = name.unit().behind(&reading.value);
    if reading.u == DASH {
        return format!("{value}, counted");
    }
    format!(
        "{value}, standard uncertainty {}, 95 % interval {}",
        reading.u, reading.interval
    )
}

fn held(finding: &Finding) -> Block<'static> {
    let allowed = match limit(finding.min, finding.max) {
        none if none == "at most 0" => "none allowed".to_owned(),
        allowed => format!("allowed {allowed}"),
    };
    Block::item(
        "    held: ",
        format!("{allowed}: {}; {}", finding.outcome, finding.reason),
    )
}

/// What a capture with these steps lacks for a figure.
pub(in crate::report) fn missing(name: FigureName, steps: &[Step]) -> String {
    let absent: Vec<&str> = name
        .steps()
        .iter()
        .filter(|step| !steps.contains(step))
        .map(|step| step.word())
        .collect();
    let needs = format!("it needs {}", name.facts().needs);
    if absent.is_empty() {
        format!("its steps are here, but {needs}")
    } else {
        format!("no step {} in the recording: {needs}", absent.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_figure_reads_well_in_eighty_columns() {
        for name in FigureName::ALL {
            let text = explain(*name, None).text();
            assert!(text.is_ascii(), "{text}");
            assert!(text.lines().all(|line| line.len() <= 80), "{text}");
            assert!(text.starts_with(name.word()), "{text}");
        }
    }

    #[test]
    fn what_is_missing_is_a_step_or_evidence_in_it() {
        let message = missing(FigureName::Hysteresis, &[Step::Rest]);
        assert!(message.starts_with("no step stations"), "{message}");
        let message = missing(FigureName::ReturnScatter, &[Step::Release]);
        assert!(
            message.contains("its steps are here") && message.contains("three returns"),
            "{message}"
        );
    }

    #[test]
    fn the_handbook_has_every_figure_with_its_source() {
        let book = handbook();
        for &name in FigureName::ALL {
            let heading = format!("\n## {} (`{}`)\n", name.facts().label, name.word());
            assert!(book.contains(&heading), "{name}");
        }
        let sections = book.matches("\n  source").count();
        assert_eq!(sections, FigureName::ALL.len(), "{book}");
    }
}
