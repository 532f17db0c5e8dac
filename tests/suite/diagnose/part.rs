//! Parts with known defects, drawn from a seed.

use super::chance::Chance;
use super::circuit::{Break, Circuit, TrackParts};
use super::hand::Hand;
use serde_json::Value;

/// A defect as the generator makes it, at one of three strengths (0, 1, 2).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Defect {
    /// The word that is right for it; `unknown` for what is none of the list.
    pub word: &'static str,
    pub strength: usize,
}

/// Every word that is made, in the order of DESIGN 4.4a.
pub const WORDS: [&str; 23] = [
    "worn-track",
    "loose-wiper",
    "loose-connection",
    "sticky-return",
    "slow-return",
    "backwards",
    "tracks-swapped",
    "tracks-joined",
    "tracks-disagree",
    "no-supply",
    "no-ground",
    "signal-open",
    "signal-shorted",
    "wrong-supply",
    "short-travel",
    "end-out-of-place",
    "bent-curve",
    "mains-hum",
    "interference",
    "board-noise",
    "board-nonlinear",
    "wrong-profile",
    "unknown",
];

pub const PROFILES: [&str; 9] = [
    "pedal-hall-one-track",
    "pedal-hall-two-track",
    "pedal-hall-crossed",
    "pedal-three-wire",
    "pedal-hall-divider-3v3",
    "dial-rheostat",
    "dial-three-wire",
    "lever-shunting",
    "lever-centre-return",
];

