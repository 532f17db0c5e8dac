//! What a proof must not call proved: a person did half of it, samples were lost, the board stopped for another reason or not at all.
//!
//! The recordings are of a simulated board with the block's own numbers; what is wrong is written into them by hand.

use super::support::claims::{Recording, held_against, record, state};
use measure::judge::{Outcome, Verdict};
use measure::units::Code;
use pedalproof::bench::{Hand, trolley_block};
use pedalproof::constants::Block;
use pedalproof::proof::{Fault, MarkKind, Proof, Trial};

fn round(block: &Block, trial: Trial) -> Recording {
    record(block, Hand::faults(&[trial]), &[trial])
}

/// Not passed, and one of these claims not shown.
fn is_open(proof: &Proof, claim: &str) {
    assert_eq!(state(proof, claim), "not exercised", "{:?}", proof.claims);
    assert_eq!(proof.verdict, Verdict::Undecided, "{:?}", proof.findings);
}

fn is_shown(proof: &Proof, claim: &str) {
    assert_eq!(state(proof, claim), "shown", "{:?}", proof.claims);
    assert_eq!(proof.verdict, Verdict::Pass, "{:?}", proof.findings);
}

/// A board whose bootloader waits 1.4 s would still be asleep when the pedal is let go.
#[test]
fn a_dip_with_the_pedal_soon_let_go_shows_nothing() {
    let block = trolley_block().unwrap();
    let mut taken = round(&block, Fault::PowerDip.alone());
    is_shown(&held_against(&block, &taken), "stops.power_dip");
    let back = taken.marks.power_us().next().unwrap();
    let inputs = taken.columns.len() - 2;
    for i in 0..taken.t_us.len() {
        if taken.t_us[i] > back + 320_000 {
            for column in &mut taken.columns[..inputs] {
                column[i] = column[0]; // let go
            }
        }
    }
    let proof = held_against(&block, &taken);
    assert_eq!(state(&proof, "stops.power_dip"), "not exercised");
    assert_ne!(proof.verdict, Verdict::Pass, "{:?}", proof.findings);
}

/// Reset, let go, and pressed again some three seconds later. What came out while samples were lost nobody knows.
#[test]
fn a_press_that_was_lost_is_no_press() {
    let block = trolley_block().unwrap();
    let mut taken = round(&block, Fault::Reset.alone());
    is_shown(&held_against(&block, &taken), "stops.reset_while_pressed");
    let asked = taken.marks.0[0].t_us;
    let again = asked + 2_800_000..asked + 4_700_000;
    taken.keep(|t| !again.contains(&t));
    is_open(&held_against(&block, &taken), "stops.reset_while_pressed");
}

/// A wire is pulled, and the samples from the first bad one until after the stop are lost: whether the output rose first is not known.
#[test]
fn a_stop_that_was_lost_is_not_seen() {
    let block = trolley_block().unwrap();
    let mut taken = round(&block, Fault::Open.on(0));
    is_shown(&held_against(&block, &taken), "stops[0].open");
    let broken = taken.columns[0].iter().position(|code| code.0 < 30);
    let broken = taken.t_us[broken.unwrap()];
    taken.keep(|t| !(broken + 1..broken + 60_000).contains(&t));
    let proof = held_against(&block, &taken);
    is_open(&proof, "stops[0].open");
    let mut findings = proof.findings.iter();
    let rise = findings.find(|finding| finding.figure == "rise_after");
    assert_eq!(rise.unwrap().outcome, Outcome::NotMeasured, "{rise:?}");
}

/// What was lost may have held the reason for a stop, and nobody saw it; where nothing was lost there is none.
#[test]
fn a_board_that_goes_silent_beside_lost_samples_does_not_pass() {
    let block = trolley_block().unwrap();
    for (lost_us, verdict) in [
        (0, Verdict::Fail),
        (8_000, Verdict::Undecided),
        (200_000, Verdict::Undecided),
    ] {
        // The first time round all is seen, the control at rest as well.
        let twice = [Hand::comparing(), Hand::comparing()].concat();
        let mut taken = record(&block, twice, &[]);
        assert_eq!(held_against(&block, &taken).verdict, Verdict::Pass);
        let from = 48_500_000;
        taken.keep(|t| !(from..from + lost_us).contains(&t));
        let output = taken.columns.len() - 2;
        for (t, code) in taken.t_us.iter().zip(&mut taken.columns[output]) {
            if *t > from {
                *code = Code(0);
            }
        }
        let proof = held_against(&block, &taken);
        assert_eq!(proof.verdict, verdict, "{lost_us}: {:?}", proof.findings);
    }
}

