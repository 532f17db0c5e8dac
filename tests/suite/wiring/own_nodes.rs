//! A second nodal solver, with circuits drawn by hand for every fault: shares no code with the program's.

use pedalproof::wiring::{Fault, Hookup, Over, Pin, Resistor, Wire, Wiring, faults};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};

// Nodes: ground, supply, line, tap, pin, and the control's upper end, wiper, lower end, the track's own ends, a sensor's source.
const G: usize = 0;
const V: usize = 1;
const N: usize = 2;
const T: usize = 3;
const P: usize = 4;
const U: usize = 5;
const W: usize = 6;
const L: usize = 7;
const B: usize = 8;
const A: usize = 9;
const C: usize = 10;
const NODES: usize = 11;
/// A wire or a short: as little as the arithmetic bears beside gigohms.
const WIRE_OHM: f64 = 1e-4;

/// A source between two nodes: `v[out] - v[base] = gain (v[high] - v[low]) + volts`.
struct Source {
    out: usize,
    base: usize,
    high: usize,
    low: usize,
    gain: f64,
    volts: f64,
}

/// What the pin reads as a fraction of the supply, of a wiring as its profile writes it; `None` where a gigohm either way moves it from
/// one end to the other.
pub fn reading(w: &Value, x: f64, fault: Option<Fault>) -> Option<f64> {
    let low = read(w, x, fault, 1e9, G);
    let high = read(w, x, fault, 1e9, V);
    ((low - high).abs() < 0.5).then(|| read(w, x, fault, 1e13, G))
}

#[allow(clippy::too_many_lines, clippy::many_single_char_names)] // a list of parts, in the signs of a circuit
fn read(w: &Value, x: f64, fault: Option<Fault>, leak: f64, leak_to: usize) -> f64 {
    let ohm = |name: &str| w[name].as_f64();
    let kind = w["network"].as_str().unwrap();
    // Of a part: its value, nearly nothing when bridged, nearly for ever when broken.
    let part = |name: &str, which: Resistor| {
        let value = ohm(name)?;
        Some(match fault {
            Some(Fault::PartOpen(part)) if part == which => 1e15,
            Some(Fault::PartShort(part)) if part == which => WIRE_OHM,
            _ => value,
        })
    };
    let mut r: Vec<(usize, usize, f64)> = vec![(P, leak_to, leak)];
    let mut sources = Vec::new();
    let mut add = |a: usize, b: usize, ohm: Option<f64>| {
        if let Some(ohm) = ohm {
            r.push((a, b, ohm));
        }
    };
    add(N, V, part("pull_up_ohm", Resistor::PullUp));
    add(N, G, part("pull_down_ohm", Resistor::PullDown));
    let tap = ohm("divider_top_ohm").is_some();
    add(N, T, part("divider_top_ohm", Resistor::DividerTop));
    add(T, G, part("divider_bottom_ohm", Resistor::DividerBottom));
    let here = if tap { T } else { N };
    add(
        here,
        P,
        part("series_ohm", Resistor::Series).or(Some(WIRE_OHM)),
    );
    add(P, G, ohm("load_ohm"));
    if let Some(Fault::InputLeak(ohm)) = fault {
        add(P, G, Some(ohm));
    }
    // The three wires.
    let mut ends = [Some(V), Some(N), Some(G)];
    let index = |wire| match wire {
        Wire::Supply => 0,
        Wire::Signal => 1,
        Wire::Ground => 2,
    };
    match fault {
        Some(Fault::Open(wire)) => ends[index(wire)] = None,
        Some(Fault::GroundOpenLeaking) => ends[2] = None,
        Some(Fault::FedBack) => ends[0] = None,
        Some(Fault::Exchanged(a, b)) => ends.swap(index(a), index(b)),
        Some(Fault::OnePinOver(Over::ToSupply)) => ends = [None, Some(V), Some(N)],
        Some(Fault::OnePinOver(Over::ToGround)) => ends = [Some(N), Some(G), None],
        _ => {}
    }
    for (k, end) in ends.into_iter().enumerate() {
        let in_series = match fault {
            Some(Fault::Joint(wire, ohm)) if index(wire) == k => ohm,
            Some(Fault::Contact(ohm)) if k == 1 => ohm,
            _ => WIRE_OHM,
        };
        match (fault, end) {
            (Some(Fault::GroundLift(volts)), Some(G)) => sources.push(Source {
                out: L,
                base: G,
                high: G,
                low: G,
                gain: 0.0,
                volts: volts / 5.0,
            }),
            (_, Some(end)) => add(U + k, end, Some(in_series)),
            _ => {}
        }
    }
    match fault {
        Some(Fault::Short(a, b)) => add(U + index(a), U + index(b), Some(WIRE_OHM)),
        Some(Fault::Damp(a, b, ohm)) => add(U + index(a), U + index(b), Some(ohm)),
        _ => {}
    }
    if kind == "buffered" {
        let draws = ohm("sensor_ohm").or(match fault {
            Some(
                Fault::Joint(Wire::Supply | Wire::Ground, _)
                | Fault::FedBack
                | Fault::Exchanged(..)
                | Fault::OnePinOver(_),
            ) => Some(1000.0),
            _ => None,
        });
        add(U, L, draws);
        // 0.6 V of 5 V.
        let mut diode = |anode: usize, cathode: usize| {
            sources.push(Source {
                out: cathode,
                base: anode,
                high: G,
                low: G,
                gain: 0.0,
                volts: -0.12,
            });
        };
        match fault {
            Some(
                Fault::Open(Wire::Supply | Wire::Ground)
                | Fault::Exchanged(Wire::Supply, Wire::Ground),
            ) => {}
            Some(
                Fault::FedBack
                | Fault::Exchanged(Wire::Signal, Wire::Supply)
                | Fault::OnePinOver(Over::ToSupply),
            ) => diode(W, U),
            Some(Fault::Exchanged(Wire::Signal, Wire::Ground)) => diode(L, W),
            Some(Fault::OnePinOver(Over::ToGround)) => {
                if ohm("pull_up_ohm").is_some() {
                    diode(L, W);
                }
            }
            _ => {
                let (low, high) = (
                    ohm("low_ratio").unwrap_or(0.1),
                    ohm("high_ratio").unwrap_or(0.9),
                );
                sources.push(Source {
                    out: C,
                    base: L,
                    high: U,
                    low: L,
                    gain: low + (high - low) * x,
                    volts: 0.0,
                });
                add(C, W, ohm("output_ohm"));
            }
        }
    } else {
        let track = ohm("track_ohm").unwrap();
        let crack = match fault {
            Some(Fault::TrackOpen(at)) => Some(at),
            _ => None,
        };
        add(
            B,
            L,
            part("end_low_ohm", Resistor::EndLow).or(Some(WIRE_OHM)),
        );
        if crack.is_none_or(|at| at >= x) {
            add(B, W, Some((track * x).max(WIRE_OHM)));
        }
        if kind == "three-wire" {
            add(
                A,
                U,
                part("end_high_ohm", Resistor::EndHigh).or(Some(WIRE_OHM)),
            );
            if crack.is_none_or(|at| at < x) {
                add(A, W, Some((track * (1.0 - x)).max(WIRE_OHM)));
            }
        }
    }
    volts(&r, &sources)[P]
}

