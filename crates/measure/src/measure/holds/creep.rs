//! Creep: `rest_creep`, how far the rest level still moves once a release is over.

use crate::figure::{Evidence, Figure, Shrink};
use crate::measure::holds::hold::{self, Hold};
use crate::measure::holds::releases::{EndLevels, Release};
use crate::measure::holds::returns::Holds;
use crate::measure::recording::Recording;
use crate::measure::statistics::interval::Budget;
use crate::measure::statistics::moments::{mean, real, sd};
use crate::measure::statistics::quantise;
use crate::units::Code;
use crate::units::maths;
use std::ops::Range;

/// The two windows, in microseconds after the code fell below 10 % of the span.
const EARLY_US: Range<u64> = 1_000_000..1_500_000;
const LATE_US: Range<u64> = 9_500_000..10_000_000;
/// Fewest samples of a window.
const FEWEST: usize = 8;
/// Longest time between samples that is no gap: what comes in a longer one was not seen to be quiet.
const GAP_US: u64 = 500_000;
/// Share of the travel beyond which the control was not left alone.
const TOUCHED: f64 = 0.1;

/// `rest_creep`: mean over releases of the late window's mean less the early one's. `None` without ten quiet seconds after a
/// release.
///
/// Of one release the uncertainty is that of the two means, correlation of the samples included; of two or more the scatter
/// between releases stands alone, as for levels. Rounding is a bound where noise does not dither it.
pub fn at_rest(recording: &Recording<'_>, codes: &[Code], holds: &Holds) -> Option<Figure> {
    let ends = holds.ends?;
    let seen = holds.returns.iter();
    let seen = seen.filter_map(|release| windows(recording, codes, release, ends));
    figure(&seen.collect::<Vec<_>>())
}

fn figure(seen: &[[Hold; 2]]) -> Option<Figure> {
    let moved: Vec<f64> = seen
        .iter()
        .map(|[early, late]| late.mean - early.mean)
        .collect();
    let m = moved.len();
    let (budget, words) = match seen {
        [] => return None,
        [windows] => {
            let scatter = windows.iter().map(|hold| Some((hold.u_mean?, hold.u_dof)));
            let budget = Budget {
                scatter: scatter.collect::<Option<_>>()?,
                bounds: windows.iter().map(Hold::rounding_bound).collect(),
            };
            (budget, "one release".to_owned())
        }
        _ => {
            let between = sd(&moved);
            let windows: Vec<&Hold> = seen.iter().flatten().collect();
            // Of two releases the scatter is too badly known to count as dither.
            let dither = if m > 2 { between } else { 0.0 };
            let noise = maths::hypot(
                quantise::least_input_sd(hold::lowest_noise(&windows)),
                dither,
            );
            let budget = Budget {
                scatter: vec![(between / real(m).sqrt(), real(m) - 1.0)],
                bounds: vec![quantise::mean_error_bound(noise); 2],
            };
            (
                budget,
                format!("{m} releases, scatter between them {between:.2}"),
            )
        }
    };
    let method = format!("mean of 9.5 s to 10 s less mean of 1 s to 1.5 s after {words}");
    let shrink = match m {
        1 => Shrink::mean(Evidence::Returns, 1.0, budget.floor_u()),
        _ => Shrink::pieces(Evidence::Returns, m, budget.floor_u()),
    };
    Some(budget.figure(mean(&moved), m, method).shrinking(shrink))
}