pub fn profile_json(name: &str) -> Value {
    let path = format!("{}/profiles/{name}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// A worn or bad place of the travel.
#[derive(Debug, Clone, Copy)]
pub struct Spot {
    pub track: usize,
    pub from: f64,
    pub to: f64,
    /// Noise in codes of ten bits, or the chance of a lost contact at each crossing.
    pub much: f64,
}

#[derive(Debug, Clone)]
#[allow(clippy::struct_excessive_bools)] // what a part has or has not
pub struct Part {
    /// What it really is.
    pub made_as: &'static str,
    /// What it is checked as.
    pub checked_as: &'static str,
    pub defects: Vec<Defect>,
    pub circuit: Circuit,
    pub reference_v: f64,
    pub bits: u32,
    pub hand: Hand,
    pub springs: bool,
    /// Travel of the parts of its mechanics.
    pub release_s: f64,
    pub rests: (f64, f64),
    pub stops_at: f64,
    /// Bow of each track's curve, % of span.
    pub bow_pct: Vec<f64>,
    /// Play between handle and wiper, % of travel.
    pub play_pct: f64,
    pub worn: Vec<Spot>,
    pub lifts: Vec<Spot>,
    /// Contact losses a second while shaken, and at any time; and whether all tracks lose it.
    pub loose: Option<(f64, f64, bool)>,
    /// Noise of each sensor and of the board, codes of ten bits.
    pub noise: f64,
    pub board_noise: f64,
    pub hum: Option<(f64, f64)>,
    /// Spikes a second, and how large, codes of ten bits.
    pub spikes: Option<(f64, f64)>,
    /// Share that a bowed ADC lacks at its top.
    pub adc_bow: f64,
    pub board_steps: bool,
    pub stations: bool,
    /// Whether the recording names the profile that the part was made as.
    pub tells_kind: bool,
    /// Share of the reference by which both inputs are random telegraph noise.
    pub telegraph: f64,
}

/// Whether a defect can be on a part of this profile, and shows in what the profile checks.
pub fn can_be(word: &str, profile: &str) -> bool {
    let two = matches!(profile, "pedal-hall-two-track" | "pedal-hall-crossed");
    let dial = profile.starts_with("dial");
    match word {
        "tracks-swapped" | "tracks-joined" | "tracks-disagree" => two,
        "sticky-return" => !dial,
        "slow-return" => limit(profile, "release_time"),
        "bent-curve" => limit(profile, "linearity_independent"),
        // A rheostat has no supply wire of its own; its pull-up has.
        "no-ground" => profile != "dial-rheostat",
        // Their full ends may lie so far apart that a bowed board does not leave them.
        "board-nonlinear" => !matches!(profile, "dial-rheostat" | "pedal-hall-divider-3v3"),
        _ => true,
    }
}

fn limit(profile: &str, figure: &str) -> bool {
    !profile_json(profile)["tracks"]["1"]["limits"][figure].is_null()
}

impl Part {
    /// A good part of a kind, in a quiet room.
    pub fn good(profile: &'static str, chance: &mut Chance) -> Self {
        let json = profile_json(profile);
        let tracks: Vec<TrackParts> = ["1", "2"]
            .into_iter()
            .filter(|track| !json["tracks"][track].is_null())
            .map(|track| {
                let wiring = &json["tracks"][track]["wiring"];
                let mut parts = TrackParts::read(wiring, |pct| chance.off(0.6 * pct));
                // The linkage has its own scatter.
                parts.rest_at += if parts.rheostat {
                    0.004 * chance.even()
                } else {
                    0.003 * chance.normal()
                };
                parts.full_at += 0.003 * chance.normal();
                parts
            })
            .collect();
        let reference = json["tracks"]["1"]["wiring"]["reference_mv"].as_f64();
        let n = tracks.len();
        Self {
            made_as: profile,
            checked_as: profile,
            defects: Vec::new(),
            circuit: Circuit {
                tracks,
                supply_v: 5.0,
                breaks: Vec::new(),
            },
            reference_v: reference.map_or(5.0, |mv| mv / 1000.0),
            bits: chance.one_of(&[10, 12]),
            hand: chance.one_of(&[Hand::Even, Hand::Uneven]),
            springs: json["kind"] != "dial",
            release_s: chance.between(0.1, 0.2),
            rests: (chance.between(0.0002, 0.001), 0.0),
            stops_at: 1.0,
            bow_pct: vec![0.3; n],
            play_pct: 0.1,
            worn: Vec::new(),
            lifts: Vec::new(),
            loose: None,
            noise: chance.between(0.3, 0.8),
            board_noise: 0.2,
            hum: None,
            spikes: None,
            adc_bow: 0.0,
            board_steps: chance.happens(0.2),
            stations: !json["tracks"]["1"]["limits"]["linearity_independent"].is_null(),
            tells_kind: false,
            telegraph: 0.0,
        }
    }

    /// Puts a defect in.
    #[allow(clippy::too_many_lines)] // a table of defects
    pub fn with(mut self, word: &'static str, strength: usize, chance: &mut Chance) -> Self {
        self.defects.push(Defect { word, strength });
        let n = self.circuit.tracks.len();
        let track = (chance.even() * n as f64) as usize;
        let s = strength;
        let breaks = &mut self.circuit.breaks;
        match word {
            "worn-track" => {
                let from = chance.between(0.08, 0.8);
                let to = from + chance.between(0.04, 0.12);
                let much = [3.0, 5.0, 8.0][s] * self.noise.max(0.6);
                // Worn where it is loaded: on the track that the profile counts worn places of.
                self.worn.push(Spot {
                    track: 0,
                    from,
                    to,
                    much,
                });
            }
            "loose-wiper" => {
                let from = chance.between(0.08, 0.85);
                let to = from + chance.between(0.01, 0.03);
                let much = [0.4, 0.7, 1.0][s];
                self.lifts.push(Spot {
                    track,
                    from,
                    to,
                    much,
                });
            }
            "loose-connection" => {
                let rate = [1.0, 2.5, 6.0][s];
                let anywhere = if chance.happens(0.25) {
                    0.3 * rate
                } else {
                    0.0
                };
                self.loose = Some((rate, anywhere, chance.happens(0.3)));
            }
            "sticky-return" => {
                self.rests = ([0.015, 0.025, 0.045][s], [0.0, 0.01, 0.02][s]);
                self.release_s = chance.between(0.25, 0.6);
            }
            "slow-return" => self.release_s = [1.3, 1.8, 2.6][s],
            "backwards" => {
                if self.circuit.tracks[0].sensor {
                    for t in &mut self.circuit.tracks {
                        (t.low_ratio, t.high_ratio) = (t.high_ratio, t.low_ratio);
                    }
                } else if self.circuit.tracks[0].rheostat {
                    let t = &mut self.circuit.tracks[0];
                    (t.rest_at, t.full_at) = (1.0 - t.rest_at, 1.0 - t.full_at);
                } else {
                    breaks.push(Break::RailsSwapped);
                }
            }
            "tracks-swapped" => breaks.push(Break::SignalsSwapped),
            "tracks-joined" => breaks.push(match s {
                0 => Break::Touching(1.0),
                1 => Break::Touching(0.1),
                _ => Break::OneWire(track),
            }),
            "tracks-disagree" => {
                self.bow_pct[1] = [6.0, 9.0, 14.0][s] * chance.one_of(&[-1.0, 1.0]);
            }
            "no-supply" if self.circuit.tracks[0].rheostat => breaks.push(Break::PullUpOff(0)),
            "no-supply" => breaks.push(Break::Supply([1e6, 1e7, f64::INFINITY][s])),
            "no-ground" => breaks.push(Break::Ground(
                [1e6, 1e7, f64::INFINITY][s],
                chance.happens(0.5),
            )),
            "signal-open" => {
                // Where nothing holds the input, a bad joint of some megohms still reads true.
                let held = self.circuit.tracks[track].pull_down.is_some()
                    || self.circuit.tracks[track].pull_up.is_some();
                let left = if held {
                    [3e7, 1e8, f64::INFINITY][s]
                } else {
                    f64::INFINITY
                };
                breaks.push(Break::Signal(track, left));
            }
            "signal-shorted" => breaks.push(if chance.happens(0.5) {
                Break::ToGround(track)
            } else {
                Break::ToSupply(track)
            }),
            "wrong-supply" => {
                // 3.3 V and a weak supply in place of 5 V; the ADC's reference stays.
                let factor = [0.78, 0.66, 0.6][s] * chance.off(1.0);
                self.circuit.supply_v *= factor;
            }
            // A rheostat's full end may lie anywhere from 0.61 to 0.74.
            "short-travel" if self.circuit.tracks[0].rheostat => {
                self.stops_at = [0.65, 0.5, 0.35][s] * chance.off(2.0);
            }
            "short-travel" => self.stops_at = [0.85, 0.7, 0.5][s] * chance.off(2.0),
            "end-out-of-place" => self.rests.1 = [0.1, 0.15, 0.22][s] * chance.off(5.0),
            "bent-curve" => self.bow_pct[0] = [6.0, 9.0, 13.0][s] * chance.one_of(&[-1.0, 1.0]),
            "mains-hum" => {
                let rms = [3.5, 6.0, 10.0][s];
                self.hum = Some((rms * 2f64.sqrt(), chance.one_of(&[50.0, 60.0])));
            }
            "interference" => self.spikes = Some(([0.7, 2.0, 6.0][s], [40.0, 60.0, 90.0][s])),
            "board-noise" => {
                self.board_noise = [3.5, 5.0, 8.0][s];
                self.board_steps = true;
            }
            "board-nonlinear" => {
                self.adc_bow = [0.1, 0.13, 0.17][s];
                self.board_steps = true;
            }
            "wrong-profile" => {
                let tracks = |name: &str| profile_json(name)["tracks"].as_object().unwrap().len();
                let others: Vec<&str> = PROFILES
                    .into_iter()
                    .filter(|other| *other != self.made_as && tracks(other) <= n)
                    .collect();
                self.checked_as = chance.one_of(&others);
                self.tells_kind = s == 2;
            }
            "unknown" => match s {
                0 => self.noise = chance.between(3.5, 6.0),
                1 => self.telegraph = chance.between(6.0, 12.0),
                _ if self.stations => self.play_pct = chance.between(2.5, 5.0),
                _ => self.noise = chance.between(6.0, 9.0),
            },
            _ => panic!("{word}"),
        }
        self
    }
}
