//! Which files this report is of, so that another person can check it.

use super::source::BenchReport;
use crate::report::document::{Block, Section};
use measure::figure::numbers::DASH;

pub(super) fn section(report: &BenchReport<'_>) -> Section<'static> {
    let facts = &report.assessment.capture;
    let or_dash = |text: Option<&str>| text.unwrap_or(DASH).to_owned();
    let file = facts.file.as_ref().map(|_| facts.source());
    let mut terms = vec![
        ("part", or_dash(report.assessment.unit.tag.as_deref())),
        ("taken", or_dash(report.meta.started.as_deref())),
        ("recording", or_dash(file.as_deref())),
        ("recording, SHA-256", or_dash(facts.sha256.as_deref())),
    ];
    if let Some(note) = &report.meta.note {
        terms.push(("note", note.clone()));
    }
    match &report.profile {
        Some(used) => {
            terms.push(("profile", used.profile.name.clone()));
            terms.push(("profile, SHA-256", used.sha256.clone()));
        }
        None => terms.push(("profile", DASH.to_owned())),
    }
    if let Some(used) = &report.block {
        terms.push(("constants file", used.file.clone()));
        terms.push(("constants file, SHA-256", used.sha256.clone()));
    }
    terms.push((
        "made",
        format!(
            "{} by {}",
            report.made.strftime("%Y-%m-%d %H:%M UTC"),
            concat!("pedalproof ", env!("CARGO_PKG_VERSION"))
        ),
    ));
    let blocks = vec![
        Block::terms(terms),
        Block::paragraph(
            "The same recording and profile give the same results and the same verdict, every time.",
        ),
    ];
    Section::new("About this report", blocks).at("identity")
}
