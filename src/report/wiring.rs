//! A control's wiring: what should be read, what a pull-up costs, and what becomes of every single fault.

use super::document::{Block, Cell, Document, Section, Table, columns};
use crate::wiring::faults::{Class, Direction, FaultRow, SMALL_PCT, ZeroEnd};
use crate::wiring::pair::PairFault;
use crate::wiring::pull_up::PullUpChoice;
use crate::wiring::reading::Expected;
use crate::wiring::search::{Ohms, Recommendation};
use crate::wiring::track::answer::from;
use crate::wiring::track::rules::Rule;
use crate::wiring::windows::{WindowEdge, Windows};
use crate::wiring::{Resistor, TrackReport, Wiring, WiringReport};
use measure::figure::numbers::DASH;
use std::fmt::Write as _;

/// A fault nearer to the true command than this, in percent, is told by its error instead of by its reading.
const NEAR_PCT: f64 = 15.0;

/// What the words of the fault table mean.
pub(super) const LEGEND: &str = "One fault at a time. caught - the board stops. DANGEROUS - may give MORE throttle than asked, and the board \
     believes it. not noticed - the board believes it, and gives less or the same. loose - the pin is loose in the air, reads anything. \
     no harm - shows only with a second fault. supply down - its own protection must act.";

pub fn wiring(report: &WiringReport) -> Document<'static> {
    let zero = match report.zero_command_at {
        ZeroEnd::Rest => "rest",
        ZeroEnd::Full => "full",
    };
    let supply = format!(
        "supply {} mV, {} bits, zero command at {zero}",
        report.supply_mv, report.bits
    );
    Document {
        title: report.profile.clone(),
        intro: vec![Block::line(supply)],
        sections: vec![
            Section::new(
                "What to do",
                vec![Block::List("> ", report.answer.sentences.clone())],
            ),
            Section::untitled(blocks(report)),
            Section::untitled(vec![Block::paragraph(LEGEND)]),
        ],
    }
}

/// Each track, then both together.
pub(super) fn blocks(report: &WiringReport) -> Vec<Block<'static>> {
    let within = report.stop_within_ms;
    let tracks = report.tracks.iter();
    let supply_mv = report.supply_mv;
    let mut blocks: Vec<Block<'_>> = tracks
        .flat_map(|one| track(one, within, supply_mv))
        .collect();
    if let Some(pair) = &report.pair {
        let faults = pair.faults.iter().map(pair_fault).collect();
        let rules = report.rules.iter().map(rule).collect();
        blocks.extend([
            Block::heading("Both tracks", ""),
            Block::Paragraph(format!(
                "Compared with a band of {:.0} % of travel, the other track shows what a window misses.",
                pair.band_pct
            )),
            Block::List("", faults),
            Block::Caption("What racing rules ask of two tracks (Formula SAE T.4.2)".to_owned()),
            Block::List("- ", rules),
        ]);
    }
    blocks
}

fn rule(rule: &Rule) -> String {
    let holds = match rule.holds {
        Some(true) => "yes",
        Some(false) => "NO",
        None => "not stated",
    };
    format!("{holds}: {} ({})", rule.words, rule.rule)
}

fn pair_fault(fault: &PairFault) -> String {
    let unseen = fault.unseen_pct();
    if unseen.is_empty() {
        let by = match (
            fault.caught_at_pct.is_empty(),
            fault.pair_shows_at_pct.is_empty(),
        ) {
            (true, _) => "by comparing the tracks",
            (_, true) => "by the windows",
            _ => "by the windows or by comparing the tracks",
        };
        return format!("signal wires touching: caught everywhere, {by}");
    }
    let danger = match (fault.direction, fault.at_zero_pct) {
        (Some(Direction::Unsafe), Some(pct)) => format!("DANGEROUS: reads as {pct:.0} % at zero; "),
        (Some(Direction::Unsafe), None) => "DANGEROUS: ".to_owned(),
        _ => String::new(),
    };
    format!(
        "signal wires touching: {danger}not noticed at {} of travel",
        spans(&unseen)
    )
}

