//! A hand at the card: what is done well and what is not. 1 kHz, 10 bits; rest at code 164, full at 860 unless said.

use super::*;
use measure::figure::Amount;
use measure::units::Trial;

const REST: f64 = 164.0;
const FULL: f64 = 860.0;

/// A control in somebody's hand, and the labels that its samples got.
struct Hand {
    card: Card,
    t_us: u64,
    at: f64,
    times_us: Vec<u64>,
    labels: Vec<Step>,
}

impl Hand {
    fn new(steps: &[Step], expected: ExpectedEnds) -> Self {
        Self::at(REST, steps, expected)
    }

    fn at(code: f64, steps: &[Step], expected: ExpectedEnds) -> Self {
        Self::planned(EvidencePlan::default(), code, steps, expected)
    }

    fn planned(plan: EvidencePlan, code: f64, steps: &[Step], expected: ExpectedEnds) -> Self {
        let scale = Scale::new(10, 5000.0).unwrap();
        Self {
            card: Card::new(steps, plan, 0, scale, expected),
            t_us: 0,
            at: code,
            times_us: Vec::new(),
            labels: Vec::new(),
        }
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // codes and milliseconds
    fn go(&mut self, to: f64, seconds: f64) -> &mut Self {
        let (from, n) = (self.at, (seconds * 1000.0).round() as u64);
        for i in 0..n {
            #[allow(clippy::cast_precision_loss)] // milliseconds
            let code = from + (to - from) * (i as f64 + 1.0) / n as f64;
            let label = self.card.push(self.t_us, &[Code(code.round() as u32)]);
            self.labels.push(label.step);
            self.times_us.push(self.t_us);
            self.t_us += 1000;
            for aside in self.card.take_aside() {
                for (t_us, label) in self.times_us.iter().zip(&mut self.labels) {
                    if (aside.from_us..=aside.to_us).contains(t_us) {
                        *label = Step::Idle;
                    }
                }
            }
        }
        self.at = to;
        self
    }

    fn hold(&mut self, seconds: f64) -> &mut Self {
        self.go(self.at, seconds)
    }

    /// The cable is out for so long.
    fn unplugged(&mut self, seconds: u64) -> &mut Self {
        self.t_us += seconds * 1_000_000;
        self
    }

    fn strokes(&mut self, one_way: &[f64], seconds: f64) -> &mut Self {
        for to in one_way {
            self.go(*to, seconds).hold(0.1);
        }
        self
    }

    /// Held full, let go, left alone.
    fn release(&mut self, left_alone_s: f64) -> &mut Self {
        self.go(FULL, 0.4).hold(1.2);
        self.go(REST, 0.1).hold(left_alone_s)
    }

    fn have(&self, step: Step) -> f64 {
        let progress = self.card.progress().iter().find(|p| p.step == step);
        progress.unwrap().have
    }

    fn remark(&self) -> &str {
        let progress = self.card.progress().get(self.card.current);
        progress.and_then(|p| p.remark.as_deref()).unwrap_or("")
    }

    fn labelled(&self, step: Step) -> usize {
        self.labels.iter().filter(|label| **label == step).count()
    }

    /// Through rest and full, at rest again: the way back is the first stroke.
    fn past_the_ends(&mut self) -> &mut Self {
        let (rest, full) = (self.at, FULL + REST - self.at);
        self.hold(3.4)
            .go(full, 0.5)
            .hold(3.4)
            .go(rest, 0.5)
            .hold(0.2)
    }
}

const KNOWN: ExpectedEnds = ExpectedEnds {
    rest: Some(REST),
    full: Some(FULL),
    full_near: None,
};
const CARD: [Step; 5] = [
    Step::Rest,
    Step::Full,
    Step::Strokes,
    Step::Release,
    Step::Shake,
];

#[test]
fn a_card_gone_through_well_is_done_and_its_labels_are_evidence_only() {
    let mut hand = Hand::new(&CARD, KNOWN);
    hand.past_the_ends();
    for step in [Step::Rest, Step::Full] {
        assert!((hand.have(step) - 2.0).abs() < 1e-9);
    }
    hand.strokes(&[FULL, REST, FULL, REST, FULL, REST, FULL], 0.9);
    assert!((hand.have(Step::Strokes) - 8.0).abs() < 1e-9);
    hand.go(REST, 0.9).hold(0.3);
    for _ in 0..5 {
        hand.release(1.4);
    }
    assert!((hand.have(Step::Release) - 5.0).abs() < 1e-9);
    hand.hold(4.5);
    assert!(hand.card.done());
    // 2 s each at 1 kHz, but for the sample that ends a step; reaching for the pedal is idle.
    for step in [Step::Rest, Step::Full] {
        assert!(hand.labelled(step).abs_diff(2000) <= 2, "{step}");
    }
    assert_eq!(hand.labels[..800].iter().find(|l| **l != Step::Idle), None);
}

/// Steps of 1 s at most at the end are turns of a movement, not holds.
#[test]
fn a_short_stand_still_is_no_hold() {
    let mut hand = Hand::new(&CARD, KNOWN);
    hand.hold(3.4);
    for _ in 0..4 {
        hand.go(FULL, 0.5).hold(1.0).go(REST, 0.5);
    }
    assert!(hand.labelled(Step::Full) == 0 && hand.have(Step::Full).abs() < 1e-9);
}

#[test]
fn strokes_that_are_too_fast_do_not_count_and_are_told_so() {
    let mut hand = Hand::new(&CARD, KNOWN);
    hand.past_the_ends().hold(0.5);
    hand.go(FULL, 0.9); // from rest, well
    assert!((hand.have(Step::Strokes) - 2.0).abs() < 1e-9);
    for to in [REST, FULL, REST] {
        hand.go(to, 0.1).hold(0.05);
    }
    assert!(
        (hand.have(Step::Strokes) - 2.0).abs() < 1e-9,
        "none of three"
    );
    assert!(hand.remark().contains("slower"), "{}", hand.remark());
    hand.go(FULL, 0.9).hold(0.1);
    assert!((hand.have(Step::Strokes) - 3.0).abs() < 1e-9 && hand.remark() == "good");
}

#[test]
fn strokes_that_stop_half_way_or_short_of_the_end_do_not_count() {
    let mut hand = Hand::new(&CARD, KNOWN);
    let middle = f64::midpoint(REST, FULL);
    hand.past_the_ends();
    hand.strokes(&[middle, REST], 0.6);
    assert!((hand.have(Step::Strokes) - 1.0).abs() < 1e-9);
    assert!(hand.remark().contains("both ends"), "{}", hand.remark());
    // 85 % of the travel is not the end.
    hand.strokes(&[REST + 0.85 * (FULL - REST), REST], 0.8);
    assert!((hand.have(Step::Strokes) - 1.0).abs() < 1e-9);
    // A breath at the end is no stroke and not told.
    hand.strokes(&[FULL], 0.8);
    assert!((hand.have(Step::Strokes) - 2.0).abs() < 1e-9);
    hand.go(FULL - 0.15 * (FULL - REST), 0.2).go(FULL, 0.2);
    assert_eq!(hand.remark(), "good");
}

#[test]
fn a_hand_that_is_not_off_is_no_rest() {
    let mut hand = Hand::at(FULL, &CARD, KNOWN);
    hand.hold(2.0);
    assert!(hand.have(Step::Rest).abs() < 1e-9 && hand.labelled(Step::Rest) == 0);
    assert!(hand.remark().contains("let it go"), "{}", hand.remark());
    hand.go(REST, 0.3).hold(1.9);
    let have_s = hand.have(Step::Rest);
    assert!((0.5..0.9).contains(&have_s), "{have_s} s of rest");
    // It is pressed a little and held there: not where it rested before.
    hand.go(REST + 100.0, 0.3).hold(2.0);
    assert!(hand.have(Step::Rest) < have_s + 0.1);
    assert!(hand.remark().contains("rested lower"), "{}", hand.remark());
    // What was in was too short to count.
    hand.go(REST, 0.3).hold(3.4);
    assert!((hand.have(Step::Rest) - 2.0).abs() < 1e-9);
}

#[test]
fn an_end_that_is_not_reached_is_no_full_hold() {
    let mut hand = Hand::new(&CARD, KNOWN);
    // Below the middle it is not the full end at all.
    hand.hold(3.4).go(REST + 0.4 * (FULL - REST), 0.4).hold(2.0);
    assert!(hand.have(Step::Full).abs() < 1e-9);
    assert!(
        hand.remark().contains("short of its end"),
        "{}",
        hand.remark()
    );
    hand.go(FULL, 0.4).hold(2.0);
    let have_s = hand.have(Step::Full);
    assert!(have_s > 0.5);
    // Eased off: it went further before.
    hand.go(FULL - 80.0, 0.2).hold(2.0);
    assert!(hand.have(Step::Full) < have_s + 0.1);
    assert!(hand.remark().contains("further"), "{}", hand.remark());
}

#[test]
fn a_cable_pulled_in_the_middle_costs_the_piece_under_way_and_no_more() {
    let mut hand = Hand::new(&CARD, KNOWN);
    hand.hold(2.3);
    let before_s = hand.have(Step::Rest);
    hand.unplugged(30).hold(1.1);
    assert!(
        (hand.have(Step::Rest) - before_s).abs() < 1e-3,
        "the gap is no rest"
    );
    hand.hold(1.5);
    assert!((hand.have(Step::Rest) - 2.0).abs() < 1e-9);
    hand.go(FULL, 0.5).hold(3.4).go(REST, 0.5).hold(0.2);
    // Pulled out on the way up: the stroke that would have spanned the gap is none, although it comes back at full.
    let middle = f64::midpoint(REST, FULL);
    hand.go(middle, 0.5).unplugged(3);
    hand.at = FULL;
    hand.hold(0.5);
    assert!((hand.have(Step::Strokes) - 1.0).abs() < 1e-9);
    hand.strokes(&[REST, FULL, REST, FULL, REST, FULL, REST], 0.9);
    assert!((hand.have(Step::Strokes) - 8.0).abs() < 1e-9);
    // Pulled out while held full: back at rest is then no return.
    hand.go(FULL, 0.9).hold(1.0).unplugged(3);
    hand.at = REST;
    hand.hold(2.0);
    assert!(hand.have(Step::Release).abs() < 1e-9);
    hand.release(1.4);
    assert!((hand.have(Step::Release) - 1.0).abs() < 1e-9);
}

#[test]
fn a_unit_that_rests_at_the_high_end_is_followed_as_well() {
    let falling = ExpectedEnds {
        rest: Some(FULL),
        full: Some(REST),
        full_near: None,
    };
    for expected in [falling, ExpectedEnds::default()] {
        let mut hand = Hand::at(FULL, &[Step::Rest, Step::Full, Step::Strokes], expected);
        hand.past_the_ends();
        hand.strokes(&[REST, FULL, REST, FULL, REST, FULL, REST, FULL], 0.9);
        assert!(hand.card.done(), "{:?}", hand.card.progress());
    }
}

#[test]
fn a_unit_that_moves_the_wrong_way_round_is_taken_as_it_is_after_a_while() {
    let mut hand = Hand::at(FULL, &[Step::Rest, Step::Full, Step::Strokes], KNOWN);
    hand.hold(5.0);
    assert!(hand.have(Step::Rest).abs() < 1e-9, "it may still be held");
    // A touch begins the wait anew.
    hand.go(FULL - 60.0, 0.2).go(FULL, 0.2).hold(5.0);
    assert!(hand.have(Step::Rest).abs() < 1e-9);
    hand.hold(4.5);
    assert!((hand.have(Step::Rest) - 2.0).abs() < 1e-9);
    hand.go(REST, 0.5).hold(3.4).go(FULL, 0.5).hold(0.2);
    hand.strokes(&[REST, FULL, REST, FULL, REST, FULL, REST, FULL], 0.9);
    assert!(hand.card.done(), "{:?}", hand.card.progress());
}

#[test]
fn a_release_counts_when_it_was_held_and_then_left_alone() {
    let mut hand = Hand::new(&[Step::Rest, Step::Full, Step::Release], KNOWN);
    hand.past_the_ends();
    hand.release(0.6); // touched again after 0.6 s
    hand.go(FULL, 0.4).hold(1.2);
    assert!(hand.have(Step::Release).abs() < 1e-9);
    hand.go(REST, 0.1).hold(1.4);
    assert!((hand.have(Step::Release) - 1.0).abs() < 1e-9);
    // Turned at the full end without a hold, as a stroke is: not a release.
    hand.go(FULL, 0.5).hold(0.1).go(REST, 0.5).hold(1.4);
    assert!((hand.have(Step::Release) - 1.0).abs() < 1e-9);
}

/// A figure that watches what comes after a release may want more quiet than usual.
#[test]
fn a_release_counts_after_as_much_quiet_as_the_plan_asks_for() {
    let steps = [Step::Rest, Step::Full, Step::Release];
    let plan = EvidencePlan {
        quiet_s: 10.0,
        ..EvidencePlan::default()
    };
    let mut hand = Hand::planned(plan, REST, &steps, KNOWN);
    hand.past_the_ends().release(9.2);
    assert!(hand.have(Step::Release) < 0.5, "nine seconds are not ten");
    assert_eq!(hand.remark(), "leave it alone, 1 s more");
    hand.hold(1.5);
    assert!((hand.have(Step::Release) - 1.0).abs() < 1e-9);
    hand.release(2.0).go(FULL, 0.4);
    assert!(
        (hand.have(Step::Release) - 1.0).abs() < 1e-9,
        "moved too early"
    );
    assert!(hand.labelled(Step::Release) > 10_000);
}

#[test]
fn two_tracks_are_led_by_the_one_that_is_named() {
    let scale = Scale::new(10, 5000.0).unwrap();
    // Track 2 falls while track 1 rises; the card leads on the second column and is told where its ends are.
    let expected = ExpectedEnds {
        rest: Some(860.0),
        full: Some(164.0),
        full_near: None,
    };
    let mut card = Card::new(
        &[Step::Rest, Step::Full],
        EvidencePlan::default(),
        1,
        scale,
        expected,
    );
    let mut push = |t_ms: u64, a: u32| card.push(t_ms * 1000, &[Code(a), Code(1024 - a)]).step;
    let labels: Vec<Step> = (0..3300).map(|t| push(t, 164)).collect();
    assert!(labels.iter().filter(|l| **l == Step::Rest).count() >= 1999);
    let labels: Vec<Step> = (3300..6600).map(|t| push(t, 860)).collect();
    assert!(labels.iter().filter(|l| **l == Step::Full).count() >= 1999);
    assert!(card.done());
    // A row without the leading column is nothing.
    let mut card = Card::new(&[Step::Rest], EvidencePlan::default(), 1, scale, expected);
    assert_eq!(card.push(0, &[Code(164)]).step, Step::Idle);
    assert_eq!(card.push(1000, &[]).step, Step::Idle);
}

#[test]
fn skipped_repeated_and_stated_steps() {
    let mut hand = Hand::new(&[Step::Rest, Step::Stations, Step::Shake], KNOWN);
    hand.hold(2.0).card.repeat();
    assert!(hand.have(Step::Rest).abs() < 1e-9);
    hand.hold(3.4);
    hand.card.say(StationWords::Here(Some(12.5)));
    hand.hold(1.2);
    assert!((hand.have(Step::Stations) - 1.0).abs() < 1e-9);
    hand.card.skip();
    hand.hold(1.2);
    // Nothing moved: still at rest while shaken.
    assert!(hand.have(Step::Shake) > 0.9);
    hand.card.skip();
    assert!(hand.card.done() && hand.card.push(hand.t_us, &[Code(164)]).step == Step::Idle);
}

/// Whoever thinks about an offer may have a hand on the plug: what comes then is no evidence, whatever the answer is.
#[test]
fn evidence_ends_when_a_trial_is_offered() {
    let at_end = |tell_apart| {
        let mut hand = Hand::new(&[Step::Rest], KNOWN);
        hand.card = hand.card.clone().telling_apart(tell_apart);
        hand.card.hold_open(true);
        while !hand.card.at_end() {
            hand.hold(0.001);
        }
        let over_us = hand.t_us;
        // Until somebody has looked at it.
        hand.hold(2.0);
        assert!(hand.card.tried().is_empty() && hand.card.offer(Trial::Plug));
        (hand, over_us)
    };
    for answer in [Card::skip, Card::go_ahead] {
        let (mut hand, over_us) = at_end(TellApart::Ask);
        hand.hold(5.0);
        answer(&mut hand.card);
        hand.hold(1.0);
        let first = hand.card.tried()[0];
        assert_eq!((first.step, first.from_us), (Step::Idle, over_us));
        assert!(
            !hand.card.reopen(Step::Rest, 9.0),
            "no evidence comes behind it"
        );
    }
    // Begun anew, it leaves the end of the evidence where it was.
    let (mut hand, over_us) = at_end(TellApart::Take);
    hand.hold(2.0).card.repeat();
    let again_us = hand.t_us;
    hand.hold(1.0);
    let tried = hand.card.tried().iter().map(|tried| tried.from_us);
    assert_eq!(tried.collect::<Vec<_>>(), [over_us, again_us]);
}

/// `Leave it alone. (1 s)` is not followed by two seconds more.
#[test]
fn nobody_waits_for_longer_than_was_announced() {
    let amount = Amount {
        first: 1.0,
        most: 1.0,
    };
    let plan = EvidencePlan {
        rest: amount,
        ..EvidencePlan::default()
    };
    let mut hand = Hand::planned(plan, REST, &[Step::Rest, Step::Full], KNOWN);
    let mut told = 0;
    while hand.card.current_step() == Some(Step::Rest) {
        hand.hold(0.05);
        if hand.remark().starts_with("good") {
            assert_eq!(hand.remark(), "good, leave it, 1 s more");
            told += 1;
        }
    }
    assert!(told > 10);
}
