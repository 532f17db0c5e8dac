//! What a figure says of how its uncertainty shrinks, against what it does: four times the evidence, half the interval.

use measure::figure::{Evidence, Figure, FigureName as Name};
use pedalproof::bench::assess;
use pedalproof::bench::simulated_capture as capture;
use simulator::{Board, ChannelModel, Control, Movement, Script, SimUnit, Simulation};

fn figure(channels: Vec<ChannelModel>, script: Script, seed: u64, name: Name) -> Figure {
    let unit = SimUnit {
        tag: "T1".to_owned(),
        control: Control::new(channels),
        board: Board::default(),
        script,
    };
    let run = Simulation::new(&unit, seed).unwrap().run(600.0);
    let mut capture = capture(&run, None);
    if let Some(reference) = capture.meta.reference.as_mut() {
        (reference.low, reference.high) = (Some(0.0), Some(60.0));
    }
    let assessment = assess(&capture, None).unwrap();
    let figures = &assessment.channels[0].1.figures;
    figures
        .get(name)
        .unwrap_or_else(|| panic!("{name} is not measured"))
        .clone()
}

/// Mean widths over five seeds of so much evidence and of four times that.
fn halves(
    name: Name,
    evidence: Evidence,
    channels: &[ChannelModel],
    script: impl Fn(u32) -> Script,
) {
    let (mut widths, mut haves) = ([0.0; 2], [0.0; 2]);
    for (at, times) in [1, 4].into_iter().enumerate() {
        for seed in 1..=5 {
            let figure = figure(channels.to_vec(), script(times), seed, name);
            let shrink = figure.shrink.unwrap();
            assert_eq!(shrink.evidence, evidence);
            haves[at] += shrink.have;
            widths[at] += figure.high.unwrap() - figure.low.unwrap();
        }
    }
    let (evidence, width) = (haves[1] / haves[0], widths[0] / widths[1]);
    println!("{name}: {evidence:.2} times the evidence, {width:.2} times narrower");
    assert!((3.5..4.6).contains(&evidence), "{name}: {evidence}");
    assert!((1.6..2.5).contains(&width), "{name}: {width}");
}

/// Four times the strokes narrow it by a quarter only (measured here), so no law is stated.
#[test]
fn a_moving_reference_states_no_law() {
    let bowed = vec![ChannelModel::volts("lever", 0.8, 4.2).noise(3.0).bow(2.0)];
    let strokes = Script::with_encoder(0.0, 60.0, 3, 1.0);
    let figure = figure(bowed, strokes, 1, Name::LinearityTerminal);
    assert!(figure.shrink.is_none());
}

#[test]
fn a_supply_sweep_and_a_mains_line_count_seconds() {
    let fed = [
        ChannelModel::volts("lever", 2.0, 4.2).noise(2.0),
        ChannelModel::supply("supply", 0.5).noise(1.0),
    ];
    let sweep = |times: u32| {
        let (low, high, s) = (0.9, 1.1, 8.0 * f64::from(times));
        Script::once(vec![Movement::Rest(1.0), Movement::Supply { low, high, s }])
    };
    halves(Name::RatiometricError, Evidence::Seconds, &fed, sweep);
    let humming = ChannelModel {
        hum: Some((3.0, 50.0)),
        ..ChannelModel::volts("lever", 0.8, 4.2).noise(2.0)
    };
    let rest = |times: u32| Script::once(vec![Movement::Rest(3.0 * f64::from(times))]);
    halves(Name::Hum50Rms, Evidence::Seconds, &[humming], rest);
}
