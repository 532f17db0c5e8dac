//! Worked by hand: ramps, rounds that were not made, the guide.

use super::testing::{block, guarded, on};
use super::{
    Fault, Foretold, Guide, GuideSample, Mark, MarkKind, Marks, Proof, ProofSetup, Samples,
    Scaling, Stage, prove,
};
use crate::constants::Block;
use crate::record::CaptureFacts;
use measure::judge::{Outcome, Verdict};
use measure::units::{Code, Scale};

fn proved(block: &Block, columns: &[Vec<u32>], marks: Marks) -> Proof {
    let codes: Vec<Vec<Code>> = columns
        .iter()
        .map(|column| column.iter().map(|code| Code(*code)).collect())
        .collect();
    let (output, inputs) = codes.split_last().unwrap();
    let inputs: Vec<&[Code]> = inputs.iter().map(Vec::as_slice).collect();
    let t_us: Vec<u64> = (0..output.len() as u64).map(|n| n * 1000).collect();
    let samples = Samples {
        t_us: &t_us,
        inputs: &inputs,
        output,
        scale: Scale::new(10, 5000.0).unwrap(),
    };
    let asked = ProofSetup {
        block,
        inputs: inputs.iter().map(|_| "input".to_owned()).collect(),
        output: "output".to_owned(),
        conditions: on(5000.0),
        marks,
        capture: CaptureFacts::default(),
        foretold: vec![Foretold {
            fault: Fault::Ground,
            input: 0,
            reads: None,
            missed: Some("hidden by the wiring".to_owned()),
        }],
        enable: None,
    };
    prove(asked, samples).unwrap()
}

/// 328 of 32768 a step is 1.001 % a millisecond. A board twice as fast is at 100 % after 50 ms. The block with its clock 3 %
/// fast allows 338 a step; the reading may be of two samples later, the look two samples late, and the step itself counts:
/// 55 x 338 / 32768 = 56.7 %, 43.3 % less. One half as fast: the slow clock gives 318 a step and is full after 104 of them,
/// so at 107 ms, where the board is at 107 x 0.5005 = 53.6 %: 46.4 % more.
#[test]
fn a_ramp_must_be_as_steep_as_the_block_says() {
    let mut draft = block().numbers().clone();
    draft.output.rise_q15 = 328;
    let block = Block::new(draft).unwrap();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // codes of ten bits
    let ramp = |speed: f64| {
        let mut input = vec![512; 300];
        let mut output = vec![512; 300];
        input.extend([164; 300]);
        output.extend([0; 300]);
        input.extend([860; 400]);
        for n in 0..400 {
            let command = (f64::from(n) * 328.0 / 32_768.0 * speed).min(1.0);
            output.push((command * 1023.75).floor() as u32);
        }
        let proof = proved(&block, &[input, output], Marks::default());
        proof.figure("moving_departure").unwrap().value
    };
    assert!(ramp(1.0) < 0.2, "{}", ramp(1.0));
    assert!((ramp(2.0) - 43.3).abs() < 0.7, "{}", ramp(2.0));
    assert!((ramp(0.5) - 46.4).abs() < 0.7, "{}", ramp(0.5));
}

/// Pedal held, then its wire reads 0 from sample 600 on; the output goes to zero at sample 606: 6 ms, known to one sample
/// at either end. Nothing was tried afterwards, so that `latched` stays open.
#[test]
fn the_time_to_zero_is_known_to_one_sample_at_either_end() {
    let numbers = guarded();
    let mut pedal = vec![510; 600];
    pedal.extend([0; 200]);
    let dial = vec![25; 800];
    // Half command: DAC 100 + 3995 / 2 = 2097.5, code 524. A stop is DAC 0, code 0.
    let mut output = vec![524; 606];
    output.extend([0; 194]);
    let asked = |fault| Mark {
        t_us: 550_000,
        what: MarkKind::Asked,
        fault: Some(fault),
        input: None,
    };
    let proof = proved(
        &numbers,
        &[pedal, dial, output],
        Marks(vec![asked(Fault::Open)]),
    );
    let round = &proof.rounds[0];
    let time = round.figures[0].1.as_ref().unwrap();
    assert_eq!(
        (time.figure.value, time.figure.low, time.figure.high),
        (6.0, Some(5.0), Some(7.0))
    );
    assert_eq!((round.seen, round.latched), (true, None));
    assert_eq!(
        proof.finding("open", "time_to_zero").unwrap().outcome,
        Outcome::Pass
    );
    assert_eq!(
        proof.finding("open", "latched").unwrap().outcome,
        Outcome::NotMeasured
    );
    assert_eq!(proof.verdict, Verdict::Undecided);
}

/// The zero command of that board is DAC 100, code 25: where it stays there it has not stopped (DESIGN 4.7).
#[test]
fn the_zero_command_is_no_stop() {
    let mut pedal = vec![510; 600];
    pedal.extend([0; 200]);
    let mut output = vec![524; 606];
    output.extend([25; 194]);
    let mark = Mark {
        t_us: 550_000,
        what: MarkKind::Asked,
        fault: Some(Fault::Open),
        input: None,
    };
    let columns = [pedal, vec![25; 800], output];
    let proof = proved(&guarded(), &columns, Marks(vec![mark]));
    let time = proof.finding("open", "time_to_zero").unwrap();
    assert_eq!(time.outcome, Outcome::Fail, "{time:?}");
    assert!(time.reason.contains("did not go off"), "{time:?}");
}

