//! Everything about a control's wiring in one value, ready to be printed or written as JSON.

use super::analysis::FaultAnalysis;
use super::analysis::judged::{TrackFaults, fitted};
use super::faults::{FaultRow, ZeroEnd};
use super::hookup::{Hookup, HookupError};
use super::network::Wiring;
use super::pair::{self, PairReport};
use super::pull_up;
use super::reading::{self, Expected};
use super::search::Search;
use super::track::answer::{Answer, answer};
use super::track::rules::{self, Rule};
use super::track::{MissedFault, TrackReport};
use super::valid::EndLimits;
use super::windows::Windows;
use measure::units::Track;
use schemars::JsonSchema;
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
    /// Within which time a fault must have stopped the output.
    pub stop_within_ms: f64,
    /// How a sentence begins that speaks of the control at its zero end: `With the pedal let go`.
    pub released: &'static str,
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

    /// Every fault of every track, without the search for changes.
    pub fn judged(&self) -> Result<Vec<JudgedTrack>, SurveyError> {
        if self.tracks.is_empty() {
            return Err(SurveyError::NoWiring(self.name.clone()));
        }
        let paired = self.tracks.len() == 2;
        let tracks = self.tracks.iter().map(|track| {
            let hookup = self.hookup(track)?;
            let judged = TrackFaults::of(&hookup, self.zero, track.rest, track.full)
                .ok_or(SurveyError::NoReading(track.track))?;
            let mut faults = judged.rows.clone();
            if paired {
                pair::mark(&judged.analysis, &mut faults);
            }
            Ok(JudgedTrack {
                wired: *track,
                judged,
                faults,
            })
        });
        tracks.collect()
    }

    pub fn track(&self, track: Track) -> Option<&TrackWiring> {
        self.tracks.iter().find(|wired| wired.track == track)
    }

    /// The fault windows of every track alone, without the search for changes: quick.
    pub fn windows(&self) -> Result<BTreeMap<Track, Windows>, SurveyError> {
        self.tracks
            .iter()
            .map(|track| Ok((track.track, fitted(&self.analysis(track)?))))
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

/// Everything that `wiring` says about a control.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(title = "wiring/1")]
pub struct WiringReport {
    /// `wiring/1`.
    #[schemars(extend("const" = "wiring/1"))]
    pub format: &'static str,
    pub profile: String,
    pub supply_mv: f64,
    pub bits: u32,
    pub zero_command_at: ZeroEnd,
    pub tracks: Vec<TrackReport>,
    /// Both tracks compared, when there are two.
    pub pair: Option<PairReport>,
    /// What matters, the worst first.
    pub answer: Answer,
    /// What published rules ask of two tracks; empty with one.
    pub rules: Vec<Rule>,
    pub stop_within_ms: f64,
}

impl WiringReport {
    /// Looks at a control's wiring. Takes up to a few seconds where many parts have tolerances.
    pub fn of(control: &ControlWiring) -> Result<Self, SurveyError> {
        let judged = control.judged()?;
        let paired = judged.len() == 2;
        let tracks = judged.iter().map(|track| survey(track, paired));
        let tracks = tracks.collect::<Result<Vec<_>, _>>()?;
        let benches = || [&judged[0].judged.analysis, &judged[1].judged.analysis];
        let pair = paired.then(|| {
            let [one, two] = benches();
            pair::compare(one, two, pair::BAND)
        });
        let rules = pair.as_ref().map(|pair| {
            let benches = benches();
            rules::rules(
                [&tracks[0], &tracks[1]],
                benches,
                pair,
                control.stop_within_ms,
            )
        });
        Ok(Self {
            format: "wiring/1",
            profile: control.name.clone(),
            supply_mv: control.supply_mv,
            bits: control.bits,
            zero_command_at: control.zero,
            answer: answer(control.released, &tracks, pair.as_ref()),
            rules: rules.unwrap_or_default(),
            stop_within_ms: control.stop_within_ms,
            tracks,
            pair,
        })
    }
}

/// A track with every fault judged, before anything is said of what to do.
#[derive(Debug, Clone)]
pub struct JudgedTrack {
    pub wired: TrackWiring,
    judged: TrackFaults,
    /// Every fault; beside another track with where the two show it.
    pub faults: Vec<FaultRow>,
}

impl JudgedTrack {
    /// The search for changes that help: it takes most of the time of a survey.
    pub fn search(&self) -> Search<'_> {
        Search::around(&self.judged, self.wired.rest, self.wired.full)
    }

    /// The faults as this track's windows see them, whatever another track shows.
    fn alone(&self) -> &[FaultRow] {
        &self.judged.rows
    }
}

