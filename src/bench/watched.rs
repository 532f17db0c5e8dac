//! A flashed board watched while it is being proved: what it should put out now, where it stood still, how its faults go.
//!
//! Belongs here: what a screen needs during the run, sample by sample. Does not belong here: the verdict. It comes from the
//! whole capture (`prove_file`); what is shown here on the way is a first look, with no share in it.

use super::events::{Batch, Taking};
use super::prove::{ProofColumns, ProofOptions};
use crate::constants::{Block, Task};
use crate::proof::{Fault, Guide, Marks, Ruler, Stage};
use crate::twin::{self, Shown, State, Twin};
use measure::units::{Code, Role, Scale};
use std::collections::VecDeque;

/// One point of the picture over time is so long, microseconds: a fault of a few steps stays visible in its extremes.
const POINT_US: u64 = 20_000;
/// So many points are kept: a minute and a half.
const POINTS: usize = 4500;
/// A place counts as stood at after so long, microseconds. Longer than any filter and the usual limits of rise need.
const STOOD_US: u64 = 500_000;
/// The output is averaged over the last of it, microseconds.
const AVERAGED_US: u64 = 100_000;
/// Inputs stand while they stay within so many measuring codes.
const STILL_CODES: u32 = 6;
/// Every input below this share of full scale for [`OFF_US`]: the board has no power. As the guide has it.
const OFF_SHARE: f64 = 0.02;
const OFF_US: u64 = 50_000;
/// Most steps of the blending board between two samples: a longer gap leaves it wherever this brings it.
const MOST_STEPS: u64 = 4000;
/// Bands of travel of each factor, as the proof counts coverage.
pub const BANDS: usize = 4;

/// A stretch of the picture over time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProofPoint {
    /// When it begins, board time in microseconds.
    pub t_us: u64,
    /// Lowest and highest output measured, millivolts.
    pub measured_mv: [f64; 2],
    /// Lowest and highest output that the block allows; absent as long as it is not known whether the board runs.
    pub allowed_mv: Option<[f64; 2]>,
}

/// A place where the controls stood.
#[derive(Debug, Clone, PartialEq)]
pub struct Dwell {
    /// Command of each factor, percent.
    pub factors_pct: Vec<f64>,
    /// What the block puts out there, millivolts.
    pub expected_mv: f64,
    /// What came, on average over the last tenth of a second, millivolts.
    pub measured_mv: f64,
}

/// How a fault went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaultSeen {
    /// Which.
    pub fault: Fault,
    /// From the first sample that is no good to the first of output zero, milliseconds; absent as long as it is not zero.
    pub zero_ms: Option<f64>,
    /// Highest output after it, millivolts; absent before it is seen.
    pub peak_mv: Option<f64>,
    /// The output rose again although power was not cycled.
    pub came_back: bool,
    /// It was left out.
    pub left_out: bool,
}

/// What a board is doing now.
#[derive(Debug, Clone, PartialEq)]
pub struct ProofNow {
    /// Time of the last sample, board time in microseconds.
    pub t_us: u64,
    /// Inputs, measuring board's codes, in the block's order.
    pub inputs: Vec<Code>,
    /// The output, measuring board's code.
    pub output: Code,
    /// The same in millivolts.
    pub measured_mv: f64,
    /// What the block allows; absent as long as it is not known whether the board runs.
    pub allowed_mv: Option<[f64; 2]>,
    /// What a board with this block does after these samples.
    pub twin: State,
}

/// A flashed board under watch.
#[derive(Debug, Clone)]
pub struct ProofWatch {
    block: Block,
    /// Names of the inputs' columns and the output's.
    names: (Vec<String>, String),
    columns: ProofColumns,
    ruler: Ruler,
    off_below: f64,
    guide: Option<Guide>,
    boards: Boards,
    now: Option<ProofNow>,
    points: VecDeque<ProofPoint>,
    still: Still,
    stood: Vec<Dwell>,
    faults: Vec<FaultSeen>,
    fault_us: Option<u64>,
    off_us: u64,
}

