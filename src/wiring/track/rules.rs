//! What published rules ask of a control with two tracks, held against its wiring: a yardstick, for nothing obliges a workshop
//! vehicle to it.
//!
//! Source: Formula SAE Rules T.4.2 (reference file 35).

use super::super::analysis::FaultAnalysis;
use super::super::faults::FaultRow;
use super::super::hookup::Hookup;
use super::super::pair::{BAND, PairReport};
use super::super::parts::{Fault, Wire};
use super::super::schematic::shared_ground;
use super::TrackReport;
use measure::units::maths;
use schemars::JsonSchema;
use serde::Serialize;

/// Longest time that tracks may disagree, in milliseconds: T.4.2.5.
pub const LONGEST_MS: f64 = 100.0;

/// Slopes nearer to each other than this share are taken for one transfer function. Common practice, no source.
const ALIKE: f64 = 0.1;

/// One rule and how the wiring stands to it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[allow(clippy::struct_field_names)] // the key in JSON
pub struct Rule {
    pub rule: &'static str,
    /// `None` where the profile does not say.
    pub holds: Option<bool>,
    pub words: String,
}

/// The rules for two tracks, one line each.
pub fn rules(
    tracks: [&TrackReport; 2],
    benches: [&FaultAnalysis; 2],
    pair: &PairReport,
    stop_within_ms: f64,
) -> Vec<Rule> {
    vec![
        open_reads_zero(tracks),
        different_slopes(tracks),
        touching(pair),
        Rule {
            rule: "T.4.2.4, T.4.2.5",
            holds: Some(BAND <= 0.10 && stop_within_ms <= LONGEST_MS),
            words: format!(
                "a difference of more than 10 % for 100 ms stops the motor: here {:.0} %, within {stop_within_ms:.0} ms",
                100.0 * BAND
            ),
        },
        separate(benches),
    ]
}

fn open_reads_zero(tracks: [&TrackReport; 2]) -> Rule {
    let zero = |row: &FaultRow| {
        let commands = row.points.iter().map(|point| point.command_pct);
        let mut commands = commands.map(|pct| pct.is_some_and(|pct| pct < 0.5));
        commands.all(|zero| zero)
    };
    let bad: Vec<String> = tracks
        .iter()
        .filter(|track| {
            let open = |row: &&FaultRow| row.fault == Fault::Open(Wire::Signal);
            !track.faults.iter().find(open).is_some_and(zero)
        })
        .map(|track| track.track.to_string())
        .collect();
    Rule {
        rule: "T.4.2.3",
        holds: Some(bad.is_empty()),
        words: if bad.is_empty() {
            "an open signal wire reads as zero, by its pull".to_owned()
        } else {
            format!(
                "an open signal wire must read as zero: on track {} it does not",
                bad.join(" and ")
            )
        },
    }
}

fn different_slopes(tracks: [&TrackReport; 2]) -> Rule {
    let [one, two] = tracks.map(|track| track.expected.span_ratio);
    let one_sign = one * two > 0.0;
    let different = (one.abs() - two.abs()).abs() > ALIKE * one.abs().max(two.abs());
    Rule {
        rule: "T.4.2.3",
        holds: Some(one_sign && different),
        words: match (one_sign, different) {
            (true, true) => "the tracks have different slopes of one sign".to_owned(),
            (false, _) => "the tracks cross: where they do, touching wires agree".to_owned(),
            (true, false) => "the tracks are alike: touching wires agree everywhere".to_owned(),
        },
    }
}

fn touching(pair: &PairReport) -> Rule {
    let unseen: Vec<[f64; 2]> = pair
        .faults
        .iter()
        .flat_map(super::super::pair::PairFault::unseen_pct)
        .collect();
    // Below 10 % of travel the comparison cannot tell from zero.
    let at_zero_only = unseen.iter().all(|[_, to]| *to <= 100.0 * BAND);
    Rule {
        rule: "T.4.2.3",
        holds: Some(at_zero_only),
        words: if at_zero_only {
            "touching signal wires agree at zero travel at most".to_owned()
        } else {
            let list: Vec<String> = unseen
                .iter()
                .map(|[from, to]| format!("{from:.0} to {to:.0} %"))
                .collect();
            format!(
                "touching signal wires agree at {} of travel",
                list.join(", ")
            )
        },
    }
}

/// Severities of a joint that both tracks share, in ohms.
fn joints() -> impl Iterator<Item = f64> {
    (0..=120).map(|k| maths::pow(10.0, f64::from(k) / 24.0))
}

