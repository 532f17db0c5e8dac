//! Everything about a control's wiring in one value, ready to be printed or written as JSON.

use super::analysis::FaultAnalysis;
use super::faults::{Class, Direction, FaultRow, ZeroEnd};
use super::hookup::{Hookup, HookupError};
use super::network::Wiring;
use super::pair::{self, PairReport};
use super::parts::Fault;
use super::pull_up::{self, PullUpChoice};
use super::reading::{self, Expected};
use super::search::{Advice, Recommendation, Search};
use super::valid::EndLimits;
use super::windows::{Windows, windows};
use measure::units::Track;
use serde::Serialize;
use std::collections::BTreeMap;
use thiserror::Error;

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrackWiring {
    pub track: Track,
    pub wiring: Wiring,
    /// The profile's limits at rest, fractions of the reference.
    pub rest: EndLimits,
    /// The profile's limits fully operated.
    pub full: EndLimits,
}

/// A control to be looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlWiring {
    pub name: String,
    pub supply_mv: f64,
    pub bits: u32,
    pub zero: ZeroEnd,
    pub tracks: Vec<TrackWiring>,
}

impl ControlWiring {
    /// A track's wiring on its supply and its board.
    pub fn hookup(&self, track: &TrackWiring) -> Result<Hookup, SurveyError> {
        Hookup::new(track.wiring, self.supply_mv, self.bits).map_err(|source| SurveyError::Hookup {
            track: track.track,
            source,
        })
    }

    /// The ground on which a track's faults are judged.
    pub fn analysis(&self, track: &TrackWiring) -> Result<FaultAnalysis, SurveyError> {
        FaultAnalysis::new(&self.hookup(track)?, self.zero, track.rest, track.full)
            .ok_or(SurveyError::NoReading(track.track))
    }

    pub fn track(&self, track: Track) -> Option<&TrackWiring> {
        self.tracks.iter().find(|wired| wired.track == track)
    }

    /// The fault windows of every track alone, without the search for changes: quick.
    pub fn windows(&self) -> Result<BTreeMap<Track, Windows>, SurveyError> {
        self.tracks
            .iter()
            .map(|track| {
                let analysis = self.analysis(track)?;
                let rows = analysis.judge_all();
                Ok((
                    track.track,
                    windows(analysis.hookup(), analysis.valid(), &rows),
                ))
            })
            .collect()
    }
}

/// Why a control's wiring could not be looked at.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SurveyError {
    #[error("profile `{0}` says of no track how it is wired: add `wiring` to a track")]
    NoWiring(String),
    #[error("track {track}: {source}")]
    Hookup { track: Track, source: HookupError },
    #[error(
        "track {0}: a good control wired like this has no reading: its pin floats or its supply is shorted"
    )]
    NoReading(Track),
}

/// A fault that windows miss, with what to do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MissedFault {
    pub fault: Fault,
    pub class: Class,
    /// Which way it errs.
    pub direction: Option<Direction>,
    /// What it is taken for where it is not caught, percent of command.
    pub reads_as_pct: Option<[f64; 2]>,
    /// The cheapest change that helps.
    pub advice: Advice,
}

/// Everything about one track.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrackReport {
    pub track: Track,
    pub wiring: Wiring,
    pub expected: Expected,
    /// The choice of a pull-up; rheostats only.
    pub pull_up: Option<PullUpChoice>,
    pub faults: Vec<FaultRow>,
    /// The valid range and the thresholds around it.
    pub windows: Windows,
    /// The faults that the windows miss.
    pub hidden: Vec<MissedFault>,
    /// The one change that leaves fewest of them; `None` when none helps or none is needed.
    pub recommended: Option<Recommendation>,
    /// What was assumed and what to look up.
    pub notes: Vec<String>,
}

/// Everything that `wiring` says about a control.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WiringReport {
    /// `wiring/1`.
    pub format: &'static str,
    pub profile: String,
    pub supply_mv: f64,
    pub bits: u32,
    pub zero_command_at: ZeroEnd,
    pub tracks: Vec<TrackReport>,
    /// Both tracks compared, when there are two.
    pub pair: Option<PairReport>,
}

