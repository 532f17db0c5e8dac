//! What `constants` chooses does what it is chosen for, on simulated units whose truth is known: exactly zero released, exactly
//! full pressed, proportional to a known travel in between.
//!
//! More units: `PEDALPROOF_UNITS=150 cargo test --test suite constants_truth:: -- --nocapture`

use super::support::captures::taken;
use measure::holds;
use pedalproof::bench;
use pedalproof::constants::choose::{ChooseOptions, MeasuredControl, choose};
use pedalproof::constants::{Block, Factor, Task};
use pedalproof::profile;
use pedalproof::twin::blend;
use simulator::{Movement, ReferenceKind, ReferenceModel, Repeat, Returning, Simulation, scenario};

/// A bowed lever that is held at eleven stated angles after its card.
fn lever_at_stations() -> Simulation {
    let mut unit = scenario("T1-lever").unwrap();
    for channel in &mut unit.control.channels {
        *channel = channel.clone().bow(4.0).hysteresis(0.0);
    }
    unit.script.movements.push(Movement::Stations {
        positions: (0..=10).map(|i| f64::from(i) / 10.0).collect(),
        move_s: 0.3,
        hold_s: 0.6,
        place_sd: 0.0,
    });
    unit.script.repeat = Repeat::Once;
    unit.script.reference = Some(ReferenceModel {
        low: 0.0,
        high: 60.0,
        kind: ReferenceKind::Stated,
    });
    Simulation::new(&unit, 8).unwrap()
}

/// The curve makes the command proportional to the angle: against the simulated lever's own truth.
#[test]
fn stations_make_the_command_follow_the_travel() {
    let mut simulation = lever_at_stations();
    let run = simulation.run(120.0);
    let capture = pedalproof::bench::simulated_capture(&run, Some(0.05));
    let profile = profile::find("lever-shunting").unwrap();
    let assessment = bench::assess(&capture, Some(&profile)).unwrap();
    let given = MeasuredControl {
        file: "lever.csv",
        profile: &profile,
        capture: &capture,
        assessment: &assessment,
    };
    let chosen = choose(&[given], &ChooseOptions::default()).unwrap();
    let points = chosen
        .choices
        .iter()
        .find(|c| c.what == "curve points")
        .unwrap();
    assert!(
        points.reason.contains("travel measured with the reference"),
        "{points:?}"
    );
    assert!(
        points.value >= 1.0,
        "a bow of 4 % is not straight: {points:?}"
    );
    let factor = first_factor(&chosen.block);
    let code_at = |travel: f64| simulation.code_at(0, travel).unwrap();
    let travel_of = |code: u16| {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..50 {
            let middle = f64::midpoint(low, high);
            if code_at(middle) < f64::from(code) {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    };
    let (zero, one) = (travel_of(factor.rest_edge), travel_of(factor.full_edge));
    for i in 1..20 {
        let code = factor.rest_edge + (factor.full_edge - factor.rest_edge) / 20 * i;
        let wanted = (travel_of(code) - zero) / (one - zero);
        let command = blend::at(&chosen.block, &[(0, code)]).unwrap().command_q15;
        let got = blend::percent(command) / 100.0;
        // 1 % for the curve; between stations 10 % apart a parabola of 4 % bow is off by 4 x 4 % x 0.05^2 = 0.04 %, and the
        // noise of a station's mean (0.7 / sqrt(600) of 800 codes) is less than that.
        assert!(
            (got - wanted).abs() < 0.011,
            "code {code}: {got} for {wanted}"
        );
    }
}

fn block_of(unit: &simulator::SimUnit, profile: &str, seed: u64) -> Option<Block> {
    let capture = taken(unit, seed);
    let profile = profile::find(profile).unwrap();
    let assessment = bench::assess(&capture, Some(&profile)).unwrap();
    let given = MeasuredControl {
        file: "unit.csv",
        profile: &profile,
        capture: &capture,
        assessment: &assessment,
    };
    choose(&[given], &ChooseOptions::default())
        .ok()
        .map(|chosen| chosen.block)
}

fn first_factor(block: &Block) -> &Factor {
    match &block.numbers().inputs[0].task {
        Task::Factor(factor) => factor,
        Task::Check(_) => panic!("the first input is a factor"),
    }
}

/// Units with different scatter of their returns and noise: from one capture the edges, from another of the same unit every
/// hold at rest and at full. Zero and full command exactly, sample for sample, in at least 95 % of the units.
#[test]
fn a_released_control_commands_exactly_zero_and_a_pressed_one_exactly_full() {
    let units: u64 = std::env::var("PEDALPROOF_UNITS").map_or(24, |n| n.parse().unwrap());
    let (mut zero, mut full) = (0, 0);
    for seed in 0..units {
        let mut unit = scenario("T1-pedal").unwrap();
        #[allow(clippy::cast_precision_loss)] // small numbers
        let (scatter, noise) = (0.0005 * (seed % 5) as f64, 0.3 + 0.3 * (seed % 4) as f64);
        unit.control.returning = Returning::Travel {
            mean: 0.002,
            sd: scatter,
        };
        for channel in &mut unit.control.channels {
            *channel = channel.clone().noise(noise);
        }
        unit.control.serial = 1000 + seed;
        let block = block_of(&unit, "pedal-hall-two-track", 100 + seed)
            .unwrap_or_else(|| panic!("unit {seed} gets no block"));
        let factor = first_factor(&block);
        let fresh = taken(&unit, 5000 + seed);
        let recording = fresh.recording().unwrap();
        let codes = recording.channels[0].codes;
        let holds = holds::collect(&recording, codes);
        let travel = |i: usize| factor.travel(u16::try_from(codes[i].0).unwrap());
        let span = factor.travel(factor.full_edge);
        let at_zero = |range: std::ops::Range<usize>| range.into_iter().all(|i| travel(i) <= 0);
        let at_full = |range: std::ops::Range<usize>| range.into_iter().all(|i| travel(i) >= span);
        let (rest, pressed) = (holds.returned(), holds.full());
        assert!(
            rest.len() >= 5 && !pressed.is_empty(),
            "{} {}",
            rest.len(),
            pressed.len()
        );
        zero += u64::from(rest.iter().all(|hold| at_zero(hold.range.clone())));
        full += u64::from(pressed.iter().all(|hold| at_full(hold.range.clone())));
    }
    println!("exactly zero in {zero} and exactly full in {full} of {units} units");
    assert!(zero * 100 >= units * 95, "zero in {zero} of {units}");
    assert!(full * 100 >= units * 95, "full in {full} of {units}");
}
