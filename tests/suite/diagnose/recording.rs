//! A part on a board in a room: samples, and the capture that a careful person would have taken of them.

use super::chance::Chance;
use super::hand::{Mechanics, Moment, Plan};
use super::part::Part;
use crate::support::recording::signal;
use measure::units::{Code, Passage, Step, Track};
use pedalproof::capture::{BoardMeta, Capture, Metadata, RefMeta, StreamCounts, UnitMeta};

pub const RATE_HZ: f64 = 500.0;
/// Places at which the circuit is solved: between them a reading is a straight line.
const TABLE: usize = 256;

/// Everything that the person does, by the card of the profile that the part is checked as.
fn moments(part: &Part, chance: &mut Chance) -> Vec<Moment> {
    let mechanics = Mechanics {
        release_s: part.release_s,
        rests: part.rests,
        stops_at: part.stops_at,
        springs: part.springs,
    };
    let mut plan = Plan::new(RATE_HZ, part.hand, mechanics, chance);
    if part.board_steps {
        plan.hold(Step::Ground, 2.0, false);
        plan.hold(Step::Idle, 0.2, false);
        plan.hold(Step::Reference, 2.0, false);
        plan.hold(Step::Idle, 0.2, false);
    }
    plan.hold(Step::Rest, 2.0, false);
    for _ in 0..4 {
        let full = plan.full();
        plan.go(Step::Idle, full, 0.6);
        plan.hold(Step::Full, 0.9, true);
        plan.back();
        plan.hold(Step::Rest, 0.9, false);
    }
    plan.hold(Step::Idle, 0.3, false);
    for _ in 0..6 {
        let full = plan.full();
        plan.go(Step::Strokes, full, 1.1);
        plan.hold(Step::Strokes, 0.1, true);
        plan.go(Step::Strokes, 0.0, 1.1);
        plan.hold(Step::Strokes, 0.1, true);
    }
    plan.back();
    if part.springs {
        for _ in 0..8 {
            plan.release(0.45);
        }
    }
    if part.stations {
        plan.stations(10);
    }
    plan.back();
    plan.hold(Step::Idle, 0.2, false);
    plan.hold(Step::Shake, 4.0, false);
    plan.hold(Step::Idle, 0.2, false);
    plan.moments
}

/// Readings over the wiper's way, volts at every pin.
struct Table {
    volts: Vec<Vec<Option<f64>>>,
}

impl Table {
    fn of(part: &Part, lost: &[bool]) -> Self {
        let n = part.circuit.tracks.len();
        let volts = (0..=TABLE)
            .map(|k| {
                let x = k as f64 / TABLE as f64;
                part.circuit.read(&vec![x; n], lost)
            })
            .collect();
        Self { volts }
    }

    fn at(&self, track: usize, x: f64) -> Option<f64> {
        let place = (x.clamp(0.0, 1.0) * TABLE as f64).min(TABLE as f64 - 1e-9);
        let k = place as usize;
        let (a, b) = (self.volts[k][track]?, self.volts[k + 1][track]?);
        Some(a + (place - k as f64) * (b - a))
    }
}

/// The surface of a track: the same at the same place, a bump each 0.15 % of travel.
fn surface(x: f64) -> f64 {
    let cell = |k: i64| Chance::new(k as u64 ^ 0xABCD).normal();
    let place = x / 0.0015;
    let k = place.floor();
    let u = place - k;
    cell(k as i64) * (1.0 - u) + cell(k as i64 + 1) * u
}

/// A random process that wanders and comes back: for an input that nothing holds.
struct Wander(f64);

impl Wander {
    fn next(&mut self, chance: &mut Chance) -> f64 {
        self.0 = 0.995 * self.0 + 0.03 * chance.normal();
        self.0
    }
}

/// Takes the recording.
pub fn record(part: &Part, chance: &mut Chance) -> Capture {
    let moments = moments(part, chance);
    let n = part.circuit.tracks.len();
    let codes = f64::from(1u32 << part.bits);
    let unit = codes / 1024.0;
    let whole = Table::of(part, &vec![false; n]);
    let lost: Vec<Table> = (0..n)
        .map(|t| Table::of(part, &(0..n).map(|k| k == t).collect::<Vec<_>>()))
        .collect();
    let losing = losses(part, &moments, chance);
    let spikes = spikes(part, moments.len(), n, chance);
    let mut wander: Vec<Wander> = (0..n).map(|_| Wander(0.3 * chance.normal())).collect();
    let mut telegraph = false;
    let mut columns = vec![Vec::with_capacity(moments.len()); n];
    let mut played = moments[0].travel;
    let half = part.play_pct / 200.0;
    let mut before = moments[0].travel;
    for (i, moment) in moments.iter().enumerate() {
        let t = i as f64 / RATE_HZ;
        // Play: the wiper follows once the slack is used up.
        played = played.clamp(moment.travel - half, moment.travel + half);
        let moving = ((moment.travel - before).abs() * RATE_HZ / 0.2).min(1.0);
        before = moment.travel;
        if chance.happens(20.0 / RATE_HZ) {
            telegraph = chance.happens(0.5);
        }
        let hum = part
            .hum
            .map_or(0.0, |(a, hz)| a * (std::f64::consts::TAU * hz * t).sin());
        for (track, column) in columns.iter_mut().enumerate() {
            let bow = part.bow_pct[track] / 100.0;
            let x = played + 4.0 * bow * played * (1.0 - played);
            let table = if losing[track][i] {
                &lost[track]
            } else {
                &whole
            };
            let roams = wander[track].next(chance);
            let held = table.at(track, x);
            let volts = held.unwrap_or_else(|| {
                let hum = 0.04 * (std::f64::consts::TAU * 50.0 * t).sin();
                (0.4 + roams + hum).clamp(0.0, 1.0) * part.circuit.supply_v
            });
            let mut code = volts / part.reference_v * codes;
            match moment.step {
                Step::Ground => code = 0.0,
                Step::Reference => code = codes - 1.0,
                _ => {
                    code += unit * (part.noise * chance.normal() + hum + spikes[track][i]);
                    if telegraph {
                        code += unit * part.telegraph;
                    }
                    for spot in part.worn.iter().filter(|spot| spot.track == track) {
                        if played >= spot.from && played <= spot.to {
                            let fresh = chance.normal();
                            let rough = 0.6 * surface(played) + 0.8 * fresh;
                            code += unit * spot.much * rough * (0.3 + 0.7 * moving);
                        }
                    }
                }
            }
            let share = code / codes;
            let bowed = codes * (share - part.adc_bow * share.powi(3));
            let read = bowed + unit * part.board_noise * chance.normal();
            column.push(Code(read.round().clamp(0.0, codes - 1.0) as u32));
        }
    }
    capture(part, &moments, columns)
}

