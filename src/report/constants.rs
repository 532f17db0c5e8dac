//! A block's numbers with their reasons.

use super::document::{Block, Document, Section};
use crate::constants::choose::{Choice, Chosen, HiddenFault};
use crate::wiring::faults::{Class, Direction};
use measure::figure::numbers::plain;

/// What is said wherever a block is made or shown.
pub const CONSTANTS_SAFETY: &str = "These numbers will command a motor: drive wheels off the ground or motor leads off for the first \
trial, traction battery isolated while wiring, an emergency stop that does not pass through this board. A bench verdict is no \
type approval.";

/// Whether each number comes with its reason and its margin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reasons {
    Told,
    LeftOut,
}

/// What becomes of the constants.
#[derive(Debug, Clone, Default)]
pub struct Flash {
    /// The file that they are written to, when they are.
    pub file: Option<String>,
    /// The commands that prove a board flashed with it.
    pub prove: Option<[String; 2]>,
    /// What stands against them was accepted.
    pub accepted: bool,
}

/// What to do first; then every number, the faults that stay hidden, what stands against the block, and the safety words.
pub fn constants(chosen: &Chosen, reasons: Reasons, flash: &Flash) -> Document<'static> {
    let under = |prefix: &str| {
        let choices = chosen.choices.iter();
        let choices = choices.filter(|choice| choice.place.starts_with(prefix));
        choices.flat_map(|choice| number(choice, reasons)).collect()
    };
    let inputs = chosen.inputs.iter().enumerate();
    let mut sections = vec![Section::new(
        "WHAT TO DO",
        vec![Block::List("> ", what_to_do(chosen, reasons, flash))],
    )];
    let objections = chosen.objections.iter();
    sections.extend(
        objections.map(|objection| {
            Section::untitled(vec![Block::item("AGAINST IT: ", &*objection.words)])
        }),
    );
    let of_inputs = inputs.map(|(i, channel)| {
        Section::new(
            format!("INPUT {i}: {channel}"),
            under(&format!("inputs[{i}].")),
        )
    });
    sections.extend(of_inputs);
    let of_board = chosen.choices.iter();
    let of_board = of_board.filter(|choice| !choice.place.starts_with("inputs["));
    sections.push(Section::new(
        "OUTPUT, START, FAULTS",
        of_board
            .flat_map(|choice| number(choice, reasons))
            .collect(),
    ));
    if !chosen.hidden.is_empty() {
        sections.push(Section::new(
            "FAULTS THAT THE LIMITS MISS, the worst first",
            vec![Block::List("", missed_faults(chosen, reasons))],
        ));
    }
    sections.push(Section::untitled(vec![Block::paragraph(CONSTANTS_SAFETY)]));
    Document {
        sections,
        ..Document::default()
    }
}

/// The dangerous ones; those that never give more than asked are a count where no reasons are told.
fn missed_faults(chosen: &Chosen, reasons: Reasons) -> Vec<String> {
    let (dangerous, others): (Vec<_>, Vec<_>) =
        chosen.hidden.iter().partition(|fault| fault.is_dangerous());
    let told = |fault: &HiddenFault| {
        let change = if fault.cured {
            "gone once rewired as `wiring` advises"
        } else {
            &fault.change
        };
        format!(
            "{} > {change}",
            hidden(fault, chosen.starts(&fault.channel))
        )
    };
    let mut lines: Vec<String> = dangerous.into_iter().map(told).collect();
    match (reasons, others.len()) {
        (Reasons::Told, _) => lines.extend(others.into_iter().map(told)),
        (_, 0) => {}
        (_, 1) => {
            lines.push("1 more gives less, the same, or hardly more: --why says which.".to_owned());
        }
        (_, n) => lines.push(format!(
            "{n} more give less, the same, or hardly more: --why lists them."
        )),
    }
    lines
}

