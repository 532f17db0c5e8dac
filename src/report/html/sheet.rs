//! One machine's sheet: one A4 page to hang at it, to check it with a meter and to write on.

use crate::machine::{CaptureSeen, Control, Link, LinkState, Machine, Seen, Standing};
use jiff::Timestamp;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use measure::figure::numbers::{DASH, fixed};

const STYLE: &str = include_str!("sheet.css");
/// Controls that have room; of more the sheet says that there are more.
const MOST_CONTROLS: usize = 4;
/// Wire faults that are told: whoever reads more remembers none.
const MOST_DANGERS: usize = 3;
/// Longest text of a table's cell, letters.
const LONGEST: usize = 90;
/// The same of what a proof leaves open, which nobody may miss: more than the names of all faults.
const LONGEST_WHY: usize = 600;
/// Longest name of a control, letters.
const NAME: usize = 18;
const CHECKS: usize = 6;

/// The signs of the board's LED, as its firmware gives them (`src/firmware/README.md`).
const LED: [(&str, &str); 4] = [
    (
        "slow blinking (1 s)",
        "waiting for the pedal at its zero end",
    ),
    ("fast blinking (4 a second)", "pedal not at zero: let it go"),
    ("on", "running"),
    (
        "flashes and a pause",
        "STOPPED: count the flashes; power off, find out why",
    ),
];

const EMERGENCY: &str = "EMERGENCY: press the emergency stop that does not pass through this board. Then switch off. Never bridge a stop to get home.";
const RULE: &str = "Before any work on it: drive wheels off the ground or motor leads off, traction battery isolated while wiring. A bench verdict is no type approval and replaces neither local rules nor a licensed person.";

/// The sheet as one HTML file.
pub fn machine_sheet(
    machine: &Machine,
    standing: &Standing,
    seen: &Seen,
    printed: Timestamp,
) -> String {
    let dense = (machine.controls.len() > 2).then_some("dense");
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                (super::head())
                title { (machine.name) }
                style { (PreEscaped(STYLE)) }
            }
            body class=[dense] {
                header {
                    h1 { (cut(&machine.name, 60)) }
                    (state(standing, printed))
                }
                p class="emergency" { (EMERGENCY) }
                (parts(machine, standing))
                div class="two" {
                    (meter(machine, seen))
                    (pins(machine, seen))
                }
                (constants(machine, standing))
                div class="two" {
                    (dangers(machine, seen))
                    (led())
                }
                (checks(standing))
                p class="small" { (RULE) }
            }
        }
    }
    .into_string()
}

fn state(standing: &Standing, printed: Timestamp) -> Markup {
    let word = if standing.ready && standing.simulated() {
        "READY, but simulated: do not drive it"
    } else if standing.ready {
        "READY"
    } else if standing.failed() {
        "NOT READY: do not drive it"
    } else {
        "NOT READY"
    };
    let next = (!standing.ready).then(|| {
        let what = standing
            .next
            .split(": pedalproof")
            .next()
            .unwrap_or_default();
        format!("; next: {}", cut(what, LONGEST))
    });
    html! { p class="state" { b { (word) } " " small { "printed " (day(printed)) @if let Some(next) = next { (next) } } } }
}

fn day(at: Timestamp) -> String {
    at.strftime("%-d %b %Y").to_string()
}

/// A text that has room.
fn cut(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most - 1).collect();
    format!("{}\u{2026}", kept.trim_end())
}

fn mark(state: LinkState) -> &'static str {
    match state {
        LinkState::Done => "\u{25cf} done",
        LinkState::Failed => "\u{2716} FAILED",
        LinkState::Stale => "! STALE",
        LinkState::Missing => "\u{25cb} missing",
    }
}

fn parts(machine: &Machine, standing: &Standing) -> Markup {
    let rows = machine.controls.iter().take(MOST_CONTROLS);
    let link = |part: &str, control: &Control| {
        let link = standing.link(&format!("{part} {}", control.name));
        link.map_or(DASH, |link| mark(link.state))
    };
    let said = |control: &Control| {
        let link = standing.link(&format!("control {}", control.name));
        link.map_or_else(String::new, |link| cut(&link.why, LONGEST))
    };
    html! {
        h2 { "Parts" }
        table {
            tr { th { "control" } th { "measured" } th { "wiring" } th { "part, date, verdict" } }
            @for control in rows {
                tr {
                    td { (cut(&control.name, NAME)) } td { (link("control", control)) } td { (link("wiring", control)) }
                    td { (said(control)) }
                }
            }
        }
        @if machine.controls.len() > MOST_CONTROLS {
            p { "and " (machine.controls.len() - MOST_CONTROLS) " more: see the machine's file" }
        }
    }
}

/// What a meter shows at each signal pin: a person has one.
fn meter(machine: &Machine, seen: &Seen) -> Markup {
    let rows = machine.controls.iter().zip(&seen.controls);
    let rows = rows.take(MOST_CONTROLS).flat_map(|(control, seen)| {
        let capture = match &seen.capture {
            Some((_, Ok(capture))) => Some(capture),
            _ => None,
        };
        volts(control, capture)
    });
    html! {
        section {
            h2 { "Check with a meter" }
            table {
                tr { th { "signal" } th { "pin" } th { "at rest" } th { "full" } th { "today" } }
                @for [signal, pin, rest, full] in rows {
                    tr { td { (signal) } td { (pin) } td { (rest) } td { (full) } td class="write" {} }
                }
            }
        }
    }
}