impl WiringReport {
    /// Looks at a control's wiring. Takes up to a few seconds where many parts have tolerances.
    pub fn of(control: &ControlWiring) -> Result<Self, SurveyError> {
        if control.tracks.is_empty() {
            return Err(SurveyError::NoWiring(control.name.clone()));
        }
        let benches = control
            .tracks
            .iter()
            .map(|track| Ok((track, control.analysis(track)?)))
            .collect::<Result<Vec<_>, _>>()?;
        let paired = benches.len() == 2;
        let tracks = benches
            .iter()
            .map(|(track, analysis)| survey(track, analysis, paired))
            .collect::<Result<Vec<_>, _>>()?;
        // With the windows that the board will have, as each track's own faults are judged.
        let chosen = |at: usize| {
            let (_, analysis): &(_, FaultAnalysis) = &benches[at];
            analysis
                .clone()
                .with_thresholds(tracks[at].windows.thresholds())
        };
        let pair = paired.then(|| pair::compare(&chosen(0), &chosen(1)));
        Ok(Self {
            format: "wiring/1",
            profile: control.name.clone(),
            supply_mv: control.supply_mv,
            bits: control.bits,
            zero_command_at: control.zero,
            tracks,
            pair,
        })
    }
}

fn survey(
    track: &TrackWiring,
    analysis: &FaultAnalysis,
    paired: bool,
) -> Result<TrackReport, SurveyError> {
    let hookup = analysis.hookup();
    let expected = reading::expected(hookup).ok_or(SurveyError::NoReading(track.track))?;
    // Once with thresholds as near as they may stand, to find where they should; then with these.
    let windows = windows(hookup, analysis.valid(), &analysis.judge_all());
    let analysis = &analysis.clone().with_thresholds(windows.thresholds());
    let mut faults = analysis.judge_all();
    let search = Search::around(analysis, &faults, track.rest, track.full);
    let hidden: Vec<MissedFault> = faults
        .iter()
        .filter(|row| row.missed())
        .map(|row| MissedFault {
            fault: row.fault,
            class: row.class,
            direction: row.direction,
            reads_as_pct: row.reads_as_pct,
            advice: search.advise(row),
        })
        .collect();
    let advised: Vec<Advice> = hidden.iter().map(|missed| missed.advice.clone()).collect();
    let recommended = search.recommend(&advised);
    if paired {
        pair::mark(analysis, &mut faults);
    }
    Ok(TrackReport {
        track: track.track,
        wiring: track.wiring,
        pull_up: pull_up::choose(hookup),
        windows,
        notes: notes(hookup, &expected, &faults),
        expected,
        faults,
        hidden,
        recommended,
    })
}

fn notes(hookup: &Hookup, expected: &Expected, faults: &[FaultRow]) -> Vec<String> {
    let w = hookup.wiring();
    let mut notes = Vec::new();
    if let Some(sensor) = w.network.sensor() {
        if sensor.low_ratio.is_none() || sensor.high_ratio.is_none() {
            let (low, high) = sensor.drive_ends();
            notes.push(format!(
                "output taken as {low} to {high} of the supply (common practice): state `low_ratio` and `high_ratio`"
            ));
        }
        notes.push(
            "a sensor without supply or ground is taken not to drive; real parts may leak or clamp"
                .to_owned(),
        );
    }
    if w.tolerance_pct.is_none() {
        notes.push("no tolerance stated: parts taken as exact; state `tolerance_pct`".to_owned());
    }
    if !hookup.ratiometric() && w.supply_tolerance_pct().is_none() {
        notes.push(
            "the reference is not the supply, and the supply is taken as exact: state `supply_tolerance_pct`".to_owned(),
        );
    }
    if expected.sampling_ok == Some(false) {
        notes.push(format!(
            "the pin sees more than {:.0} ohm, a common data-sheet limit for sampling: put 100 nF from the pin to ground \
             or sample slowly, and look into the controller's sheet",
            reading::SAMPLING_LIMIT_OHM
        ));
    }
    notes.extend(over_voltage(hookup, expected, faults));
    notes
}