/// What stays unnoticed, whether to flash it, what the controls do then, what comes next.
fn what_to_do(chosen: &Chosen, reasons: Reasons, flash: &Flash) -> Vec<String> {
    let against = chosen.objections.len();
    let good = against == 0 || flash.accepted;
    let reasons_against = match against {
        1 => "1 reason speaks".to_owned(),
        n => format!("{n} reasons speak"),
    };
    let mut lines = Vec::new();
    if !good {
        lines.push(format!(
            "Do not flash these constants: {reasons_against} against them, below."
        ));
    } else if against > 0 {
        lines.push(format!(
            "{reasons_against} against these constants, and you accept it: read it once more before you flash."
        ));
    } else {
        lines.extend(unnoticed(chosen));
    }
    if good {
        lines.push(match &flash.file {
            None => "Flash these constants on the board (the file comes with --out; `pedalproof board` says how).".to_owned(),
            Some(file) => format!("Flash these constants on the board: {file} (`pedalproof board` says how)."),
        });
    }
    let value = |place: String| {
        let mut choices = chosen.choices.iter();
        choices
            .find(|choice| choice.place == place)
            .map(|choice| plain(choice.value))
    };
    let inputs = chosen.inputs.iter().enumerate();
    let starts: Vec<String> = inputs
        .filter_map(|(i, name)| {
            let at = |edge: &str| value(format!("inputs[{i}].factor.{edge}"));
            Some(format!(
                "{name} from code {} to {}",
                at("rest_edge")?,
                at("full_edge")?
            ))
        })
        .collect();
    let more = match reasons {
        Reasons::Told => "",
        Reasons::LeftOut => " Why each number: --why.",
    };
    lines.push(format!(
        "Zero to full command: {}. Outside its limits the board stops.{more}",
        starts.join("; ")
    ));
    if let Some([output, faults]) = flash.prove.as_ref().filter(|_| good) {
        lines.push(format!(
            "Wheels off the ground, then prove the flashed board: `{output}`, then `{faults}`."
        ));
    }
    lines
}

/// How many dangers the board does not notice.
fn unnoticed(chosen: &Chosen) -> Option<String> {
    let dangers = chosen.hidden.iter().filter(|fault| fault.is_dangerous());
    match dangers.count() {
        0 => None,
        1 => Some(
            "1 dangerous fault stays unnoticed (listed below): read it before you flash."
                .to_owned(),
        ),
        n => Some(format!(
            "{n} dangerous faults stay unnoticed (listed below): read them before you flash."
        )),
    }
}

fn number(choice: &Choice, reasons: Reasons) -> Vec<Block<'static>> {
    let unit = match choice.unit {
        "1" => String::new(),
        // The board's own unit says nothing to a person: what it comes to does.
        "1/32768 a step" => format!("of 32768 a step: {}", choice.margin.words),
        unit => unit.to_owned(),
    };
    // The supply is not measured: what is, against it, moves the other way.
    let (side, hint) = match &choice.place[..] {
        "watch.supply.low" => ("below ", " (its reference reads lower then)"),
        "watch.supply.high" => ("above ", " (its reference reads higher then)"),
        _ => ("", ""),
    };
    let mut blocks = vec![Block::Verbatim(format!(
        "  {:<18} {:>8} {unit}{hint}",
        choice.what,
        format!("{side}{}", plain(choice.value))
    ))];
    if reasons == Reasons::Told {
        blocks.push(Block::item("      why: ", &*choice.reason));
        blocks.push(Block::item("      margin: ", &*choice.margin.words));
    }
    blocks
}

/// Whether a track's window misses it everywhere, and the other track shows it somewhere.
fn missed(fault: &HiddenFault) -> bool {
    let by_tracks = fault.tracks_show_at_pct.as_deref().unwrap_or_default();
    fault.class == Class::Hidden && !by_tracks.is_empty()
}

