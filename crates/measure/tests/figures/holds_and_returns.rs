//! What counts as a hold and as a return, in captures as other people take them (DESIGN 4.2, 4.4).

use crate::support::bench::{Bench, Noise};
use measure::Measured;
use measure::figure::{Figure, FigureName as Name};
use measure::units::Step;

const REST: f64 = 164.0;
const FULL: f64 = 860.0;

/// A bench with a hand on the control: noise of one code.
struct Hand {
    bench: Bench,
    noise: Noise,
}

impl Hand {
    fn new() -> Self {
        Self {
            bench: Bench::new(10),
            noise: Noise::new(7, 0.0),
        }
    }

    fn still(&mut self, step: Step, seconds: f64, level: f64) -> &mut Self {
        self.moves(step, &[(seconds, level, level)])
    }

    /// One passage made of straight moves: seconds, from, to.
    fn moves(&mut self, step: Step, parts: &[(f64, f64, f64)]) -> &mut Self {
        let noise = &mut self.noise;
        self.bench.passage(step, |bench| {
            for &(seconds, from, to) in parts {
                let mut t = 0.0;
                while t < seconds - 1e-9 {
                    bench.push(from + (to - from) * t / seconds + noise.next());
                    t += 1.0 / bench.rate_hz;
                }
            }
        });
        self
    }

    fn figure(&self, name: Name) -> Option<Figure> {
        figure(&self.bench.measure(), name)
    }
}

fn figure(measured: &Measured, name: Name) -> Option<Figure> {
    measured.channels[0].figures.get(name).cloned()
}

fn near(got: Option<Figure>, wanted: f64, within: f64) -> Figure {
    let figure = got.unwrap();
    assert!(
        (figure.value - wanted).abs() <= within,
        "{figure:?} for {wanted}"
    );
    figure
}

#[test]
fn rest_and_full_alone() {
    let mut hand = Hand::new();
    hand.still(Step::Rest, 1.0, REST)
        .still(Step::Full, 1.0, FULL);
    near(hand.figure(Name::RestCode), REST, 0.2);
    near(hand.figure(Name::FullCode), FULL, 0.2);
    near(hand.figure(Name::SpanCode), FULL - REST, 0.4);
    for name in [
        Name::ReturnScatter,
        Name::ReturnRange,
        Name::ReleaseTime,
        Name::RatiometricError,
        Name::BoardNoiseRms,
        Name::LinearityTerminal,
    ] {
        assert_eq!(hand.figure(name), None, "{name}");
    }
}

#[test]
fn an_idle_sample_parts_two_holds_and_no_movement_is_no_return() {
    let mut hand = Hand::new();
    for level in [REST, REST + 2.0, REST + 1.0, REST] {
        hand.still(Step::Rest, 0.5, level)
            .still(Step::Idle, 0.01, level);
    }
    assert_eq!(hand.figure(Name::RestCode).unwrap().n, 4);
    assert_eq!(hand.figure(Name::ReturnScatter), None);
}

#[test]
fn rest_holds_between_full_holds_are_returns_but_the_first_is_not() {
    let mut hand = Hand::new();
    for level in [REST, REST + 2.0, REST, REST - 2.0] {
        hand.still(Step::Rest, 0.5, level)
            .still(Step::Full, 0.5, FULL);
    }
    assert_eq!(near(hand.figure(Name::RestCode), REST, 0.2).n, 4);
    assert_eq!(near(hand.figure(Name::ReturnScatter), 2.0, 0.2).n, 3);
    near(hand.figure(Name::ReturnRange), 4.0, 0.3);
}

#[test]
fn a_release_recorded_as_its_tail_alone_counts_once() {
    let mut hand = Hand::new();
    hand.still(Step::Rest, 1.0, REST);
    for level in [REST + 1.0, REST + 3.0, REST + 5.0] {
        hand.still(Step::Full, 0.5, FULL)
            .still(Step::Release, 1.0, level);
    }
    assert_eq!(near(hand.figure(Name::ReturnScatter), 2.0, 0.2).n, 3);
    assert_eq!(near(hand.figure(Name::RestCode), REST + 2.25, 0.2).n, 4);
    assert_eq!(hand.figure(Name::ReleaseTime), None);
}

#[test]
fn a_release_passage_by_time_that_begins_at_rest() {
    let mut hand = Hand::new();
    let press = (0.3, REST, FULL);
    let cycle = |level: f64| {
        [
            press,
            (0.2, FULL, FULL),
            (0.1, FULL, level),
            (0.8, level, level),
        ]
    };
    hand.still(Step::Rest, 1.0, REST)
        .still(Step::Full, 1.0, FULL);
    let mut parts = vec![(0.5, FULL, FULL), (0.1, FULL, REST), (0.8, REST, REST)];
    parts.extend([REST + 2.0, REST + 4.0].into_iter().flat_map(cycle));
    hand.moves(Step::Release, &parts);
    assert_eq!(near(hand.figure(Name::ReturnScatter), 2.0, 0.2).n, 3);
    // A straight fall of 100 ms: 80 ms from 90 % to 10 %.
    near(hand.figure(Name::ReleaseTime), 0.08, 0.001);
}

