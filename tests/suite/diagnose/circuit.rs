//! One or two tracks on their wires and resistors, solved by Kirchhoff's current law with Gaussian elimination.
//!
//! Nodes: 0 is the board's ground, 1 the board's supply (both held). Every track has its own supply and ground terminal, wiper,
//! the end of its signal wire at the board, and the ADC's pin. A wire is 0.1 ohm, a broken one is not there.

use serde_json::Value;

/// Ohms of a wire or of two that touch.
const WIRE: f64 = 0.1;
/// A pin that nothing holds: the ADC's own leakage path. It is told apart from a held pin by who looks at it.
const LEAK: f64 = 1e9;

/// What is broken in the wires.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Break {
    /// Ohms left in the signal wire of a track.
    Signal(usize, f64),
    /// The supply wire that all tracks share.
    Supply(f64),
    /// The ground wire that all tracks share, and whether a sensor without ground leaks its supply to its output.
    Ground(f64, bool),
    /// A track's signal touches ground.
    ToGround(usize),
    /// A track's signal touches the supply.
    ToSupply(usize),
    /// Both signal wires touch, with so many ohms.
    Touching(f64),
    /// Both inputs sit on the signal wire of this track.
    OneWire(usize),
    /// Supply and ground wires changed over.
    RailsSwapped,
    /// Signal wires changed over.
    SignalsSwapped,
    /// The pull-up's end is off the supply.
    PullUpOff(usize),
}

/// One track's parts, drawn within their tolerances.
#[derive(Debug, Clone)]
pub struct TrackParts {
    pub sensor: bool,
    pub rheostat: bool,
    pub ohm: f64,
    pub end_low: f64,
    pub end_high: f64,
    pub output_ohm: f64,
    pub sensor_ohm: f64,
    pub low_ratio: f64,
    pub high_ratio: f64,
    pub rest_at: f64,
    pub full_at: f64,
    pub pull_up: Option<f64>,
    pub pull_down: Option<f64>,
    pub divider: Option<(f64, f64)>,
}

impl TrackParts {
    /// As a profile's file has them; `off` gives the factor of each part for its tolerance in percent.
    pub fn read(wiring: &Value, mut off: impl FnMut(f64) -> f64) -> Self {
        let number = |key: &str| wiring[key].as_f64();
        let tolerance = number("tolerance_pct").unwrap_or(0.0);
        let track_tolerance = number("track_tolerance_pct").unwrap_or(tolerance);
        let network = wiring["network"].as_str().unwrap();
        let spread = number("ratio_tolerance_pct").unwrap_or(0.0);
        let mut part = |key: &str, pct: f64| number(key).map(|ohm| ohm * off(pct));
        let [low, high] = [part("low_ratio", 0.0), part("high_ratio", 0.0)];
        let shared = TrackParts {
            sensor: network == "buffered",
            rheostat: network == "rheostat",
            ohm: part("track_ohm", track_tolerance).unwrap_or(0.0),
            end_low: part("end_low_ohm", tolerance).unwrap_or(0.0),
            end_high: part("end_high_ohm", tolerance).unwrap_or(0.0),
            output_ohm: part("output_ohm", tolerance).unwrap_or(100.0),
            sensor_ohm: part("sensor_ohm", tolerance).unwrap_or(700.0),
            low_ratio: low.unwrap_or(0.1),
            high_ratio: high.unwrap_or(0.9),
            rest_at: number("rest_at").unwrap_or(0.0),
            full_at: number("full_at").unwrap_or(1.0),
            pull_up: part("pull_up_ohm", tolerance),
            pull_down: part("pull_down_ohm", tolerance),
            divider: part("divider_top_ohm", tolerance).zip(part("divider_bottom_ohm", tolerance)),
        };
        let by = |off: f64| (off - 1.0) * spread / 100.0;
        let (a, b) = (off(60.0), off(60.0));
        TrackParts {
            low_ratio: shared.low_ratio + by(a) / 0.6,
            high_ratio: shared.high_ratio + by(b) / 0.6,
            ..shared
        }
    }
}

/// Everything between the control and the board's pins.
#[derive(Debug, Clone)]
pub struct Circuit {
    pub tracks: Vec<TrackParts>,
    pub supply_v: f64,
    pub breaks: Vec<Break>,
}

/// Readings at one position, volts at each pin; `None` where nothing holds the pin.
pub type Volts = Vec<Option<f64>>;

const OF_TRACK: usize = 5;
const SUPPLY: usize = 0;
const GROUND: usize = 1;
const WIPER: usize = 2;
const WIRE_END: usize = 3;
const PIN: usize = 4;

struct Nodal {
    /// Conductances between nodes, and into the held ones.
    matrix: Vec<Vec<f64>>,
    into: Vec<f64>,
}