fn track(track: &TrackReport, within: f64, supply_mv: f64) -> Vec<Block<'static>> {
    let full_v = track
        .wiring
        .reference
        .map_or(supply_mv, |reference| reference.mv)
        / 1000.0;
    let windows = &track.windows;
    let mut blocks = vec![
        Block::heading(&format!("Track {}", track.track), wired(&track.wiring)),
        Block::Table(expected(&track.expected, full_v)),
        Block::List("", costs(&track.expected).to_vec()),
    ];
    if let Some(choice) = &track.pull_up {
        blocks.push(Block::Table(pull_up(choice)));
        blocks.push(Block::paragraph(&*choice.note));
    }
    blocks.extend([
        Block::Caption(format!(
            "Valid {}..{} codes ({:.2}..{:.2} V)",
            windows.valid_code[0],
            windows.valid_code[1],
            windows.valid.low * full_v,
            windows.valid.high * full_v
        )),
        Block::List("", thresholds(windows).to_vec()),
        Block::Folded(faults(&track.faults, within)),
    ]);
    if !track.hidden.is_empty() {
        let missed = track.hidden.iter();
        let missed = missed.map(|missed| format!("{}: {}", missed.fault, missed.advice));
        let title = "Missed by the windows, and the cheapest change that helps";
        blocks.push(Block::Caption(title.to_owned()));
        blocks.push(Block::List("- ", missed.collect()));
    }
    let change = track.recommended.iter();
    let change = change.map(best_change);
    blocks.push(Block::List(
        "> ",
        change.chain(track.searched.clone()).collect(),
    ));
    blocks.push(Block::List("! ", track.notes.clone()));
    blocks
}

fn best_change(change: &Recommendation) -> String {
    let range = if (change.span_kept_pct - 100.0).abs() < 0.05 {
        "unchanged".to_owned()
    } else {
        format!("{:.1} % of what it is", change.span_kept_pct)
    };
    let counts = [
        (
            "Faults that drive the motor at zero",
            change.drive_before,
            change.drive_after,
        ),
        (
            "Dangerous unnoticed faults",
            change.unsafe_before,
            change.unsafe_after,
        ),
        (
            "Not noticed at all travels",
            change.missed_before,
            change.missed_after,
        ),
    ];
    let counted = counts.map(|(what, before, after)| {
        if before == after {
            format!("{what}: {before}, as now.")
        } else {
            format!("{what}: {before} -> {after}.")
        }
    });
    let fewer = counts.map(|(_, before, after)| after < before);
    let lead = match fewer {
        [true, ..] => "Best fix",
        [false, true, _] => {
            "No change found takes these away; this one helps against dangers under way"
        }
        _ => "No change found takes a danger away; this one only makes fewer faults go unnoticed",
    };
    format!(
        "{lead}: {}. {} Range: {range}. (--profile-out writes the profile for it.)",
        change.change,
        counted.join(" "),
    )
}

/// The network with its parts.
fn wired(wiring: &Wiring) -> String {
    let mut text = wiring.network.word().to_owned();
    let ohms = [
        ("track", wiring.ohm(Resistor::Track)),
        ("output", wiring.ohm(Resistor::Output)),
        ("low end", wiring.ohm(Resistor::EndLow)),
        ("high end", wiring.ohm(Resistor::EndHigh)),
        ("pull-up", wiring.ohm(Resistor::PullUp)),
        ("pull-down", wiring.ohm(Resistor::PullDown)),
        ("divider top", wiring.ohm(Resistor::DividerTop)),
        ("divider bottom", wiring.ohm(Resistor::DividerBottom)),
        ("series", wiring.ohm(Resistor::Series)),
        ("load", wiring.load_ohm),
    ];
    // Writing to a String cannot fail.
    for (name, ohm) in ohms {
        if let Some(ohm) = ohm {
            let _ = write!(text, ", {name} {}", Ohms(ohm));
        }
    }
    if let Some(pct) = wiring.tolerance_pct {
        let _ = write!(text, ", parts +-{pct} %");
    }
    let track = wiring.network.track();
    if let Some(pct) = track.and_then(|track| track.tolerance_pct) {
        let _ = write!(text, ", track +-{pct} %");
    }
    if let Some(reference) = wiring.reference {
        let _ = write!(text, ", reference {} mV", reference.mv);
    }
    if let Some(pct) = wiring.supply_tolerance_pct() {
        let _ = write!(text, ", supply +-{pct} %");
    }
    text
}

fn expected(expected: &Expected, full_v: f64) -> Table {
    let rows = expected.rows.iter().map(|row| {
        vec![
            format!("{:.0} %", row.travel_pct).into(),
            row.code.to_string().into(),
            format!("{}..{}", row.code_low, row.code_high).into(),
            format!("{:.2} V", row.ratio * full_v).into(),
            format!(
                "{:.2}..{:.2}",
                row.ratio_low * full_v,
                row.ratio_high * full_v
            )
            .into(),
            format!("{:.4}", row.ratio).into(),
        ]
    });
    Table {
        caption: "Expected reading".to_owned(),
        columns: columns([
            ">travel",
            ">code",
            ">low..high",
            ">volts",
            ">low..high",
            ">of reference",
        ]),
        rows: rows.collect(),
        indent: 4,
        ..Table::default()
    }
}