#[test]
fn a_passage_recorded_by_time_may_contain_the_movement() {
    let mut hand = Hand::new();
    hand.moves(
        Step::Rest,
        &[(0.4, FULL, FULL), (0.2, FULL, REST), (1.2, REST, REST)],
    );
    hand.moves(
        Step::Full,
        &[
            (0.5, REST, REST),
            (0.3, REST, FULL),
            (1.0, FULL, FULL),
            (0.1, FULL, 500.0),
        ],
    );
    let rest = near(hand.figure(Name::RestCode), REST, 0.3);
    assert!(rest.method.contains("movement"), "{}", rest.method);
    near(hand.figure(Name::FullCode), FULL, 0.3);
    near(hand.figure(Name::NoiseRestRms), 1.04, 0.1);
    near(hand.figure(Name::NoiseFullRms), 1.04, 0.1);
}

#[test]
fn a_dropout_in_a_hold_is_neither_movement_nor_return() {
    let mut hand = Hand::new();
    let dropout = |level: f64| [(0.5, level, level), (0.005, 0.0, 0.0), (0.5, level, level)];
    hand.moves(Step::Rest, &dropout(REST));
    hand.moves(Step::Full, &dropout(FULL));
    hand.moves(
        Step::Shake,
        &[
            (0.5, REST, REST),
            (0.004, 1020.0, 1020.0),
            (0.5, REST, REST),
        ],
    );
    hand.still(Step::Rest, 1.0, REST);
    let rest = hand.figure(Name::RestCode).unwrap();
    assert!(!rest.method.contains("movement") && rest.n == 2, "{rest:?}");
    // It is not taken out of the noise either: it is what the hold showed.
    assert!(hand.figure(Name::NoiseFullRms).unwrap().value > 20.0);
}

#[test]
fn a_channel_that_falls_when_pressed_and_one_that_does_nothing() {
    let mut hand = Hand::new();
    hand.still(Step::Rest, 1.0, FULL)
        .still(Step::Full, 1.0, REST);
    for _ in 0..3 {
        hand.moves(
            Step::Release,
            &[(0.3, REST, REST), (0.1, REST, FULL), (0.8, FULL, FULL)],
        );
    }
    near(hand.figure(Name::SpanCode), REST - FULL, 0.4);
    assert_eq!(hand.figure(Name::ReturnScatter).unwrap().n, 3);
    near(hand.figure(Name::ReleaseTime), 0.08, 0.001);
    let mut dead = Hand::new();
    dead.still(Step::Rest, 1.0, REST)
        .still(Step::Full, 1.0, REST)
        .still(Step::Release, 2.0, REST);
    near(dead.figure(Name::SpanCode), 0.0, 0.3);
    assert_eq!(dead.figure(Name::ReturnScatter), None);
    assert_eq!(dead.figure(Name::ReleaseTime), None);
}

#[test]
fn releases_without_any_rest_or_full_step() {
    let mut hand = Hand::new();
    let mut parts = Vec::new();
    for level in [REST, REST + 2.0, REST + 4.0] {
        parts.extend([
            (0.5, FULL, FULL),
            (0.1, FULL, level),
            (0.8, level, level),
            (0.2, level, FULL),
        ]);
    }
    parts.pop();
    hand.moves(Step::Release, &parts);
    assert_eq!(near(hand.figure(Name::RestCode), REST + 2.0, 0.2).n, 3);
    assert_eq!(hand.figure(Name::ReturnScatter).unwrap().n, 3);
    assert_eq!(hand.figure(Name::FullCode), None);
    assert_eq!(hand.figure(Name::SpanCode), None);
    near(hand.figure(Name::ReleaseTime), 0.08, 0.002);
}

#[test]
fn slow_boards_and_short_captures_do_not_break_anything() {
    for (rate, seconds) in [(10.0, 3.0), (50.0, 1.0), (5.0, 0.2), (1000.0, 0.002)] {
        let mut hand = Hand::new();
        hand.bench.rate_hz = rate;
        hand.still(Step::Rest, seconds, REST)
            .still(Step::Full, seconds, FULL);
        hand.still(Step::Release, seconds, REST)
            .still(Step::Supply, seconds, REST);
        hand.still(Step::Ground, seconds, 0.0)
            .still(Step::Reference, seconds, 1023.0);
        let rest = hand.figure(Name::RestCode).unwrap();
        assert!(
            rest.low.unwrap() <= REST && REST <= rest.high.unwrap(),
            "{rate}: {rest:?}"
        );
        assert_eq!(hand.figure(Name::Hum50Rms), None);
    }
    let empty = Bench::new(10).measure();
    assert_eq!(empty.channels.len(), 1);
    assert!(
        empty.channels[0]
            .figures
            .iter()
            .all(|(_, figure)| figure.is_none())
    );
}
