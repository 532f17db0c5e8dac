//! What the same signal has where nothing moves: what a moving contact is to be held against.
//!
//! A track that is worn from end to end has no quiet part of its own to stand out from. Its holds have: board, wiring and
//! supply make their noise there as well, the moving contact does not. Between both ends that noise is taken to change in
//! proportion to the travel, as supply noise does. The dwell between strokes belongs to it: a room that has become loud since
//! the holds were taken is loud there, too.

use crate::measure::recording::{Channel, Recording};
use crate::measure::stamps::{self, Jitter};
use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::quantile;
use crate::measure::strokes::path::Path;
use crate::measure::strokes::segment::Ends;
use crate::measure::strokes::stroke_noise::{Residuals, StrokeNoise, common_sd};
use crate::measure::strokes::travel_map::BINS;
use crate::measure::strokes::wear::StrokeEnergy;
use crate::units::{Code, Step};

/// Most samples of one hold that are looked at.
const ENOUGH: usize = 4096;
/// Fewest samples of one dwell that say something of its noise.
const FEWEST: usize = 8;
/// Share of a hold's samples at an end of the scale from which that hides the noise.
const HIDDEN_SHARE: f64 = 0.01;

/// Noise at rest, over the travel.
pub(crate) struct Still {
    /// Standard deviation at the rest end and at the full end, codes.
    ends: [f64; 2],
    /// Of the time at which a sample was taken, times the codes of one bin, over a sample period: noise of one who crosses a
    /// bin within one sample.
    jitter: f64,
}

impl Still {
    /// From holds and dwells. `None` without either, and on a board that does not stamp its samples: how unevenly it takes
    /// them makes noise of a moving signal that cannot be told from the contact's.
    pub fn of(
        recording: &Recording<'_>,
        channel: &Channel<'_>,
        ends: Ends,
        energies: &[StrokeEnergy],
        floor: f64,
    ) -> Option<Self> {
        if !recording.board.board_time {
            return None;
        }
        let at = |step, end| {
            let paths = paths(recording, channel, step);
            let (hidden, seen): (Vec<_>, Vec<_>) =
                paths.iter().partition(|path| is_hidden(recording, path));
            let held = held(&seen, ends);
            // Without any noise an end of the scale hides it, or rounding does; where it hides that of the holds, that of the dwells, too.
            let dwelt = dwelt(energies, end).filter(|sd| hidden.is_empty() && *sd > 0.5 * floor);
            held.into_iter().chain(dwelt).reduce(f64::max)
        };
        let (rest, full) = (at(Step::Rest, 0), at(Step::Full, 1));
        let both = [rest.or(full)?, full.or(rest)?].map(|sd| sd.max(floor));
        Some(Self {
            ends: both,
            jitter: stamps::jitter(recording.t_us).map_or(0.0, Jitter::share) * ends.span().abs()
                / real(BINS),
        })
    }

    /// Noise variance of quiet contact in a bin that a stroke crossed in some samples, code squared.
    pub fn variance(&self, bin: usize, samples: usize) -> f64 {
        let x = (real(bin) + 0.5) / real(BINS);
        let sd = self.ends[0] + x * (self.ends[1] - self.ends[0]);
        sd * sd + (self.jitter / real(samples)).powi(2)
    }
}

/// The holds of a step.
fn paths<'a>(recording: &Recording<'a>, channel: &Channel<'a>, step: Step) -> Vec<Path<'a>> {
    let passages = recording.passages.iter();
    passages
        .filter(|passage| passage.step == step)
        .filter_map(|passage| Path::new(recording, channel, passage))
        .collect()
}

/// Whether an end of the scale hides the noise of a hold.
fn is_hidden(recording: &Recording<'_>, path: &Path<'_>) -> bool {
    let top = recording.board.scale.max_code();
    let codes = &path.codes()[..path.len().min(ENOUGH)];
    let at_an_end = codes
        .iter()
        .filter(|code| **code == Code(0) || **code == top);
    real(at_an_end.count()) > HIDDEN_SHARE * real(codes.len())
}

/// Noise of holds about the same smooth movement as in strokes.
fn held(paths: &[&Path<'_>], ends: Ends) -> Option<f64> {
    let noises: Vec<StrokeNoise> = paths
        .iter()
        .filter_map(|path| {
            let range = 0..path.len().min(ENOUGH);
            let (piece, runs) = (path.piece(range.clone()), path.runs(range.clone()));
            StrokeNoise::of(&Residuals::of(&piece, &runs, range, ends)?)
        })
        .collect();
    common_sd(&noises).map(|(sd, _)| sd)
}

/// The noise of the quieter dwells at one end, the lower quartile over strokes: in some the control creeps on.
fn dwelt(energies: &[StrokeEnergy], end: usize) -> Option<f64> {
    let dwells = energies.iter().map(|energy| energy.dwell[end]);
    let mut each: Vec<f64> = dwells
        .filter(|(_, count)| *count >= FEWEST)
        .map(|(squares, count)| squares / real(count))
        .collect();
    quantile(&mut each, 0.25).map(f64::sqrt)
}