/// What the wiring costs: span and loading, source resistance, supply.
fn costs(expected: &Expected) -> [String; 3] {
    let span = format!(
        "span {:+.1} codes, {:.1} % of the reference; {:.2} % lost to loading; error from loading {:+.2} % of span at \
         {:.0} % travel; bow {:+.2} % of span at {:.0} %",
        expected.span_code,
        expected.span_ratio.abs() * 100.0,
        expected.span_lost_pct,
        expected.loading_error_pct,
        expected.loading_error_at_pct,
        expected.nonlinearity_pct,
        expected.nonlinearity_at_pct
    );
    let source = expected.source_ohm.map_or(DASH.to_owned(), |ohm| {
        Ohms((ohm * 100.0).round() / 100.0).to_string()
    });
    let against = match expected.sampling_ok {
        Some(true) => "fine",
        Some(false) => "TOO HIGH",
        None => DASH,
    };
    let resistance = format!(
        "source impedance up to {source}: {against} (ADCs want less than {})",
        Ohms(expected.sampling_limit_ohm)
    );
    let supply = match expected.supply_shift_code {
        _ if expected.supply_effect.abs() < 1e-9 => {
            "sensor and ADC share the supply, so a sagging supply cancels out (ratiometric)"
                .to_owned()
        }
        Some(codes) => format!(
            "the reading follows the supply, 1 % for 1 %: up to +-{codes:.1} codes over its tolerance"
        ),
        None => "the reading follows the supply, 1 % for 1 %".to_owned(),
    };
    [span, resistance, supply]
}

fn pull_up(choice: &PullUpChoice) -> Table {
    let rows = choice.rows.iter().map(|row| {
        vec![
            row.from.to_string().into(),
            Ohms(row.ohm).to_string().into(),
            format!("{:.1}", row.span_code).into(),
            row.cost_pct
                .map_or_else(Cell::dash, |pct| format!("{pct:.2}").into()),
            format!("{:.2}", row.nonlinearity_pct).into(),
            format!("{:.2}", row.linearised_pct).into(),
            format!("{:.2}", row.least_codes_per_pct).into(),
            format!("{:.2}", row.wiper_ma).into(),
        ]
    });
    let best = choice.best_ohm;
    Table {
        caption: format!(
            "Pull-up for {} to {}{}",
            Ohms(choice.least_ohm),
            Ohms(choice.most_ohm),
            best.map_or_else(String::new, |ohm| format!(": most span with {}", Ohms(ohm)))
        ),
        columns: columns([
            "choice",
            "value",
            ">span\ncodes",
            ">cost\n%",
            ">bow before\n% of span",
            ">after\n%",
            ">least\ncodes/%",
            ">wiper\nmA",
        ]),
        rows: rows.collect(),
        indent: 4,
        ..Table::default()
    }
}

/// The threshold on either side.
fn thresholds(windows: &Windows) -> [String; 2] {
    [("below", &windows.low), ("above", &windows.high)].map(|(side, edge)| match edge {
        Some(edge) => threshold(side, edge),
        None => format!(
            "no room for a fault window {side} the valid range: nothing on that side can be caught"
        ),
    })
}

fn threshold(side: &str, edge: &WindowEdge) -> String {
    let fault = edge
        .nearest_fault
        .as_deref()
        .map_or("the end of the ADC".to_owned(), |name| {
            format!("\"{name}\"")
        });
    format!(
        "fault {side} {} codes ({:.4}): {:.1} codes ({:.1} %) from valid, {:.1} codes ({:.1} %) from {fault}",
        edge.code,
        edge.ratio,
        edge.to_valid_code,
        edge.to_valid_pct,
        edge.to_fault_code,
        edge.to_fault_pct
    )
}

fn faults(faults: &[FaultRow], within: f64) -> Table {
    let rows = faults.iter().map(|row| {
        let words = seen_as(row, within);
        vec![
            row.fault.to_string().into(),
            codes(row).into(),
            if words.contains("DANGEROUS") {
                Cell::Alarm(words)
            } else {
                Cell::Text(words)
            },
        ]
    });
    Table {
        caption: "Single faults".to_owned(),
        columns: columns(["fault", ">reads code", "what the board makes of it"]),
        rows: rows.collect(),
        indent: 4,
        wrapped: Some(2),
    }
}