/// Ground at 0, the supply at 1; every node hangs on a far too large resistor, so that nothing floats.
#[allow(clippy::needless_range_loop, clippy::many_single_char_names)] // rows and columns of a matrix
fn volts(parts: &[(usize, usize, f64)], sources: &[Source]) -> Vec<f64> {
    let size = NODES + 1 + sources.len();
    let mut m = vec![vec![0.0; size + 1]; size];
    for node in 1..NODES {
        m[node][node] += 1e-15;
    }
    for &(a, b, ohm) in parts {
        let s = 1.0 / ohm;
        m[a][a] += s;
        m[b][b] += s;
        m[a][b] -= s;
        m[b][a] -= s;
    }
    // Ground's own equation is that it is 0.
    m[G] = vec![0.0; size + 1];
    m[G][G] = 1.0;
    m[V][NODES] += 1.0;
    m[NODES][V] = 1.0;
    m[NODES][size] = 1.0;
    for (k, source) in sources.iter().enumerate() {
        let row = NODES + 1 + k;
        if source.out != G {
            m[source.out][row] += 1.0;
        }
        if source.base != G {
            m[source.base][row] -= 1.0;
        }
        m[row][source.out] += 1.0;
        m[row][source.base] -= 1.0;
        m[row][source.high] -= source.gain;
        m[row][source.low] += source.gain;
        m[row][size] = source.volts;
    }
    for k in 0..size {
        let pivot = (k..size)
            .max_by(|a, b| m[*a][k].abs().total_cmp(&m[*b][k].abs()))
            .unwrap();
        m.swap(k, pivot);
        for row in k + 1..size {
            let f = m[row][k] / m[k][k];
            for c in k..=size {
                let of = m[k][c];
                m[row][c] -= f * of;
            }
        }
    }
    let mut x = vec![0.0; size];
    for k in (0..size).rev() {
        let rest: f64 = (k + 1..size).map(|c| m[k][c] * x[c]).sum();
        x[k] = (m[k][size] - rest) / m[k][k];
    }
    x
}