/// `paired`: what is one of two tracks is not rewired by itself; the other track shows what it does not.
fn survey(track: &JudgedTrack, paired: bool) -> Result<TrackReport, SurveyError> {
    let hookup = track.judged.analysis.hookup();
    let name = track.wired.track;
    let expected = reading::expected(hookup).ok_or(SurveyError::NoReading(name))?;
    let search = track.search();
    let missed = track.alone().iter().filter(|row| row.missed());
    let hidden: Vec<MissedFault> = missed
        .map(|row| MissedFault {
            fault: row.fault,
            class: row.class,
            direction: row.direction,
            reads_as_pct: row.reads_as_pct,
            advice: search.advise(row),
            cured: !paired && search.cure(row).is_some(),
        })
        .collect();
    Ok(TrackReport {
        track: name,
        wiring: track.wired.wiring,
        pull_up: pull_up::choose(hookup),
        windows: track.judged.windows.clone(),
        notes: notes(hookup, &expected, &track.faults),
        expected,
        faults: track.faults.clone(),
        hidden,
        recommended: search.recommend().filter(|_| !paired),
        searched: search.searched(),
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
            "assumed: an unpowered sensor drives nothing; real parts may leak: test it".to_owned(),
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
    if hookup.ratiometric() && !w.supply_is_reference {
        notes.push(
            "nothing says what the ADC measures against: the supply may be off by 5 %; if supply and reference are one, state \
             `supply_is_reference`: true, else `reference_mv`"
                .to_owned(),
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
            stop_within_ms: 50.0,
            released: "With the pedal let go",
        }
    }

    #[test]
    fn a_dials_report_says_that_a_short_to_ground_is_hidden_and_what_to_do() {
        let report = WiringReport::of(&control(&[
            r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":5}"#,
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

    /// Exact parts that are said to be exact are those of which nothing is said, and nothing is asked of them.
    #[test]
    fn a_tolerance_of_nothing_is_exact() {
        let bare = r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":20000,"pull_down_ohm":100000}"#;
        let exact = bare.replace('}', r#","tolerance_pct":0}"#);
        let [silent, said] =
            [bare, &exact].map(|text| WiringReport::of(&control(&[text])).unwrap());
        let [silent, said] = [silent, said].map(|mut report| report.tracks.remove(0));
        assert_eq!(silent.faults, said.faults);
        assert_eq!(silent.windows, said.windows);
        let asks = |track: &TrackReport| {
            track
                .notes
                .iter()
                .any(|note| note.contains("taken as exact"))
        };
        assert!(asks(&silent) && !asks(&said));
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
        let mut bad =
            control(&[r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":10000}"#]);
        bad.bits = 0;
        assert!(WiringReport::of(&bad).is_err());
    }

    #[test]
    fn windows_alone_are_those_of_the_report() {
        let control = control(&[
            r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84,"pull_down_ohm":100000}"#,
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
            r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":5}"#,
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
            "format profile supply_mv bits zero_command_at tracks pair answer rules stop_within_ms"
        );
        let track = &json["tracks"][0];
        assert_eq!(
            names(track),
            "track wiring expected pull_up faults windows hidden recommended notes searched"
        );
        assert_eq!(
            names(&track["faults"][0]),
            "fault class direction caught_at_pct reads_as_pct error_pct ratio_range points pair_shows_at_pct at_zero_pct dangerous_from"
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
        let pedal = r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84,"pull_down_ohm":100000}"#;
        let half = r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"low_ratio":0.08,"high_ratio":0.42,"pull_down_ohm":100000}"#;
        let report = WiringReport::of(&control(&[pedal, half])).unwrap();
        assert_eq!(report.pair.unwrap().faults.len(), 1);
        assert!(report.tracks[0].faults[0].pair_shows_at_pct.is_some());
        // A bad joint in the ground wire moves one track by as much as the comparison lets through.
        let first = &report.answer.sentences[0];
        assert!(first.contains("to more than 10 % unnoticed"), "{first}");
    }
}
