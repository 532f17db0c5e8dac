//! What both tracks do together at the full end: a foot that trembles, or a supply that is not quiet. No track's own noise.

use crate::measure::holds::returns::collect;
use crate::measure::recording::{Channel, Recording};
use crate::measure::statistics::least_squares::{LineFit, Moments};
use crate::measure::statistics::moments::real;

/// Least correlation for what they do together to be told from chance, and fewest samples. Our own choice.
const TOGETHER: f64 = 0.5;
const FEWEST: usize = 100;

/// The noise of each track in full holds, in codes rms, without what both do together: of movement by `s` codes of track a, track b shows
/// `gain` times as much, so the covariance is `gain` times the variance of `s`. `None` where they do nothing together.
pub(crate) fn own_noise_at_full(
    recording: &Recording<'_>,
    (a, b): (&Channel<'_>, &Channel<'_>),
    gain: f64,
) -> Option<[f64; 2]> {
    let held = collect(recording, a.codes);
    let mut all = Moments::default();
    let mut lines = 0.0;
    for hold in held.full() {
        let range = hold.range.clone();
        let residuals = |channel: &Channel<'_>| -> Option<Vec<f64>> {
            let codes = channel.codes.get(range.clone())?;
            let points = || {
                codes
                    .iter()
                    .enumerate()
                    .map(|(i, code)| (real(i), code.as_f64()))
            };
            let line = LineFit::through(points())?.line;
            Some(points().map(|(x, y)| y - line.at(x)).collect())
        };
        let (of_a, of_b) = (residuals(a)?, residuals(b)?);
        all = all.with(Moments::of(of_a.iter().copied().zip(of_b.iter().copied())));
        lines += 2.0;
    }
    let dof = all.n - lines;
    let correlation = all.xy / (all.xx * all.yy).sqrt();
    if dof < real(FEWEST) || correlation * gain.signum() < TOGETHER || gain == 0.0 {
        return None;
    }
    let own = |all: f64, together: f64| ((all - together).max(0.0) / dof).sqrt();
    Some([own(all.xx, all.xy / gain), own(all.yy, all.xy * gain)])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::recording::BoardFacts;
    use crate::units::{Code, Passage, Scale, Step, Track};

    /// Own noise of +-2 codes about a level, in patterns of +1 -1 and +1 +1 -1 -1, which have nothing in common; together +-6 and +-3 codes in
    /// blocks of four: rms 2 and 2, and 6 of a.
    #[test]
    fn what_both_do_is_taken_off() {
        let sign = |up: bool| if up { 1 } else { -1 };
        let code = |level: i32, i: i32, own: i32, common: i32| {
            Code(u32::try_from(level + own + common * sign(i / 4 % 2 == 0)).unwrap())
        };
        let of = |common: i32| -> [Vec<Code>; 2] {
            [
                (0..1600)
                    .map(|i| code(800, i, 2 * sign(i % 2 == 0), 2 * common))
                    .collect(),
                (0..1600)
                    .map(|i| code(400, i, 2 * sign(i / 2 % 2 == 0), common))
                    .collect(),
            ]
        };
        let own = |codes: &[Vec<Code>; 2]| {
            let t_us: Vec<u64> = (0..1600).map(|i| i * 1000).collect();
            let passages = [Passage {
                step: Step::Full,
                range: 0..1600,
            }];
            let board = BoardFacts::new(Scale::new(10, 5000.0).unwrap(), 1000.0);
            let recording = Recording::new(board, &t_us, &passages);
            let a = Channel::signal("a", Track::One, &codes[0]);
            let b = Channel::signal("b", Track::Two, &codes[1]);
            own_noise_at_full(&recording, (&a, &b), 0.5)
        };
        let [a, b] = own(&of(3)).unwrap();
        assert!((a - 2.0).abs() < 0.02 && (b - 2.0).abs() < 0.02, "{a} {b}");
        assert_eq!(own(&of(0)), None);
    }
}