/// The early and the late window after a release that was seen whole and left alone.
fn windows(
    recording: &Recording<'_>,
    codes: &[Code],
    release: &Release,
    ends: EndLevels,
) -> Option<[Hold; 2]> {
    let stretch = release.fall.as_ref()?.end..release.tail.end;
    let times = recording.t_us.get(stretch.clone())?;
    let fell = *times.first()?;
    let index = |after_us: u64| {
        let samples = times.partition_point(|t| t.saturating_sub(fell) < after_us);
        stretch.start + samples
    };
    // The last window is whole when another sample at its pace would lie beyond it.
    let period_us = times.last()?.saturating_sub(fell) / (times.len() as u64 - 1).max(1);
    let quiet = index(EARLY_US.start)..index(LATE_US.end);
    let lasted = times.last()?.saturating_sub(fell) + period_us >= LATE_US.end;
    let gap = times
        .windows(2)
        .any(|pair| pair[1].saturating_sub(pair[0]) > GAP_US);
    if !lasted || gap || ends.beyond(TOUCHED, recording.t_us, codes, quiet) {
        return None;
    }
    let window = |us: Range<u64>| {
        let range = index(us.start)..index(us.end);
        let long_enough = range.len() >= FEWEST;
        let hold = hold::measure(recording.t_us, codes, range, recording.board.scale);
        hold.filter(|_| long_enough)
    };
    Some([window(EARLY_US)?, window(LATE_US)?])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::holds::returns::collect;
    use crate::measure::recording::BoardFacts;
    use crate::units::{Passage, Scale, Step};

    /// 1 kHz: 1 s at rest, 1 s full, 1 s full and let go in the step `release`; then `tail` from the next sample on.
    fn creep(tail: &[u32]) -> Option<Figure> {
        let mut codes: Vec<Code> = Vec::new();
        codes.extend([Code(100); 1000]);
        codes.extend([Code(900); 2000]);
        codes.extend(tail.iter().map(|code| Code(*code)));
        let t_us: Vec<u64> = (0..codes.len() as u64).map(|i| i * 1000).collect();
        let passage = |step, range| Passage { step, range };
        let passages = [
            passage(Step::Rest, 0..1000),
            passage(Step::Full, 1000..2000),
            passage(Step::Release, 2000..codes.len()),
        ];
        let board = BoardFacts::new(Scale::new(10, 5000.0).unwrap(), 1000.0);
        let recording = Recording::new(board, &t_us, &passages);
        at_rest(&recording, &codes, &collect(&recording, &codes))
    }

    fn level(code: u32, seconds: usize) -> Vec<u32> {
        vec![code; seconds * 1000]
    }

    /// Code 103 up to 5 s, then 101: it moves by -2. Constant codes hide half a code in each of both means: two rectangles of
    /// 0.5, u = sqrt(2 / 12) = 0.408.
    #[test]
    fn a_step_between_the_windows_by_hand() {
        let figure = creep(&[level(103, 5), level(101, 6)].concat()).unwrap();
        assert!((figure.value + 2.0).abs() < 1e-12, "{figure:?}");
        assert!((figure.u.unwrap() - (1.0_f64 / 6.0).sqrt()).abs() < 1e-9);
        assert!(figure.low.unwrap() < -2.7 && figure.high.unwrap() > -1.3);
    }

    /// Two releases that move by -2 and -1: mean -1.5, sd 0.7071, over root two 0.5; with one degree of freedom.
    #[test]
    fn two_releases_by_hand() {
        let windows = |early, late| [Hold::example(early, 2.0), Hold::example(late, 2.0)];
        let figure = figure(&[windows(103.0, 101.0), windows(102.0, 101.0)]).unwrap();
        assert!((figure.value + 1.5).abs() < 1e-12);
        assert!((figure.u.unwrap() - 0.5).abs() < 1e-3, "{figure:?}");
        // t(1, 97.5 %) = 12.706: +/- 6.353.
        assert!((figure.high.unwrap() - 4.853).abs() < 0.01, "{figure:?}");
        assert_eq!(figure.n, 2);
    }

    /// One release: 2 codes of noise over 1000 samples in each window, 0.0632 each, together 0.0894; t(60) = 2.0003.
    #[test]
    fn one_release_by_hand() {
        let figure = figure(&[[Hold::example(103.0, 2.0), Hold::example(101.0, 2.0)]]).unwrap();
        assert!((figure.u.unwrap() - 0.089_443).abs() < 1e-5, "{figure:?}");
        assert!(
            (figure.high.unwrap() + 2.0 - 0.178_9).abs() < 1e-3,
            "{figure:?}"
        );
    }

    #[test]
    fn without_ten_quiet_seconds_there_is_none() {
        assert_eq!(figure(&[]), None);
        assert_eq!(creep(&[]), None, "never let go");
        assert_eq!(creep(&level(103, 9)), None, "nine seconds");
        let touched = [level(103, 5), level(300, 1), level(103, 6)].concat();
        assert_eq!(creep(&touched), None, "touched on the way");
        let pressed = [level(103, 5), level(900, 1), level(103, 6)].concat();
        assert_eq!(creep(&pressed), None, "pressed again");
        assert!(creep(&level(0, 11)).is_some(), "saturated is a level too");
        let still = creep(&level(100, 11)).unwrap();
        assert!(still.value.abs() < 1e-12 && still.high.unwrap() > 0.5);
    }
}
