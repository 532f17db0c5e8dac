//! Two tracks compared: what the comparison shows that no window does, and what can go wrong between them.

use super::analysis::FaultAnalysis;
use super::faults::{Class, Direction, FaultRow, percent, runs, travels};
use super::schematic::signals_shorted;
use super::valid::GAP;
use serde::Serialize;

/// Difference of the two tracks' travel from which the board takes them to disagree, as a fraction of travel.
///
/// 10 % (for longer than 100 ms): published rule sets of student racing, see `tests/reference/16-published-numbers.json`.
pub const BAND: f64 = 0.10;

/// A fault of both tracks at once.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairFault {
    pub fault: &'static str,
    /// What becomes of it with windows and comparison together.
    pub class: Class,
    /// Which way it errs where nothing shows it; `None` when everything does.
    pub direction: Option<Direction>,
    /// Travels in percent at which a window catches it.
    pub caught_at_pct: Vec<[f64; 2]>,
    /// Travels in percent at which the comparison shows it.
    pub pair_shows_at_pct: Vec<[f64; 2]>,
}

/// The comparison of two tracks.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairReport {
    pub band_pct: f64,
    pub faults: Vec<PairFault>,
}

/// Notes in one track's faults at which travels the other track, being good, shows what a window does not.
pub fn mark(analysis: &FaultAnalysis, rows: &mut [FaultRow]) {
    for row in rows {
        let marks = row.points.iter().map(|point| {
            let travel = point.travel_pct / 100.0;
            let shown = point.ratio.is_some_and(|ratio| {
                !analysis.thresholds().catch(ratio)
                    && (analysis.curve().travel_of(ratio) - travel).abs() > BAND
            });
            (travel, shown)
        });
        row.pair_shows_at_pct = Some(runs(marks));
    }
}

/// What can go wrong between two tracks on one supply: their signal wires touching.
pub fn compare(one: &FaultAnalysis, two: &FaultAnalysis) -> PairReport {
    PairReport {
        band_pct: BAND * 100.0,
        faults: vec![signal_short(one, two)],
    }
}

#[derive(PartialEq)]
enum State {
    True,
    Caught,
    Shown,
    Missed(f64),
}

fn signal_short(one: &FaultAnalysis, two: &FaultAnalysis) -> PairFault {
    let states: Vec<(f64, State)> = travels()
        .map(|travel| (travel, short_at(one, two, travel)))
        .collect();
    let any = |wanted: fn(&State) -> bool| states.iter().any(|(_, state)| wanted(state));
    let missed = any(|s| matches!(s, State::Missed(_)));
    let seen = any(|s| matches!(s, State::Caught | State::Shown));
    let beyond = states.iter().any(|(travel, state)| match state {
        State::Missed(command) => *command > one.zero().command(*travel) + GAP,
        _ => false,
    });
    PairFault {
        fault: "signal 1-signal 2 short",
        class: match (missed, seen) {
            (true, true) => Class::CaughtInPart,
            (true, false) => Class::Hidden,
            (false, true) => Class::Caught,
            (false, false) => Class::ReadsTrue,
        },
        direction: missed.then_some(if beyond {
            Direction::Unsafe
        } else {
            Direction::Safe
        }),
        caught_at_pct: runs(states.iter().map(|(t, s)| (*t, *s == State::Caught))),
        pair_shows_at_pct: runs(states.iter().map(|(t, s)| (*t, *s == State::Shown))),
    }
}

/// Both tracks with their signal wires touching, at one travel, nominal.
fn short_at(one: &FaultAnalysis, two: &FaultAnalysis, travel: f64) -> State {
    let wirings = [one.hookup().wiring(), two.hookup().wiring()];
    let (circuit, pins) = signals_shorted(wirings, one.hookup().supply_mv() / 1000.0, travel);
    let Ok(solution) = circuit.solve() else {
        return State::Caught; // two stiff outputs against each other: neither reads anything valid for long
    };
    let read = |analysis: &FaultAnalysis, pin| Some(analysis.hookup().ratio(solution.volts(pin)?));
    let (Some(a), Some(b)) = (read(one, pins[0]), read(two, pins[1])) else {
        return State::Missed(1.0);
    };
    if one.thresholds().catch(a) || two.thresholds().catch(b) {
        return State::Caught;
    }
    let (first, second) = (one.curve().travel_of(a), two.curve().travel_of(b));
    if (first - second).abs() > BAND {
        State::Shown
    } else if (first - travel).abs() <= GAP {
        State::True
    } else {
        State::Missed(one.zero().command(first))
    }
}

impl PairFault {
    /// Travels in percent at which nothing shows it, for people: all less what is caught or shown.
    pub fn unseen_pct(&self) -> Vec<[f64; 2]> {
        let inside =
            |runs: &[[f64; 2]], at: f64| runs.iter().any(|[from, to]| (*from..=*to).contains(&at));
        runs(travels().map(|travel| {
            let at = percent(travel);
            let seen = inside(&self.caught_at_pct, at) || inside(&self.pair_shows_at_pct, at);
            (travel, !seen)
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::super::faults::ZeroEnd;
    use super::super::hookup::Hookup;
    use super::super::valid::EndLimits;
    use super::*;

    fn analysis(low: f64, high: f64, falling: bool) -> FaultAnalysis {
        let (rest, full) = if falling { (1, 0) } else { (0, 1) };
        let text = format!(
            r#"{{"network":"buffered","output_ohm":1000,"low_ratio":{low},"high_ratio":{high},
                "rest_at":{rest},"full_at":{full}}}"#
        );
        let hookup = Hookup::new(serde_json::from_str(&text).unwrap(), 5000.0, 10).unwrap();
        let none = EndLimits::default();
        FaultAnalysis::new(&hookup, ZeroEnd::Rest, none, none).unwrap()
    }

    #[test]
    fn equal_tracks_hide_their_own_short() {
        // Both at the same voltage: touching changes nothing, and no comparison will ever show the next fault.
        let fault = &compare(&analysis(0.1, 0.9, false), &analysis(0.1, 0.9, false)).faults[0];
        assert_eq!(fault.class, Class::ReadsTrue);
    }

    #[test]
    fn half_slope_shows_its_short_beyond_the_start() {
        // Mean of 0.1..0.9 and 0.05..0.45 at full: 0.675; track 2 then reads far above its 0.45: caught. By hand.
        let fault = &compare(&analysis(0.1, 0.9, false), &analysis(0.05, 0.45, false)).faults[0];
        assert!(
            fault
                .caught_at_pct
                .iter()
                .any(|run| (run[1] - 100.0).abs() < 1e-9)
        );
    }

    #[test]
    fn crossed_tracks_show_their_short_except_where_they_cross() {
        // Both read the mean, 0.5, at every travel: each says half-way. Right at half; elsewhere nothing differs.
        let fault = &compare(&analysis(0.1, 0.9, false), &analysis(0.1, 0.9, true)).faults[0];
        assert_eq!(fault.class, Class::Hidden);
        assert_eq!(fault.direction, Some(Direction::Unsafe));
    }

    #[test]
    fn the_other_track_shows_a_hidden_reading() {
        let analysis = analysis(0.005, 0.9, false);
        let mut rows = analysis.judge_all();
        mark(&analysis, &mut rows);
        let short = rows
            .iter()
            .find(|row| row.fault.to_string() == "signal-ground short");
        let short = short.unwrap();
        assert_eq!(short.class, Class::Hidden);
        assert_eq!(short.pair_shows_at_pct, Some(vec![[15.0, 100.0]]));
    }
}
