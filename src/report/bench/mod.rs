//! The bench report: one part, its recording, what was measured and what the board will make of it, section by section.
//!
//! Belongs here: which section comes when and what is in it. Does not belong here: HTML, Markdown, how a picture is drawn.

mod constants;
mod figures;
mod identity;
mod methods;
mod missing;
mod pictures;
mod source;
mod stream;
mod verdict;
mod wiring;

pub use source::{BenchReport, BlockUsed, KeptOtherwise, ProfileUsed};

use super::assessment::brief;
use super::assessment::causes::{causes, dangers, dangers_title};
use super::document::{Block, Document, Section};

/// How the title of a report begins; the part follows.
pub(super) const TITLE: &str = "Bench report: ";

/// The words of every report about what can be hurt.
const SAFETY: [&str; 3] = [
    "A throttle can move a machine that weighs a tonne. Before this control is connected to a drive: drive wheels off the \
     ground or motor leads off.",
    "Isolate the traction battery while wiring, and have an emergency stop that does not pass through this board.",
    "A bench verdict is no type approval and replaces neither local rules nor a licensed person.",
];

impl BenchReport<'_> {
    pub fn document(&self) -> Document<'_> {
        let unit = self.assessment.unit.tag.as_deref();
        let sections = [
            causes(self.assessment),
            dangers_section(self),
            remarks_section(self),
            Some(safety()),
            verdict::findings_section(self),
            Some(pictures::section(self)),
            Some(figures::section(self)),
            Some(missing::section(self)),
            wiring::section(self),
            constants::section(self),
            Some(stream::section(self)),
            Some(identity::section(self)),
            Some(methods::section(self)),
        ];
        Document {
            title: format!(
                "{TITLE}{}",
                unit.map_or("part without a tag".into(), brief::tag)
            ),
            intro: vec![Block::Banner(verdict::banner(self))],
            sections: sections.into_iter().flatten().collect(),
        }
    }
}

/// What the wiring could do to a good part.
fn dangers_section(report: &BenchReport<'_>) -> Option<Section<'static>> {
    let dangers = dangers(report.assessment);
    let some = !dangers.is_empty();
    let title = dangers_title(report.assessment);
    some.then(|| Section::new(title, vec![Block::List("- ", dangers)]).at("dangers"))
}

/// What broke nothing and is to be known all the same.
fn remarks_section(report: &BenchReport<'_>) -> Option<Section<'static>> {
    let remarks = report.assessment.diagnosis.remarks();
    let some = !remarks.is_empty();
    some.then(|| Section::new("Also noticed", vec![Block::List("- ", remarks)]).at("noticed"))
}

fn safety() -> Section<'static> {
    let rows = SAFETY.map(str::to_owned).to_vec();
    Section::new("Before it moves anything", vec![Block::List("- ", rows)]).at("safety")
}
