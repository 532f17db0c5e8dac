//! Two causes fit what a card has shown: the trial that is offered is taken, and settles it. Each with defects of either kind.

use super::cards::{Card, Kind, came_to, good, profile};
use super::chance::Chance;
use super::control::{Control, Fault, LoosePlug, Room};
use super::describe;
use super::hand::{Habits, Person};
use measure::units::Trial;
use pedalproof::bench::{Asking, Presence, TellApart};
use pedalproof::diagnose::{Cause, CauseWord, Confidence};

/// Goes through the card and the trials that it offers.
fn tried(kind: Kind, part: Control, habits: Habits, tell_apart: TellApart, seed: u64) -> Card {
    let asking = Asking {
        presence: Presence::Somebody,
        tell_apart,
    };
    came_to(Person::asked(profile(kind), part, habits, seed, asking).go_through())
}

fn causes(card: &Card) -> &[Cause] {
    let assessment = card.ended.assessment.as_ref().unwrap();
    &assessment.diagnosis.causes
}

fn of(card: &Card, word: CauseWord) -> Option<&Cause> {
    causes(card).iter().find(|cause| cause.cause == word)
}

fn said(card: &Card) -> String {
    format!(
        "{:?} {:#?}\n{}",
        card.ended.trials,
        causes(card),
        describe(card)
    )
}

fn because(cause: &Cause, words: &str) -> bool {
    cause.because.iter().any(|fact| fact.contains(words))
}

#[test]
fn hum_by_the_charger_and_hum_by_another_way() {
    for by_charger in [true, false] {
        let mut part = good(Kind::Lever, &mut Chance::new(7));
        part.wires[0].noise = 2.2;
        part.room.hum = Some((2.6, by_charger));
        for tell_apart in [TellApart::Ask, TellApart::Take] {
            let card = tried(Kind::Lever, part.clone(), Habits::careful(), tell_apart, 3);
            let hum = of(&card, CauseWord::MainsHum).unwrap_or_else(|| panic!("{}", said(&card)));
            assert_eq!(card.ended.trials, [Trial::Battery], "{}", said(&card));
            let fact = if by_charger {
                "it came by the charger"
            } else {
                "not by the charger"
            };
            assert!(because(hum, fact), "{}", said(&card));
            if by_charger {
                assert_eq!(hum.confidence, Confidence::Certain, "{}", said(&card));
            } else {
                assert!(!hum.remedies[0].contains("battery"), "{}", said(&card));
            }
        }
    }
}

#[test]
fn a_loose_plug_and_jumps_from_outside() {
    let loose = |at_plug: bool| {
        let mut part = good(Kind::Pedal, &mut Chance::new(8));
        part.at_plug = at_plug;
        part.plug = Some(LoosePlug {
            ms: 20.0,
            times: 1,
            reads: 0.0,
        });
        part
    };
    let card = tried(
        Kind::Pedal,
        loose(true),
        Habits::careful(),
        TellApart::Ask,
        4,
    );
    let plug = of(&card, CauseWord::LooseConnection).unwrap_or_else(|| panic!("{}", said(&card)));
    assert_eq!(card.ended.trials, [Trial::Plug], "{}", said(&card));
    assert!(
        plug.confidence == Confidence::Certain && because(plug, "wiggling only the plug"),
        "{}",
        said(&card)
    );
    let card = tried(
        Kind::Pedal,
        loose(false),
        Habits::careful(),
        TellApart::Ask,
        4,
    );
    let cable = of(&card, CauseWord::LooseConnection).unwrap_or_else(|| panic!("{}", said(&card)));
    assert!(because(cable, "look at the cable first"), "{}", said(&card));
}

#[test]
fn a_bad_place_comes_again_in_slower_strokes_and_a_clock_does_not() {
    let strokes = Habits {
        clockwork_s: Some(1.0),
        ..Habits::careful()
    };
    let mut part = good(Kind::Lever, &mut Chance::new(9));
    part.wires[0].fault = Some(Fault::Gap { at: 0.5, ms: 4.0 });
    let card = tried(Kind::Lever, part, strokes.clone(), TellApart::Ask, 5);
    let wiper = of(&card, CauseWord::LooseWiper).unwrap_or_else(|| panic!("{}", said(&card)));
    assert_eq!(card.ended.trials[..1], [Trial::Slower], "{}", said(&card));
    assert!(because(wiper, "at the same place again"), "{}", said(&card));
    assert_eq!(wiper.confidence, Confidence::Certain, "{}", said(&card));
    let mut part = good(Kind::Lever, &mut Chance::new(9));
    part.room = Room {
        clock: Some((2.0, 4.0)),
        ..Room::default()
    };
    let card = tried(Kind::Lever, part, strokes, TellApart::Ask, 5);
    assert!(
        card.ended.trials.contains(&Trial::Slower),
        "{}",
        said(&card)
    );
    let first = &causes(&card)[0];
    assert!(
        !matches!(first.cause, CauseWord::LooseWiper | CauseWord::WornTrack),
        "{}",
        said(&card)
    );
}

#[test]
fn what_is_odd_goes_with_the_wire_or_stays_at_the_input() {
    let mut part = good(Kind::TwoTracks, &mut Chance::new(10));
    for wire in &mut part.wires[1..] {
        (wire.rest, wire.full) = (wire.rest + 0.04, wire.full + 0.04);
    }
    let card = tried(Kind::TwoTracks, part, Habits::careful(), TellApart::Ask, 6);
    assert_eq!(card.ended.trials, [Trial::Swap], "{}", said(&card));
    let first = &causes(&card)[0];
    assert!(
        because(first, "the odd one is at the other input"),
        "{}",
        said(&card)
    );
    assert_ne!(first.cause, CauseWord::BoardNonlinear, "{}", said(&card));
    let mut part = good(Kind::TwoTracks, &mut Chance::new(10));
    part.odd_input = Some((1, 0.04));
    let card = tried(Kind::TwoTracks, part, Habits::careful(), TellApart::Ask, 6);
    assert_eq!(card.ended.trials, [Trial::Swap], "{}", said(&card));
    let first = &causes(&card)[0];
    assert_eq!(first.cause, CauseWord::BoardNonlinear, "{}", said(&card));
    assert!(
        because(first, "the same input is still the odd one"),
        "{}",
        said(&card)
    );
}

#[test]
fn nobody_who_asks_for_it_is_asked_and_a_good_part_is_not_tried() {
    let mut part = good(Kind::Lever, &mut Chance::new(7));
    part.wires[0].noise = 2.2;
    part.room.hum = Some((2.6, true));
    let card = tried(Kind::Lever, part, Habits::careful(), TellApart::Never, 3);
    assert!(card.ended.trials.is_empty(), "{}", said(&card));
    let part = good(Kind::Lever, &mut Chance::new(7));
    let card = tried(Kind::Lever, part, Habits::careful(), TellApart::Take, 3);
    assert!(card.ended.trials.is_empty(), "{}", said(&card));
}
