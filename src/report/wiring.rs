//! A control's wiring: what should be read, what a pull-up costs, and what becomes of every single fault.

use super::document::{Block, Cell, Document, Section, Table, columns};
use crate::wiring::faults::{Class, Direction, FaultRow, ZeroEnd};
use crate::wiring::pair::PairFault;
use crate::wiring::pull_up::PullUpChoice;
use crate::wiring::reading::Expected;
use crate::wiring::search::{Ohms, Recommendation};
use crate::wiring::windows::{WindowEdge, Windows};
use crate::wiring::{Resistor, TrackReport, Wiring, WiringReport};
use measure::figure::numbers::DASH;
use std::fmt::Write as _;

/// A fault nearer to the true command than this, in percent, is told by its error instead of by its reading.
const NEAR_PCT: f64 = 15.0;

/// What the words of the fault table mean.
pub(super) const LEGEND: &str = "One fault at a time, by nodal analysis. caught: outside the valid range at every travel where the \
     reading is wrong. hidden: reads as a command. floats: nothing holds the pin. reads true: shows only with a second \
     fault. supply down: its own protection must act. unsafe: its error asks for more than the true position at some travel.";

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
            Section::untitled(blocks(report)),
            Section::untitled(vec![Block::paragraph(LEGEND)]),
        ],
    }
}

/// Each track, then both together.
pub(super) fn blocks(report: &WiringReport) -> Vec<Block<'static>> {
    let mut blocks: Vec<Block<'_>> = report.tracks.iter().flat_map(track).collect();
    if let Some(pair) = &report.pair {
        let faults = pair.faults.iter().map(pair_fault).collect();
        blocks.extend([
            Block::heading("Both tracks", ""),
            Block::Paragraph(format!(
                "Compared with a band of {:.0} % of travel, the other track shows what a window misses.",
                pair.band_pct
            )),
            Block::List("", faults),
        ]);
    }
    blocks
}

fn pair_fault(fault: &PairFault) -> String {
    format!(
        "{}: {}; window catches it at {}, comparison shows it at {}, unseen at {}{}",
        fault.fault,
        fault.class,
        spans(&fault.caught_at_pct),
        spans(&fault.pair_shows_at_pct),
        spans(&fault.unseen_pct()),
        match fault.direction {
            Some(Direction::Unsafe) => ", unsafe",
            Some(Direction::Safe) => ", safe",
            None => "",
        }
    )
}

fn track(track: &TrackReport) -> Vec<Block<'static>> {
    let windows = &track.windows;
    let mut blocks = vec![
        Block::heading(&format!("Track {}", track.track), wired(&track.wiring)),
        Block::Table(expected(&track.expected)),
        Block::List("", costs(&track.expected).to_vec()),
    ];
    if let Some(choice) = &track.pull_up {
        blocks.push(Block::Table(pull_up(choice)));
        blocks.push(Block::paragraph(&*choice.note));
    }
    blocks.extend([
        Block::Caption(format!(
            "Valid {}..{} codes ({:.4}..{:.4} of the reference)",
            windows.valid_code[0], windows.valid_code[1], windows.valid.low, windows.valid.high
        )),
        Block::List("", thresholds(windows).to_vec()),
        Block::Table(faults(&track.faults)),
    ]);
    if !track.hidden.is_empty() {
        let missed = track.hidden.iter();
        let missed = missed.map(|missed| format!("{}: {}", missed.fault, missed.advice));
        let title = "Missed by the windows, and the cheapest change that helps";
        blocks.push(Block::Caption(title.to_owned()));
        blocks.push(Block::List("- ", missed.collect()));
    }
    let change = track.recommended.iter().map(best_change);
    blocks.push(Block::List("> ", change.collect()));
    blocks.push(Block::List("! ", track.notes.clone()));
    blocks
}

