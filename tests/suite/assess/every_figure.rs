//! Every figure that an assessment can have: there in a capture that holds its evidence, `null` in one that does not, with
//! the unit of the contract. Captures of simulated controls on disk, read through `assess --json`.

use crate::support::program::program;
use serde_json::Value;
use simulator::{
    ChannelModel, Movement, Passages, ReturnBy, Script, SimUnit, Simulation, scenario, with_script,
};

/// Figure, unit, and which of the captures holds its evidence: the table of the contract, row by row.
const CHANNEL: [(&str, &str, &str); 37] = [
    ("rest_code", "code", "card"),
    ("full_code", "code", "card"),
    ("rest_ratio", "1", "card"),
    ("full_ratio", "1", "card"),
    ("span_code", "code", "card"),
    ("noise_rest_rms", "code", "card"),
    ("noise_full_rms", "code", "card"),
    ("noise_peak_to_peak", "code", "card"),
    ("noise_free_bits", "bit", "card"),
    ("hum_50_rms", "code", "card"),
    ("hum_60_rms", "code", "card"),
    ("hum_100_rms", "code", "card"),
    ("hum_120_rms", "code", "card"),
    ("drift_per_min", "code/min", "card"),
    ("return_scatter", "code", "card"),
    ("return_range", "code", "card"),
    ("release_time", "s", "card"),
    ("rest_creep", "code", "quiet"),
    ("linearity_independent", "%", "stations"),
    ("linearity_best_fit", "%", "stations"),
    ("linearity_terminal", "%", "stations"),
    ("linearity_zero_based", "%", "stations"),
    ("hysteresis", "%", "stations"),
    ("divider_ratio", "1", "stations"),
    ("linearity_element", "%", "stations"),
    ("smoothness", "%", "card"),
    ("worn_zones_count", "1", "card"),
    ("dropouts_count", "1", "card"),
    ("stroke_noise_rms", "code", "card"),
    ("spikes_per_min", "1/min", "card"),
    ("interference_share", "%", "card"),
    ("ratiometric_error", "%/%", "supply"),
    ("board_low_code", "code", "board"),
    ("board_high_code", "code", "board"),
    ("board_noise_rms", "code", "board"),
    ("linearity_independent", "%", "encoder"),
    ("hysteresis", "%", "encoder"),
];
const PAIR: [(&str, &str); 4] = [
    ("track_gain", "1"),
    ("track_offset", "code"),
    ("track_disagreement", "%"),
    ("track_lag", "ms"),
];
/// Where a figure must be `null`: a capture that has none of its evidence.
fn without(evidence: &str) -> &'static str {
    match evidence {
        "card" | "supply" => "board",
        _ => "card", // whose releases are left alone for less than ten seconds
    }
}

/// Both ends, and releases that are followed by more than ten seconds of quiet.
fn left_alone() -> Vec<Movement> {
    vec![
        Movement::Rest(2.0),
        Movement::Go { to: 1.0, s: 0.6 },
        Movement::Full(2.0),
        Movement::Go { to: 0.0, s: 0.6 },
        Movement::Wait(0.3),
        Movement::Returns {
            count: 3,
            press_s: 0.4,
            hold_s: 1.0,
            by: ReturnBy::Spring,
            rest_s: 11.0,
            passages: Passages::Together,
        },
    ]
}

fn assessed(unit: &SimUnit, seconds: f64, arguments: &[&str]) -> Value {
    let run = Simulation::new(unit, 11).unwrap().run(seconds);
    let mut capture = pedalproof::bench::simulated_capture(&run, None);
    if let Some(reference) = &mut capture.meta.reference {
        (reference.low, reference.high) = (Some(0.0), Some(270.0));
    }
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("taken.csv");
    pedalproof::bench::write_capture(&capture, &path).unwrap();
    let ran = program(dir.path())
        .args(["assess", "--json"])
        .args(arguments)
        .arg(&path)
        .output()
        .unwrap();
    serde_json::from_slice(&ran.stdout)
        .unwrap_or_else(|why| panic!("{why}: {}", String::from_utf8_lossy(&ran.stderr)))
}

