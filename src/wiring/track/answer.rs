//! The answer first: what drives the motor, what to do about it, where to stop.

use super::super::faults::{FaultRow, SMALL_PCT};
use super::super::pair::{BAND, PairReport};
use super::super::parts::SeverityUnit;
use super::super::search::Ohms;
use super::TrackReport;
use measure::units::maths;
use schemars::JsonSchema;
use serde::Serialize;

/// A single fault that drives the motor while the control stands at its zero end, and nothing notices.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Danger {
    /// `None` of both tracks together.
    pub track: Option<measure::units::Track>,
    pub fault: String,
    /// The highest command in percent.
    pub command_pct: f64,
    /// How bad it must be: `28 ohm`; `None` for what either is or is not.
    pub from: Option<String>,
}

/// What a person needs to know, the worst first.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Answer {
    pub dangers: Vec<Danger>,
    /// What to do, one line a track.
    pub advice: Vec<String>,
    /// How many are left then.
    pub left: usize,
    /// What to do in sentences; empty where nothing drives the motor.
    #[serde(skip)]
    pub remedy: String,
    /// All of it in sentences.
    pub sentences: Vec<String>,
}

/// `released` begins the sentence: "With the pedal let go".
pub fn answer(released: &str, tracks: &[TrackReport], pair: Option<&PairReport>) -> Answer {
    let mut dangers = Vec::new();
    if pair.is_none() {
        for track in tracks {
            let rows = track.faults.iter();
            dangers.extend(rows.filter_map(|row| danger(track, row)));
        }
    }
    let both = pair.iter().flat_map(|pair| &pair.faults);
    dangers.extend(both.filter_map(|fault| {
        let command_pct = fault.at_zero_pct.filter(|pct| *pct > SMALL_PCT)?;
        Some(Danger {
            track: None,
            fault: fault.fault.to_owned(),
            command_pct,
            from: None,
        })
    }));
    dangers.sort_by(|a, b| b.command_pct.total_cmp(&a.command_pct));
    let (advice, left) = what_to_do(tracks, pair, &dangers);
    let mut sentences = vec![headline(released, &dangers, unseen_pct(tracks))];
    if left > 0 && left == dangers.len() {
        sentences.push("No resistor takes them away: use a control with two tracks, each with its own supply and ground wire.".to_owned());
    } else if !dangers.is_empty() {
        sentences.push(format!("Do this: {}.", advice.join("; ")));
        sentences.push(match left {
            0 => "After that none is left.".to_owned(),
            1 => "After that 1 is left.".to_owned(),
            n => format!("After that {n} are left."),
        });
    }
    let remedy = sentences[1..].join(" ");
    if pair.is_some() {
        sentences.push(format!(
            "If a fault moves one track alone by more than {:.0} % of travel, the other shows it; the dead band covers less, and \
             `constants` says what gets through.",
            100.0 * BAND
        ));
    }
    sentences.extend(tracks.iter().map(|track| stop(track, tracks.len() > 1)));
    Answer {
        dangers,
        advice,
        left,
        remedy,
        sentences,
    }
}

fn danger(track: &TrackReport, row: &FaultRow) -> Option<Danger> {
    let command_pct = row.at_zero_pct.filter(|pct| *pct > SMALL_PCT)?;
    Some(Danger {
        track: Some(track.track),
        fault: row.fault.to_string(),
        command_pct,
        from: from(row),
    })
}

/// How bad a fault must be to be dangerous, in words.
pub fn from(row: &FaultRow) -> Option<String> {
    let (from, of) = (row.dangerous_from?, row.fault.severities()?);
    Some(match of.unit {
        SeverityUnit::Volt => format!("{:.2} V", from.abs()),
        SeverityUnit::Ohm => Ohms(two_digits(from)).to_string(),
    })
}

fn two_digits(ohm: f64) -> f64 {
    let unit = maths::pow(10.0, maths::log10(ohm).floor() - 1.0);
    (ohm / unit).round() * unit
}

/// The most that a fault of one track commands at the zero end without being noticed, percent.
fn unseen_pct(tracks: &[TrackReport]) -> f64 {
    let rows = tracks.iter().flat_map(|track| &track.faults);
    rows.filter_map(|row| row.at_zero_pct).fold(0.0, f64::max)
}

/// `unseen_pct`: what the comparison of two tracks leaves, where there are no dangers.
fn headline(released: &str, dangers: &[Danger], unseen_pct: f64) -> String {
    if dangers.is_empty() && unseen_pct > SMALL_PCT {
        return format!(
            "{released}, no single fault drives the motor to more than {unseen_pct:.0} % unnoticed: the other track shows it."
        );
    }
    if dangers.is_empty() {
        return format!("{released}, no single fault drives the motor unnoticed.");
    }
    let list: Vec<String> = dangers
        .iter()
        .map(|danger| {
            let from = danger.from.as_ref();
            let from = from.map_or_else(String::new, |from| format!(", from {from}"));
            format!("{} (to {:.0} %{from})", danger.fault, danger.command_pct)
        })
        .collect();
    let list = list.join(", ");
    match dangers.len() {
        1 => format!("{released}, 1 single fault drives the motor unnoticed: {list}."),
        n => {
            format!("{released}, {n} single faults drive the motor unnoticed, worst first: {list}.")
        }
    }
}

fn what_to_do(
    tracks: &[TrackReport],
    pair: Option<&PairReport>,
    dangers: &[Danger],
) -> (Vec<String>, usize) {
    if pair.is_some() {
        let advice = "use two tracks of different slope that both rise: when their wires touch, they agree at zero only";
        return (vec![advice.to_owned()], 0);
    }
    let mut left = dangers.len();
    let mut advice: Vec<String> = Vec::new();
    for change in tracks.iter().filter_map(|track| track.recommended.as_ref()) {
        if change.drive_after < change.drive_before {
            left = left + change.drive_after - change.drive_before;
            advice.push(change.change.clone());
        }
    }
    if left > 0 {
        advice.push(if advice.is_empty() {
            "no resistor helps: use a control with two tracks, each with its own supply and ground wire".to_owned()
        } else {
            "against the rest use a control with two tracks, each with its own supply and ground wire".to_owned()
        });
    }
    (advice, left)
}

fn stop(track: &TrackReport, several: bool) -> String {
    let of = if several {
        format!("Track {}: ", track.track)
    } else {
        String::new()
    };
    let (low, high) = (&track.windows.low, &track.windows.high);
    match (
        low.as_ref().map(|edge| edge.code),
        high.as_ref().map(|edge| edge.code),
    ) {
        (Some(low), Some(high)) => format!("{of}Stop at readings below {low} or above {high}."),
        (Some(low), None) => {
            format!("{of}Stop at readings below {low}; there is no room for an upper limit.")
        }
        (None, Some(high)) => {
            format!("{of}Stop at readings above {high}; there is no room for a lower limit.")
        }
        (None, None) => format!("{of}There is no room for a limit on either side."),
    }
}