/// A wiring drawn by chance, as a profile writes it.
pub fn random(random: &mut ChaCha8Rng) -> Value {
    let e12 = [
        10.0, 12.0, 15.0, 18.0, 22.0, 27.0, 33.0, 39.0, 47.0, 56.0, 68.0, 82.0,
    ];
    let mut ohm = |low: i32, high: i32| {
        let decade = random.random_range(low..high);
        e12[random.random_range(0..12)] * 10.0_f64.powi(decade - 1)
    };
    let (track, end, up, down) = (ohm(3, 5), ohm(2, 3), ohm(4, 6), ohm(4, 6));
    let (series, load, output) = (ohm(2, 4), ohm(5, 7), ohm(1, 3));
    let mut coin = |chance: f64| random.random_bool(chance);
    let mut w = match (coin(0.4), coin(0.5)) {
        (true, _) => {
            json!({"network": "three-wire", "track_ohm": track, "track_tolerance_pct": 20})
        }
        (_, true) => {
            json!({"network": "rheostat", "track_ohm": track, "pull_up_ohm": up.min(5.0 * track)})
        }
        _ => {
            json!({"network": "buffered", "output_ohm": output, "low_ratio": 0.12, "high_ratio": 0.86,
            "ratio_tolerance_pct": 2, "sensor_ohm": 800})
        }
    };
    w["supply_is_reference"] = true.into();
    w["tolerance_pct"] = json!(5);
    if w["network"] != "buffered" && coin(0.5) {
        w["end_low_ohm"] = json!(end);
    }
    if w["network"] == "three-wire" && coin(0.5) {
        w["end_high_ohm"] = json!(end);
    }
    if coin(0.7) {
        w["pull_down_ohm"] = json!(down.max(3.0 * track));
    }
    if w["network"] != "rheostat" && coin(0.15) {
        w["pull_up_ohm"] = json!(up.max(3.0 * track));
    }
    if coin(0.3) {
        w["series_ohm"] = json!(series);
    }
    if coin(0.2) {
        w["load_ohm"] = json!(load);
    }
    w
}

/// Every fault, at three severities, of random wirings and places: the program's circuit reads what ours does.
#[test]
fn every_fault_reads_as_drawn_by_hand() {
    let mut chance = ChaCha8Rng::seed_from_u64(15);
    let (mut held, mut worst) = (0, 0.0_f64);
    for _ in 0..60 {
        let w = random(&mut chance);
        let wiring: Wiring = serde_json::from_value(w.clone()).unwrap();
        let hookup = Hookup::new(wiring, 5000.0, 10).unwrap();
        for fault in faults::list(&wiring) {
            if fault == Fault::Short(Wire::Supply, Wire::Ground) {
                continue;
            }
            let severities = fault.severities().map_or(vec![1.0], |of| {
                vec![
                    of.mild,
                    (of.mild * of.severe).sqrt().copysign(of.mild),
                    of.severe,
                ]
            });
            for severity in severities {
                let fault = fault.as_bad_as(severity);
                // Not nearer to an end of the track, where our wires would count.
                for x in [0.2, 0.45, 0.8] {
                    let message = format!("{w}: {fault:?} at {x}");
                    match (hookup.pin_at(x, Some(fault)), reading(&w, x, Some(fault))) {
                        (Pin::Ratio(ours), Some(own)) => {
                            let off = (ours - own.clamp(0.0, 1.0)).abs();
                            // What our two wires lose, at most, of a sensor that is shorted: current over its output.
                            let lost = w["output_ohm"]
                                .as_f64()
                                .map_or(0.0, |output| 2.0 * WIRE_OHM / output);
                            assert!(off < 2e-6 + lost, "{message}: {ours}, not {own}");
                            worst = worst.max(off);
                        }
                        (Pin::Floats, None) => {}
                        other => panic!("{message}: {other:?}"),
                    }
                    held += 1;
                }
            }
        }
    }
    println!("{held} readings, worst {worst:e} of the reference");
    assert!(held > 5000, "{held}");
}
