//! The fault window: thresholds between what the unit and its kind may read and the nearest reading of a fault.

use super::evidence::TrackEvidence;
use super::{Choice, Margin, to_code};
use crate::constants::Window;
use crate::wiring::windows::{WindowEdge, Windows};

/// Least distance in codes from a threshold to either side.
const LEAST_ROOM: f64 = 1.0;

/// A window with the room that its unit's noise has on each side, in codes from the nearest level.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PlacedWindow {
    pub window: Window,
    pub choices: [Choice; 2],
    /// Sigmas from the nearest end's mean level to each threshold; infinite where there is none.
    pub sigma: [f64; 2],
}

/// One side of the window, in codes that grow outwards on the high side and fall on the low side.
struct Side<'a> {
    what: &'static str,
    /// +1 for the high side, -1 for the low side.
    out: f64,
    edge: Option<&'a WindowEdge>,
    valid: f64,
    rail: u16,
}

/// The window of one track. Each threshold lies half-way between the nearest fault's reading and the widest reading that is
/// good: of the kind over tolerance, of this unit with its scatter and noise, and every code that it read in use.
pub(super) fn window(seen: &TrackEvidence, windows: &Windows, top: u16) -> PlacedWindow {
    let codes = f64::from(top) + 1.0;
    let low = place(
        seen,
        &Side {
            what: "window low",
            out: -1.0,
            edge: windows.low.as_ref(),
            valid: windows.valid.low * codes,
            rail: 0,
        },
        codes,
    );
    let high = place(
        seen,
        &Side {
            what: "window high",
            out: 1.0,
            edge: windows.high.as_ref(),
            valid: windows.valid.high * codes,
            rail: top,
        },
        codes,
    );
    PlacedWindow {
        window: Window {
            low: low.0,
            high: high.0,
        },
        sigma: [low.2, high.2],
        choices: [low.1, high.1],
    }
}

fn place(seen: &TrackEvidence, side: &Side<'_>, codes: f64) -> (u16, Choice, f64) {
    let top = to_code(codes - 1.0, u16::MAX);
    let end = [&seen.rest, &seen.full]
        .into_iter()
        .max_by(|a, b| (a.level() * side.out).total_cmp(&(b.level() * side.out)))
        .unwrap_or(&seen.rest);
    let read = f64::from(if side.out > 0.0 {
        seen.read[1]
    } else {
        seen.read[0]
    });
    let measured = farther(end.level() + side.out * end.reach(), read, side.out);
    let good = farther(side.valid, measured, side.out);
    let fault = side.edge.map(|edge| {
        let code = edge.ratio * codes + side.out * edge.to_fault_code;
        let name = edge.nearest_fault.clone();
        (
            code,
            name.unwrap_or_else(|| "the end of the ADC".to_owned()),
        )
    });
    let choice = |code: u16, reason: String, margin: Margin| Choice {
        place: String::new(),
        channel: seen.channel.clone(),
        what: side.what,
        value: f64::from(code),
        unit: "code",
        reason,
        margin,
    };
    let room = fault.filter(|(code, _)| (code - good) * side.out >= 2.0 * LEAST_ROOM);
    let Some((fault, name)) = room else {
        let why = if side.edge.is_none() {
            format!(
                "a good control of this kind may read {} to the end of the ADC (code {:.0}): no room for a threshold",
                if side.out > 0.0 { "up" } else { "down" },
                side.valid
            )
        } else {
            format!(
                "this part reads to code {measured:.0}, where the nearest fault reads: no room for a threshold"
            )
        };
        let margin = Margin::words("none: no fault is caught on this side");
        return (side.rail, choice(side.rail, why, margin), f64::INFINITY);
    };
    let middle = f64::midpoint(good, fault);
    let code = to_code(
        if side.out > 0.0 {
            middle.floor()
        } else {
            middle.ceil()
        },
        top,
    );
    let whose = if (good - side.valid).abs() < f64::EPSILON {
        "widest good reading over tolerance"
    } else {
        "widest reading of this part with scatter and noise"
    };
    let away = (f64::from(code) - end.level()).abs();
    let mut margin = Margin::codes(
        away,
        end.noise,
        seen.span(),
        &format!("this part's {} end", end.word),
    );
    let to_fault = (fault - f64::from(code)).abs();
    margin.words = format!(
        "{}; {:.1} codes, {:.1} sigma, {:.2} % of span to the fault",
        margin.words,
        to_fault,
        to_fault / end.noise,
        100.0 * to_fault / seen.span().abs()
    );
    let reason = format!(
        "half-way between the {whose} (code {good:.1}) and the nearest single fault, {name} (code {fault:.1})"
    );
    (code, choice(code, reason, margin), away / end.noise)
}

fn farther(a: f64, b: f64, out: f64) -> f64 {
    if (a - b) * out >= 0.0 { a } else { b }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wiring::faults::ZeroEnd;
    use crate::wiring::valid::EndLimits;
    use crate::wiring::windows::windows;
    use crate::wiring::{FaultAnalysis, Hookup};

    /// A hall pedal of 0.1 to 0.9, faults at 0 and 1: thresholds of the kind at 51.2 and 972.8 codes.
    fn kind() -> Windows {
        let text = r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"low_ratio":0.1,"high_ratio":0.9,"load_ohm":1e12}"#;
        let hookup = Hookup::new(serde_json::from_str(text).unwrap(), 5000.0, 10).unwrap();
        let none = EndLimits::default();
        let analysis = FaultAnalysis::new(&hookup, ZeroEnd::Rest, none, none).unwrap();
        windows(&hookup, analysis.valid(), &analysis.judge_all())
    }

    fn seen(rest: f64, full: f64, read: [u16; 2]) -> TrackEvidence {
        let unit = TrackEvidence::example("x", &[rest; 3], &[full; 3], 0.5);
        TrackEvidence { read, ..unit }
    }

    /// By hand: 51.2 up to 52, 972.8 down to 972; 110 - 52 = 58 codes are 116 sigma.
    #[test]
    fn half_way_for_a_unit_inside_its_kind() {
        let placed = window(&seen(110.0, 910.0, [108, 912]), &kind(), 1023);
        assert_eq!(placed.window, Window { low: 52, high: 972 });
        assert!((placed.sigma[0] - 116.0).abs() < 1e-9 && (placed.sigma[1] - 124.0).abs() < 1e-9);
        let falling = window(&seen(910.0, 110.0, [108, 912]), &kind(), 1023);
        assert_eq!(falling.window, placed.window);
    }

    /// A unit that reads down to code 60 moves the threshold to 30; one that reads 1 leaves no room, and says so.
    #[test]
    fn a_unit_that_reads_farther_moves_it_and_may_leave_none() {
        let placed = window(&seen(110.0, 910.0, [60, 912]), &kind(), 1023);
        assert_eq!(placed.window.low, 30);
        assert!(
            placed.choices[0].reason.contains("this part"),
            "{:?}",
            placed.choices[0]
        );
        let none = window(&seen(110.0, 910.0, [1, 912]), &kind(), 1023);
        assert_eq!(none.window.low, 0);
        assert!(none.sigma[0].is_infinite() && none.choices[0].margin.words.contains("none"));
    }
}