/// A pin driven above its reference, by a good control or by a fault.
fn over_voltage(hookup: &Hookup, expected: &Expected, faults: &[FaultRow]) -> Option<String> {
    /// Volts above the supply of the controller that a pin commonly bears; a common data-sheet figure.
    const BEARS_V: f64 = 0.3;
    let reference = expected.reference_v;
    if expected.pin_max_v > reference {
        return Some(format!(
            "a good control drives the pin to {:.2} V, above the reference of {reference:.2} V: add an input divider",
            expected.pin_max_v
        ));
    }
    let worst = faults
        .iter()
        .flat_map(|row| {
            [0.0, 0.5, 1.0].map(|t| (hookup.volts(t, Some(row.fault)).ok().flatten(), row.fault))
        })
        .filter_map(|(volts, fault)| volts.map(|volts| (volts, fault)))
        .max_by(|a, b| a.0.total_cmp(&b.0))?;
    (worst.0 > reference + BEARS_V).then(|| {
        format!(
            "{} drives the pin to {:.2} V, over the reference of {reference:.2} V: the pin must bear the current, see the \
             controller's sheet",
            worst.1, worst.0
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn control(texts: &[&str]) -> ControlWiring {
        ControlWiring {
            name: "test".to_owned(),
            supply_mv: 5000.0,
            bits: 10,
            zero: ZeroEnd::Rest,
            tracks: texts
                .iter()
                .zip([Track::One, Track::Two])
                .map(|(text, track)| TrackWiring {
                    track,
                    wiring: serde_json::from_str(text).unwrap(),
                    rest: EndLimits::default(),
                    full: EndLimits::default(),
                })
                .collect(),
        }
    }

    #[test]
    fn a_dials_report_says_that_a_short_to_ground_is_hidden_and_what_to_do() {
        let report = WiringReport::of(&control(&[
            r#"{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":5}"#,
        ]))
        .unwrap();
        let json = serde_json::to_value(&report).unwrap();
        let hidden = &json["tracks"][0]["hidden"][0];
        assert_eq!(hidden["fault"], "signal-ground short");
        assert_eq!(hidden["class"], "hidden");
        assert_eq!(hidden["reads_as_pct"], serde_json::json!([0.0, 0.0]));
        assert!(hidden["advice"].as_str().unwrap().contains("ground end"));
        assert!(json["pair"].is_null());
    }

    #[test]
    fn a_pin_driven_over_its_reference_is_said() {
        let report = WiringReport::of(&control(&[
            r#"{"network":"buffered","output_ohm":100,"reference_mv":3300}"#,
        ]))
        .unwrap();
        let notes = report.tracks[0].notes.join("\n");
        assert!(notes.contains("add an input divider"), "{notes}");
        assert!(notes.contains("low_ratio"), "{notes}");
        assert!(notes.contains("supply_tolerance_pct"), "{notes}");
    }

    #[test]
    fn no_track_and_bad_bits_are_told() {
        let none = WiringReport::of(&control(&[])).unwrap_err().to_string();
        assert!(none.contains("add `wiring`"), "{none}");
        let mut bad = control(&[r#"{"network":"three-wire","track_ohm":10000}"#]);
        bad.bits = 0;
        assert!(WiringReport::of(&bad).is_err());
    }

    #[test]
    fn windows_alone_are_those_of_the_report() {
        let control = control(&[
            r#"{"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84,"pull_down_ohm":100000}"#,
        ]);
        let report = WiringReport::of(&control).unwrap();
        assert_eq!(
            control.windows().unwrap()[&Track::One],
            report.tracks[0].windows
        );
    }

    /// The names that scripts may lean on.
    #[test]
    fn the_members_of_the_json() {
        let report = WiringReport::of(&control(&[
            r#"{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":5}"#,
        ]))
        .unwrap();
        let json = serde_json::to_value(&report).unwrap();
        let names = |value: &serde_json::Value| {
            let names: Vec<&str> = value
                .as_object()
                .unwrap()
                .keys()
                .map(String::as_str)
                .collect();
            names.join(" ")
        };
        assert_eq!(
            names(&json),
            "format profile supply_mv bits zero_command_at tracks pair"
        );
        let track = &json["tracks"][0];
        assert_eq!(
            names(track),
            "track wiring expected pull_up faults windows hidden recommended notes"
        );
        assert_eq!(
            names(&track["faults"][0]),
            "fault class direction caught_at_pct reads_as_pct error_pct ratio_range points pair_shows_at_pct"
        );
        assert_eq!(names(&track["windows"]), "valid valid_code low high");
        assert!(track["windows"]["low"].is_null(), "no room is null, not 0");
        assert_eq!(
            names(&track["windows"]["high"]),
            "ratio code to_valid_pct to_valid_code to_fault_pct to_fault_code nearest_fault"
        );
        assert_eq!(
            names(&track["hidden"][0]),
            "fault class direction reads_as_pct advice"
        );
    }

    #[test]
    fn two_tracks_are_compared() {
        let pedal = r#"{"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84,"pull_down_ohm":100000}"#;
        let half = r#"{"network":"buffered","output_ohm":100,"low_ratio":0.08,"high_ratio":0.42,"pull_down_ohm":100000}"#;
        let report = WiringReport::of(&control(&[pedal, half])).unwrap();
        assert_eq!(report.pair.unwrap().faults.len(), 1);
        assert!(report.tracks[0].faults[0].pair_shows_at_pct.is_some());
    }
}
