//! A simulated flashed board recorded, and the claims of a block against that recording.

use measure::units::{Code, Scale};
use pedalproof::bench::{Batch, FlashedBoard, Hand, ProofOptions, ProofWatch, StreamInfo};
use pedalproof::constants::Block;
use pedalproof::link::LineSource;
use pedalproof::proof::{Marks, Proof, ProofSetup, Samples, Trial, prove};
use pedalproof::record::CaptureFacts;

/// Columns of a simulated flashed board, with what the guide marked.
pub struct Recording {
    bits: u32,
    pub t_us: Vec<u64>,
    /// The inputs, the output, the enable line.
    pub columns: Vec<Vec<Code>>,
    pub marks: Marks,
}

impl Recording {
    /// Keeps the samples of these moments: the others were lost.
    pub fn keep(&mut self, is: impl Fn(u64) -> bool) {
        let kept: Vec<bool> = self.t_us.iter().map(|t| is(*t)).collect();
        for column in &mut self.columns {
            let mut kept = kept.iter();
            column.retain(|_| *kept.next().unwrap());
        }
        self.t_us.retain(|t| is(*t));
    }
}

/// Records a board with this block through a script; leads through `round`.
pub fn record(block: &Block, script: Vec<Hand>, round: &[Trial]) -> Recording {
    let seconds = FlashedBoard::script_s(&script);
    let mut board = FlashedBoard::new(block, script, 1000.0, 1).unwrap();
    let mut batch = Batch::default();
    let mut names = Vec::new();
    for _ in 0..(seconds * 1001.0) as usize {
        let mut line = Vec::new();
        board.next_line(&mut line);
        let line = String::from_utf8(line).unwrap();
        if let Some((_, columns)) = line.trim_end().split_once("cols=t_us,") {
            names = columns
                .split('*')
                .next()
                .unwrap()
                .split(',')
                .map(str::to_owned)
                .collect();
            batch.codes.resize(names.len(), Vec::new());
            continue;
        }
        let row: Vec<u32> = line
            .split(['*', '\n'])
            .next()
            .unwrap()
            .split(',')
            .map(|number| number.parse().unwrap())
            .collect();
        batch.t_us.push(u64::from(row[0]));
        for (column, code) in batch.codes.iter_mut().zip(&row[1..]) {
            column.push(Code(*code));
        }
    }
    let inputs = names.len() - 2;
    let track = |at: usize| (at < inputs).then_some(measure::units::Track::One);
    let bits = u32::from(block.numbers().board.adc_bits).max(10);
    let stream = StreamInfo {
        channels: names
            .iter()
            .enumerate()
            .map(|(at, name)| (name.clone(), track(at)))
            .collect(),
        bits,
        vref_mv: 5000.0,
        rate_hz: 1000.0,
        board_time: true,
        source: "simulated".to_owned(),
        tag: None,
    };
    let mut watch = ProofWatch::new(block, &stream, round).unwrap();
    watch.push(&batch);
    assert!(round.is_empty() || watch.done(), "{:?}", watch.stage());
    Recording {
        bits,
        t_us: batch.t_us,
        columns: batch.codes,
        marks: watch.marks(),
    }
}

/// A recording held against a block, which need not be the one that was flashed.
pub fn held_against(block: &Block, recording: &Recording) -> Proof {
    let scale = Scale::new(recording.bits, 5000.0).unwrap();
    let [inputs @ .., output, enable] = &recording.columns[..] else {
        panic!("a board has an output and an enable line");
    };
    let columns: Vec<&[Code]> = inputs.iter().map(Vec::as_slice).collect();
    let asked = ProofSetup {
        block,
        inputs: inputs.iter().map(|_| "input".to_owned()).collect(),
        output: "output".to_owned(),
        conditions: ProofOptions::usual(block).conditions(scale),
        marks: recording.marks.clone(),
        capture: CaptureFacts::default(),
        foretold: Vec::new(),
        enable: Some(enable),
    };
    let samples = Samples {
        t_us: &recording.t_us,
        inputs: &columns,
        output,
        scale,
    };
    prove(asked, samples).unwrap()
}

/// What a claim came to: `shown`, `contradicted`, `not exercised`.
pub fn state(proof: &Proof, claim: &str) -> String {
    let mut claims = proof.claims.iter();
    let found = claims.find(|known| known.claim == claim);
    let found = found.unwrap_or_else(|| panic!("there is no claim {claim}"));
    serde_json::to_value(found.state)
        .unwrap()
        .as_str()
        .unwrap()
        .to_owned()
}