/// In which samples each track's contact is lost.
fn losses(part: &Part, moments: &[Moment], chance: &mut Chance) -> Vec<Vec<bool>> {
    let n = part.circuit.tracks.len();
    let mut lost = vec![vec![false; moments.len()]; n];
    let mut lose = |track: usize, from: usize, ms: f64| {
        let to = from + ((ms * 1e-3 * RATE_HZ) as usize).max(1);
        lost[track][from..to.min(moments.len())].fill(true);
    };
    for spot in &part.lifts {
        let middle = f64::midpoint(spot.from, spot.to);
        for i in 1..moments.len() {
            let (a, b) = (moments[i - 1].travel, moments[i].travel);
            let passes = (a < middle) != (b < middle);
            if passes && chance.happens(spot.much) {
                lose(spot.track, i, chance.between(4.0, 18.0));
            }
        }
    }
    if let Some((shaken, anywhere, all)) = part.loose {
        let track = (chance.even() * n as f64) as usize;
        for (i, moment) in moments.iter().enumerate() {
            let rate = if moment.step == Step::Shake {
                shaken
            } else {
                anywhere
            };
            if chance.happens(rate / RATE_HZ) {
                let ms = chance.between(4.0, 25.0);
                for t in 0..n {
                    if all || t == track {
                        lose(t, i, ms);
                    }
                }
            }
        }
    }
    lost
}

/// Spikes of a room, to both sides, one to two samples long; on all inputs, not alike.
fn spikes(part: &Part, samples: usize, n: usize, chance: &mut Chance) -> Vec<Vec<f64>> {
    let mut all = vec![vec![0.0; samples]; n];
    let Some((rate, size)) = part.spikes else {
        return all;
    };
    for i in 0..samples {
        if chance.happens(rate / RATE_HZ) {
            let side = chance.one_of(&[-1.0, 1.0]);
            let high = side * size * chance.between(0.5, 1.5);
            let long = chance.one_of(&[1, 1, 2]);
            for column in &mut all {
                let mine = high * chance.between(0.7, 1.0);
                for code in column.iter_mut().take((i + long).min(samples)).skip(i) {
                    *code += mine;
                }
            }
        }
    }
    all
}

fn capture(part: &Part, moments: &[Moment], codes: Vec<Vec<Code>>) -> Capture {
    let mut passages: Vec<Passage> = Vec::new();
    for (i, moment) in moments.iter().enumerate() {
        match passages.last_mut() {
            Some(passage) if passage.step == moment.step => passage.range.end = i + 1,
            _ => passages.push(Passage {
                step: moment.step,
                range: i..i + 1,
            }),
        }
    }
    let names: &[&str] = if codes.len() == 2 {
        &["pedal_a", "pedal_b"]
    } else {
        &["signal"]
    };
    let channels = names
        .iter()
        .zip([Track::One, Track::Two])
        .map(|(name, track)| {
            let meta = signal(track);
            ((*name).to_owned(), meta)
        });
    let samples = moments.len() as u64;
    Capture {
        meta: Metadata {
            unit: UnitMeta {
                tag: Some("part".to_owned()),
                profile: Some(
                    if part.tells_kind {
                        part.made_as
                    } else {
                        part.checked_as
                    }
                    .to_owned(),
                ),
            },
            reference: part.stations.then(|| RefMeta {
                unit: "deg".to_owned(),
                low: Some(0.0),
                high: Some(100.0),
                u: Some(0.05),
            }),
            stream: StreamCounts {
                lines: samples,
                samples,
                ..StreamCounts::default()
            },
            ..Metadata::new(
                BoardMeta::new("generated", part.bits, part.reference_v * 1000.0, RATE_HZ),
                channels.collect(),
            )
        },
        t_us: (0..samples).map(|i| i * 2000).collect(),
        passages,
        codes,
        reference: part.stations.then(|| {
            moments
                .iter()
                .map(|m| m.stated.unwrap_or(f64::NAN))
                .collect()
        }),
        lost: None,
    }
}