fn best_change(change: &Recommendation) -> String {
    format!(
        "best single change: {}; missed faults {} -> {}, of these unsafe {} -> {}, span kept {:.1} %",
        change.change,
        change.missed_before,
        change.missed_after,
        change.unsafe_before,
        change.unsafe_after,
        change.span_kept_pct
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

fn expected(expected: &Expected) -> Table {
    let rows = expected.rows.iter().map(|row| {
        vec![
            format!("{:.0} %", row.travel_pct).into(),
            row.code.to_string().into(),
            format!("{}..{}", row.code_low, row.code_high).into(),
            format!("{:.4}", row.ratio).into(),
            format!("{:.4}..{:.4}", row.ratio_low, row.ratio_high).into(),
        ]
    });
    Table {
        caption: "Expected reading".to_owned(),
        columns: columns([
            ">travel",
            ">code",
            ">low..high",
            ">of reference",
            ">low..high",
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
        Some(true) => "within",
        Some(false) => "OVER",
        None => "-",
    };
    let resistance = format!(
        "source resistance at the pin up to {source}: {against} the {} that most sheets name for sampling",
        Ohms(expected.sampling_limit_ohm)
    );
    let supply = match expected.supply_shift_code {
        _ if expected.supply_effect.abs() < 1e-9 => {
            "supply and reference are one: changes of the supply cancel (ratiometric)".to_owned()
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
            "Pull-up for {} to {}: most span with {}",
            Ohms(choice.least_ohm),
            Ohms(choice.most_ohm),
            best.map_or_else(|| DASH.to_owned(), |ohm| Ohms(ohm).to_string())
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

fn faults(faults: &[FaultRow]) -> Table {
    let rows = faults.iter().map(|row| {
        let cell = if row.missed() {
            Cell::Alarm
        } else {
            Cell::Text
        };
        let alarm = |text: &str| cell(text.to_owned());
        vec![
            row.fault.to_string().into(),
            codes(row).into(),
            match row.direction {
                Some(Direction::Safe) => "safe".into(),
                Some(Direction::Unsafe) => alarm("unsafe"),
                None => Cell::dash(),
            },
            alarm(&seen_as(row)),
        ]
    });
    Table {
        caption: "Single faults".to_owned(),
        columns: columns(["fault", ">reads code", "error", "seen as"]),
        rows: rows.collect(),
        indent: 4,
        wrapped: Some(3),
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

fn seen_as(row: &FaultRow) -> String {
    let read = match (row.reads_as_pct, row.error_pct) {
        (_, Some([low, high])) if low > -NEAR_PCT && high < NEAR_PCT => {
            Some(format!("{low:+.1}..{high:+.1} % off the true command"))
        }
        (Some([low, high]), _) => Some(format!("reads {} of command", span(low, high))),
        (None, _) => None,
    };
    let pair = row
        .pair_shows_at_pct
        .as_ref()
        .filter(|spans| !spans.is_empty() && row.missed())
        .map(|shown| format!("; pair shows {}", spans(shown)));
    let pair = pair.unwrap_or_default();
    match (row.class, read) {
        (Class::CaughtInPart, Some(read)) => {
            format!(
                "caught only at {}, else {read}{pair}",
                spans(&row.caught_at_pct)
            )
        }
        (Class::CaughtInPart, None) => {
            format!(
                "caught only at {}, else floats{pair}",
                spans(&row.caught_at_pct)
            )
        }
        (Class::Hidden, Some(read)) => format!("HIDDEN, {read}{pair}"),
        (Class::Floats, _) => format!("FLOATS, not caught{pair}"),
        (class, _) => class.to_string(),
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
        };
        super::wiring(&WiringReport::of(&control).unwrap()).text()
    }

    #[test]
    fn the_dial_reads_well_and_keeps_to_eighty_columns_of_ascii() {
        let text = text(
            r#"{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":5,"track_tolerance_pct":20}"#,
        );
        assert!(text.is_ascii());
        for line in text.lines() {
            assert!(line.len() <= 80, "{} columns: {line}", line.len());
        }
        insta::assert_snapshot!(text);
    }

    #[test]
    fn a_floating_wire_is_said_to_be_not_caught() {
        let text = text(r#"{"network":"three-wire","track_ohm":10000}"#);
        assert!(text.lines().any(|line| line.contains("signal wire open")
            && line.contains("unsafe")
            && line.contains("FLOATS, not caught")));
    }
}
