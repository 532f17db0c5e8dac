//! Strokes of the simulated board held against its truth: worn zones, dropouts, interference, two tracks.
//!
//! `PEDALPROOF_UNITS=400 cargo test --test figures strokes_validity:: -- --nocapture` draws many units and prints the rates.
#![allow(clippy::cast_precision_loss)] // counts of units and samples

use crate::support::simulated::recording;
use measure::figure::{FigureName as Name, Figures, Scope};
use measure::parts::{HoldEvidence, StrokesPart, pair_part, ready, strokes_part};
use measure::shared_zones;
use simulator::{
    Bursts, Card, ChannelModel, Control, Drop, Lift, PlacedDropout, Rail, ReturnBy, SimRun,
    SimUnit, Simulation, Wear, scenario,
};

fn units(normal: u64) -> u64 {
    std::env::var("PEDALPROOF_UNITS").map_or(normal, |units| units.parse().unwrap())
}

/// The ends and noise that holds would give: here from the truth, since holds are tested elsewhere.
fn holds(run: &SimRun, channel: usize) -> HoldEvidence {
    let truth = &run.truth.channels[channel];
    HoldEvidence {
        rest: Some(truth.rest_code),
        full: Some(truth.full_code),
        noise: Some(truth.noise_rms_code.hypot(0.29)),
    }
}

fn measure(run: &SimRun, channel: usize) -> (StrokesPart, Figures) {
    let recording = recording(run, None, 0.0);
    let mut figures = Figures::new(Scope::Channel);
    let (holds, channel) = (holds(run, channel), &recording.channels[channel]);
    let ready = ready(&recording, channel, holds);
    let part = strokes_part(&recording, channel, holds, ready.as_ref(), &mut figures);
    (part, figures)
}

/// A whole card at 1 kHz: rest, full, six strokes there and back, releases, shake.
fn unit(tag: &str, channel: ChannelModel, strokes: u32) -> SimUnit {
    let mut unit = scenario("T3-lever").unwrap();
    tag.clone_into(&mut unit.tag);
    unit.control.channels = vec![channel];
    unit.script = Card {
        strokes,
        returns: 1,
        shake_s: 2.0,
        ..Card::default()
    }
    .script();
    unit
}

fn plain() -> ChannelModel {
    ChannelModel::volts("lever", 0.5, 4.5).noise(0.6)
}

fn run(unit: &SimUnit, seed: u64, s: f64) -> SimRun {
    Simulation::new(unit, seed).unwrap().run(s)
}

const CARD_S: f64 = 32.0;

#[test]
fn worn_zones_of_six_strokes_are_found_and_clean_tracks_are_not_called_worn() {
    let worn = plain().worn(Wear::times(0.40, 0.46, 5.0, 0.6));
    let (worn, clean) = (unit("worn", worn, 3), unit("clean", plain(), 3));
    let (mut found, mut false_zones) = (0, 0);
    let drawn = units(60);
    for seed in 0..drawn {
        let (part, _) = measure(&run(&worn, seed, CARD_S), 0);
        assert!(part.strokes.len() >= 6, "{}", part.strokes.len());
        found += u64::from(matches!(part.worn_zones[..],
            [zone] if (zone.from_pct - 40.0).abs() <= 2.0 && (zone.to_pct - 46.0).abs() <= 2.0));
        let (part, figures) = measure(&run(&clean, seed, CARD_S), 0);
        false_zones += u64::from(!part.worn_zones.is_empty());
        assert_eq!(figures.value(Name::DropoutsCount), Some(0.0), "seed {seed}");
        let share = figures.value(Name::InterferenceShare).unwrap();
        assert!(share < 0.5, "seed {seed}: {share}");
    }
    println!("worn zone 5 x noise, 6 %: {found} of {drawn}; false zones: {false_zones} of {drawn}");
    assert!(found * 100 >= drawn * 99 && false_zones * 100 <= drawn);
}

