//! A block's numbers with their reasons, as plain text: ASCII, at most 80 columns.
//!
//! Belongs here: columns and words. Does not belong here: any choice (`constants::choose`).

use super::page::Page;
use crate::constants::choose::{Choice, Chosen, HiddenFault};
use measure::figure::numbers::plain;

/// Words that stand wherever a block is made or shown.
pub const SAFETY: &str = "These numbers will command a motor: drive wheels off the ground or motor leads off for the first \
trial, traction battery isolated while wiring, an emergency stop that does not pass through this board. A bench verdict is no \
type approval.";

/// Every number with its reason and margin, the faults that stay hidden, what stands against the block, and the safety
/// words; ends in a newline.
#[must_use]
pub fn render(chosen: &Chosen) -> String {
    let mut page = Page::default();
    for (i, channel) in chosen.inputs.iter().enumerate() {
        page.line(&format!("INPUT {i}: {channel}"));
        let place = format!("inputs[{i}].");
        let of_it = chosen
            .choices
            .iter()
            .filter(|c| c.place.starts_with(&place));
        of_it.for_each(|choice| one(&mut page, choice));
        page.gap();
    }
    page.line("OUTPUT, START, FAULTS");
    let of_board = chosen
        .choices
        .iter()
        .filter(|c| !c.place.starts_with("inputs["));
    of_board.for_each(|choice| one(&mut page, choice));
    if !chosen.hidden.is_empty() {
        page.gap();
        page.line("FAULTS THAT THE WINDOWS MISS");
        for fault in &chosen.hidden {
            page.hang("  ", "      ", &hidden(fault));
        }
    }
    for objection in &chosen.objections {
        page.gap();
        page.hang("AGAINST IT: ", "  ", &objection.words);
    }
    page.gap();
    page.words(SAFETY);
    page.text()
}

fn one(page: &mut Page, choice: &Choice) {
    let unit = if choice.unit == "1" { "" } else { choice.unit };
    page.line(&format!(
        "  {:<18} {:>8} {unit}",
        choice.what,
        plain(choice.value)
    ));
    page.hang("      why: ", "           ", &choice.reason);
    page.hang("      margin: ", "           ", &choice.margin.words);
}

/// One hidden fault in one sentence.
fn hidden(fault: &HiddenFault) -> String {
    let way = match fault.direction {
        Some(crate::wiring::faults::Direction::Unsafe) => "UNSAFE",
        Some(crate::wiring::faults::Direction::Safe) => "safe",
        None => "no reading",
    };
    let reads = fault.reads_as_pct.map_or_else(String::new, |[low, high]| {
        format!(", taken for a command of {low:.0} to {high:.0} %")
    });
    let tracks = match fault.tracks_show_at_pct.as_deref() {
        Some([]) | None => String::new(),
        Some(runs) => {
            let runs: Vec<String> = runs
                .iter()
                .map(|[a, b]| format!("{a:.0} to {b:.0} %"))
                .collect();
            format!("; the other track shows it at {}", runs.join(", "))
        }
    };
    format!(
        "{}: {}: {} ({way}{reads}){tracks}; to expose it: {}",
        fault.channel, fault.fault, fault.class, fault.change
    )
}

/// The same as lines for a block's own comment: one for each number.
#[must_use]
pub fn comment(chosen: &Chosen) -> String {
    let mut lines = Vec::new();
    for choice in &chosen.choices {
        let channel = if choice.channel.is_empty() {
            String::new()
        } else {
            format!("{} ", choice.channel)
        };
        let unit = if choice.unit == "1" {
            String::new()
        } else {
            format!(" {}", choice.unit)
        };
        lines.push(format!(
            "{channel}{} {}{unit}: {}; margin: {}",
            choice.what,
            plain(choice.value),
            choice.reason,
            choice.margin.words
        ));
    }
    lines.extend(
        chosen
            .hidden
            .iter()
            .map(|fault| format!("missed: {}", hidden(fault))),
    );
    lines.push(SAFETY.to_owned());
    lines.join("\n")
}
