//! A block's numbers with their reasons.

use super::document::{Block, Document, Section};
use crate::constants::choose::{Choice, Chosen, HiddenFault};
use measure::figure::numbers::plain;

/// What is said wherever a block is made or shown.
pub const CONSTANTS_SAFETY: &str = "These numbers will command a motor: drive wheels off the ground or motor leads off for the first \
trial, traction battery isolated while wiring, an emergency stop that does not pass through this board. A bench verdict is no \
type approval.";

/// Every number with its reason and margin, the faults that stay hidden, what stands against the block, and the safety
/// words.
pub fn constants(chosen: &Chosen) -> Document<'static> {
    let under = |prefix: &str| {
        let choices = chosen.choices.iter();
        let choices = choices.filter(|choice| choice.place.starts_with(prefix));
        choices.flat_map(number).collect()
    };
    let inputs = chosen.inputs.iter().enumerate();
    let mut sections: Vec<Section<'_>> = inputs
        .map(|(i, channel)| {
            Section::new(
                format!("INPUT {i}: {channel}"),
                under(&format!("inputs[{i}].")),
            )
        })
        .collect();
    let of_board = chosen.choices.iter();
    let of_board = of_board.filter(|choice| !choice.place.starts_with("inputs["));
    sections.push(Section::new(
        "OUTPUT, START, FAULTS",
        of_board.flat_map(number).collect(),
    ));
    if !chosen.hidden.is_empty() {
        let missed = Block::List("", chosen.hidden.iter().map(hidden).collect());
        sections.push(Section::new("FAULTS THAT THE WINDOWS MISS", vec![missed]));
    }
    let objections = chosen.objections.iter();
    sections.extend(
        objections.map(|objection| {
            Section::untitled(vec![Block::item("AGAINST IT: ", &*objection.words)])
        }),
    );
    sections.push(Section::untitled(vec![Block::paragraph(CONSTANTS_SAFETY)]));
    Document {
        sections,
        ..Document::default()
    }
}

fn number(choice: &Choice) -> [Block<'static>; 3] {
    let unit = if choice.unit == "1" { "" } else { choice.unit };
    [
        Block::Verbatim(format!(
            "  {:<18} {:>8} {unit}",
            choice.what,
            plain(choice.value)
        )),
        Block::item("      why: ", &*choice.reason),
        Block::item("      margin: ", &*choice.margin.words),
    ]
}

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
    let at_rest = fault.at_rest_pct.filter(|pct| *pct > 0.5);
    let at_rest = at_rest.map_or_else(String::new, |pct| {
        format!("; let go it still puts out up to {pct:.0} %")
    });
    format!(
        "{}: {}: {} ({way}{reads}){tracks}{at_rest}; to expose it: {}",
        fault.channel, fault.fault, fault.class, fault.change
    )
}

/// The same as lines for a block's own comment: one for each number.
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
    lines.push(CONSTANTS_SAFETY.to_owned());
    lines.join("\n")
}
