//! The program's circuits against files 07, 29 and 31 of the references, row by row.

use pedalproof::wiring::circuit::{Circuit, CircuitError, Node};
use pedalproof::wiring::{Fault, Parasitics, Wire, Wiring};
use serde_json::Value;

fn reference(name: &str) -> Value {
    let path = format!("{}/tests/reference/{name}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

const TRAVEL: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];

fn fault(word: &str) -> Option<Fault> {
    let (supply, signal, ground) = (Wire::Supply, Wire::Signal, Wire::Ground);
    Some(match word.trim_end_matches("ed") {
        "none" => return None,
        "supply open" => Fault::Open(supply),
        "signal open" => Fault::Open(signal),
        "ground open" | "return open" => Fault::Open(ground),
        "supply-signal short" | "signal to supply" | "signal shorted to supply" => {
            Fault::Short(supply, signal)
        }
        "signal-ground short"
        | "signal-return short"
        | "signal to ground"
        | "signal shorted to ground" => Fault::Short(signal, ground),
        "supply-ground short" => Fault::Short(supply, ground),
        _ => panic!("fault `{word}` of the reference is unknown here"),
    })
}

/// File 31: stiff supply, perfect wires; fractions of the supply, exact.
#[test]
fn ideal_networks_of_file_31_are_exact() {
    let file = reference("31-ideal-networks");
    let tolerance = file["tolerance"]["ratio_absolute"].as_f64().unwrap();
    let mut cases = 0;
    for (name, members) in file["inputs"]["networks"].as_object().unwrap() {
        let mut text = members.clone();
        let kind = match name.split(' ').next().unwrap() {
            "lever" => "three-wire",
            "pedal" => "buffered",
            "dial" => "rheostat",
            other => panic!("{other}"),
        };
        text["network"] = kind.into();
        let wiring: Wiring = serde_json::from_value(text).unwrap();
        wiring.check().unwrap();
        for (word, row) in file["expected"]["readings"][name].as_object().unwrap() {
            for (travel, want) in TRAVEL.iter().zip(row.as_array().unwrap()) {
                let got = wiring.schematic(1.0, *travel, fault(word)).pin_volts();
                let message = format!("{name}: {word} at {travel}: {got:?}, not {want}");
                match want {
                    Value::Null => assert_eq!(got, Ok(None), "{message}"),
                    Value::String(_) => assert_eq!(got, Err(CircuitError::Collapsed), "{message}"),
                    _ => {
                        let want = want["ratio"].as_f64().unwrap();
                        let got = got.unwrap().expect(&message);
                        assert!((got - want).abs() <= tolerance, "{message}");
                    }
                }
                cases += 1;
            }
        }
    }
    assert!(cases > 250, "only {cases} cases");
}

/// The wires, shorts and supply of files 07 and 29.
const REAL: Parasitics = Parasitics {
    supply: 0.5,
    wire: 0.001,
    short: 0.001,
};

fn wired(text: &str) -> Wiring {
    serde_json::from_str(text).unwrap()
}

/// The five ADC networks of files 07 and 29, all with a 10 megohm pin.
fn adc_network(word: &str, wiring: &Wiring) -> Wiring {
    let own = wiring.network.pull_up_ohm();
    let pull_up = if word.contains("pullup") {
        Some(own.map_or(1e5, |own| 1.0 / (1.0 / own + 1e-5)))
    } else {
        own
    };
    Wiring {
        network: wiring.network.with_pull_up(pull_up),
        load_ohm: Some(1e7),
        pull_down_ohm: word.contains("pulldown").then_some(1e5),
        series_ohm: word.contains("series 1k").then_some(1000.0),
        ..*wiring
    }
}

/// Walks `{supply: {network: {fault: [volts at each travel]}}}` and holds each within 1 mV of `model`.
fn hold_table(table: &Value, least: usize, model: impl Fn(f64, &str, &str, f64) -> f64) {
    let mut cases = 0;
    let mut worst = 0.0_f64;
    for (supply_word, networks) in table.as_object().unwrap() {
        let supply: f64 = supply_word.trim_end_matches(" V").parse().unwrap();
        for (network, faults) in networks.as_object().unwrap() {
            for (word, row) in faults.as_object().unwrap() {
                for (travel, want) in TRAVEL.iter().zip(row.as_array().unwrap()) {
                    let want = want.as_f64().unwrap();
                    let got = model(supply, network, word, *travel);
                    let off = (got - want).abs();
                    assert!(
                        off < 1e-3,
                        "{supply} V, {network}, {word} at {travel}: {got} V, not {want}"
                    );
                    worst = worst.max(off);
                    cases += 1;
                }
            }
        }
    }
    println!("{cases} cases, worst {:.1} microvolt", worst * 1e6);
    assert!(cases >= least, "only {cases} cases");
}

fn volts(wiring: &Wiring, supply: f64, travel: f64, fault: Option<Fault>) -> f64 {
    let schematic = wiring.schematic_at(supply, travel, fault, REAL);
    schematic
        .pin_volts()
        .unwrap()
        .expect("a 10 megohm pin holds every node that matters")
}

#[test]
fn potentiometer_of_file_07() {
    let file = reference("07-circuits-and-faults");
    hold_table(
        &file["expected"]["faults"]["pot_3_wire"],
        350,
        |supply, network, word, travel| {
            let wiring = wired(r#"{"network":"three-wire","track_ohm":10000}"#);
            volts(&adc_network(network, &wiring), supply, travel, fault(word))
        },
    );
}

#[test]
fn rheostat_of_file_07() {
    let file = reference("07-circuits-and-faults");
    let table = &file["expected"]["faults"]["rheostat_2_wire_pullup_4k7"];
    hold_table(table, 300, |supply, network, word, travel| {
        let wiring = wired(r#"{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700}"#);
        volts(&adc_network(network, &wiring), supply, travel, fault(word))
    });
}

/// File 29's sensor drives as long as its own supply pins have a voltage, so its ground-open row is our leaking one.
#[test]
fn sensor_of_file_29() {
    let file = reference("29-hall-ideal-source");
    hold_table(
        &file["expected"]["faults"],
        350,
        |supply, network, word, travel| {
            let wiring = wired(r#"{"network":"buffered","output_ohm":100,"sensor_ohm":1000}"#);
            let wiring = adc_network(network, &wiring);
            let fault = match word {
                "ground open" => Some(Fault::GroundOpenLeaking),
                // Ours does not drive there; the file's drives at 0 V of supply, which 100 ohm tie to ground.
                "supply open" => return supply_open_of_file_29(&wiring, supply, travel),
                _ => fault(word),
            };
            volts(&wiring, supply, travel, fault)
        },
    );
}

fn supply_open_of_file_29(wiring: &Wiring, supply: f64, travel: f64) -> f64 {
    let mut c = Circuit::new();
    let (rail, upper, core, line, pin) = (
        c.node("rail"),
        c.node("upper"),
        c.node("core"),
        c.node("line"),
        c.node("pin"),
    );
    c.rail(rail, supply);
    c.resistor(upper, Node::GROUND, 1000.0);
    c.follower(core, Node::GROUND, upper, Node::GROUND, 0.1 + 0.8 * travel);
    c.resistor(core, line, 100.0);
    board(&mut c, wiring, rail, line, pin);
    c.solve().unwrap().volts(pin).unwrap()
}

fn board(c: &mut Circuit, wiring: &Wiring, rail: Node, line: Node, pin: Node) {
    c.resistor(line, pin, wiring.series_ohm.unwrap_or(0.0));
    c.resistor(pin, Node::GROUND, wiring.load_ohm.unwrap());
    c.resistor(
        line,
        Node::GROUND,
        wiring.pull_down_ohm.unwrap_or(f64::INFINITY),
    );
    c.resistor(
        line,
        rail,
        wiring.network.pull_up_ohm().unwrap_or(f64::INFINITY),
    );
}

/// File 07's sensor is a divider across its own supply pins: drawn here by hand from the file's `model`.
#[test]
fn divider_sensor_of_file_07() {
    let file = reference("07-circuits-and-faults");
    let table = &file["expected"]["faults"]["hall_3_wire"];
    hold_table(table, 350, |supply, network, word, travel| {
        let wiring = adc_network(
            network,
            &wired(r#"{"network":"buffered","output_ohm":100}"#),
        );
        let f = 0.1 + 0.8 * travel;
        let mut c = Circuit::new();
        let (source, rail) = (c.node("source"), c.node("rail"));
        let (upper, wiper, lower) = (c.node("upper"), c.node("wiper"), c.node("lower"));
        let (line, pin) = (c.node("line"), c.node("pin"));
        c.rail(source, supply);
        c.resistor(source, rail, 0.5);
        let wire = |open: &str| if word == open { 1e12 } else { 1e-3 };
        c.resistor(rail, upper, wire("supply open"));
        c.resistor(wiper, line, wire("signal open"));
        c.resistor(lower, Node::GROUND, wire("ground open"));
        c.resistor(upper, lower, 1000.0);
        c.resistor(lower, wiper, 100.0 / (1.0 - f));
        c.resistor(wiper, upper, 100.0 / f);
        for (short, a, b) in [
            ("supply-signal shorted", upper, wiper),
            ("signal-ground shorted", wiper, lower),
            ("supply-ground shorted", upper, lower),
        ] {
            if word == short {
                c.resistor(a, b, 1e-3);
            }
        }
        board(&mut c, &wiring, rail, line, pin);
        c.solve().unwrap().volts(pin).unwrap()
    });
}

#[test]
fn dividers_of_file_07() {
    let file = reference("07-circuits-and-faults");
    let rows = file["expected"]["dividers"].as_array().unwrap();
    assert!(!rows.is_empty());
    for row in rows {
        let number = |key: &str| row[key].as_f64();
        let mut c = Circuit::new();
        let (top, out) = (c.node("top"), c.node("out"));
        c.rail(top, number("supply_v").unwrap());
        c.resistor(top, out, number("upper_ohm").unwrap());
        c.resistor(out, Node::GROUND, number("lower_ohm").unwrap());
        if let Some(load) = number("load_ohm") {
            c.resistor(out, Node::GROUND, load);
        }
        let volts = c.solve().unwrap().volts(out).unwrap();
        assert!((volts - number("output_v").unwrap()).abs() < 1e-9);
        let ohm = c.source_ohm(out).unwrap().unwrap();
        assert!((ohm / number("thevenin_ohm").unwrap() - 1.0).abs() < 1e-9);
    }
}
