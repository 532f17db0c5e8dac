//! Coverage of 95 % intervals over units of the simulated board: each unit has its own seed, its own defects within a
//! kind, and a truth that the program never sees.
//!
//! `PEDALPROOF_UNITS=400 cargo test --test figures simulated_coverage:: -- --nocapture` prints the table; the usual size is 30.
#![allow(clippy::cast_precision_loss)]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // positions of 0 to 40 degrees

use crate::support::simulated::recording;
use measure::figure::{Figure, FigureName as Name};
use measure::travel::LineKind;
use measure::units::{Passage, Step};
use measure::{MeasuredChannel, figures};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use simulator::{
    ChannelModel, Curve, Movement, Returning, Script, SimRun, SimUnit, Simulation, scenario,
    with_script,
};

/// Standard uncertainty of a station's mark: 0.05 % of 40 degrees. The hand's scatter about the mark (`place_sd` of the
/// script) is another thing: it differs from visit to visit, is seen in them, and is not stated.
const MARK_DEG: f64 = 0.02;

fn units() -> u64 {
    std::env::var("PEDALPROOF_UNITS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(30)
}

/// Seed of the first unit; `PEDALPROOF_SEED` sets another, for numbers that no method was tuned on.
fn first_seed() -> u64 {
    std::env::var("PEDALPROOF_SEED")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(1000)
}

fn first_channel(unit: &SimUnit, seed: u64, s: f64) -> (MeasuredChannel, SimRun) {
    let run = Simulation::new(unit, seed).unwrap().run(s);
    let mut stated = run.reference.clone();
    misread(stated.as_mut(), seed);
    let measured = figures(&recording(&run, stated.as_deref(), MARK_DEG));
    (measured.channels[0].clone(), run)
}

/// Each mark is off by an amount of its own, the same at every visit: what is stated is not quite where it is.
fn misread(stated: Option<&mut Vec<f64>>, seed: u64) {
    for position in stated.into_iter().flatten().filter(|p| p.is_finite()) {
        let mark = u64::from(position.abs().mul_add(1000.0, 0.5) as u32);
        let mut chance = ChaCha8Rng::seed_from_u64(seed * 1_000_003 + mark);
        *position += MARK_DEG * chance.sample::<f64, _>(StandardNormal);
    }
}

/// Counts how often the interval holds the truth.
#[derive(Default)]
struct Tally {
    below: u64,
    above: u64,
    of: u64,
}

impl Tally {
    fn add(&mut self, figure: Option<&Figure>, truth: f64) {
        let figure = figure.expect("the script supports it");
        self.below += u64::from(figure.low.is_some_and(|low| truth < low));
        self.above += u64::from(figure.high.is_some_and(|high| high < truth));
        self.of += 1;
    }

    /// 92 to 98 %, or within two standard errors of that.
    fn check(&self, what: &str) {
        let n = self.of as f64;
        let share = 1.0 - (self.below + self.above) as f64 / n;
        println!(
            "{what:<40} {:>5.1} % of {} (truth below {}, above {})",
            100.0 * share,
            self.of,
            self.below,
            self.above
        );
        let error = |p: f64| 2.0 * (p * (1.0 - p) / n).sqrt();
        let (least, most) = (0.92 - error(0.92), 0.98 + error(0.98));
        assert!((least..=most).contains(&share), "{what}: {share}");
    }
}

/// The same unit without noise, without scatter of the hand and of the returns, on a board of 24 bits.
fn without_chance(unit: &SimUnit) -> SimUnit {
    let mut unit = unit.clone();
    for channel in &mut unit.control.channels {
        channel.noise_rms_code = 0.0;
        channel.hum = None;
    }
    unit.control.returning = Returning::default();
    unit.board.noise_rms_code = 0.0;
    unit.board.bits = 24;
    for movement in &mut unit.script.movements {
        if let Movement::Stations { place_sd, .. } = movement {
            *place_sd = 0.0;
        }
    }
    unit
}

/// Terminal and independent linearity and hysteresis at the stations, % of span, of the unit without chance.
///
/// By the definition: halfway between both ways where both were measured; at the ends, which are reached from one side,
/// half the gap away, the gap carried on in a straight line from its two neighbours (exact for a bow, whose gap is
/// straight over travel).
fn truth_at_stations(unit: &SimUnit) -> [f64; 3] {
    let run = Simulation::new(&without_chance(unit), 1)
        .unwrap()
        .run(120.0);
    let code = |passage: &Passage| run.codes[0][passage.range.end - 1].as_f64();
    let of = |step| -> Vec<f64> { run.passages_of(step).map(code).collect() };
    let (rest, full, stations) = (of(Step::Rest), of(Step::Full), of(Step::Stations));
    assert_eq!(stations.len(), 21);
    let span = full[0] - rest.iter().sum::<f64>() / rest.len() as f64;
    let pct: Vec<f64> = stations.iter().map(|code| 100.0 * code / span).collect();
    let (up, mut down) = (&pct[..11], pct[10..].to_vec());
    down.reverse();
    let gap: Vec<f64> = up.iter().zip(&down).map(|(up, down)| up - down).collect();
    let mut halfway: Vec<f64> = up
        .iter()
        .zip(&gap)
        .map(|(up, gap)| up - gap / 2.0)
        .collect();
    halfway[0] = down[0] + (2.0 * gap[1] - gap[2]) / 2.0;
    halfway[10] = up[10] - (2.0 * gap[9] - gap[8]) / 2.0;
    let x: Vec<f64> = (0..11).map(f64::from).collect();
    let linearity = |kind: LineKind| kind.line(&x, &halfway).unwrap().max_error;
    let largest = gap[1..10].iter().map(|gap| gap.abs()).fold(0.0, f64::max);
    [
        linearity(LineKind::Terminal),
        linearity(LineKind::Independent),
        largest,
    ]
}

fn lines_of(name: &str, change: impl Fn(&mut ChannelModel, u64)) {
    let mut tallies: [Tally; 3] = Default::default();
    let names = [
        Name::LinearityTerminal,
        Name::LinearityIndependent,
        Name::Hysteresis,
    ];
    for seed in 0..units() {
        let mut unit = scenario(name).unwrap();
        for channel in &mut unit.control.channels {
            change(channel, seed);
        }
        let unit = with_script(unit, Script::stations(0.0, 40.0));
        let (channel, _) = first_channel(&unit, first_seed() + seed, 120.0);
        for ((tally, name), truth) in tallies.iter_mut().zip(names).zip(truth_at_stations(&unit)) {
            tally.add(channel.figures.get(name), truth);
        }
    }
    for (tally, figure) in tallies.iter().zip(names) {
        tally.check(&format!("{name} {}", figure.word()));
    }
}

/// Bows of 0.5 to 2.4 % and gaps of 0.4 to 1.2 %, no two units alike.
#[test]
fn pedal_at_stations() {
    lines_of("T1-pedal", |channel, seed| {
        channel.curve = Curve::Bow(0.5 + 0.1 * (seed % 20) as f64);
        channel.hysteresis_pct = 0.4 + 0.1 * (seed % 9) as f64;
    });
}

/// Its network bends it; gaps of 0.1 to 0.5 %, noise of 0.5 to 2 codes.
#[test]
fn lever_at_stations() {
    lines_of("T1-lever", |channel, seed| {
        channel.hysteresis_pct = 0.1 + 0.1 * (seed % 5) as f64;
        channel.noise_rms_code = 0.5 + 0.5 * (seed % 4) as f64;
    });
}

/// A rheostat under a pull-up: bent by its divider; gaps of 0.3 to 0.7 %.
#[test]
fn dial_at_stations() {
    lines_of("T1-dial", |channel, seed| {
        channel.hysteresis_pct = 0.3 + 0.1 * (seed % 5) as f64;
        channel.noise_rms_code = 0.5 + 0.5 * (seed % 4) as f64;
    });
}

fn card_of(name: &str) {
    let names = [
        Name::FullCode,
        Name::NoiseRestRms,
        Name::StrokeNoiseRms,
        Name::ReturnScatter,
    ];
    let mut tallies: [Tally; 4] = Default::default();
    for seed in 0..units() {
        let mut unit = scenario(name).unwrap();
        if name == "T1-dial" {
            // Its wiper stands at the end of the track at both ends, which cuts off half of what would go beyond: the
            // tremor, and with it the mean, and half of the returns. Truths of what is cut off are not stated.
            unit.script.tremor = 0.0;
            unit.control.returning = Returning::Travel {
                mean: 0.005,
                sd: 0.0008,
            };
        }
        for channel in &mut unit.control.channels {
            channel.noise_rms_code = 0.8 + 0.2 * (seed % 8) as f64;
        }
        let (channel, run) = first_channel(&unit, first_seed() + 1000 + seed, 50.0);
        let truth = &run.truth.channels[0];
        let noise = truth.rounded_noise_rms_code();
        let truths = [truth.full_code, noise, noise, truth.return_scatter_code];
        for ((tally, name), truth) in tallies.iter_mut().zip(names).zip(truths) {
            tally.add(channel.figures.get(name), truth);
        }
    }
    for (tally, figure) in tallies.iter().zip(names) {
        tally.check(&format!("{name} card {}", figure.word()));
    }
}

#[test]
fn pedal_card() {
    card_of("T1-pedal");
}

#[test]
fn lever_card() {
    card_of("T1-lever");
}

#[test]
fn dial_card() {
    card_of("T1-dial");
}
