//! A hand that sets positions well and badly, at 500 samples a second on a ruler of 1000 codes: 100 at 0, 900 at 100.

use super::*;
use measure::units::Code;

struct Hand {
    stations: Stations,
    watch: Stillness,
    t_us: u64,
    at: f64,
    seen: Vec<Seen>,
}

const TOLERANCE: f64 = 8.0;

impl Hand {
    fn new(plan: &str) -> Self {
        Self {
            stations: Stations::new(plan.parse().ok(), false),
            watch: Stillness::new(TOLERANCE),
            t_us: 0,
            at: 0.0,
            seen: Vec::new(),
        }
    }

    /// Goes to a position in half a second and stands there.
    fn set(&mut self, to: f64, still_s: f64) -> &mut Self {
        let from = self.at;
        let samples = (still_s * 500.0) as u32 + 250;
        for i in 1..=samples {
            self.at = from + (to - from) * f64::from(i.min(250)) / 250.0;
            self.t_us += 2000;
            self.watch
                .push(self.t_us, Code((100.0 + 8.0 * self.at).round() as u32));
            let lead = Lead {
                watch: &self.watch,
                tolerance: TOLERANCE,
                range: 1000.0,
                ends: Some((100.0, 900.0)),
            };
            self.seen.push(self.stations.push(self.t_us, lead));
        }
        self
    }

    fn taken(&self) -> Vec<f64> {
        self.stations
            .taken
            .iter()
            .filter_map(|taken| taken.position)
            .collect()
    }

    fn describe(&self) -> String {
        self.stations.remark().unwrap_or_default()
    }
}

#[test]
fn each_is_taken_in_turn_and_held_for_long_enough() {
    let mut hand = Hand::new("0,50,100,50,0 deg");
    for at in [0.0, 50.0, 100.0, 50.0, 0.0] {
        hand.set(at, 1.6);
    }
    assert_eq!(hand.taken(), [0.0, 50.0, 100.0, 50.0, 0.0]);
    let held = hand
        .seen
        .iter()
        .filter(|seen| **seen != Seen::Nothing)
        .count();
    assert!(
        (5 * 395..5 * 410).contains(&held),
        "{held} samples in five times 0.8 s"
    );
    let reference = hand.stations.reference(Some((100.0, 900.0))).unwrap();
    assert_eq!((reference.low, reference.high), (Some(0.0), Some(100.0)));
    assert_eq!(hand.stations.have(), hand.stations.want());
}

/// The scale counts down: where it begins is the full end.
#[test]
fn the_codes_say_which_end_is_rest() {
    let mut hand = Hand::new("0,50,100 deg");
    for at in [100.0, 50.0, 0.0] {
        hand.set(at, 1.6);
    }
    assert_eq!(hand.taken(), [0.0, 50.0, 100.0]);
    let reference = hand.stations.reference(Some((100.0, 900.0))).unwrap();
    assert_eq!((reference.low, reference.high), (Some(100.0), Some(0.0)));
}

#[test]
fn a_pause_on_the_way_and_the_position_after_next_are_not_taken() {
    let mut hand = Hand::new("0,10,20,30,40");
    hand.set(0.0, 2.0).set(3.0, 2.0);
    assert_eq!(hand.taken(), [0.0], "3 is not 10");
    hand.set(10.0, 2.0).set(30.0, 2.0);
    assert_eq!(hand.taken(), [0.0, 10.0], "30 is not 20");
    assert!(
        hand.describe().contains("further than 20 %"),
        "{}",
        hand.describe()
    );
    hand.set(20.0, 2.0);
    assert_eq!(hand.taken(), [0.0, 10.0], "from the wrong side");
    hand.set(10.0, 0.2).set(20.0, 2.0);
    assert_eq!(hand.taken(), [0.0, 10.0, 20.0]);
}

#[test]
fn moved_too_early_is_no_hold_and_moved_late_is_trimmed() {
    let mut hand = Hand::new("0,50,100");
    hand.set(0.0, 2.0).set(50.0, 0.75);
    hand.set(50.0 - 20.0, 0.1);
    assert_eq!(hand.taken(), [0.0]);
    assert!(
        hand.describe().contains("moved before"),
        "{}",
        hand.describe()
    );
    assert_eq!(hand.stations.aside.len(), 1, "what it held is set aside");
    // 0.5 s until it counts as still, then 0.65 s.
    hand.set(50.0, 1.15).set(100.0, 2.0);
    assert_eq!(hand.taken(), [0.0, 50.0, 100.0]);
    let trimmed = hand.stations.aside[1];
    assert_eq!(trimmed.to_us - trimmed.from_us + 1, BEGINNING_US);
}

#[test]
fn one_is_taken_back_and_the_others_stand() {
    let mut hand = Hand::new("0,20,40,60 deg");
    hand.set(0.0, 2.0).set(20.0, 2.0).set(35.0, 2.0);
    assert_eq!(hand.taken(), [0.0, 20.0, 40.0], "35 was near enough");
    let held = hand.stations.taken[2].held;
    assert!(hand.stations.take_back());
    assert!(
        hand.describe()
            .contains("go back to 20 deg, then to 40 deg"),
        "{}",
        hand.describe()
    );
    hand.set(35.0, 2.0);
    assert_eq!(
        hand.taken(),
        [0.0, 20.0],
        "it stood there when it was taken back"
    );
    hand.set(20.0, 0.5).set(40.0, 2.0).set(60.0, 2.0);
    assert_eq!(hand.taken(), [0.0, 20.0, 40.0, 60.0]);
    assert!(hand.stations.aside.contains(&held));
}

#[test]
fn what_is_said_counts_where_nothing_moves() {
    let mut hand = Hand::new("0,2,50,100");
    hand.set(0.0, 2.0).set(0.4, 12.0);
    assert_eq!(hand.taken(), [0.0], "a dead band: it hardly moved");
    assert!(
        hand.describe().contains("press enter"),
        "{}",
        hand.describe()
    );
    hand.stations.here(None);
    hand.set(0.4, 2.0);
    assert_eq!(hand.taken(), [0.0, 2.0]);
    hand.stations.here(Some(130.0));
    assert!(
        hand.describe().contains("130 % is not on the scale"),
        "{}",
        hand.describe()
    );
    // A number alone waits for a movement, so that a typed list is not taken all at one place.
    hand.stations.here(Some(30.0));
    hand.set(0.4, 6.0);
    assert!(
        hand.describe().contains("not moved since 2 %"),
        "{}",
        hand.describe()
    );
    hand.set(30.0, 2.0);
    assert_eq!(hand.taken(), [0.0, 2.0, 30.0]);
    hand.stations.begin_again();
    assert!(hand.taken().is_empty() && hand.stations.aside.len() >= 3);
}

#[test]
fn nothing_is_taken_before_positions_are_stated_but_what_is_typed() {
    let mut hand = Hand::new("none");
    hand.set(10.0, 3.0);
    assert!(hand.taken().is_empty() && hand.stations.reference(None).is_none());
    hand.stations.here(None);
    assert!(
        hand.describe().contains("say which positions"),
        "{}",
        hand.describe()
    );
    hand.stations.here(Some(12.5));
    hand.set(10.0, 2.0);
    assert_eq!(hand.taken(), [12.5]);
}