/// At 100 samples a second: where the strokes are too fast or too few for the zone to show, the count is missing, and
/// wherever it is there the zone was found.
#[test]
fn no_zones_are_said_only_where_a_zone_would_show() {
    let mut table = Vec::new();
    for (strokes, stroke_s) in [(3, 0.6), (3, 2.0), (4, 1.2), (6, 2.5), (6, 4.0), (8, 3.0)] {
        let worn = plain().worn(Wear::times(0.47, 0.53, 5.0, 0.6));
        let [mut worn, mut clean] = [unit("worn", worn, 1), unit("clean", plain(), 1)];
        for unit in [&mut worn, &mut clean] {
            unit.board.rate_hz = 100.0;
            unit.script = Card {
                strokes,
                stroke_s,
                returns: 1,
                ..Card::default()
            }
            .script();
        }
        let card_s = 20.0 + f64::from(strokes) * 2.0 * (1.1 * stroke_s + 0.3);
        let (mut said, mut found, mut clean_said) = (0, 0, 0);
        let drawn = units(20);
        for seed in 0..drawn {
            let (part, figures) = measure(&run(&worn, seed, card_s), 0);
            if let Some(count) = figures.value(Name::WornZonesCount) {
                said += 1;
                found += u64::from(count > 0.0);
                assert!((count - part.worn_zones.len() as f64).abs() < 0.5);
            }
            let (_, figures) = measure(&run(&clean, seed, card_s), 0);
            let count = figures.get(Name::WornZonesCount);
            assert!(count.is_none_or(|count| count.high == Some(count.value)));
            clean_said += u64::from(count.is_some());
        }
        println!(
            "100 Hz, {} strokes of {stroke_s} s: worn unit counted {said}, found {found}; clean unit counted {clean_said} of {drawn}",
            2 * strokes
        );
        assert!(found * 100 >= said * 99, "{found} of {said}");
        table.push(clean_said * 100 / drawn);
    }
    assert_eq!(table[0], 0, "six strokes of 0.6 s show no zone at 100 Hz");
    assert!(table[4] >= 95 && table[5] >= 95, "{table:?}");
}

#[test]
fn every_dropout_of_three_milliseconds_is_found() {
    for (depth_pct, rail) in [
        (Drop::TO_THE_RAIL, Rail::Ground),
        (Drop::TO_THE_RAIL, Rail::Supply),
        (6.0, Rail::Ground),
    ] {
        let drop = Drop {
            duration_ms: 3.0,
            depth_pct,
            rail,
        };
        let (mut placed, mut found, mut invented) = (0, 0, 0);
        for seed in 0..units(15) {
            let mut channel = plain();
            channel.dropouts = PlacedDropout::scattered(12, 9.0, 17.0, drop, seed);
            let run = run(&unit("drops", channel, 5), seed, CARD_S);
            let strokes = run
                .passages
                .iter()
                .filter(|p| p.step == measure::units::Step::Strokes);
            let inside: Vec<_> = strokes.map(|p| p.range.clone()).collect();
            let at = |t: f64| (t * run.board.rate_hz).round();
            let truth: Vec<_> = run.truth.channels[0]
                .dropouts
                .iter()
                .filter(|d| d.depth_pct > 2.5)
                .filter(|d| {
                    // The passage's very first samples have no path before them.
                    inside.iter().any(|r| {
                        at(d.t_s) >= r.start as f64 + 20.0 && at(d.t_s) < r.end as f64 - 20.0
                    })
                })
                .collect();
            let (part, _) = measure(&run, 0);
            let is = |d: &measure::Dropout, t: f64| (d.t_s - t).abs() < 0.000_5;
            placed += truth.len();
            for one in &truth {
                let hit = part.dropouts.iter().find(|d| is(d, one.t_s));
                found += usize::from(hit.is_some_and(|d| {
                    (d.duration_ms - one.samples as f64).abs() < 1.1
                        && (d.travel_pct.unwrap() - 100.0 * one.travel).abs() < 3.0
                }));
            }
            let all = &run.truth.channels[0].dropouts;
            invented += part
                .dropouts
                .iter()
                .filter(|d| !all.iter().any(|t| is(d, t.t_s)))
                .count();
        }
        println!(
            "dropouts {depth_pct} % {rail:?}: placed {placed} found {found} invented {invented}"
        );
        assert!(placed > 60, "{placed}");
        assert_eq!((found, invented), (placed, 0), "{depth_pct} {rail:?}");
    }
}

