//! Known answers of what is wrong: dropouts, loose plugs, wear, lifts, interference.

use super::*;

#[test]
fn a_defect_of_one_channel_leaves_the_other_as_it_was() {
    let good = unit(Control::hall_pedal(1.0), Card::default().script());
    let mut bad = good.clone();
    bad.control.channels[1].bursts = Some(Bursts {
        rate_per_s: 3.0,
        duration_ms: 30.0,
        rms_code: 20.0,
    });
    let (good, bad) = (run(&good, 9, 30.0), run(&bad, 9, 30.0));
    assert_eq!(good.codes[0], bad.codes[0]);
    assert_ne!(good.codes[1], bad.codes[1]);
}

#[test]
fn dropouts_come_exactly_where_asked() {
    let placed = |at_s, duration_ms, depth_pct, rail| PlacedDropout {
        at_s,
        drop: Drop {
            duration_ms,
            depth_pct,
            rail,
        },
    };
    // At rest: 0.5 V is 102.4 codes; the span is 819.2 codes.
    let channel = ramp()
        .dropout(placed(2.0, 5.0, 50.0, Rail::Supply))
        .dropout(placed(1.0, 3.0, Drop::TO_THE_RAIL, Rail::Ground))
        .dropout(placed(3.0005, 2.0, Drop::TO_THE_RAIL, Rail::Supply));
    let run = run(
        &unit(one(channel), Script::once(vec![Movement::Rest(5.0)])),
        1,
        5.0,
    );
    let mut want = vec![Code(102); 5000];
    want[1000..1003].fill(Code(0));
    want[2000..2005].fill(Code(512));
    want[3001..3003].fill(Code(1023));
    assert_eq!(run.codes[0], want);
    let truth = &run.truth.channels[0].dropouts;
    assert_eq!(truth.len(), 3);
    assert!(
        (truth[0].depth_pct - 12.5).abs() < 1e-9,
        "102.4 of 819.2 codes: {truth:?}"
    );
    assert!((truth[1].depth_pct - 50.0).abs() < 1e-9 && truth[1].samples == 5);
    assert!((truth[2].t_s - 3.001).abs() < 1e-12 && truth[2].towards == Rail::Supply);
}

#[test]
fn scattered_dropouts_keep_apart_and_are_as_many_as_asked() {
    let drop = Drop::to_the(Rail::Ground, 4.0);
    let placed = PlacedDropout::scattered(12, 1.0, 19.0, drop, 5);
    assert_eq!(placed.len(), 12);
    assert!(placed.windows(2).all(|w| w[1].at_s - w[0].at_s > 0.02));
    assert!(placed.iter().all(|d| (1.0..19.0).contains(&d.at_s)));
    let channel = ChannelModel {
        dropouts: placed,
        ..ramp()
    };
    let run = run(
        &unit(one(channel), Script::once(vec![Movement::Rest(20.0)])),
        1,
        20.0,
    );
    assert_eq!(run.truth.channels[0].dropouts.len(), 12);
    assert_eq!(
        run.codes[0].iter().filter(|code| **code == Code(0)).count(),
        48
    );
}

#[test]
fn only_a_loose_unit_suffers_from_shaking() {
    let script = || {
        Script::once(vec![
            Movement::Rest(5.0),
            Movement::Shake(20.0),
            Movement::Rest(5.0),
        ])
    };
    let tight = run(&unit(one(ramp()), script()), 1, 30.0);
    assert!(tight.codes[0].iter().all(|code| *code == Code(102)));
    let loose = ChannelModel {
        loose: Some(Loose {
            rate_per_s: 2.0,
            drop: Drop::to_the(Rail::Ground, 10.0),
        }),
        ..ramp()
    };
    let loose = run(&unit(one(loose), script()), 1, 30.0);
    let truth = &loose.truth.channels[0].dropouts;
    // 40 expected of a rare-event count: four standard deviations of sqrt(40).
    assert!((15..=65).contains(&truth.len()), "{}", truth.len());
    assert!(truth.iter().all(|d| d.t_s >= 5.0 && d.t_s < 25.0));
}