/// The fault came and the output rose, and stayed.
#[test]
fn an_output_that_rises_after_the_fault_fails() {
    let mut pedal = vec![510; 600];
    pedal.extend([1023; 200]);
    let mut output = vec![524; 600];
    output.extend([700; 200]);
    let mark = Mark {
        t_us: 550_000,
        what: MarkKind::Asked,
        fault: Some(Fault::Supply),
        input: None,
    };
    let proof = proved(
        &guarded(),
        &[pedal, vec![25; 800], output],
        Marks(vec![mark]),
    );
    for figure in ["time_to_zero", "rise_after", "latched"] {
        assert_eq!(
            proof.finding("supply", figure).unwrap().outcome,
            Outcome::Fail,
            "{figure}"
        );
    }
    // 176 codes of 4.8828 mV.
    let rise = proof.rounds[0].figures[1].1.as_ref().unwrap().figure.value;
    assert!((rise - 859.4).abs() < 0.1, "{rise}");
}

#[test]
fn a_fault_that_was_left_out_or_is_hidden_is_not_measured() {
    let held = [vec![510; 800], vec![25; 800], vec![524; 800]];
    let mark = |t_us, what, fault| Mark {
        t_us,
        what,
        fault: Some(fault),
        input: None,
    };
    let marks = vec![
        mark(300_000, MarkKind::Asked, Fault::Open),
        mark(400_000, MarkKind::Skipped, Fault::Open),
        mark(500_000, MarkKind::Asked, Fault::Ground),
    ];
    let proof = proved(&guarded(), &held, Marks(marks));
    let finding = |of| proof.finding(of, "time_to_zero").unwrap();
    assert_eq!(finding("open").outcome, Outcome::NotMeasured);
    assert!(finding("open").reason.contains("left out"));
    assert!(finding("ground").reason.contains("hidden by the wiring"));
    assert_eq!(proof.verdict, Verdict::Undecided);
}

/// Each stage ends by what the signal does, or is left out; marks say when.
#[test]
fn the_guide_follows_the_signal_and_the_key() {
    let scale = Scale::new(10, 5000.0).unwrap();
    let scaling = Scaling::new(&guarded(), scale, on(5000.0)).unwrap();
    let mut guide = Guide::new(
        &guarded(),
        scaling,
        scale.codes(),
        &[Fault::Open.on(0), Fault::Ground.on(0)],
    );
    let mut now = 0;
    let mut push = |guide: &mut Guide, ms: u64, pedal: u32, output: u32| {
        for _ in 0..ms {
            now += 1000;
            guide.push(GuideSample {
                t_us: now,
                inputs: &[Code(pedal), Code(100)],
                output: Code(output),
                enable: None,
            });
        }
        guide.stage()
    };
    assert_eq!(push(&mut guide, 500, 160, 25), Stage::Rest);
    assert_eq!(push(&mut guide, 200, 160, 25), Stage::Run);
    assert_eq!(
        push(&mut guide, 800, 500, 400),
        Stage::Break(Fault::Open.on(0))
    );
    assert_eq!(
        push(&mut guide, 5000, 500, 400),
        Stage::Break(Fault::Open.on(0)),
        "it waits for the person"
    );
    assert_eq!(
        push(&mut guide, 320, 0, 25),
        Stage::Whole(Fault::Open.on(0))
    );
    assert_eq!(push(&mut guide, 620, 500, 25), Stage::RestAgain);
    assert_eq!(push(&mut guide, 620, 160, 25), Stage::PressAgain);
    assert_eq!(push(&mut guide, 620, 500, 25), Stage::Power);
    guide.skip();
    assert_eq!(guide.stage(), Stage::Rest);
    push(&mut guide, 700, 160, 25);
    assert_eq!(
        push(&mut guide, 800, 500, 400),
        Stage::Break(Fault::Ground.on(0))
    );
    assert_eq!(
        push(&mut guide, 61_000, 500, 400),
        Stage::Done,
        "patience ends"
    );
    let what =
        |guide: &Guide| -> Vec<MarkKind> { guide.marks().0.iter().map(|mark| mark.what).collect() };
    let mut made = vec![
        MarkKind::Asked,
        MarkKind::Power,
        MarkKind::Asked,
        MarkKind::Skipped,
    ];
    assert_eq!(what(&guide), made);
    // What the board does after it was switched off and on is no part of the last fault.
    for (ms, code) in [(700, 0), (100, 160)] {
        for _ in 0..ms {
            now += 1000;
            guide.push(GuideSample {
                t_us: now,
                inputs: &[Code(code), Code(code)],
                output: Code(25),
                enable: None,
            });
        }
    }
    assert_eq!(guide.stage(), Stage::Done);
    made.push(MarkKind::Power);
    assert_eq!(what(&guide), made);
}
