//! ngspice on netlists that the program's own networks generate: every built-in profile, every single fault.
//!
//! Needs `ngspice` (a Debian package). Without it the test says so loudly and checks nothing; with
//! `PEDALPROOF_NO_SKIP=1` it fails instead.

use crate::support::tools;
use pedalproof::profile::{self, BUILT_IN};
use pedalproof::wiring::circuit::CircuitError;
use pedalproof::wiring::{Fault, Schematic, Wire, Wiring, faults};
use std::fmt::Write as _;
use std::process::Command;

/// Both sides must agree so well, in volts. Wires of 1 milliohm in the netlist and none in ours differ by less.
const TOLERANCE_V: f64 = 1e-3;

struct Case {
    name: String,
    volts: Option<f64>,
    netlist: String,
}

fn case(name: String, schematic: &Schematic) -> Option<Case> {
    let volts = match schematic.pin_volts() {
        Ok(volts) => volts,
        // A shorted ideal supply has no answer on either side.
        Err(CircuitError::Collapsed) => return None,
        Err(error) => panic!("{name}: {error}"),
    };
    Some(Case {
        netlist: schematic.circuit.to_netlist(&name, schematic.pin),
        name,
        volts,
    })
}

fn cases_of(name: &str, wiring: &Wiring, supply: f64) -> Vec<Case> {
    let by_degrees = |fault: Fault| match fault.severities() {
        None => vec![fault],
        Some(of) => {
            let middle = (of.mild * of.severe).sqrt().copysign(of.mild);
            [of.mild, middle, of.severe]
                .map(|severity| fault.as_bad_as(severity))
                .to_vec()
        }
    };
    let all = faults::list(wiring).into_iter().flat_map(by_degrees);
    let all = all.map(Some).chain([None]);
    all.flat_map(|fault| {
        [0.0, 0.35, 1.0].into_iter().filter_map(move |travel| {
            let words = fault.map_or("good".to_owned(), |fault: Fault| fault.to_string());
            case(
                format!("{name}: {words} at {travel}"),
                &wiring.schematic(supply, travel, fault),
            )
        })
    })
    .collect()
}

/// Networks that no profile has, so that every member of a wiring is driven at least once.
const MORE: [&str; 3] = [
    r#"{"network":"three-wire","track_ohm":22000,"end_low_ohm":820,"end_high_ohm":390,"pull_up_ohm":150000,
        "series_ohm":4700,"load_ohm":330000,"rest_at":0.9,"full_at":0.15}"#,
    r#"{"network":"rheostat","track_ohm":5000,"end_low_ohm":330,"pull_up_ohm":2200,"pull_down_ohm":68000,
        "divider_top_ohm":10000,"divider_bottom_ohm":33000,"series_ohm":1000,"load_ohm":1000000}"#,
    r#"{"network":"buffered","output_ohm":680,"low_ratio":0.05,"high_ratio":0.45,"sensor_ohm":1200,"pull_up_ohm":10000,
        "series_ohm":4700,"load_ohm":100000}"#,
];

fn cases() -> Vec<Case> {
    let mut cases = Vec::new();
    for (name, _) in BUILT_IN {
        let control = profile::find(name).unwrap().control_wiring(10);
        for track in &control.tracks {
            let name = format!("{name} track {}", track.track);
            cases.extend(cases_of(&name, &track.wiring, control.supply_mv / 1000.0));
        }
    }
    for (k, text) in MORE.iter().enumerate() {
        let wiring: Wiring = serde_json::from_str(text).unwrap();
        wiring.check().unwrap();
        cases.extend(cases_of(&format!("network {k}"), &wiring, 3.3));
    }
    cases
}