/// The block's twin, and the same fed with the readings of least and of most command.
#[derive(Debug, Clone)]
struct Boards {
    middle: Twin,
    low: Twin,
    high: Twin,
    shown: Option<[Shown; 3]>,
}

/// Since when the inputs stand.
#[derive(Debug, Clone, Default)]
struct Still {
    since_us: u64,
    ends: Vec<(u32, u32)>,
    output: Vec<f64>,
    counted: bool,
}

impl Boards {
    fn new(block: &Block) -> Self {
        let twin = Twin::new(block);
        Self {
            middle: twin.clone(),
            low: twin.clone(),
            high: twin,
            shown: None,
        }
    }

    /// One step. Where noise alone takes a side out of its windows or keeps it from starting, it follows the middle.
    fn step(&mut self, middle: &[u16], low: &[u16], high: &[u16]) {
        let shown = self.middle.step(middle);
        let side = |twin: &mut Twin, codes: &[u16]| {
            let seen = twin.step(codes);
            if seen.state == shown.state {
                return seen;
            }
            *twin = self.middle.clone();
            shown
        };
        let low = side(&mut self.low, low);
        let high = side(&mut self.high, high);
        self.shown = Some([shown, low, high]);
    }
}

impl ProofWatch {
    /// Watches a board with this block on what is being taken; leads through these faults, if any.
    ///
    /// # Errors
    /// Why the stream and the block do not go together and what to do, in words.
    pub fn new(block: &Block, taking: &Taking, faults: &[Fault]) -> Result<Self, String> {
        let columns = roles(taking);
        let chosen =
            ProofColumns::choose(&columns, None, None, block).map_err(|why| why.to_string())?;
        let scale = Scale::new(taking.bits, taking.vref_mv).map_err(|why| why.to_string())?;
        let ruler = Ruler::new(block, scale, ProofOptions::usual(block).bench(scale))
            .map_err(|why| why.to_string())?;
        let name = |at: &usize| columns[*at].0.to_owned();
        Ok(Self {
            block: block.clone(),
            names: (
                chosen.inputs.iter().map(name).collect(),
                name(&chosen.output),
            ),
            off_below: f64::from(scale.codes()) * OFF_SHARE,
            guide: (!faults.is_empty()).then(|| Guide::new(block, ruler, scale.codes(), faults)),
            columns: chosen,
            ruler,
            boards: Boards::new(block),
            now: None,
            points: VecDeque::new(),
            still: Still::default(),
            stood: Vec::new(),
            faults: Vec::new(),
            fault_us: None,
            off_us: 0,
        })
    }

    /// Takes in samples that arrived together. Columns of unequal length are cut to the shortest.
    pub fn push(&mut self, batch: &Batch) {
        let wanted = self.columns.inputs.iter().chain([&self.columns.output]);
        let lengths = wanted.map(|at| batch.codes.get(*at).map_or(0, Vec::len));
        let rows = lengths.min().unwrap_or(0).min(batch.t_us.len());
        for row in 0..rows {
            let code = |at: &usize| batch.codes[*at][row];
            let inputs: Vec<Code> = self.columns.inputs.iter().map(code).collect();
            let output = code(&self.columns.output);
            self.sample(batch.t_us[row], inputs, output);
        }
    }

    fn sample(&mut self, t_us: u64, inputs: Vec<Code>, output: Code) {
        let before_us = self.now.as_ref().map_or(t_us, |now| now.t_us);
        if t_us < before_us {
            return;
        }
        self.power(&inputs, t_us - before_us);
        let [middle, low, high] = self.readings(&inputs);
        let rate = u64::from(self.block.numbers().board.rate_hz);
        let steps = |t: u64| u128::from(t) * u128::from(rate) / 1_000_000;
        let passed = u64::try_from(steps(t_us) - steps(before_us)).unwrap_or(MOST_STEPS);
        for _ in 0..passed.min(MOST_STEPS) {
            self.boards.step(&middle, &low, &high);
        }
        let measured = self.ruler.output(output.as_f64());
        let measured_mv = f64::midpoint(measured.low, measured.high);
        let allowed_mv = self.allowed();
        let codes = Codes {
            inputs: &inputs,
            middle: &middle,
            output,
        };
        self.fault(t_us, &codes, measured_mv);
        self.stand(t_us, &inputs, &middle, measured_mv);
        let twin = self
            .boards
            .shown
            .map_or(State::Waiting, |[shown, ..]| shown.state);
        self.now = Some(ProofNow {
            t_us,
            inputs,
            output,
            measured_mv,
            allowed_mv,
            twin,
        });
        self.point(t_us, measured_mv, allowed_mv);
    }

