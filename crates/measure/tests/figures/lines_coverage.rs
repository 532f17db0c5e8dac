//! Do the 95 % intervals of linearity and hysteresis cover? Seeded simulation with known truth.
//!
//! Quick by default; `cargo test --release --test figures lines_coverage:: -- --ignored --nocapture` prints the large table.

use measure::figure::{FigureName, Figures, Scope};
use measure::parts::travel_figures;
use measure::travel::LineKind;
use measure::units::{Code, Passage, Scale, Step, Track};
use measure::{BoardFacts, Channel, Recording, Reference};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// Codes of span, with the rest end at code 400.
const SPAN: f64 = 3000.0;

/// What the control does, as fractions of travel and % of span.
#[derive(Clone, Copy)]
struct Control {
    /// Deviation of the halfway curve, % of span, over travel 0 to 1; 0 at both ends.
    deviation: OverTravel,
    /// Its size.
    size: f64,
    /// Half the gap between coming down and going up, % of span, over travel.
    half_gap: OverTravel,
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
enum TravelMode {
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

fn take(control: &Control, manner: TravelMode, seed: u64) -> Taken {
    let mut chance = ChaCha8Rng::seed_from_u64(seed);
    let mut taken = Taken::default();
    let mut normal = move || chance.sample::<f64, _>(StandardNormal);
    match manner {
        TravelMode::Stations(count, loops, scatter) => {
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
        TravelMode::Strokes(count) => {
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

/// The figures, and the positions as fractions of travel.
fn measured(taken: &Taken) -> (Figures, Vec<f64>) {
    let channel = Channel::signal("lever", Track::One, &taken.codes);
    let board = BoardFacts::new(Scale::new(12, 5000.0).unwrap(), 1000.0);
    let mut recording = Recording::new(board, &taken.t_us, &taken.passages);
    recording.reference = Some(Reference {
        position: &taken.position,
        low: Some(0.0),
        high: Some(1.0),
        u: 0.0,
    });
    let mut figures = Figures::new(Scope::Channel);
    // The true rest and full codes, so that % means the same for the truth.
    let ends = Some((400.0, 400.0 + SPAN));
    let curve = travel_figures(&recording, &channel, ends, &mut figures).unwrap();
    let travel = curve.points.iter().map(|p| p.travel_pct / 100.0);
    (figures, travel.collect())
}

/// The truth of each figure, % of span, at the positions that are measured.
fn truths(control: &Control, x: &[f64]) -> Vec<(FigureName, f64)> {
    let y: Vec<f64> = x
        .iter()
        .map(|&x| control.size * (control.deviation)(x))
        .collect();
    let gap = x
        .iter()
        .map(|&x| 2.0 * control.gap * (control.half_gap)(x))
        .fold(0.0, f64::max);
    [
        (FigureName::LinearityIndependent, LineKind::Independent),
        (FigureName::LinearityBestFit, LineKind::BestFit),
        (FigureName::LinearityTerminal, LineKind::Terminal),
        (FigureName::LinearityZeroBased, LineKind::ZeroBased),
    ]
    .into_iter()
    .map(|(name, kind)| (name, kind.line(x, &y).unwrap().max_error))
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
fn case(control: &Control, manner: TravelMode, units: u32, seed: u64) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for unit in 0..units {
        let (figures, x) = measured(&take(control, manner, seed + u64::from(unit)));
        for (i, (name, truth)) in truths(control, &x).into_iter().enumerate() {
            if rows.len() <= i {
                rows.push(Row {
                    name,
                    truth,
                    covered: 0,
                    below: 0,
                    above: 0,
                    mean: 0.0,
                    width: 0.0,
                });
            }
            let row = &mut rows[i];
            let figure = figures.get(name).unwrap();
            let (low, high) = (figure.low.unwrap(), figure.high.unwrap());
            row.covered += u32::from(low <= truth && truth <= high);
            row.below += u32::from(truth < low);
            row.above += u32::from(truth > high);
            row.mean += figure.value / f64::from(units);
            row.width += (high - low) / f64::from(units);
        }
    }
    rows
}

/// Something over travel 0 to 1.
type OverTravel = fn(f64) -> f64;

type Case = (&'static str, Control, TravelMode);

fn cases() -> Vec<Case> {
    let shapes: [(&str, OverTravel, OverTravel); 3] = [
        ("bow, level gap", bow, level),
        ("wave, closing gap", wave, closing),
        ("bump, level gap", bump, level),
    ];
    let manners = [
        ("11 stations", TravelMode::Stations(11, 1, 0.0)),
        ("21 stations", TravelMode::Stations(21, 1, 0.0)),
        ("21 stations, scatter 3", TravelMode::Stations(21, 1, 3.0)),
        (
            "11 stations x 3, scatter 3",
            TravelMode::Stations(11, 3, 3.0),
        ),
        ("6 strokes", TravelMode::Strokes(6)),
    ];
    let mut out = Vec::new();
    for (shape, deviation, half_gap) in shapes {
        for (how, manner) in manners {
            if matches!(manner, TravelMode::Strokes(_)) && shape.starts_with("bump") {
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

/// `PEDALPROOF_CASE=wave/11` picks the cases whose name has all of these words, `PEDALPROOF_UNITS` sets their number.
#[test]
#[ignore = "large: prints the table, minutes"]
fn table() {
    let words = std::env::var("PEDALPROOF_CASE").unwrap_or_default();
    let units: u32 = std::env::var("PEDALPROOF_UNITS").map_or(300, |n| n.parse().unwrap());
    // Another first seed for numbers that no method was tuned on.
    let seed: u64 = std::env::var("PEDALPROOF_SEED").map_or(500_000, |n| n.parse().unwrap());
    let picked = |name: &str| words.split('/').all(|word| name.contains(word));
    let share = |count: u32| 100.0 * f64::from(count) / f64::from(units);
    for (name, control, manner) in cases() {
        if !picked(name) {
            continue;
        }
        for row in case(&control, manner, units, seed) {
            let covered = share(row.covered);
            let error = |p: f64| 2.0 * (p * (100.0 - p) / f64::from(units)).sqrt();
            let (least, most) = (92.0 - error(92.0), 98.0 + error(98.0));
            let mark = if (least..=most).contains(&covered) {
                ""
            } else {
                "***"
            };
            println!(
                "{name:44} {:22} true {:6.3}  mean {:6.3}  {covered:5.1} % (below {:4.1}, above {:4.1})  width {:6.4} {mark}",
                row.name.word(),
                row.truth,
                row.mean,
                share(row.below),
                share(row.above),
                row.width
            );
        }
    }
}

/// Bows far above the noise and near it, a wave with four equal peaks, and strokes near the noise. Of 100 units a coverage of 92 % shows as 87 or more in
/// 97 of 100 runs, of 30 as 24 or more; over all figures and cases the mean has no such excuse.
#[test]
fn intervals_cover_bows_and_waves_far_from_and_near_the_noise() {
    let (mut covered, mut asked) = (0, 0);
    for (deviation, half_gap, size, manner, units, least) in [
        (
            bow as OverTravel,
            level as OverTravel,
            1.8,
            TravelMode::Stations(21, 1, 0.0),
            100,
            87,
        ),
        (bow, level, 0.03, TravelMode::Stations(11, 1, 0.0), 100, 87),
        (
            wave,
            closing,
            0.1,
            TravelMode::Stations(11, 1, 0.0),
            100,
            87,
        ),
        (bow, level, 0.1, TravelMode::Stations(11, 3, 3.0), 100, 87),
        (bow, level, 0.03, TravelMode::Strokes(4), 30, 24),
    ] {
        let control = Control {
            deviation,
            size,
            half_gap,
            gap: size / 2.0,
        };
        for row in case(&control, manner, units, 77) {
            assert!(
                row.covered >= least,
                "{} of {size} %: {} of {units}, {} below, {} above",
                row.name,
                row.covered,
                row.below,
                row.above
            );
            covered += row.covered;
            asked += units;
        }
    }
    let share = f64::from(covered) / f64::from(asked);
    assert!((0.92..=0.98).contains(&share), "{share}");
}

/// A truly straight, tight control: the low end is 0 and the high end is no more than the noise allows.
#[test]
fn a_straight_control_is_not_called_bent() {
    let control = Control {
        deviation: bow,
        size: 0.0,
        half_gap: level,
        gap: 0.0,
    };
    let units = 100;
    for row in case(&control, TravelMode::Stations(11, 1, 0.0), units, 77) {
        assert!(row.below <= 8, "{}: {} of {units}", row.name, row.below);
        // Two codes of noise over 50 samples are 0.0094 % of span for one station and way.
        assert!(row.width < 0.06, "{}: {}", row.name, row.width);
    }
}