/// `starts`: whether it is one of the control that must be let go before the board starts; what another does at its end is multiplied with
/// that one's zero.
fn hidden(fault: &HiddenFault, starts: bool) -> String {
    let by_tracks = fault.tracks_show_at_pct.as_deref().unwrap_or_default();
    let missed = missed(fault);
    let way = if fault.is_dangerous() {
        "DANGEROUS: "
    } else {
        ""
    };
    let is_harmless = fault.direction == Some(Direction::Safe) && !fault.small;
    let reads = match fault.reads_as_pct.filter(|_| !fault.small) {
        None => String::new(), // the advice to a small one says how far off it is
        Some([_, high]) if high < 0.5 => "released".to_owned(),
        Some([low, high]) => span(low, high),
    };
    let reads = match (&reads[..], missed, is_harmless) {
        ("", ..) => String::new(),
        (reads, true, false) => format!(" (reads as {reads})"),
        (reads, true, true) => format!(" (reads as {reads}, never more than asked)"),
        ("released", false, _) => ", taken for released".to_owned(),
        (reads, false, _) => format!(", taken for {reads} command"),
    };
    let harmless = if is_harmless && (reads.is_empty() || !missed) {
        " (never more than asked)"
    } else {
        ""
    };
    let tracks = match by_tracks {
        [] => String::new(),
        runs => format!(
            "; the comparison with the other track stops the board at {} of travel{}",
            travels(runs),
            match runs {
                _ if !missed => "", // its window shows it somewhere else
                [[from, to]] if *from < 0.5 && *to >= 99.5 => "",
                [[from, _]] if *from < 0.5 => ", not above",
                _ => ", not elsewhere",
            }
        ),
    };
    let at_rest = fault.at_rest_pct.filter(|pct| *pct > 0.5);
    let at_rest = at_rest.map_or_else(String::new, |pct| {
        if starts {
            format!("; let go it still puts out up to {pct:.0} %")
        } else {
            format!("; turned to zero it still lets up to {pct:.0} % through")
        }
    });
    format!(
        "{way}{}, {}: {}{reads}{harmless}{tracks}{at_rest}.",
        fault.channel,
        fault.fault,
        class(fault)
    )
}

/// `4-12 %`, `100 %`.
fn span(low: f64, high: f64) -> String {
    if high - low < 0.5 {
        format!("{high:.0} %")
    } else {
        format!("{low:.0}-{high:.0} %")
    }
}

/// `0-25 %, 94-100 %`.
fn travels(runs: &[[f64; 2]]) -> String {
    let runs = runs.iter().map(|[a, b]| span(*a, *b));
    runs.collect::<Vec<_>>().join(", ")
}

/// What the windows make of a fault. One that comes by degrees has no travels at which it is caught however bad it is.
fn class(fault: &HiddenFault) -> String {
    match (fault.class, &fault.caught_at_pct[..]) {
        (Class::CaughtInPart, []) => "noticed only when it is bad".to_owned(),
        (Class::CaughtInPart, runs) => format!("noticed only at {} of travel", travels(runs)),
        (Class::Hidden, _) if missed(fault) => "its own limits miss it".to_owned(),
        (Class::Hidden, _) => "not noticed".to_owned(),
        (class, _) => class.to_string(),
    }
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
    lines.extend(chosen.hidden.iter().map(|fault| {
        let what = hidden(fault, chosen.starts(&fault.channel));
        format!("missed: {what} > {}", fault.change)
    }));
    lines.push(CONSTANTS_SAFETY.to_owned());
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_by_degrees_is_caught_when_it_is_bad_and_another_at_its_travels() {
        let fault = |caught_at_pct| HiddenFault {
            channel: "lever".to_owned(),
            fault: "bad joint in the ground wire".to_owned(),
            class: Class::CaughtInPart,
            direction: Some(Direction::Unsafe),
            reads_as_pct: None,
            caught_at_pct,
            tracks_show_at_pct: None,
            error_pct: None,
            small: false,
            change: "measure it".to_owned(),
            cured: false,
            at_rest_pct: None,
        };
        let said = hidden(&fault(vec![]), true);
        assert!(
            said.starts_with(
                "DANGEROUS: lever, bad joint in the ground wire: noticed only when it is bad."
            ),
            "{said}"
        );
        let said = hidden(&fault(vec![[0.0, 25.0], [94.0, 100.0]]), true);
        assert!(
            said.contains(": noticed only at 0-25 %, 94-100 % of travel."),
            "{said}"
        );
    }
}
