//! Which files this report is of, so that another person can check it.

use crate::report::document::{Part, Section};
use crate::report::sheet::Sheet;
use measure::figure::numbers::DASH;

pub(super) fn section<'a>(sheet: &'a Sheet<'_>) -> Section<'a> {
    let facts = &sheet.assessment.capture;
    let or_dash = |text: Option<&str>| text.unwrap_or(DASH).to_owned();
    let mut terms = vec![
        ("unit", or_dash(sheet.assessment.unit.tag.as_deref())),
        ("taken", or_dash(sheet.meta.started.as_deref())),
        ("capture", or_dash(facts.file.as_deref())),
        ("capture, SHA-256", or_dash(facts.sha256.as_deref())),
    ];
    if let Some(note) = &sheet.meta.note {
        terms.push(("note", note.clone()));
    }
    match &sheet.profile {
        Some(used) => {
            terms.push(("profile", used.profile.name.clone()));
            terms.push(("profile, SHA-256", used.sha256.clone()));
        }
        None => terms.push(("profile", DASH.to_owned())),
    }
    if let Some(used) = &sheet.block {
        terms.push(("block", used.file.clone()));
        terms.push(("block, SHA-256", used.sha256.clone()));
    }
    terms.push((
        "made",
        format!(
            "{} by {}",
            sheet.made.strftime("%Y-%m-%d %H:%M UTC"),
            concat!("pedalproof ", env!("CARGO_PKG_VERSION"))
        ),
    ));
    Section {
        id: "identity",
        title: "What this report is of",
        parts: vec![
            Part::Terms(terms.into_iter().map(|(term, words)| (term.to_owned(), words)).collect()),
            Part::Words("The same capture and profile give the same figures and the same verdict, every time.".to_owned()),
        ],
    }
}
