//! The first five seconds: the wrong profile was chosen, or most of the noise is hum. It is said then, and one key goes on.

use super::cards::{Kind, good, profile};
use super::chance::Chance;
use super::control::Control;
use super::hand::{Habits, Person};
use measure::judge::Verdict;
use pedalproof::bench::RunCommand;
use pedalproof::diagnose::CauseWord;
use std::sync::Arc;

fn begun(checked_as: Kind, part: Control, seconds: f64) -> Person {
    let mut person = Person::new(profile(checked_as), part, Habits::careful(), 3);
    person.until(seconds);
    person
}

#[test]
fn the_wrong_profile_is_seen_and_one_key_goes_on_with_the_right_one() {
    for (chosen, is) in [
        (Kind::Pedal, Kind::TwoTracks),
        (Kind::TwoTracks, Kind::Lever),
        (Kind::Pedal, Kind::Lever),
    ] {
        let mut person = begun(chosen, good(is, &mut Chance::new(21)), 5.0);
        let diagnosis = person.assessment().unwrap().diagnosis;
        let right = profile(is);
        assert_eq!(
            diagnosis.other_profile.as_ref(),
            Some(&right.name),
            "{chosen:?} {is:?} {:#?}",
            diagnosis.causes
        );
        person.command(RunCommand::CheckAs(Arc::new(right.clone())));
        let ended = person.go_through();
        let assessment = ended.assessment.unwrap();
        assert_eq!(
            assessment.verdict,
            Some(Verdict::Pass),
            "{is:?} {:#?}",
            assessment.findings
        );
        assert_eq!(assessment.unit.profile.as_ref(), Some(&right.name));
    }
}

#[test]
fn hum_is_seen_within_five_seconds() {
    let mut part = good(Kind::Lever, &mut Chance::new(22));
    part.room.hum = Some((6.0, false));
    let mut person = begun(Kind::Lever, part, 5.0);
    let diagnosis = person.assessment().unwrap().diagnosis;
    assert!(
        diagnosis
            .causes
            .first()
            .is_some_and(|cause| cause.cause == CauseWord::MainsHum)
            && diagnosis.headline.starts_with("CHECK THE ROOM FIRST"),
        "{diagnosis:#?}"
    );
}
