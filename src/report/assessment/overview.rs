//! An assessment for a person at the bench: verdict, what decided it, then every figure.

use super::brief;
use super::causes::{causes, dangers, dangers_title};
use super::figures::with_missing;
use super::findings::{findings, upper_limit};
use super::travel;
use super::zones::zones;
use crate::record::{Assessment, CaptureFacts};
use crate::report::document::{Block, Document, Section};
use measure::figure::FigureName;
use measure::figure::numbers::fixed;
use std::fmt::Write as _;

pub fn assessment(of: &Assessment) -> Document<'_> {
    let mut sections: Vec<Section<'_>> = causes(of).into_iter().collect();
    let dangers = dangers(of);
    if !dangers.is_empty() {
        let blocks = vec![Block::List("! ", dangers)];
        sections.push(Section::new(dangers_title(of), blocks));
    }
    let remarks = of.diagnosis.remarks();
    if !remarks.is_empty() {
        sections.push(Section::new(
            "Also noticed",
            vec![Block::List("! ", remarks)],
        ));
    }
    if !of.findings.is_empty() {
        sections.push(Section::new("Checks", vec![findings(of)]));
    }
    for (name, part) in &of.channels {
        let mut blocks = vec![Block::Table(with_missing(of, name, &part.figures))];
        blocks.extend(travel::noise(name, part).map(Block::Picture));
        blocks.push(Block::List("", zones(of, name, part)));
        let limit = upper_limit(of, name, FigureName::LinearityIndependent);
        blocks.extend(travel::deviation(name, part, limit).map(Block::Picture));
        sections.push(Section::new(name, blocks));
    }
    for (name, part) in &of.pairs {
        let table = Block::Table(with_missing(of, name, &part.figures));
        sections.push(Section::new(format!("{name} (two tracks)"), vec![table]));
    }
    sections.push(Section::untitled(vec![Block::paragraph(
        "95 %: the true value lies within this range in 19 of 20 cases. % = of the full travel. x failed, ? undecided. \
         Explain one: --explain FIGURE, as in --explain noise-at-rest.",
    )]));
    Document {
        title: headline(of),
        intro: vec![
            Block::line(unit(of)),
            Block::line(capture_line(&of.capture)),
        ],
        sections,
    }
}

/// What to do, and the reason: `FIT IT: all 14 checks passed`.
pub(in crate::report) fn headline(assessment: &Assessment) -> String {
    assessment.diagnosis.headline.clone()
}

/// Which unit, and what it was held against.
pub(in crate::report) fn unit(assessment: &Assessment) -> String {
    let tag = assessment.unit.tag.as_deref();
    let unit = tag.map_or("part without a tag".into(), brief::tag);
    match (assessment.verdict, assessment.unit.profile.as_deref()) {
        (Some(_), Some(profile)) => format!("{unit}, checked as \"{profile}\""),
        _ => unit.into_owned(),
    }
}

fn capture_line(capture: &CaptureFacts) -> String {
    let mut line = format!(
        "{}: {} samples in {} s",
        capture.source(),
        capture.samples,
        fixed(capture.duration_s, 1)
    );
    if capture.missing > 0 {
        let _ = write!(line, ", {} missing", capture.missing);
    }
    let mut damaged = capture.rejected.clone();
    // What a listener hears before it knows where lines begin.
    damaged.retain(|cause, _| !matches!(cause.as_str(), "cut" | "before header"));
    let words = |n, cause: &str| format!("{n} damaged lines left out ({cause})");
    for words in brief::causes(&damaged, words) {
        let _ = write!(line, ", {words}");
    }
    line
}