    /// A board without power begins anew when it comes back.
    fn power(&mut self, inputs: &[Code], passed_us: u64) {
        if inputs.iter().all(|code| code.as_f64() < self.off_below) {
            self.off_us = self.off_us.saturating_add(passed_us);
        } else {
            if self.off_us >= OFF_US {
                self.boards = Boards::new(&self.block);
            }
            self.off_us = 0;
        }
    }

    /// Blending board's codes: the likeliest, and those of least and of most command.
    fn readings(&self, inputs: &[Code]) -> [Vec<u16>; 3] {
        let mut readings = [Vec::new(), Vec::new(), Vec::new()];
        for (input, code) in self.block.numbers().inputs.iter().zip(inputs) {
            let (low, high) = self.ruler.input(*code, 0.0);
            let middle = u16::midpoint(low, high);
            let (least, most) = match &input.task {
                Task::Factor(factor) if factor.full_edge < factor.rest_edge => (high, low),
                Task::Factor(_) => (low, high),
                Task::Check(_) => (middle, middle),
            };
            for (list, reading) in readings.iter_mut().zip([middle, least, most]) {
                list.push(reading);
            }
        }
        readings
    }

    /// What the block allows now: with two codes of either board, as a zero output is allowed them.
    fn allowed(&self) -> Option<[f64; 2]> {
        let shown = self.boards.shown?;
        // What a board without power puts out is not its block's doing.
        let known = shown[0].state != State::Waiting && self.off_us == 0;
        let mv = shown.map(|shown| self.ruler.dac(f64::from(shown.dac)));
        let room = self.ruler.zero_band_mv() - self.ruler.zero_mv();
        let low = mv.into_iter().fold(f64::INFINITY, f64::min) - room;
        let high = mv.into_iter().fold(f64::NEG_INFINITY, f64::max) + room;
        known.then_some([low.max(0.0), high])
    }

    fn point(&mut self, t_us: u64, mv: f64, allowed: Option<[f64; 2]>) {
        let begins = t_us - t_us % POINT_US;
        match self.points.back_mut() {
            Some(last) if last.t_us == begins => {
                last.measured_mv = hull(last.measured_mv, [mv, mv]);
                last.allowed_mv = match (last.allowed_mv, allowed) {
                    (Some(before), Some(now)) => Some(hull(before, now)),
                    (before, now) => before.and(now),
                };
            }
            _ => self.points.push_back(ProofPoint {
                t_us: begins,
                measured_mv: [mv, mv],
                allowed_mv: allowed,
            }),
        }
        if self.points.len() > POINTS {
            self.points.pop_front();
        }
    }

    /// Takes a place down once the controls have stood there.
    fn stand(&mut self, t_us: u64, inputs: &[Code], middle: &[u16], mv: f64) {
        let still = &mut self.still;
        let fits =
            still.ends.len() == inputs.len()
                && still.ends.iter().zip(inputs).all(|((low, high), code)| {
                    (*high).max(code.0) - (*low).min(code.0) <= STILL_CODES
                });
        if !fits {
            *still = Still {
                since_us: t_us,
                ends: inputs.iter().map(|code| (code.0, code.0)).collect(),
                ..Still::default()
            };
            return;
        }
        for ((low, high), code) in still.ends.iter_mut().zip(inputs) {
            (*low, *high) = ((*low).min(code.0), (*high).max(code.0));
        }
        if !still.counted && t_us - still.since_us >= STOOD_US - AVERAGED_US {
            still.output.push(mv);
        }
        if still.counted || t_us - still.since_us < STOOD_US {
            return;
        }
        still.counted = true;
        let runs = self
            .boards
            .shown
            .is_some_and(|[shown, ..]| shown.state == State::Running);
        let (true, Some(settled)) = (runs, twin::settled(&self.block, middle)) else {
            return;
        };
        let sum: f64 = still.output.iter().sum();
        #[allow(clippy::cast_precision_loss)] // a tenth of a second of samples
        let measured_mv = sum / still.output.len().max(1) as f64;
        still.output.clear();
        self.stood.push(Dwell {
            factors_pct: factors_pct(&self.block, middle),
            expected_mv: self.ruler.dac(f64::from(settled.dac)),
            measured_mv,
        });
    }

