//! Two tracks compared: what the comparison shows that no window does, and what can go wrong between them.

use super::analysis::FaultAnalysis;
use super::curve::Curve;
use super::faults::{Class, Direction, FaultRow, percent, runs, travels};
use super::hookup::Hookup;
use super::schematic::signals_shorted;
use super::valid::GAP;
use schemars::JsonSchema;
use serde::Serialize;

/// Difference of the two tracks' travel from which the board takes them to disagree, as a fraction of travel.
///
/// 10 % (for longer than 100 ms): published rule sets of student racing, see `tests/reference/16-published-numbers.json`.
pub const BAND: f64 = 0.10;

/// A fault of both tracks at once.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PairFault {
    pub fault: &'static str,
    /// What becomes of it with windows and comparison together.
    #[schemars(with = "String")]
    pub class: Class,
    /// Which way it errs where nothing shows it; `None` when everything does.
    pub direction: Option<Direction>,
    /// Travels in percent at which a window catches it.
    pub caught_at_pct: Vec<[f64; 2]>,
    /// Travels in percent at which the comparison shows it.
    pub pair_shows_at_pct: Vec<[f64; 2]>,
    /// The highest command in percent that it is taken for while the control stands at its zero end and nothing shows it, over the
    /// tolerances; `None` when it is always shown there.
    pub at_zero_pct: Option<f64>,
}

/// The comparison of two tracks.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
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
        // At the zero end the other track shows more than the band: of what comes by degrees less than that is left.
        let band = BAND * 100.0;
        row.at_zero_pct = match (row.at_zero_pct, row.fault.severity()) {
            (Some(pct), _) if pct <= band => Some(pct),
            (Some(_), Some(_)) => Some(band),
            _ => None,
        };
    }
}

/// What can go wrong between two tracks on one supply: their signal wires touching. They are taken to disagree beyond `band` of
/// travel.
pub fn compare(one: &FaultAnalysis, two: &FaultAnalysis, band: f64) -> PairReport {
    PairReport {
        band_pct: band * 100.0,
        faults: vec![signal_short(one, two, band)],
    }
}

#[derive(Clone, Copy, PartialEq)]
enum State {
    True,
    Caught,
    Shown,
    Missed(f64),
}

/// Two units, one of each track, with what judges them.
struct Touching<'a> {
    tracks: [&'a FaultAnalysis; 2],
    units: [(Hookup, Curve); 2],
    band: f64,
}

fn signal_short(one: &FaultAnalysis, two: &FaultAnalysis, band: f64) -> PairFault {
    let tracks = [one, two];
    let unit = |hookup: &Hookup| (*hookup, Curve::of(hookup));
    let nominal = Touching {
        tracks,
        units: [unit(one.hookup()), unit(two.hookup())],
        band,
    };
    let states: Vec<(f64, State)> = travels()
        .map(|travel| (travel, nominal.state(travel)))
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
        at_zero_pct: at_zero(&nominal),
    }
}

/// Over the units of both tracks that read least and most.
fn at_zero(nominal: &Touching<'_>) -> Option<f64> {
    let zero = nominal.tracks[0].zero().travel();
    let units = nominal.tracks.map(|track| {
        let units = track.extreme_units();
        units
            .into_iter()
            .map(|unit| (unit, Curve::of(&unit)))
            .collect::<Vec<_>>()
    });
    let pairs = units[0]
        .iter()
        .flat_map(|a| units[1].iter().map(move |b| [*a, *b]));
    let commands = pairs.filter_map(|units| {
        let touching = Touching {
            units,
            tracks: nominal.tracks,
            band: nominal.band,
        };
        match touching.state(zero) {
            State::Missed(command) => Some(command * 100.0),
            State::True | State::Caught | State::Shown => None,
        }
    });
    commands.reduce(f64::max)
}

impl Touching<'_> {
    /// Both tracks with their signal wires touching, at one travel.
    fn state(&self, travel: f64) -> State {
        let [(one, first), (two, second)] = &self.units;
        let wirings = [one.wiring(), two.wiring()];
        let (circuit, pins) = signals_shorted(wirings, one.supply_mv() / 1000.0, travel);
        let Ok(solution) = circuit.solve() else {
            return State::Caught; // two stiff outputs against each other: neither reads anything valid for long
        };
        let read = |hookup: &Hookup, pin| Some(hookup.ratio(solution.volts(pin)?));
        let (Some(a), Some(b)) = (read(one, pins[0]), read(two, pins[1])) else {
            return State::Missed(1.0);
        };
        let [windows, others] = self.tracks.map(FaultAnalysis::thresholds);
        if windows.catch(a) || others.catch(b) {
            return State::Caught;
        }
        if (first.share(a) - second.share(b)).abs() > self.band {
            return State::Shown;
        }
        let taken = first.travel_of(a);
        if (taken - travel).abs() <= GAP {
            State::True
        } else {
            State::Missed(self.tracks[0].zero().command(taken))
        }
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
    use super::super::valid::EndLimits;
    use super::*;

    fn analysis(low: f64, high: f64, falling: bool) -> FaultAnalysis {
        let (rest, full) = if falling { (1, 0) } else { (0, 1) };
        let text = format!(
            r#"{{"supply_is_reference":true,"network":"buffered","output_ohm":1000,"low_ratio":{low},"high_ratio":{high},
                "rest_at":{rest},"full_at":{full}}}"#
        );
        let hookup = Hookup::new(serde_json::from_str(&text).unwrap(), 5000.0, 10).unwrap();
        let none = EndLimits::default();
        FaultAnalysis::new(&hookup, ZeroEnd::Rest, none, none).unwrap()
    }

    #[test]
    fn equal_tracks_hide_their_own_short() {
        // Both at the same voltage: touching changes nothing, and no comparison will ever show the next fault.
        let fault =
            &compare(&analysis(0.1, 0.9, false), &analysis(0.1, 0.9, false), BAND).faults[0];
        assert_eq!(fault.class, Class::ReadsTrue);
    }

    #[test]
    fn half_slope_shows_its_short_beyond_the_start() {
        // Mean of 0.1..0.9 and 0.05..0.45 at full: 0.675; track 2 then reads far above its 0.45: caught. By hand.
        let fault = &compare(
            &analysis(0.1, 0.9, false),
            &analysis(0.05, 0.45, false),
            BAND,
        )
        .faults[0];
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
        let fault = &compare(&analysis(0.1, 0.9, false), &analysis(0.1, 0.9, true), BAND).faults[0];
        assert_eq!(fault.class, Class::Hidden);
        assert_eq!(fault.direction, Some(Direction::Unsafe));
        assert!(
            (fault.at_zero_pct.unwrap() - 50.0).abs() < 1e-9,
            "{fault:?}"
        );
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