/// Runs all netlists in one process; the voltage printed for each, in order.
fn simulate(cases: &[Case]) -> Vec<Option<f64>> {
    let folder = tempfile::tempdir().unwrap();
    let mut all = String::from("all cases\nr0 a 0 1\nv0 a 0 dc 1\n.control\n");
    for (k, case) in cases.iter().enumerate() {
        std::fs::write(folder.path().join(format!("c{k}.cir")), &case.netlist).unwrap();
        writeln!(all, "echo case {k}\nsource c{k}.cir\nremcirc").unwrap();
    }
    all.push_str("quit\n.endc\n.end\n");
    std::fs::write(folder.path().join("all.cir"), all).unwrap();
    let output = Command::new("ngspice")
        .args(["-b", "all.cir"])
        .current_dir(folder.path())
        .output()
        .unwrap();
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let mut volts = vec![None; cases.len()];
    let mut now = None;
    for line in text.lines() {
        if let Some(k) = line.trim().strip_prefix("case ") {
            now = k.parse::<usize>().ok();
        } else if let (Some(k), Some(value)) = (now, line.trim().strip_prefix("v(pin) = ")) {
            volts[k] = value.trim().parse::<f64>().ok();
        }
    }
    volts
}

/// Whether ngspice may be run; says loudly when it may not.
fn ngspice_is_here() -> bool {
    tools::is_here(
        tools::runs("ngspice", &["--version"]),
        "ngspice, so circuits are NOT checked against it (apt-get install ngspice)",
    )
}

#[test]
fn every_network_and_fault_agrees_with_ngspice() {
    if !ngspice_is_here() {
        return;
    }
    let cases = cases();
    assert!(cases.len() > 300, "only {} cases", cases.len());
    let mut worst = 0.0_f64;
    let mut floating = 0;
    for (case, simulated) in cases.iter().zip(simulate(&cases)) {
        let simulated =
            simulated.unwrap_or_else(|| panic!("{}: ngspice printed nothing", case.name));
        match case.volts {
            Some(volts) => {
                let off = (volts - simulated).abs();
                assert!(
                    off < TOLERANCE_V,
                    "{}: ours {volts} V, ngspice {simulated} V\n{}",
                    case.name,
                    case.netlist
                );
                worst = worst.max(off);
            }
            // Ours says that nothing holds the pin; ngspice has its 1e11 ohm leaks and ends up somewhere.
            None => floating += 1,
        }
    }
    println!(
        "{} circuits against ngspice, worst {:.2} microvolt, {floating} floating",
        cases.len(),
        worst * 1e6
    );
}

/// A check that the check can fail: a netlist with another resistor must disagree.
#[test]
fn another_resistor_is_noticed() {
    if !ngspice_is_here() {
        return;
    }
    let wiring: Wiring =
        serde_json::from_str(r#"{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700}"#)
            .unwrap();
    let mut one = case("good".to_owned(), &wiring.schematic(5.0, 0.5, None)).unwrap();
    let spoilt = one.netlist.replace("4.7e3", "4.8e3");
    assert_ne!(spoilt, one.netlist);
    one.netlist = spoilt;
    let volts = one.volts.unwrap();
    let simulated = simulate(&[one])[0].unwrap();
    assert!((volts - simulated).abs() > TOLERANCE_V);
}

/// A floating pin goes wherever a leak takes it: two leaks, two readings, so no reading can be stated.
#[test]
fn a_floating_pin_follows_any_leak() {
    if !ngspice_is_here() {
        return;
    }
    let wiring: Wiring =
        serde_json::from_str(r#"{"network":"three-wire","track_ohm":10000}"#).unwrap();
    let open = wiring.schematic(5.0, 0.5, Some(Fault::Open(Wire::Signal)));
    assert_eq!(open.pin_volts(), Ok(None));
    let down = case("leak to ground".to_owned(), &open).unwrap();
    let mut up = case("leak to supply".to_owned(), &open).unwrap();
    up.netlist = up
        .netlist
        .replace(".control", "rup pin source 1e9\n.control");
    let volts = simulate(&[down, up]);
    assert!(
        volts[0].unwrap() < 0.1 && volts[1].unwrap() > 4.9,
        "{volts:?}"
    );
}