    /// Takes down what a fault does, and lets the guide see the sample.
    fn fault(&mut self, t_us: u64, codes: &Codes<'_>, mv: f64) {
        let Some(mut guide) = self.guide.take() else {
            return;
        };
        let zero = self.ruler.may_be_zero(codes.output);
        match guide.stage() {
            Stage::Break(_) => self.broken(t_us, codes.middle, mv, zero),
            Stage::Whole(_) | Stage::RestAgain | Stage::PressAgain if !zero => {
                if let Some(seen) = self.faults.last_mut() {
                    seen.came_back = true;
                }
            }
            _ => {}
        }
        let before = (guide.stage(), guide.turn().0);
        guide.push(t_us, codes.inputs, codes.output);
        self.turned(before, &guide);
        self.guide = Some(guide);
    }

    /// While the fault is being made.
    fn broken(&mut self, t_us: u64, middle: &[u16], mv: f64, zero: bool) {
        if self.fault_us.is_none() && twin::settled(&self.block, middle).is_none() {
            self.fault_us = Some(t_us);
        }
        let (Some(from), Some(seen)) = (self.fault_us, self.faults.last_mut()) else {
            return;
        };
        seen.peak_mv = Some(seen.peak_mv.map_or(mv, |peak| peak.max(mv)));
        #[allow(clippy::cast_precision_loss)] // microseconds of a few seconds
        let after_ms = t_us.saturating_sub(from) as f64 / 1000.0;
        seen.zero_ms = zero.then(|| seen.zero_ms.unwrap_or(after_ms));
    }

    /// The guide may have gone from one stage and fault to another.
    fn turned(&mut self, before: (Stage, usize), guide: &Guide) {
        let now = guide.stage();
        let left = guide.turn().0 > before.1;
        match (before.0, now) {
            (Stage::Break(_), Stage::Run | Stage::Done) => {
                if let Some(seen) = self.faults.last_mut() {
                    seen.left_out = true;
                }
            }
            // Left out before it was asked for.
            (Stage::Run, Stage::Run | Stage::Done) if left => {
                let fault = guide.marks().0.last().and_then(|mark| mark.fault);
                self.faults
                    .extend(fault.map(|fault| FaultSeen::new(fault, true)));
            }
            (before, Stage::Break(fault)) if before != now => {
                self.fault_us = None;
                self.faults.push(FaultSeen::new(fault, false));
            }
            _ => {}
        }
    }

    /// Leaves out what the guide waits for.
    pub fn skip(&mut self) {
        if let Some(mut guide) = self.guide.take() {
            let before = (guide.stage(), guide.turn().0);
            guide.skip();
            self.turned(before, &guide);
            self.guide = Some(guide);
        }
    }

    /// The sample seen last; absent before the first.
    #[must_use]
    pub fn now(&self) -> Option<&ProofNow> {
        self.now.as_ref()
    }

    /// The picture over time, the oldest first.
    #[must_use]
    pub fn points(&self) -> &VecDeque<ProofPoint> {
        &self.points
    }

    /// Where the controls stood, in time.
    #[must_use]
    pub fn stood(&self) -> &[Dwell] {
        &self.stood
    }

    /// The faults so far, in order.
    #[must_use]
    pub fn faults(&self) -> &[FaultSeen] {
        &self.faults
    }