fn volts(control: &Control, capture: Option<&CaptureSeen>) -> Vec<[String; 4]> {
    let pin = |at: usize| {
        control
            .pins
            .get(at)
            .map_or_else(|| DASH.to_owned(), |pin| cut(pin, 8))
    };
    let volt = |mv: Option<f64>| {
        mv.map_or_else(
            || DASH.to_owned(),
            |mv| format!("{} V", fixed(mv / 1000.0, 2)),
        )
    };
    let Some(capture) = capture else {
        return vec![[
            cut(&control.name, NAME),
            pin(0),
            DASH.to_owned(),
            DASH.to_owned(),
        ]];
    };
    let channels = capture.ends.iter().enumerate().take(2);
    channels
        .map(|(at, ends)| {
            [
                cut(&ends.channel, 16),
                pin(at),
                volt(ends.rest_mv),
                volt(ends.full_mv),
            ]
        })
        .collect()
}

/// Pins to wires, the colours to be filled in.
fn pins(machine: &Machine, seen: &Seen) -> Markup {
    let controls = machine.controls.iter().zip(&seen.controls);
    let controls = controls.take(MOST_CONTROLS);
    let wires = controls.flat_map(|(control, seen)| {
        let signals = control
            .pins
            .iter()
            .take(2)
            .enumerate()
            .map(move |(at, pin)| {
                let number = if control.pins.len() > 1 {
                    format!(" {}", at + 1)
                } else {
                    String::new()
                };
                (
                    cut(pin, 8),
                    format!("{} signal{number}", cut(&control.name, NAME)),
                )
            });
        let rails = [("5V", "supply"), ("GND", "ground")].map(|(pin, what)| {
            (
                pin.to_owned(),
                format!("{} {what}", cut(&control.name, NAME)),
            )
        });
        let rails = rails.into_iter().skip(usize::from(!seen.has_supply_wire));
        signals.chain(rails)
    });
    html! {
        section {
            h2 { "Pins and wire colours" }
            table class="wires" {
                tr { th { "board" } th { "wire" } th { "colour" } }
                @for (pin, wire) in wires {
                    tr { td { (pin) " \u{2500}\u{2500}" } td { (wire) } td class="write" {} }
                }
            }
        }
    }
}

fn constants(machine: &Machine, standing: &Standing) -> Markup {
    let rows = ["constants", "output proof", "fault proof"];
    let links = rows.iter().filter_map(|name| standing.link(name));
    let board = machine.board.as_deref().unwrap_or("______________");
    let file = |link: &Link| {
        link.evidence
            .as_deref()
            .map_or_else(|| DASH.to_owned(), |file| cut(file, 40))
    };
    html! {
        h2 { "Board " (cut(board, 40)) }
        table {
            tr { th { "" } th { "state" } th { "file" } th { "" } }
            @for link in links {
                tr { td { (link.link) } td { (mark(link.state)) } td { (file(link)) } td { (cut(&link.why, LONGEST_WHY)) } }
            }
        }
    }
}

fn dangers(machine: &Machine, seen: &Seen) -> Markup {
    let known = |seen: &crate::machine::SeenControl| match &seen.wiring {
        Ok(wiring) => [&wiring.drives_at_rest[..], &wiring.others[..]].concat(),
        Err(why) => vec![why.clone()],
    };
    let mut all = Vec::new();
    // The worst of each control before the second of any.
    let each: Vec<Vec<String>> = seen.controls.iter().map(known).collect();
    for rank in 0..MOST_DANGERS {
        all.extend(each.iter().filter_map(|of| of.get(rank)));
    }
    let none = all.is_empty();
    let degrees = by_degrees(machine, seen);
    html! {
        section {
            h2 { "Wire faults that the board does not notice" }
            @if none { p { "No broken or touching wire gives more than was asked." } }
            ul { @for danger in all.into_iter().take(MOST_DANGERS) { li { (cut(danger, LONGEST)) } } }
            @if !degrees.is_empty() {
                p { "Bad joints, worn contacts, moisture and a plug in the wrong place still can:" }
                ul { @for danger in degrees { li { (danger) } } }
            }
        }
    }
}

/// What comes by degrees and gives more, a line for each control.
fn by_degrees(machine: &Machine, seen: &Seen) -> Vec<String> {
    let controls = machine.controls.iter().zip(&seen.controls);
    let lines = controls.take(MOST_CONTROLS).filter_map(|(control, seen)| {
        let found = &seen.wiring.as_ref().ok()?.by_degrees;
        let first: Vec<&str> = found
            .iter()
            .take(MOST_DANGERS)
            .map(String::as_str)
            .collect();
        let more = match found.len().saturating_sub(MOST_DANGERS) {
            0 => String::new(),
            n => format!(" and {n} more"),
        };
        let name = cut(&control.name, NAME);
        (!first.is_empty()).then(|| format!("{name}: {}{more}", first.join(", ")))
    });
    lines.collect()
}

fn led() -> Markup {
    html! {
        section {
            h2 { "The board's LED" }
            table { @for (sign, meaning) in LED { tr { td { (sign) } td { (meaning) } } } }
        }
    }
}

fn checks(standing: &Standing) -> Markup {
    let due = standing
        .check_due
        .map_or_else(|| DASH.to_owned(), |due| due.strftime("%b %Y").to_string());
    html! {
        h2 { "Checks \u{2014} next: " (due) }
        table class="checks" {
            tr { th { "date" } th { "what was found" } th { "by" } th { "signature" } }
            @for _ in 0..CHECKS { tr { td {} td {} td {} td {} } }
        }
    }
}
