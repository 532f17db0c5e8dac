//! A capture seen as a picture: true lowest and highest code of each column of time.

use crate::capture::Capture;
use measure::units::{Code, Step, seconds_from_us};

/// All channels over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Seconds across: from the first sample to the last.
    pub length_s: f64,
    /// Largest code of the board.
    pub top: u32,
    /// Channels in the capture's order: name and columns.
    pub channels: Vec<(String, Vec<Option<MinMax>>)>,
    /// The steps, idle ones apart; passages of one step after another are one run.
    pub runs: Vec<StepRun>,
}

/// What a column holds: nothing between is lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MinMax {
    pub low: u32,
    pub high: u32,
}

/// Passages of one step that follow each other, only idle samples between.
#[derive(Debug, Clone, PartialEq)]
pub struct StepRun {
    pub step: Step,
    pub passages: usize,
    /// Begin, seconds from the first sample.
    pub from_s: f64,
    /// End, seconds from the first sample.
    pub to_s: f64,
}

impl Trace {
    /// A capture in so many columns of equal time (at least 1). A column without a sample stays empty.
    pub fn of(capture: &Capture, columns: usize) -> Self {
        let channels = capture.meta.channels.iter().zip(&capture.codes);
        let first = capture.t_us.first().copied().unwrap_or(0);
        let at = |sample: usize| {
            let t = capture.t_us.get(sample).copied().unwrap_or(first);
            seconds_from_us(t.saturating_sub(first))
        };
        let mut runs: Vec<StepRun> = Vec::new();
        for passage in capture.passages.iter().filter(|p| p.step != Step::Idle) {
            let (from_s, to_s) = (
                at(passage.range.start),
                at(passage.range.end.saturating_sub(1)),
            );
            match runs.last_mut() {
                Some(run) if run.step == passage.step => {
                    run.to_s = to_s;
                    run.passages += 1;
                }
                _ => runs.push(StepRun {
                    step: passage.step,
                    passages: 1,
                    from_s,
                    to_s,
                }),
            }
        }
        Self {
            length_s: capture.duration_s(),
            top: 1_u32
                .checked_shl(capture.meta.board.bits)
                .unwrap_or(0)
                .wrapping_sub(1),
            channels: channels
                .map(|((name, _), codes)| (name.clone(), min_max(&capture.t_us, codes, columns)))
                .collect(),
            runs,
        }
    }
}

/// Lowest and highest code of each of `columns` equal parts of the time.
fn min_max(t_us: &[u64], codes: &[Code], columns: usize) -> Vec<Option<MinMax>> {
    let columns = columns.max(1);
    let mut found = vec![None; columns];
    let (Some(first), Some(last)) = (t_us.first(), t_us.last()) else {
        return found;
    };
    let length = u128::from(last.saturating_sub(*first)).max(1);
    for (t, code) in t_us.iter().zip(codes) {
        let into = u128::from(t.saturating_sub(*first));
        let column = usize::try_from(into * columns as u128 / length).unwrap_or(columns);
        let bin = &mut found[column.min(columns - 1)];
        *bin = Some(bin.map_or(
            MinMax {
                low: code.0,
                high: code.0,
            },
            |range: MinMax| MinMax {
                low: range.low.min(code.0),
                high: range.high.max(code.0),
            },
        ));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(t_us: &[u64], codes: &[u32], columns: usize) -> Vec<Option<(u32, u32)>> {
        let codes: Vec<Code> = codes.iter().copied().map(Code).collect();
        let found = min_max(t_us, &codes, columns);
        found
            .into_iter()
            .map(|r| r.map(|r| (r.low, r.high)))
            .collect()
    }

    #[test]
    fn one_sample_off_is_never_lost() {
        // 0 .. 9 ms in 2 columns: 0 to 4 ms, and 5 to 9 ms with the last sample. By hand.
        let t: Vec<u64> = (0..10).map(|k| k * 1000).collect();
        let codes = [5, 5, 900, 5, 5, 6, 6, 1, 6, 6];
        assert_eq!(pairs(&t, &codes, 2), [Some((5, 900)), Some((1, 6))]);
    }

    #[test]
    fn a_gap_stays_a_gap() {
        let found = pairs(&[0, 1000, 9000, 10_000], &[1, 2, 3, 4], 5);
        assert_eq!(found, [Some((1, 2)), None, None, None, Some((3, 4))]);
    }

    #[test]
    fn nothing_one_sample_and_no_columns() {
        assert_eq!(pairs(&[], &[], 3), [None, None, None]);
        assert_eq!(pairs(&[7], &[4], 2), [Some((4, 4)), None]);
        assert_eq!(pairs(&[7, 8], &[4, 5], 0), [Some((4, 5))]);
    }
}