    /// What to do now, the fault whose turn it is from 1, and how many there are; absent in a run without faults.
    #[must_use]
    pub fn stage(&self) -> Option<(Stage, usize, usize)> {
        let guide = self.guide.as_ref()?;
        let (at, of) = guide.turn();
        Some((guide.stage(), (at + 1).min(of), of))
    }

    /// Whether the faults are through. A run without faults never is.
    #[must_use]
    pub fn done(&self) -> bool {
        self.stage().is_some_and(|(stage, ..)| stage == Stage::Done)
    }

    /// What happened when; none without faults.
    #[must_use]
    pub fn marks(&self) -> Marks {
        let guide = self.guide.as_ref();
        guide.map(|guide| guide.marks().clone()).unwrap_or_default()
    }

    /// The columns taken as the block's inputs in its order, and the one taken as the output.
    #[must_use]
    pub fn names(&self) -> (&[String], &str) {
        (&self.names.0, &self.names.1)
    }

    /// Output at zero and at full command, millivolts.
    #[must_use]
    pub fn ends_mv(&self) -> (f64, f64) {
        (self.ruler.zero_mv(), self.ruler.full_mv())
    }

    /// Cells of travel that were stood in, and how many there are: quarters of each factor's command, halves from three
    /// factors on.
    #[must_use]
    pub fn covered(&self) -> (usize, usize) {
        let factors = twin::blend::factors(&self.block).len().max(1);
        let bands = if factors > 2 { 2 } else { BANDS };
        let cell = |stood: &Dwell| {
            let each = stood.factors_pct.iter();
            each.fold(0, |cell, pct| cell * bands + band(*pct, bands))
        };
        let mut seen: Vec<usize> = self.stood.iter().map(cell).collect();
        seen.sort_unstable();
        seen.dedup();
        (seen.len(), bands.pow(u32::try_from(factors).unwrap_or(1)))
    }
}

impl FaultSeen {
    fn new(fault: Fault, left_out: bool) -> Self {
        Self {
            fault,
            zero_ms: None,
            peak_mv: None,
            came_back: false,
            left_out,
        }
    }
}

/// One sample as it is looked at.
struct Codes<'a> {
    inputs: &'a [Code],
    middle: &'a [u16],
    output: Code,
}

/// The band of a command in percent, from 0.
#[must_use]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // 0 to 100, few bands
pub fn band(pct: f64, bands: usize) -> usize {
    ((pct / 100.0 * bands as f64).max(0.0) as usize).min(bands.saturating_sub(1))
}

/// The command of each factor alone, percent.
fn factors_pct(block: &Block, codes: &[u16]) -> Vec<f64> {
    let factors = twin::blend::factors(block);
    let alone = factors.iter().filter_map(|at| {
        let shown = twin::blend::at(block, &[(*at, *codes.get(*at)?)])?;
        Some(twin::blend::percent(shown.command_q15))
    });
    alone.collect()
}

/// Columns with the role that a run gives them.
fn roles(taking: &Taking) -> Vec<(&str, Role)> {
    let role = |(name, track): &(String, Option<measure::units::Track>)| match name.as_str() {
        _ if track.is_some() => Role::Signal,
        "supply" | "vcc" | "vdd" => Role::Supply,
        _ => Role::Output,
    };
    let columns = taking.channels.iter();
    columns
        .map(|column| (column.0.as_str(), role(column)))
        .collect()
}