#[test]
fn bursts_are_interference_and_not_wear() {
    let mut channel = plain();
    channel.bursts = Some(Bursts {
        rate_per_s: 1.5,
        duration_ms: 25.0,
        rms_code: 6.0,
    });
    let unit = unit("bursts", channel, 5);
    let (mut zones, mut said, mut truth) = (0, 0.0, 0.0);
    for seed in 0..units(20) {
        let run = run(&unit, seed, CARD_S);
        let (part, figures) = measure(&run, 0);
        zones += u64::from(!part.worn_zones.is_empty());
        said += figures.value(Name::InterferenceShare).unwrap();
        let inside = |t: f64| {
            let at = t * run.board.rate_hz;
            part.strokes
                .iter()
                .any(|s| at >= s.range.start as f64 && at < s.range.end as f64)
        };
        let noisy = run.truth.channels[0]
            .bursts
            .iter()
            .filter(|b| inside(b.t_s));
        let samples: usize = part.strokes.iter().map(|s| s.range.len()).sum();
        truth += 100.0 * noisy.count() as f64 * 25.0 / samples as f64;
    }
    println!("interference said {said:.1} true {truth:.1}; called worn {zones}");
    assert!(zones * 100 <= units(20), "bursts called wear: {zones}");
    assert!((said / truth - 1.0).abs() < 0.2, "{said} {truth}");
}

#[test]
fn a_lifting_wiper_tells_its_place_both_ways() {
    let channel = plain().lifting(Lift {
        travel: 0.55,
        width: 0.01,
        probability: 1.0,
        drop: Drop::to_the(Rail::Ground, 3.0),
    });
    let run = run(&unit("lift", channel, 4), 3, CARD_S);
    let (part, _) = measure(&run, 0);
    let passages: Vec<_> = run
        .passages_of(measure::units::Step::Strokes)
        .map(|p| p.range.clone())
        .collect();
    let strokes = |at: usize| passages.iter().any(|r| r.contains(&at));
    let index = |t: f64| {
        run.t_us
            .partition_point(|&us| (us - run.t_us[0]) as f64 <= t * 1e6 + 0.5)
    };
    let inside: Vec<_> = part
        .dropouts
        .iter()
        .filter(|d| strokes(index(d.t_s) - 1))
        .collect();
    let truth = &run.truth.channels[0].dropouts;
    let placed = truth.iter().filter(|d| strokes(index(d.t_s) - 1)).count();
    assert!(placed >= 8);
    assert_eq!(inside.len(), placed, "{inside:?}");
    for dropout in inside {
        assert!(
            (dropout.travel_pct.unwrap() - 55.0).abs() < 1.0,
            "{dropout:?}"
        );
    }
}