/// The codes over travel, nominal.
fn codes(row: &FaultRow) -> String {
    let codes = row.points.iter().filter_map(|point| point.code);
    match (codes.clone().min(), codes.max()) {
        (Some(low), Some(high)) if low == high => low.to_string(),
        (Some(low), Some(high)) => format!("{low}..{high}"),
        _ => DASH.to_owned(),
    }
}

fn seen_as(row: &FaultRow, within: f64) -> String {
    let pair = row
        .pair_shows_at_pct
        .as_ref()
        .filter(|spans| !spans.is_empty() && row.missed())
        .map(|shown| format!("; the other track shows it at {}", spans(shown)));
    let pair = pair.unwrap_or_default();
    let partly = match row.class {
        Class::CaughtInPart => format!("; noticed only at {} of travel", spans(&row.caught_at_pct)),
        _ => String::new(),
    };
    let words = match row.class {
        Class::Caught if row.direction == Some(Direction::Unsafe) => {
            format!("caught: it reads high, and stops within {within:.0} ms")
        }
        Class::Caught => "caught".to_owned(),
        Class::ReadsTrue => "no harm".to_owned(),
        Class::SupplyDown => "supply down".to_owned(),
        Class::Floats => "DANGEROUS: loose, reads anything".to_owned(),
        Class::Hidden | Class::CaughtInPart => missed(row),
    };
    format!("{words}{partly}{pair}")
}

/// A reading that the board believes.
fn missed(row: &FaultRow) -> String {
    let Some([low, high]) = row.reads_as_pct else {
        return "DANGEROUS: loose, reads anything".to_owned();
    };
    let near = row
        .error_pct
        .filter(|[low, high]| *low > -NEAR_PCT && *high < NEAR_PCT);
    let reads = match near {
        Some([low, high]) => format!("{low:+.1}..{high:+.1} % off"),
        None if high < 0.5 => "reads as released".to_owned(),
        None => format!("reads as {} throttle", span(low, high)),
    };
    let above = row.error_pct.is_some_and(|[_, high]| high > SMALL_PCT);
    match (above, from(row)) {
        (true, Some(from)) => format!("DANGEROUS from {from} on: {reads}"),
        (true, None) => format!("DANGEROUS: {reads}"),
        (false, _) if near.is_some() => format!("not noticed: {reads}"),
        (false, _) => format!("not noticed: {reads} (harmless)"),
    }
}

/// Runs of travel, `0..45 %, 80..100 %`; a dash for none.
fn spans(runs: &[[f64; 2]]) -> String {
    if runs.is_empty() {
        return DASH.to_owned();
    }
    let runs: Vec<String> = runs.iter().map(|[a, b]| span(*a, *b)).collect();
    runs.join(", ")
}

fn span(low: f64, high: f64) -> String {
    if (high - low).abs() < 0.5 {
        format!("{low:.0} %")
    } else {
        format!("{low:.0}..{high:.0} %")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wiring::valid::EndLimits;
    use crate::wiring::{ControlWiring, TrackWiring};
    use measure::units::Track;

    fn text(wiring: &str) -> String {
        let control = ControlWiring {
            name: "speed-limit dial".to_owned(),
            supply_mv: 5000.0,
            bits: 10,
            zero: ZeroEnd::Rest,
            tracks: vec![TrackWiring {
                track: Track::One,
                wiring: serde_json::from_str(wiring).unwrap(),
                rest: EndLimits::default(),
                full: EndLimits::default(),
            }],
            stop_within_ms: 50.0,
            released: "With the pedal let go",
        };
        super::wiring(&WiringReport::of(&control).unwrap()).text()
    }

    #[test]
    fn the_dial_reads_well_and_keeps_to_eighty_columns_of_ascii() {
        let text = text(
            r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":5,"track_tolerance_pct":20}"#,
        );
        assert!(text.is_ascii());
        for line in text.lines() {
            assert!(line.len() <= 80, "{} columns: {line}", line.len());
        }
        insta::assert_snapshot!(text);
    }

    #[test]
    fn a_floating_wire_is_said_to_be_not_caught() {
        let text = text(r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":10000}"#);
        assert!(text.lines().any(|line| line.contains("signal wire open")
            && line.contains("DANGEROUS: loose, reads anything")));
    }
}