impl Nodal {
    fn new(nodes: usize) -> Self {
        Self {
            matrix: vec![vec![0.0; nodes]; nodes],
            into: vec![0.0; nodes],
        }
    }

    fn resistor(&mut self, a: usize, b: usize, ohm: f64) {
        if !ohm.is_finite() {
            return;
        }
        let g = 1.0 / ohm.max(1e-3);
        self.matrix[a][a] += g;
        self.matrix[b][b] += g;
        self.matrix[a][b] -= g;
        self.matrix[b][a] -= g;
    }

    /// A resistor from a node to a held voltage.
    fn tie(&mut self, node: usize, volts: f64, ohm: f64) {
        if !ohm.is_finite() {
            return;
        }
        let g = 1.0 / ohm.max(1e-3);
        self.matrix[node][node] += g;
        self.into[node] += g * volts;
    }

    /// A current into `node`, of a source of `share` of the difference of two nodes behind `ohm`.
    fn driven(&mut self, node: usize, top: usize, bottom: usize, share: f64, ohm: f64) {
        let g = 1.0 / ohm;
        self.matrix[node][node] += g;
        self.matrix[node][top] -= g * share;
        self.matrix[node][bottom] -= g * (1.0 - share);
    }

    fn solve(mut self) -> Vec<f64> {
        let n = self.into.len();
        for k in 0..n {
            let pivot = (k..n)
                .max_by(|a, b| {
                    self.matrix[*a][k]
                        .abs()
                        .total_cmp(&self.matrix[*b][k].abs())
                })
                .unwrap();
            self.matrix.swap(k, pivot);
            self.into.swap(k, pivot);
            for row in k + 1..n {
                let factor = self.matrix[row][k] / self.matrix[k][k];
                if factor != 0.0 {
                    for column in k..n {
                        let by = factor * self.matrix[k][column];
                        self.matrix[row][column] -= by;
                    }
                    self.into[row] -= factor * self.into[k];
                }
            }
        }
        let mut x = vec![0.0; n];
        for k in (0..n).rev() {
            let rest: f64 = (k + 1..n).map(|c| self.matrix[k][c] * x[c]).sum();
            x[k] = (self.into[k] - rest) / self.matrix[k][k];
        }
        x
    }
}

impl Circuit {
    fn has(&self, what: impl Fn(&Break) -> bool) -> bool {
        self.breaks.iter().any(what)
    }

    /// Volts at the pins with every track's wiper at these places (0 rest, 1 full), and contacts of tracks lost.
    pub fn read(&self, at: &[f64], lost: &[bool]) -> Volts {
        // Once with a slight pull to each side: a pin that follows the pull is held by nothing.
        let [low, high] = [0.0, self.supply_v].map(|pull| self.solved(at, lost, pull));
        low.iter()
            .zip(&high)
            .map(|(low, high)| {
                ((low - high).abs() < 0.2 * self.supply_v).then_some((low + high) / 2.0)
            })
            .collect()
    }

    fn solved(&self, at: &[f64], lost: &[bool], pull: f64) -> Vec<f64> {
        let n = self.tracks.len();
        let mut net = Nodal::new(n * OF_TRACK);
        let rail_ohm = |of: fn(&Break) -> Option<f64>| {
            self.breaks
                .iter()
                .find_map(of)
                .map_or(WIRE, |ohm| ohm + WIRE)
        };
        let supply_ohm = rail_ohm(|b| match b {
            Break::Supply(ohm) => Some(*ohm),
            _ => None,
        });
        let ground_ohm = rail_ohm(|b| match b {
            Break::Ground(ohm, _) => Some(*ohm),
            _ => None,
        });
        let leaks = self.has(|b| matches!(b, Break::Ground(_, true)));
        let swapped = self.has(|b| *b == Break::RailsSwapped);
        let (top, bottom) = if swapped {
            (0.0, self.supply_v)
        } else {
            (self.supply_v, 0.0)
        };
        for (t, track) in self.tracks.iter().enumerate() {
            let node = |of: usize| t * OF_TRACK + of;
            for of in [SUPPLY, GROUND, WIPER, WIRE_END, PIN] {
                net.tie(node(of), pull, LEAK);
            }
            net.tie(node(SUPPLY), top, supply_ohm);
            net.tie(node(GROUND), bottom, ground_ohm);
            let x = track.rest_at + (track.full_at - track.rest_at) * at[t];
            if track.sensor {
                let share = track.low_ratio + (track.high_ratio - track.low_ratio) * x;
                let powered = supply_ohm < 1e3 && ground_ohm < 1e3;
                if powered {
                    net.driven(
                        node(WIPER),
                        node(SUPPLY),
                        node(GROUND),
                        share,
                        track.output_ohm,
                    );
                } else if leaks {
                    net.resistor(
                        node(WIPER),
                        node(SUPPLY),
                        track.sensor_ohm + track.output_ohm,
                    );
                }
            } else {
                let x = x.clamp(0.0, 1.0);
                net.resistor(node(WIPER), node(GROUND), track.end_low + x * track.ohm);
                if !track.rheostat {
                    net.resistor(
                        node(WIPER),
                        node(SUPPLY),
                        track.end_high + (1.0 - x) * track.ohm,
                    );
                }
            }
            self.board_side(&mut net, t, track, lost[t]);
        }
        let x = net.solve();
        (0..n)
            .map(|t| x[t * OF_TRACK + PIN].clamp(0.0, self.supply_v))
            .collect()
    }

