//! Do the 95 % intervals of linearity and hysteresis cover? Seeded simulation with known truth.
//!
//! Quick by default; `cargo test --release --test lines_coverage -- --ignored --nocapture` prints the large table.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use pedalproof::figure::{FigureName, Figures, Scope};
use pedalproof::measure::linearity::Kind;
use pedalproof::measure::{BoardFacts, Channel, Recording, Reference, lines_part};
use pedalproof::units::{Code, Passage, Role, Scale, Step, Track};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// Codes of span, with the rest end at code 400.
const SPAN: f64 = 3000.0;

/// What the control does, as fractions of travel and % of span.
#[derive(Clone, Copy)]
struct Control {
    /// Deviation of the halfway curve, % of span, over travel 0 to 1; 0 at both ends.
    deviation: fn(f64) -> f64,
    /// Its size.
    size: f64,
    /// Half the gap between coming down and going up, % of span, over travel.
    half_gap: fn(f64) -> f64,
    /// Its size.
    gap: f64,
}

impl Control {
    fn code(&self, travel: f64, up: bool) -> f64 {
        let side = if up { -self.gap } else { self.gap };
        let pct = self.size * (self.deviation)(travel) + side * (self.half_gap)(travel);
        400.0 + SPAN * (travel + 0.01 * pct)
    }
}

fn bow(x: f64) -> f64 {
    4.0 * x * (1.0 - x)
}

fn wave(x: f64) -> f64 {
    (std::f64::consts::TAU * x).sin()
}

fn bump(x: f64) -> f64 {
    if (x - 0.4).abs() < 0.01 { 1.0 } else { 0.0 }
}

fn level(_: f64) -> f64 {
    0.5
}

fn closing(x: f64) -> f64 {
    2.0 * x * (1.0 - x)
}

/// How it is measured.
#[derive(Clone, Copy)]
enum Manner {
    /// Stations this many, loops this many, scatter from visit to visit in codes.
    Stations(u32, u32, f64),
    /// Strokes there and back this many, over an encoder.
    Strokes(u32),
}

#[derive(Default)]
struct Taken {
    t_us: Vec<u64>,
    codes: Vec<Code>,
    position: Vec<f64>,
    passages: Vec<Passage>,
}

impl Taken {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    fn sample(&mut self, position: f64, code: f64) {
        self.codes.push(Code(code.round() as u32));
        self.position.push(position);
        self.t_us.push(self.t_us.len() as u64 * 1000);
    }

    fn passage(&mut self, step: Step, from: usize) {
        self.passages.push(Passage {
            step,
            range: from..self.codes.len(),
        });
    }
}

fn take(control: &Control, manner: Manner, seed: u64) -> Taken {
    let mut chance = ChaCha8Rng::seed_from_u64(seed);
    let mut taken = Taken::default();
    let mut normal = move || chance.sample::<f64, _>(StandardNormal);
    match manner {
        Manner::Stations(count, loops, scatter) => {
            for round in 0..loops {
                // A later round goes on from where the one before came down to.
                let up = (round.min(1)..count).map(|i| (i, true));
                let down = (0..count - 1).rev().map(|i| (i, false));
                for (i, up) in up.chain(down) {
                    let travel = f64::from(i) / f64::from(count - 1);
                    let code = control.code(travel, up) + scatter * normal();
                    let from = taken.codes.len();
                    for _ in 0..50 {
                        taken.sample(travel, code + 2.0 * normal());
                    }
                    taken.passage(Step::Stations, from);
                }
            }
        }
        Manner::Strokes(count) => {
            for stroke in 0..2 * count {
                let up = stroke % 2 == 0;
                for i in 0..800 {
                    let part = 0.5 - 0.5 * (f64::from(i) / 800.0 * std::f64::consts::PI).cos();
                    let travel = if up { part } else { 1.0 - part };
                    let code = control.code(travel, up) + 2.0 * normal();
                    taken.sample(travel, code);
                }
            }
            taken.passage(Step::Strokes, 0);
        }
    }
    taken
}

fn measured(taken: &Taken) -> Figures {
    let channel = Channel {
        name: "lever",
        role: Role::Signal,
        track: Track::One,
        codes: &taken.codes,
    };
    let recording = Recording {
        board: BoardFacts {
            scale: Scale::new(12, 5000.0).unwrap(),
            rate_hz: 1000.0,
            inl_code: None,
            board_time: true,
        },
        t_us: &taken.t_us,
        passages: &taken.passages,
        channels: vec![channel],
        reference: Some(Reference {
            position: &taken.position,
            low: Some(0.0),
            high: Some(1.0),
            u: 0.0,
        }),
    };
    let mut figures = Figures::new(Scope::Channel);
    // The true rest and full codes, so that % means the same for the truth.
    lines_part(
        &recording,
        &channel,
        Some((400.0, 400.0 + SPAN)),
        &mut figures,
    );
    figures
}

