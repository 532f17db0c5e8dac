//! A control's wiring as plain text: ASCII, at most 80 columns.
//!
//! Belongs here: columns and words. Does not belong here: anything computed.

use super::page::Page;
use crate::wiring::faults::{Class, Direction, FaultRow, ZeroEnd};
use crate::wiring::pair::{PairFault, PairReport};
use crate::wiring::pull_up::PullUpChoice;
use crate::wiring::reading::Expected;
use crate::wiring::search::{Ohms, Recommendation};
use crate::wiring::windows::{Edge, Windows};
use crate::wiring::{TrackReport, Wiring, WiringReport};
use std::fmt::Write as _;

/// A fault nearer to the true command than this, in percent, is told by its error instead of by its reading.
const NEAR_PCT: f64 = 15.0;

/// What the words of the fault table mean.
pub(super) const LEGEND: &str = "One fault at a time, by nodal analysis. caught: outside the valid range at every travel where the \
     reading is wrong. hidden: reads as a command. floats: nothing holds the pin. reads true: shows only with a second \
     fault. supply down: its own protection must act. unsafe: its error asks for more than the true position at some travel.";

/// The whole report, ending in a newline.
#[must_use]
pub fn render(report: &WiringReport) -> String {
    let mut page = Page::default();
    let zero = match report.zero_command_at {
        ZeroEnd::Rest => "rest",
        ZeroEnd::Full => "full",
    };
    page.line(&report.profile);
    page.line(&format!(
        "supply {} mV, {} bits, zero command at {zero}",
        report.supply_mv, report.bits
    ));
    for track in &report.tracks {
        page.gap();
        track_part(&mut page, track);
    }
    if let Some(pair) = &report.pair {
        page.gap();
        page.line("BOTH TRACKS");
        page.words(&band_words(pair));
        for fault in &pair.faults {
            page.words(&pair_words(fault));
        }
    }
    page.gap();
    page.words(LEGEND);
    page.text()
}

/// What the comparison of two tracks does.
pub(super) fn band_words(pair: &PairReport) -> String {
    format!(
        "Compared with a band of {:.0} % of travel, the other track shows what a window misses.",
        pair.band_pct
    )
}