#[test]
fn the_scenarios_units_show_what_they_have() {
    let worn = run(&scenario("T3-lever").unwrap(), 7, 60.0);
    let (part, _) = measure(&worn, 0);
    println!("T3-lever: {:?}", part.worn_zones);
    assert_eq!(part.worn_zones.len(), 2);
    let places = worn.truth.channels[0].worn.clone();
    for (zone, (from, to)) in part.worn_zones.iter().zip(places) {
        // The unit's travel is read from its signal, which the load on its track bends by up to 3 %.
        assert!((zone.from_pct - 100.0 * from).abs() <= 4.0, "{zone:?}");
        assert!((zone.to_pct - 100.0 * to).abs() <= 4.0, "{zone:?}");
    }
    for tag in ["T1-pedal", "T1-lever", "T2-pedal"] {
        let Some(unit) = scenario(tag) else { continue };
        let run = run(&unit, 7, 60.0);
        for channel in 0..run.channels.len() {
            let (part, _) = measure(&run, channel);
            assert!(part.worn_zones.is_empty(), "{tag}: {:?}", part.worn_zones);
            assert!(part.dropouts.is_empty(), "{tag}: {:?}", part.dropouts);
        }
    }
}

#[test]
fn two_tracks_of_a_pedal() {
    let mut second = ChannelModel::volts("pedal_b", 0.4, 2.1).noise(0.6);
    second.lag_ms = 4.0;
    let mut unit = unit(
        "pair",
        ChannelModel::volts("pedal_a", 0.8, 4.2).noise(0.6),
        6,
    );
    unit.control.channels.push(second);
    let (mut lag_covered, mut gain_covered) = (0, 0);
    let drawn = units(20);
    for seed in 0..drawn {
        let run = run(&unit, seed, CARD_S);
        let recording = recording(&run, None, 0.0);
        let [a, b] = [0, 1].map(|k| &recording.channels[k]);
        let [ready_a, ready_b] =
            [(a, 0), (b, 1)].map(|(c, k)| ready(&recording, c, holds(&run, k)));
        let figures = pair_part(
            &recording,
            (a, ready_a.as_ref()),
            (b, ready_b.as_ref()),
            holds(&run, 1),
        );
        let covers = |name: Name, truth: f64| {
            let figure = figures.get(name).unwrap();
            u64::from(figure.low.unwrap() <= truth && truth <= figure.high.unwrap())
        };
        let spans = [0, 1].map(|k| run.truth.channels[k].span_code);
        gain_covered += covers(Name::TrackGain, spans[1] / spans[0]);
        lag_covered += covers(Name::TrackLag, 4.0);
        let disagreement = figures.value(Name::TrackDisagreement).unwrap();
        assert!((0.2..2.0).contains(&disagreement), "{disagreement}");
    }
    println!("gain covered {gain_covered}, lag covered {lag_covered} of {drawn}");
    assert!(gain_covered * 100 >= drawn * 85 && lag_covered * 100 >= drawn * 85);
}

#[test]
fn wear_of_one_track_is_not_shared() {
    let mut unit = unit("pair", plain().worn(Wear::times(0.40, 0.46, 6.0, 0.6)), 4);
    unit.control.channels.push(plain());
    let one = run(&unit, 5, CARD_S);
    let (a, b) = (measure(&one, 0).0, measure(&one, 1).0);
    assert_eq!((a.worn_zones.len(), b.worn_zones.len()), (1, 0));
    assert!(shared_zones(&a.worn_zones, &b.worn_zones).is_empty());
    unit.control.channels[1] = plain().worn(Wear::times(0.41, 0.47, 6.0, 0.6));
    let both = run(&unit, 5, CARD_S);
    let (a, b) = (measure(&both, 0).0, measure(&both, 1).0);
    assert_eq!(shared_zones(&a.worn_zones, &b.worn_zones), [(0, 0)]);
}

#[test]
fn a_spring_that_bounces_is_no_dropout() {
    let mut control = Control::hall_pedal(0.6);
    control.spring.bounce = 0.05;
    let mut unit = unit("bounce", plain(), 4);
    unit.control = control;
    unit.script = Card {
        return_by: ReturnBy::Spring,
        ..Card::default()
    }
    .script();
    let run = run(&unit, 2, 40.0);
    for channel in 0..run.channels.len() {
        let (part, _) = measure(&run, channel);
        assert!(part.dropouts.is_empty(), "{:?}", part.dropouts);
    }
}