/// Nothing ever came out, and the person left the step out with Enter.
#[test]
fn a_round_in_which_nothing_was_seen_does_not_pass() {
    let block = trolley_block().unwrap();
    let mut taken = round(&block, Fault::Reset.alone());
    let inputs = taken.columns.len() - 2;
    for column in &mut taken.columns[inputs..] {
        column.fill(Code(0));
    }
    for mark in &mut taken.marks.0 {
        if mark.what != MarkKind::Asked {
            (mark.what, mark.fault) = (MarkKind::Skipped, Some(Fault::Reset));
        }
    }
    taken.marks.0.truncate(2);
    assert_eq!(taken.marks.0.len(), 2);
    let proof = held_against(&block, &taken);
    assert_eq!(proof.verdict, Verdict::Undecided, "{:?}", proof.findings);
    // Nor with a mark of what was left out alone.
    taken.marks.0.remove(0);
    let proof = held_against(&block, &taken);
    assert_eq!(proof.verdict, Verdict::Undecided, "{:?}", proof.findings);
}

/// With one step left out of a whole round the rest of it is no whole round.
#[test]
fn a_reset_that_was_left_out_leaves_the_round_open() {
    let block = trolley_block().unwrap();
    let trials = [Fault::Open.on(0), Fault::Reset.alone()];
    let mut taken = record(&block, Hand::faults(&trials), &trials);
    assert_eq!(held_against(&block, &taken).verdict, Verdict::Pass);
    let asked = taken
        .marks
        .0
        .iter()
        .position(|mark| mark.fault == Some(Fault::Reset));
    let asked = asked.unwrap();
    let mut skipped = taken.marks.0[asked];
    skipped.what = MarkKind::Skipped;
    taken.marks.0.truncate(asked + 1);
    taken.marks.0.push(skipped);
    taken.keep(|t| t <= skipped.t_us);
    is_open(&held_against(&block, &taken), "stops.reset_while_pressed");
}

/// The plug pulled: both tracks read 0, and the windows stop the board. Joined tracks meet between their own levels.
#[test]
fn a_plug_that_is_pulled_joins_no_tracks() {
    let block = trolley_block().unwrap();
    let mut taken = round(&block, Fault::TracksJoined.alone());
    is_shown(&held_against(&block, &taken), "stops.tracks_joined");
    for i in 0..taken.t_us.len() {
        if taken.columns[0][i].0.abs_diff(taken.columns[1][i].0) < 30 {
            (taken.columns[0][i], taken.columns[1][i]) = (Code(0), Code(0));
        }
    }
    is_open(&held_against(&block, &taken), "stops.tracks_joined");
}

/// The zero command of this board is 0.8 V: a stop is DAC code 0 (DESIGN 4.7), which a controller can tell from it.
#[test]
fn the_zero_command_is_no_stop() {
    let mut fields = trolley_block().unwrap().numbers().clone();
    fields.output.zero_dac = 655;
    let block = Block::new(fields).unwrap();
    for (trial, claim) in [
        (Fault::Reset.alone(), "stops.reset_while_pressed"),
        (Fault::Open.on(0), "stops[0].open"),
    ] {
        let mut taken = round(&block, trial);
        is_shown(&held_against(&block, &taken), claim);
        let output = taken.columns.len() - 2;
        let fault_us = taken.marks.0[0].t_us;
        for (t, code) in taken.t_us.iter().zip(&mut taken.columns[output]) {
            // From the fault on, until power is cycled.
            if *t > fault_us && code.0 < 20 {
                *code = Code(164);
            }
        }
        let proof = held_against(&block, &taken);
        assert_eq!(state(&proof, claim), "contradicted", "{:?}", proof.claims);
        assert_eq!(proof.verdict, Verdict::Fail);
    }
}
