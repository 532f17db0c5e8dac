//! `not measured` names the step that would supply the figure: a recording that has every step gives every figure, and
//! the same recording without the steps that a figure names does not give it.

use measure::figure::{Figure, FigureName as Name, Mark, Scope};
use measure::units::Step;
use pedalproof::bench::assess;
use pedalproof::bench::simulated_capture as capture;
use pedalproof::capture::Capture;
use pedalproof::profile::{self, Profile};
use pedalproof::record::Assessment;
use simulator::{
    Board, ChannelModel, Control, Movement, Passages, ReferenceKind, ReferenceModel, ReturnBy,
    Script, SimUnit, Simulation, Tie,
};

/// Every step, in one recording; positions are stated in degrees of 0 to 60.
fn whole(control: Control) -> Capture {
    let up = (0..=10).map(|tenth| f64::from(tenth) / 10.0);
    let down = (0..10).rev().map(|tenth| f64::from(tenth) / 10.0);
    let movements = vec![
        Movement::Rest(2.0),
        Movement::Go { to: 1.0, s: 0.6 },
        Movement::Full(2.0),
        Movement::Go { to: 0.0, s: 0.6 },
        Movement::Wait(0.3),
        Movement::Strokes {
            count: 4,
            s: 1.0,
            dwell_s: 0.2,
            time_scatter: 0.0,
            end_scatter: 0.0,
        },
        Movement::Wait(0.3),
        Movement::Returns {
            count: 4,
            press_s: 0.4,
            hold_s: 1.0,
            by: ReturnBy::Spring,
            rest_s: 11.0,
            passages: Passages::Apart,
        },
        Movement::Shake(3.0),
        Movement::Stations {
            positions: up.chain(down).collect(),
            move_s: 0.5,
            hold_s: 1.0,
            place_sd: 0.0,
        },
        Movement::Go { to: 0.5, s: 0.5 },
        Movement::Supply {
            low: 0.9,
            high: 1.1,
            s: 8.0,
        },
        Movement::Tied(Tie::Ground, 2.0),
        Movement::Wait(0.3),
        Movement::Tied(Tie::Reference, 2.0),
    ];
    let unit = SimUnit {
        tag: "T1".to_owned(),
        control,
        board: Board::default(),
        script: Script {
            reference: Some(ReferenceModel {
                low: 0.0,
                high: 60.0,
                kind: ReferenceKind::Stated,
            }),
            ..Script::once(movements)
        },
    };
    let mut capture = capture(&Simulation::new(&unit, 1).unwrap().run(300.0), None);
    let reference = capture.meta.reference.as_mut().unwrap();
    (reference.low, reference.high) = (Some(0.0), Some(60.0));
    capture
}

fn without(capture: &Capture, steps: &[Step]) -> Capture {
    let mut capture = capture.clone();
    for passage in &mut capture.passages {
        if steps.contains(&passage.step) {
            passage.step = Step::Idle;
        }
    }
    capture
}

fn figure(assessment: &Assessment, name: Name) -> Option<&Figure> {
    match name.scope() {
        Scope::Channel => assessment.channels[0].1.figures.get(name),
        Scope::Pair => assessment.pairs[0].1.figures.get(name),
        Scope::Stream => None,
    }
}

fn held_against(control: Control, profile: Option<&Profile>, names: &[Name]) {
    let capture = whole(control);
    let all = assess(&capture, profile).unwrap();
    let mut seen: Vec<(&[Step], Assessment)> = Vec::new();
    for name in names {
        assert!(figure(&all, *name).is_some(), "{name}: every step is there");
        let steps = name.steps();
        let stand_ins = if steps.contains(&Step::Rest) {
            &[Step::Release][..] // whose tails stand in for a rest hold
        } else {
            &[]
        };
        if !seen.iter().any(|(known, _)| *known == steps) {
            seen.push((
                steps,
                assess(&without(&capture, &[steps, stand_ins].concat()), profile).unwrap(),
            ));
        }
        let (_, less) = seen.iter().find(|(known, _)| *known == steps).unwrap();
        assert!(figure(less, *name).is_none(), "{name}: without {steps:?}");
    }
}

#[test]
fn every_figure_comes_from_the_steps_that_it_names() {
    let mut control = Control::hall_pedal(1.0);
    control
        .channels
        .push(ChannelModel::supply("supply", 0.5).noise(0.5));
    let names: Vec<Name> = Name::ALL
        .iter()
        .copied()
        .filter(|name| name.scope() != Scope::Stream && !name.is(Mark::OfRheostats))
        .collect();
    assert!(names.len() >= 30);
    held_against(control, None, &names);
}

#[test]
fn a_span_takes_both_ends_and_a_rheostats_figures_take_stations() {
    let capture = whole(Control::hall_pedal(1.0));
    for one in [Step::Full, Step::Rest] {
        let mut steps = vec![one];
        if one == Step::Rest {
            steps.push(Step::Release); // whose tails are rest holds
        }
        let less = assess(&without(&capture, &steps), None).unwrap();
        assert!(figure(&less, Name::SpanCode).is_none(), "{one}");
        assert!(figure(&less, Name::NoiseFreeBits).is_none(), "{one}");
    }
    let dial = profile::find("dial-rheostat").unwrap();
    let names: Vec<Name> = Name::ALL
        .iter()
        .copied()
        .filter(|name| name.is(Mark::OfRheostats))
        .collect();
    held_against(Control::dial(0.7), Some(&dial), &names);
}