    /// From the wiper over the signal wire to the pin.
    fn board_side(&self, net: &mut Nodal, t: usize, track: &TrackParts, lost: bool) {
        let n = self.tracks.len();
        let node = |of: usize| t * OF_TRACK + of;
        // Whose wire comes to this input.
        let from = if self.has(|b| *b == Break::SignalsSwapped) {
            n - 1 - t
        } else {
            self.breaks
                .iter()
                .find_map(|b| match b {
                    Break::OneWire(of) => Some(*of),
                    _ => None,
                })
                .unwrap_or(t)
        };
        let wire_ohm = self
            .breaks
            .iter()
            .find_map(|b| match b {
                Break::Signal(of, ohm) if *of == from => Some(ohm + WIRE),
                _ => None,
            })
            .unwrap_or(WIRE);
        if !lost {
            net.resistor(from * OF_TRACK + WIPER, node(WIRE_END), wire_ohm);
        }
        for b in &self.breaks {
            match b {
                Break::ToGround(of) if *of == t => net.tie(node(WIRE_END), 0.0, WIRE),
                Break::ToSupply(of) if *of == t => {
                    net.tie(node(WIRE_END), self.supply_v, WIRE);
                }
                Break::Touching(ohm) if t == 0 && n > 1 => {
                    net.resistor(node(WIRE_END), OF_TRACK + WIRE_END, *ohm);
                }
                _ => {}
            }
        }
        if let Some(ohm) = track.pull_up
            && !self.has(|b| *b == Break::PullUpOff(t))
        {
            net.tie(node(WIRE_END), self.supply_v, ohm);
        }
        if let Some(ohm) = track.pull_down {
            net.tie(node(WIRE_END), 0.0, ohm);
        }
        match track.divider {
            Some((top, bottom)) => {
                net.resistor(node(WIRE_END), node(PIN), top);
                net.tie(node(PIN), 0.0, bottom);
            }
            None => net.resistor(node(WIRE_END), node(PIN), WIRE),
        }
    }
}

#[test]
fn a_divider_by_hand() {
    // 20 kohm with 1.5 kohm at each end, wiper in the middle, 100 kohm to ground: 11.5 k parallel 100 k = 10.3139 k;
    // 5 V x 10.3139 / (10.3139 + 11.5) = 2.36406 V.
    let wiring = serde_json::json!({
        "network": "three-wire", "track_ohm": 20000, "end_low_ohm": 1500, "end_high_ohm": 1500, "pull_down_ohm": 1e5
    });
    let circuit = |breaks| Circuit {
        tracks: vec![TrackParts::read(&wiring, |_| 1.0)],
        supply_v: 5.0,
        breaks,
    };
    let read = |breaks| circuit(breaks).read(&[0.5], &[false])[0].unwrap();
    assert!((read(vec![]) - 2.36406).abs() < 1e-3);
    assert!(read(vec![Break::Signal(0, f64::INFINITY)]).abs() < 1e-2);
    // Without ground: 5 V x 100 / 111.5 = 4.4843 V.
    assert!((read(vec![Break::Ground(f64::INFINITY, false)]) - 4.4843).abs() < 1e-2);
    let bare = serde_json::json!({"network": "three-wire", "track_ohm": 10000});
    let floating = Circuit {
        tracks: vec![TrackParts::read(&bare, |_| 1.0)],
        supply_v: 5.0,
        breaks: vec![Break::Signal(0, f64::INFINITY)],
    };
    assert_eq!(floating.read(&[0.5], &[false])[0], None);
    // A 4.7 kohm pull-up over 10 kohm: 5 V x 10 / 14.7 = 3.40136 V; open: 5 V.
    let dial = serde_json::json!({"network": "rheostat", "track_ohm": 10000, "pull_up_ohm": 4700});
    let dial = Circuit {
        tracks: vec![TrackParts::read(&dial, |_| 1.0)],
        supply_v: 5.0,
        breaks: vec![],
    };
    assert!((dial.read(&[1.0], &[false])[0].unwrap() - 3.40136).abs() < 1e-3);
    assert!((dial.read(&[1.0], &[true])[0].unwrap() - 5.0).abs() < 1e-2);
}