fn hull(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0].min(b[0]), a[1].max(b[1])]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{FlashedBoard, Hand, trolley_block};
    use crate::link::LineSource;
    use measure::units::Track;

    fn taking() -> Taking {
        let signal = |name: &str| (name.to_owned(), Some(Track::One));
        Taking {
            channels: vec![
                signal("pedal_a"),
                signal("pedal_b"),
                signal("dial"),
                ("output".to_owned(), None),
            ],
            bits: 10,
            vref_mv: 5000.0,
            rate_hz: 1000.0,
            board_time: true,
            source: "simulated".to_owned(),
            tag: None,
        }
    }

    fn watched(script: Vec<Hand>, faults: &[Fault], latches: bool) -> ProofWatch {
        let seconds = FlashedBoard::script_s(&script);
        let block = trolley_block().unwrap();
        let mut board = FlashedBoard::new(&block, script, 1000.0, 1).unwrap();
        if !latches {
            board = board.without_latch();
        }
        let mut watch = ProofWatch::new(&block, &taking(), faults).unwrap();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        for _ in 0..(seconds * 1001.0) as usize {
            let mut line = Vec::new();
            board.next_line(&mut line);
            let line = String::from_utf8(line).unwrap();
            let numbers = line.split(['*', '\n']).next().unwrap().split(',');
            let Ok(row) = numbers
                .map(str::parse::<u32>)
                .collect::<Result<Vec<_>, _>>()
            else {
                continue; // the header
            };
            let codes = row[1..].iter().map(|code| vec![Code(*code)]).collect();
            watch.push(&Batch {
                t_us: vec![u64::from(row[0])],
                step: vec![],
                codes,
            });
        }
        watch
    }

    /// Twenty places of five pedal and four dial positions, one of rest before them.
    #[test]
    fn a_good_board_stays_inside_and_its_places_are_taken_down() {
        let watch = watched(Hand::comparing(), &[], true);
        let outside = watch.points().iter().filter(|point| {
            let allowed = point.allowed_mv;
            allowed.is_some_and(|[low, high]| {
                point.measured_mv[1] < low || point.measured_mv[0] > high
            })
        });
        assert_eq!(outside.count(), 0);
        assert!(
            (20..=22).contains(&watch.stood().len()),
            "{:?}",
            watch.stood()
        );
        let off = watch
            .stood()
            .iter()
            .map(|s| (s.measured_mv - s.expected_mv).abs());
        assert!(off.fold(0.0, f64::max) < 34.0, "1 % of 3.4 V");
        let (seen, of) = watch.covered();
        assert_eq!(of, 16);
        assert!(seen >= 8, "{seen}");
        assert!(!watch.done());
    }

    /// Persistence of eight samples at 1 kHz and one to write it: zero after 7 to 11 ms.
    #[test]
    fn faults_are_timed_and_a_board_that_comes_back_is_seen() {
        let good = watched(Hand::faults(&Fault::ALL), &Fault::ALL, true);
        assert!(good.done());
        assert_eq!(good.faults().len(), 3);
        for seen in good.faults() {
            let ms = seen.zero_ms.unwrap();
            assert!((7.0..=11.0).contains(&ms), "{seen:?}");
            assert!(!seen.came_back && !seen.left_out, "{seen:?}");
        }
        let bad = watched(Hand::faults(&[Fault::Open]), &[Fault::Open], false);
        assert!(bad.faults()[0].came_back, "{:?}", bad.faults());
    }

    #[test]
    fn what_is_left_out_is_told_and_marked() {
        let mut watch = ProofWatch::new(&trolley_block().unwrap(), &taking(), &Fault::ALL).unwrap();
        for _ in 0..9 {
            watch.skip();
        }
        assert!(watch.done());
        assert!(watch.faults().iter().all(|seen| seen.left_out));
        assert_eq!(watch.faults().len(), 3);
        assert_eq!(watch.marks().0.len(), 6);
    }

    #[test]
    fn a_stream_that_does_not_fit_is_refused_and_a_ragged_batch_survived() {
        let mut other = taking();
        other.channels.remove(2);
        let why = ProofWatch::new(&trolley_block().unwrap(), &other, &[]).unwrap_err();
        assert!(why.contains("3 inputs"), "{why}");
        let mut watch = ProofWatch::new(&trolley_block().unwrap(), &taking(), &[]).unwrap();
        watch.push(&Batch {
            t_us: vec![5, u64::MAX, 3],
            step: vec![],
            codes: vec![
                vec![Code(1); 3],
                vec![Code(u32::MAX); 9],
                vec![Code(0); 3],
                vec![Code(7); 3],
            ],
        });
        watch.push(&Batch::default());
        assert!(watch.now().is_some());
    }
}