/// The truth of each figure, % of span, over the positions that are measured.
fn truths(control: &Control, manner: Manner) -> Vec<(FigureName, f64)> {
    let places = match manner {
        Manner::Stations(count, _, _) => count,
        Manner::Strokes(_) => 101,
    };
    let x: Vec<f64> = (0..places)
        .map(|i| f64::from(i) / f64::from(places - 1))
        .collect();
    let y: Vec<f64> = x
        .iter()
        .map(|&x| control.size * (control.deviation)(x))
        .collect();
    let gap = x
        .iter()
        .map(|&x| 2.0 * control.gap * (control.half_gap)(x))
        .fold(0.0, f64::max);
    [
        (FigureName::LinearityIndependent, Kind::Independent),
        (FigureName::LinearityBestFit, Kind::BestFit),
        (FigureName::LinearityTerminal, Kind::Terminal),
        (FigureName::LinearityZeroBased, Kind::ZeroBased),
    ]
    .into_iter()
    .map(|(name, kind)| (name, kind.line(&x, &y).unwrap().max_error))
    .chain([(FigureName::Hysteresis, gap)])
    .collect()
}

struct Row {
    name: FigureName,
    truth: f64,
    covered: u32,
    below: u32,
    above: u32,
    mean: f64,
    width: f64,
}

/// Draws `units` captures of one case and counts how often each interval holds the truth.
fn case(control: &Control, manner: Manner, units: u32, seed: u64) -> Vec<Row> {
    let mut rows: Vec<Row> = truths(control, manner)
        .into_iter()
        .map(|(name, truth)| Row {
            name,
            truth,
            covered: 0,
            below: 0,
            above: 0,
            mean: 0.0,
            width: 0.0,
        })
        .collect();
    for unit in 0..units {
        let figures = measured(&take(control, manner, seed + u64::from(unit)));
        for row in &mut rows {
            let figure = figures.get(row.name).unwrap();
            let (low, high) = (figure.low.unwrap(), figure.high.unwrap());
            row.covered += u32::from(low <= row.truth && row.truth <= high);
            row.below += u32::from(row.truth < low);
            row.above += u32::from(row.truth > high);
            row.mean += figure.value / f64::from(units);
            row.width += (high - low) / f64::from(units);
        }
    }
    rows
}

type Case = (&'static str, Control, Manner);

fn cases() -> Vec<Case> {
    let shapes: [(&str, fn(f64) -> f64, fn(f64) -> f64); 3] = [
        ("bow, level gap", bow, level),
        ("wave, closing gap", wave, closing),
        ("bump, level gap", bump, level),
    ];
    let manners = [
        ("11 stations", Manner::Stations(11, 1, 0.0)),
        ("21 stations", Manner::Stations(21, 1, 0.0)),
        ("21 stations, scatter 3", Manner::Stations(21, 1, 3.0)),
        ("11 stations x 3, scatter 3", Manner::Stations(11, 3, 3.0)),
        ("6 strokes", Manner::Strokes(6)),
    ];
    let mut out = Vec::new();
    for (shape, deviation, half_gap) in shapes {
        for (how, manner) in manners {
            if matches!(manner, Manner::Strokes(_)) && shape.starts_with("bump") {
                continue; // narrower than a bin: the truth is not that of a curve
            }
            for size in [0.0, 0.03, 0.1, 1.8] {
                let name = Box::leak(format!("{how}, {shape}, {size} %").into_boxed_str());
                let control = Control {
                    deviation,
                    size,
                    half_gap,
                    gap: size / 2.0,
                };
                out.push((&*name, control, manner));
            }
        }
    }
    out
}

#[test]
#[ignore = "large: prints the table, minutes"]
fn table() {
    for (name, control, manner) in cases() {
        println!("{name}");
        for row in case(&control, manner, 200, 1000) {
            println!(
                "  {:22} true {:6.3}  mean {:6.3}  covered {:5.1} % (below {:2}, above {:2})  width {:6.4}",
                row.name.word(),
                row.truth,
                row.mean,
                f64::from(row.covered) / 2.0,
                row.below,
                row.above,
                row.width
            );
        }
    }
}