#[test]
fn wear_recurs_at_its_travel_and_nowhere_else() {
    let pattern = Wear {
        from: 0.3,
        to: 0.5,
        rms_code: 10.0,
        pattern_share: 1.0,
    };
    let unit = unit(one(ramp().worn(pattern)), Script::once(vec![strokes(40)]));
    let mut simulation = Simulation::new(&unit, 4).unwrap();
    let run = simulation.run(200.0);
    let mut inside = std::collections::BTreeMap::<i64, Vec<f64>>::new();
    for (code, travel) in run.codes[0].iter().zip(&run.travel) {
        let excess = code.as_f64() - simulation.code_at(0, *travel).unwrap();
        if (0.3..=0.5).contains(travel) {
            inside
                .entry((travel * 10_000.0).round() as i64)
                .or_default()
                .push(excess);
        } else {
            assert!(excess.abs() <= 0.5 + 1e-9, "{excess} at {travel}");
        }
    }
    // The same travel to 0.01 % bears the same bump each time: bumps are 0.1 % apart, so within a tenth of one.
    let often: Vec<_> = inside.values().filter(|seen| seen.len() >= 5).collect();
    assert!(often.len() > 500, "{}", often.len());
    let within = often.iter().map(|seen| variance(seen)).sum::<f64>() / often.len() as f64;
    assert!(within.sqrt() < 2.0, "{}", within.sqrt());
    // 200 bumps of deviation 10: relative standard error 1/sqrt(2 x 200) = 5 %; four of them.
    let everywhere: Vec<f64> = inside.values().flatten().copied().collect();
    assert!((variance(&everywhere).sqrt() / 10.0 - 1.0).abs() < 0.2);
    assert_eq!(run.truth.strokes, 80);
}

#[test]
fn wear_of_the_random_kind_is_as_strong() {
    let random = Wear {
        from: -1.0,
        to: 2.0,
        rms_code: 4.0,
        pattern_share: 0.0,
    };
    let run = run(
        &unit(
            one(ramp().worn(random)),
            Script::once(vec![Movement::Rest(30.0)]),
        ),
        4,
        30.0,
    );
    assert_variance(&reals(&run.codes[0]), 16.0 + 1.0 / 12.0);
}

#[test]
fn a_wiper_lifts_only_at_its_place_and_as_often_as_likely() {
    let lift = Lift {
        travel: 0.6,
        width: 0.02,
        probability: 0.5,
        drop: Drop::to_the(Rail::Ground, 5.0),
    };
    let run = run(
        &unit(one(ramp().lifting(lift)), Script::once(vec![strokes(100)])),
        4,
        300.0,
    );
    let truth = &run.truth.channels[0].dropouts;
    // 200 crossings, half of them lift: four standard deviations of sqrt(200 / 4) = 7.07.
    assert!((72..=128).contains(&truth.len()), "{}", truth.len());
    assert!(
        truth.iter().all(|d| (d.travel - 0.6).abs() < 0.013),
        "{truth:?}"
    );
    let low = run.codes[0].iter().filter(|code| **code == Code(0)).count();
    assert_eq!(low, 5 * truth.len());
}

#[test]
fn interference_comes_at_any_travel_in_bursts() {
    let channel = ChannelModel {
        bursts: Some(Bursts {
            rate_per_s: 2.0,
            duration_ms: 50.0,
            rms_code: 6.0,
        }),
        ..ramp()
    };
    let run = run(
        &unit(one(channel), Script::once(vec![Movement::Rest(100.0)])),
        4,
        100.0,
    );
    let mut quiet = vec![true; run.t_us.len()];
    let mut loud = Vec::new();
    for burst in &run.truth.channels[0].bursts {
        let begin = (burst.t_s * 1000.0).round() as usize;
        for n in begin..(begin + 50).min(quiet.len()) {
            quiet[n] = false;
            loud.push(run.codes[0][n].as_f64());
        }
    }
    // Bursts wait 0.5 s on average and last 0.05 s: 182 in 100 s, standard deviation below 14.
    assert!(
        (120..=240).contains(&(loud.len() / 50)),
        "{}",
        loud.len() / 50
    );
    assert_variance(&loud, 36.0 + 1.0 / 12.0);
    assert!(
        run.codes[0]
            .iter()
            .zip(&quiet)
            .all(|(code, quiet)| !quiet || *code == Code(102))
    );
}
