//! Which files this report is of, so that another person can check it.

use super::source::BenchReport;
use crate::report::document::{Block, Section};
use measure::figure::numbers::DASH;

pub(super) fn section(report: &BenchReport<'_>) -> Section<'static> {
    let facts = &report.assessment.capture;
    let or_dash = |text: Option<&str>| text.unwrap_or(DASH).to_owned();
    let mut terms = vec![
        ("unit", or_dash(report.assessment.unit.tag.as_deref())),
        ("taken", or_dash(report.meta.started.as_deref())),
        ("capture", or_dash(facts.file.as_deref())),
        ("capture, SHA-256", or_dash(facts.sha256.as_deref())),
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
        terms.push(("block", used.file.clone()));
        terms.push(("block, SHA-256", used.sha256.clone()));
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
            "The same capture and profile give the same figures and the same verdict, every time.",
        ),
    ];
    Section::new("What this report is of", blocks).at("identity")
}
