//! What a report says, section by section.
//!
//! Belongs here: which section comes when and what is in it. Does not belong here: HTML, Markdown, pictures as lines.

mod block;
mod figures;
mod identity;
mod methods;
mod missing;
mod pictures;
mod stream;
mod verdict;
mod wiring;

use super::document::{Document, Part, Section};
use super::sheet::Sheet;

/// The words of every report about what can be hurt.
const SAFETY: [&str; 3] = [
    "A throttle can move a machine that weighs a tonne. Before this control is connected to a drive: drive wheels off the \
     ground or motor leads off.",
    "Isolate the traction battery while wiring, and have an emergency stop that does not pass through this board.",
    "A bench verdict is no type approval and replaces neither local rules nor a licensed person.",
];

/// The whole report.
pub(super) fn document<'a>(sheet: &'a Sheet<'_>) -> Document<'a> {
    let unit = sheet.assessment.unit.tag.as_deref();
    Document {
        title: format!("Bench report: {}", unit.unwrap_or("untagged unit")),
        banner: verdict::banner(sheet),
        sections: [
            Some(safety()),
            verdict::findings(sheet),
            Some(pictures::section(sheet)),
            Some(figures::section(sheet)),
            Some(missing::section(sheet)),
            wiring::section(sheet),
            block::section(sheet),
            Some(stream::section(sheet)),
            Some(identity::section(sheet)),
            Some(methods::section(sheet)),
        ]
        .into_iter()
        .flatten()
        .collect(),
    }
}

fn safety() -> Section<'static> {
    Section {
        id: "safety",
        title: "Before it moves anything",
        parts: vec![Part::List(SAFETY.map(str::to_owned).to_vec())],
    }
}