/// A fault of both tracks at once.
pub(super) fn pair_words(fault: &PairFault) -> String {
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

fn track_part(page: &mut Page, track: &TrackReport) {
    page.hang(
        &format!("TRACK {}  ", track.track),
        "         ",
        &wired(&track.wiring),
    );
    page.gap();
    expected_part(page, &track.expected);
    if let Some(choice) = &track.pull_up {
        page.gap();
        pull_up_part(page, choice);
    }
    page.gap();
    window_part(page, &track.windows);
    page.gap();
    fault_part(page, &track.faults);
    if !track.hidden.is_empty() {
        page.gap();
        page.line("  Missed by the windows, and the cheapest change that helps");
        for missed in &track.hidden {
            page.hang(
                "  - ",
                "    ",
                &format!("{}: {}", missed.fault, missed.advice),
            );
        }
    }
    if let Some(change) = &track.recommended {
        page.hang("  > ", "    ", &change_words(change));
    }
    for note in &track.notes {
        page.hang("  ! ", "    ", note);
    }
}

/// The best single change.
pub(super) fn change_words(change: &Recommendation) -> String {
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

/// The wiring in words.
pub(super) fn wired(wiring: &Wiring) -> String {
    let mut words = wiring.network.word().to_owned();
    let ohms = [
        ("track", wiring.track_ohm),
        ("output", wiring.output_ohm),
        ("low end", wiring.end_low_ohm),
        ("high end", wiring.end_high_ohm),
        ("pull-up", wiring.pull_up_ohm),
        ("pull-down", wiring.pull_down_ohm),
        ("divider top", wiring.divider_top_ohm),
        ("divider bottom", wiring.divider_bottom_ohm),
        ("series", wiring.series_ohm),
        ("load", wiring.load_ohm),
    ];
    // Writing to a String cannot fail.
    for (name, ohm) in ohms {
        if let Some(ohm) = ohm {
            let _ = write!(words, ", {name} {}", Ohms(ohm));
        }
    }
    if let Some(pct) = wiring.tolerance_pct {
        let _ = write!(words, ", parts +-{pct} %");
    }
    if let Some(pct) = wiring.track_tolerance_pct {
        let _ = write!(words, ", track +-{pct} %");
    }
    if let Some(mv) = wiring.reference_mv {
        let _ = write!(words, ", reference {mv} mV");
    }
    if let Some(pct) = wiring.supply_tolerance_pct {
        let _ = write!(words, ", supply +-{pct} %");
    }
    words
}

fn expected_part(page: &mut Page, expected: &Expected) {
    page.line("  Expected reading");
    page.line("    travel    code   low..high    of reference   low..high");
    for row in &expected.rows {
        page.line(&format!(
            "    {:>4.0} % {:>7} {:>6}..{:<6} {:>12.4} {:>10.4}..{:.4}",
            row.travel_pct,
            row.code,
            row.code_low,
            row.code_high,
            row.ratio,
            row.ratio_low,
            row.ratio_high
        ));
    }
    for words in expected_words(expected) {
        page.words(&words);
    }
}

/// What the wiring costs: span and loading, source resistance, supply.
pub(super) fn expected_words(expected: &Expected) -> [String; 3] {
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
    let source = expected.source_ohm.map_or("-".to_owned(), |ohm| {
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

fn pull_up_part(page: &mut Page, choice: &PullUpChoice) {
    page.line(&format!(
        "  Pull-up for {} to {}: most span with {}",
        Ohms(choice.least_ohm),
        Ohms(choice.most_ohm),
        choice
            .best_ohm
            .map_or("-".to_owned(), |ohm| Ohms(ohm).to_string())
    ));
    page.line("    choice     value        span   cost  bow before  after  least     wiper");
    page.line("                           codes      %   % of span      %  codes/%      mA");
    for row in &choice.rows {
        page.line(&format!(
            "    {:<9} {:<11} {:>6.1} {:>6} {:>11.2} {:>6.2} {:>8.2} {:>7.2}",
            row.from,
            Ohms(row.ohm),
            row.span_code,
            row.cost_pct
                .map_or("-".to_owned(), |pct| format!("{pct:.2}")),
            row.nonlinearity_pct,
            row.linearised_pct,
            row.least_codes_per_pct,
            row.wiper_ma
        ));
    }
    page.words(&choice.note);
}

fn window_part(page: &mut Page, windows: &Windows) {
    page.line(&format!("  {}", valid_words(windows)));
    for words in edges_words(windows) {
        page.words(&words);
    }
}

/// The valid range.
pub(super) fn valid_words(windows: &Windows) -> String {
    format!(
        "Valid {}..{} codes ({:.4}..{:.4} of the reference)",
        windows.valid_code[0], windows.valid_code[1], windows.valid.low, windows.valid.high
    )
}

/// The threshold on either side.
pub(super) fn edges_words(windows: &Windows) -> [String; 2] {
    [("below", &windows.low), ("above", &windows.high)].map(|(side, edge)| match edge {
        Some(edge) => edge_words(side, edge),
        None => format!(
            "no room for a fault window {side} the valid range: nothing on that side can be caught"
        ),
    })
}

fn edge_words(side: &str, edge: &Edge) -> String {
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

fn fault_part(page: &mut Page, faults: &[FaultRow]) {
    page.line("  Single faults");
    page.line("    fault                       reads code   error   seen as");
    for row in faults {
        let lead = format!(
            "    {:<27} {:<12} {:<7} ",
            row.fault.to_string(),
            codes(row),
            match row.direction {
                Some(Direction::Safe) => "safe",
                Some(Direction::Unsafe) => "unsafe",
                None => "-",
            }
        );
        page.hang(&lead, &" ".repeat(lead.len()), &becomes(row));
    }
}

/// The codes over travel, nominal.
pub(super) fn codes(row: &FaultRow) -> String {
    let codes = row.points.iter().filter_map(|point| point.code);
    match (codes.clone().min(), codes.max()) {
        (Some(low), Some(high)) if low == high => low.to_string(),
        (Some(low), Some(high)) => format!("{low}..{high}"),
        _ => "-".to_owned(),
    }
}

pub(super) fn becomes(row: &FaultRow) -> String {
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
pub(super) fn spans(runs: &[[f64; 2]]) -> String {
    if runs.is_empty() {
        return "-".to_owned();
    }
    let words: Vec<String> = runs.iter().map(|[a, b]| span(*a, *b)).collect();
    words.join(", ")
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
    use super::super::page::COLUMNS;
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
        render(&WiringReport::of(&control).unwrap())
    }

    #[test]
    fn the_dial_reads_well_and_keeps_to_eighty_columns_of_ascii() {
        let text = text(
            r#"{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":5,"track_tolerance_pct":20}"#,
        );
        assert!(text.is_ascii());
        for line in text.lines() {
            assert!(line.len() <= COLUMNS, "{} columns: {line}", line.len());
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