fn figure<'a>(assessment: &'a Value, channel: &str, name: &str) -> &'a Value {
    let figures = &assessment["channels"][channel]["figures"];
    figures
        .get(name)
        .unwrap_or_else(|| panic!("no {name} in {figures:#}"))
}

fn whole(figure: &Value, name: &str, unit: &str) {
    assert!(figure.is_object(), "{name} is {figure}");
    assert_eq!(figure["unit"], unit, "{name}");
    assert!(figure["value"].is_number(), "{name}: {figure}");
    assert!(figure["n"].as_u64().unwrap() > 0, "{name}: {figure}");
    let (low, high) = (figure["low"].as_f64(), figure["high"].as_f64());
    let value = figure["value"].as_f64().unwrap();
    // A side that the evidence leaves open is null.
    println!("{name}: {low:?} {value} {high:?}");
    assert!(
        low.is_none_or(|low| low <= value) && high.is_none_or(|high| value <= high),
        "{name}: {figure}"
    );
    assert!(figure["method"].as_str().unwrap().len() > 10, "{name}");
}

#[test]
fn every_figure_is_there_with_its_evidence_and_null_without() {
    let pedal = || scenario("T1-pedal").unwrap();
    let dial = || scenario("T1-dial").unwrap();
    let mut swept = with_script(scenario("T1-lever").unwrap(), Script::supply_sweep());
    swept
        .control
        .channels
        .push(ChannelModel::supply("supply", 0.5));
    let ends = |unit| with_script(unit, Script::board_ends());
    let card = assessed(&pedal(), 60.0, &[]);
    let board = assessed(&ends(pedal()), 8.0, &[]);
    let by_name = |name: &str| match name {
        "card" => (card.clone(), "pedal_a"),
        "board" => (board.clone(), "pedal_a"),
        "quiet" => {
            let unit = with_script(pedal(), Script::once(left_alone()));
            (assessed(&unit, 60.0, &[]), "pedal_a")
        }
        "supply" => (assessed(&swept, 30.0, &[]), "lever"),
        "stations" => {
            let unit = with_script(dial(), Script::stations(0.0, 270.0));
            (
                assessed(&unit, 60.0, &["--profile", "dial-rheostat"]),
                "dial",
            )
        }
        "encoder" => {
            let unit = with_script(dial(), Script::with_encoder(0.0, 270.0, 4, 1.5));
            (assessed(&unit, 30.0, &[]), "dial")
        }
        _ => panic!("{name}"),
    };
    for capture in ["card", "quiet", "board", "supply", "stations", "encoder"] {
        let (assessment, channel) = by_name(capture);
        for (name, unit, _) in CHANNEL.iter().filter(|(.., from)| *from == capture) {
            whole(figure(&assessment, channel, name), name, unit);
            let (bare, channel) = by_name(without(capture));
            let missing = figure(&bare, channel, name);
            assert!(missing.is_null(), "{name} without its evidence: {missing}");
        }
        // The names above are all that there are: nobody adds a figure without its row here.
        for name in assessment["channels"][channel]["figures"]
            .as_object()
            .unwrap()
            .keys()
        {
            assert!(CHANNEL.iter().any(|(row, ..)| row == name), "{name}");
        }
    }
    for (name, unit) in PAIR {
        let pair = |assessment: &Value| {
            assessment["pairs"]["pedal_a/pedal_b"]["figures"]
                .get(name)
                .unwrap_or_else(|| panic!("{name}: {:#}", assessment["pairs"]))
                .clone()
        };
        whole(&pair(&card), name, unit);
        assert!(pair(&board).is_null(), "{name} without strokes");
    }
    let figures = card["pairs"]["pedal_a/pedal_b"]["figures"].as_object();
    assert_eq!(figures.unwrap().len(), PAIR.len());
}
