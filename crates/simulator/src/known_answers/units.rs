//! Ready units, seeds, and what cannot be.

use super::*;

#[test]
fn every_ready_unit_goes_through_its_card_again_and_again() {
    for (name, _) in SCENARIO_UNITS {
        let run = run(&scenario(name).unwrap(), 1, 120.0);
        assert_eq!(run.t_us.len(), 120_000);
        let order: Vec<Step> = run
            .passages
            .iter()
            .map(|p| p.step)
            .filter(|s| *s != Step::Idle)
            .collect();
        let card: Vec<Step> = [Step::Rest, Step::Full, Step::Strokes]
            .into_iter()
            .chain([Step::Release; 6])
            .chain([Step::Shake])
            .collect();
        assert_eq!(order[..20], [card.clone(), card].concat()[..], "{name}");
        let again = run.passages_of(Step::Rest).nth(1).unwrap().range.start;
        assert!(
            (42_000..51_000).contains(&again),
            "{name}: a card of {again} ms"
        );
        let second = &run.codes[0][again..again + 3000];
        assert_ne!(&run.codes[0][..3000], second, "{name}: fresh randomness");
    }
    assert!(scenario("T9-wheel").is_none());
}

#[test]
fn good_units_lose_nothing_and_the_loose_dial_does() {
    for name in [
        "T1-pedal", "T2-pedal", "T1-dial", "T1-lever", "T2-lever", "T3-lever",
    ] {
        let truth = run(&scenario(name).unwrap(), 1, 60.0).truth;
        assert!(
            truth.channels.iter().all(|c| c.dropouts.is_empty()),
            "{name}"
        );
    }
    let truth = run(&scenario("T4-dial").unwrap(), 1, 46.0).truth;
    assert!(truth.channels[0].dropouts.len() >= 5);
}

#[test]
fn what_cannot_be_is_refused() {
    let mut unit = unit(one(ramp()), Script::once(Vec::new()));
    assert!(run(&unit, 1, 5.0).t_us.is_empty());
    unit.script.repeat = Repeat::ForEver;
    assert!(run(&unit, 1, 5.0).t_us.is_empty());
    unit.script.movements = vec![Movement::Rest(0.0)];
    assert!(
        run(&unit, 1, 5.0).t_us.is_empty(),
        "a script that takes no time ends"
    );
    unit.board.rate_hz = 0.0;
    assert!(matches!(Simulation::new(&unit, 1), Err(SimError::Rate(_))));
    unit.board = Board {
        bits: 40,
        ..quiet_board()
    };
    assert!(matches!(Simulation::new(&unit, 1), Err(SimError::Scale(_))));
    unit.board = quiet_board();
    unit.control.channels.clear();
    assert!(matches!(
        Simulation::new(&unit, 1),
        Err(SimError::NoChannels)
    ));
}