fn separate(benches: [&FaultAnalysis; 2]) -> Rule {
    let cost = shared_joint(benches);
    Rule {
        rule: "T.4.2.2",
        holds: None,
        words: match cost {
            Some((pct, ohm)) => format!(
                "give each track its own supply and ground wire: shared, one bad joint of {ohm:.0} ohm in the ground moves both, unnoticed \
                 to {pct:.0} % at zero"
            ),
            None => "give each track its own supply and ground wire; shared, a bad joint in the ground is still noticed".to_owned(),
        },
    }
}

/// The highest command at the zero end that a bad joint in a ground wire of both tracks gives, unnoticed by windows and comparison,
/// and the ohms of it; `None` below one percent.
fn shared_joint(benches: [&FaultAnalysis; 2]) -> Option<(f64, f64)> {
    let zero = benches[0].zero();
    let hookups: [&Hookup; 2] = benches.map(FaultAnalysis::hookup);
    let wirings = hookups.map(Hookup::wiring);
    let supply = hookups[0].supply_mv() / 1000.0;
    let unnoticed = joints().filter_map(|ohm| {
        let (circuit, pins) = shared_ground(wirings, supply, zero.travel(), ohm);
        let solution = circuit.solve().ok()?;
        let mut shares = [0.0; 2];
        for k in [0, 1] {
            let ratio = hookups[k].ratio(solution.volts(pins[k])?);
            if benches[k].thresholds().catch(ratio) {
                return None;
            }
            shares[k] = benches[k].curve().share(ratio);
        }
        let command = zero.command(shares[0].clamp(0.0, 1.0));
        ((shares[0] - shares[1]).abs() <= BAND).then_some((100.0 * command, ohm))
    });
    unnoticed
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(pct, _)| *pct >= 1.0)
}

#[cfg(test)]
mod tests {
    use super::super::super::faults::ZeroEnd;
    use super::super::super::survey::{ControlWiring, TrackWiring, WiringReport};
    use super::super::super::valid::EndLimits;
    use super::*;
    use measure::units::Track;

    fn report(second: &str) -> WiringReport {
        let first = r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84,"sensor_ohm":700,
            "pull_down_ohm":100000}"#;
        let track = |(text, track): (&str, Track)| TrackWiring {
            track,
            wiring: serde_json::from_str(text).unwrap(),
            rest: EndLimits::default(),
            full: EndLimits::default(),
        };
        WiringReport::of(&ControlWiring {
            name: "pedal".to_owned(),
            supply_mv: 5000.0,
            bits: 10,
            zero: ZeroEnd::Rest,
            tracks: [(first, Track::One), (second, Track::Two)]
                .map(track)
                .into(),
            stop_within_ms: 50.0,
            released: "With the pedal let go",
        })
        .unwrap()
    }

    /// File 35: the numbers, and what half slope and crossed tracks make of them.
    #[test]
    fn rules_of_file_35() {
        let file: serde_json::Value = serde_json::from_str(include_str!(
            "../../../tests/reference/35-two-track-pedal-rules.json"
        ))
        .unwrap();
        let rule = |name: &str| {
            let rules = file["expected"].as_array().unwrap();
            let found = rules.iter().find(|rule| rule["rule"] == name);
            found.unwrap()["values"].clone()
        };
        let band = rule("T.4.2.4")["implausible_beyond_pct_of_travel"].as_f64();
        assert_eq!(band, Some(100.0 * BAND));
        let longest = rule("T.4.2.5")["longest_implausibility_ms"].as_f64();
        assert_eq!(longest, Some(LONGEST_MS));
        let half = report(
            r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"low_ratio":0.08,"high_ratio":0.42,"sensor_ohm":700,"pull_down_ohm":100000}"#,
        );
        let holds = |report: &WiringReport| {
            let rules = report.rules.iter();
            rules.map(|rule| rule.holds).collect::<Vec<_>>()
        };
        let yes = Some(true);
        assert_eq!(holds(&half), [yes, yes, yes, yes, None]);
        let crossed = report(
            r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84,"sensor_ohm":700,"pull_down_ohm":100000,
                "rest_at":1,"full_at":0}"#,
        );
        // Track 2 open reads 0, which on a falling track is its full end.
        assert_eq!(
            holds(&crossed),
            [Some(false), Some(false), Some(false), yes, None]
        );
        let like = report(
            r#"{"supply_is_reference":true,"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84,"sensor_ohm":700,"pull_down_ohm":100000}"#,
        );
        assert_eq!(holds(&like)[1], Some(false));
        // Alike tracks on one ground wire: both move alike, so that nothing notices. By hand: two sensors of 700 ohm are 350; a joint of
        // 300 ohm lifts the ground to 300/650 of the supply, each reads 0.4615 + 0.16 x 0.5385 = 0.5477 = 57 % of travel.
        let joint = &like.rules[4].words;
        assert!(joint.contains("unnoticed to"), "{joint}");
    }
}
