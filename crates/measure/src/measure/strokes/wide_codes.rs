//! Codes of the board that are wide: many voltages read as one, and the next code is a jump away.
//!
//! A control that moves across one stands still there and jumps, which looks like wear of that place. A worn zone scatters the
//! codes; a wide code gathers them: it is met many times as often as its neighbours (code density, as in IEEE 1241). With its
//! width taken out of the signal nothing is left of it, while wear stays.

use crate::measure::statistics::moments::real;
use crate::measure::statistics::robust::median;
use crate::measure::strokes::defects::WornZone;
use crate::measure::strokes::path::Path;
use crate::measure::strokes::path::Piece;
use crate::measure::strokes::segment::{Ends, Stroke};
use crate::measure::strokes::stroke_noise::{Residuals, half_window};
use crate::measure::strokes::wear::STANDS_OUT;
use std::ops::Range;

/// Neighbours on each side that say how often a code is met.
const NEIGHBOURS: usize = 16;
const NEAR: usize = 4;
/// Least width of a wide code in usual ones, and largest.
const WIDE: f64 = 3.0;
const WIDEST: u32 = 24;
/// Standard deviations of a count by which a wide code is met more often.
const SURE: f64 = 3.0;
/// Travel over which one wide code is loud, %.
const REACH_PCT: f64 = 4.0;
/// Times that a code must be met for a wide one of nine to stand out of chance.
const SPARSE: f64 = 1.6;
/// Most wide codes in one zone: more are no board's.
const MOST: usize = 8;
/// Travel at the ends at which it dwells, %.
const END_PCT: f64 = 1.0;
/// Travel on each side of it that tells whether the track around is worn, %.
const BESIDE_PCT: f64 = 3.0;
/// Travel on both sides of a zone that is looked at with it, %.
const MARGIN_PCT: f64 = 6.0;

/// A code of the board that stands for more voltages than others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WideCode {
    /// The code.
    pub code: u32,
    /// How many usual ones wide.
    pub width: f64,
}

/// Some samples of a stroke around a zone.
struct Section {
    piece: Piece,
    runs: Vec<Range<usize>>,
    /// Samples on each side that its whole stroke is smoothed over.
    half: usize,
}

/// Whose a zone is.
pub(crate) enum ZoneOrigin {
    /// The track's: no wide code explains it.
    Track,
    /// The board's: these codes explain it.
    Board(Vec<WideCode>),
    /// Narrow as one of a wide code is, with too few samples to tell how often a code is met; or a wide code explains it, but not
    /// the noise beside it.
    Open,
}

/// Whether wide codes of the board explain a zone.
pub(crate) fn whose(
    paths: &[Path<'_>],
    strokes: &[Vec<Stroke>],
    ends: Ends,
    zone: &WornZone,
) -> ZoneOrigin {
    let cuts: Vec<Section> = paths
        .iter()
        .zip(strokes)
        .flat_map(|(path, strokes)| {
            let cuts = strokes.iter();
            cuts.filter_map(|stroke| cut(path, stroke, ends, zone))
        })
        .collect();
    let (usual, wide) = candidates(&cuts, ends, zone);
    let width_pct = zone.to_pct - zone.from_pct;
    let sparse = usual < SPARSE;
    // Where codes are met rarely many are met often by chance, and several widths together explain anything: one alone must.
    let explained = if sparse {
        wide.into_iter()
            .find_map(|one| explain(&cuts, ends, zone, vec![one]))
    } else {
        explain(&cuts, ends, zone, wide)
    };
    if let Some(wide) = explained {
        return if is_loud_beside(&cuts, ends, zone, &wide) {
            ZoneOrigin::Open
        } else {
            ZoneOrigin::Board(wide)
        };
    }
    if width_pct <= REACH_PCT && sparse {
        return ZoneOrigin::Open;
    }
    ZoneOrigin::Track
}

/// The wide codes among some that explain a zone, with the widths that do so best; `None` where it is worn without them as well.
fn explain(
    cuts: &[Section],
    ends: Ends,
    zone: &WornZone,
    mut wide: Vec<WideCode>,
) -> Option<Vec<WideCode>> {
    let reach = REACH_PCT * real(wide.len());
    if wide.is_empty() || wide.len() > MOST || zone.to_pct - zone.from_pct > reach {
        return None;
    }
    for at in 0..wide.len() {
        let tried = |width: u32| {
            let mut tried = wide.clone();
            tried[at].width = f64::from(width);
            let left = loudness(cuts, ends, zone, &tried);
            (left.unwrap_or(f64::INFINITY), width)
        };
        let best = (1..=WIDEST).map(tried).min_by(|a, b| a.0.total_cmp(&b.0))?;
        wide[at].width = f64::from(best.1);
    }
    let left = loudness(cuts, ends, zone, &wide)? / loudness(cuts, ends, zone, &[])?;
    (left * zone.noise_ratio.powi(2) < STANDS_OUT).then_some(wide)
}

/// Whether the travel next to a zone stands out as well once its wide codes are taken out: wear around a wide code, which is louder.
fn is_loud_beside(cuts: &[Section], ends: Ends, zone: &WornZone, wide: &[WideCode]) -> bool {
    let base = loudness(cuts, ends, zone, &[]).map(|all| all / zone.noise_ratio.powi(2));
    let sides = [
        (zone.from_pct - BESIDE_PCT, zone.from_pct),
        (zone.to_pct, zone.to_pct + BESIDE_PCT),
    ];
    sides.into_iter().any(|(from_pct, to_pct)| {
        let beside = WornZone {
            from_pct,
            to_pct,
            ..*zone
        };
        let left = loudness(cuts, ends, &beside, wide);
        left.zip(base)
            .is_some_and(|(left, base)| left > STANDS_OUT * base)
    })
}

/// The samples of a stroke in and around a zone.
fn cut(path: &Path<'_>, stroke: &Stroke, ends: Ends, zone: &WornZone) -> Option<Section> {
    let range = stroke.turns.start - path.first..stroke.turns.end - path.first;
    let near = zone.from_pct - MARGIN_PCT..zone.to_pct + MARGIN_PCT;
    let piece = path.piece(range.clone());
    let inside = |v: &f64| near.contains(&ends.travel_pct(*v));
    let first = piece.value.iter().position(inside)?;
    let last = piece.value.iter().rposition(inside)?;
    let range = range.start + first..range.start + last + 1;
    let piece = path.piece(range.clone());
    Some(Section {
        half: half_window(stroke.turns.len(), piece.period),
        piece,
        runs: path.runs(range),
    })
}

/// How often a code is met in a zone, and those that are met far more often than their neighbours.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // codes
fn candidates(cuts: &[Section], ends: Ends, zone: &WornZone) -> (f64, Vec<WideCode>) {
    let (a, b) = (ends.code(zone.from_pct - 1.0), ends.code(zone.to_pct + 1.0));
    let low = (a.min(b).max(0.0) as usize).saturating_sub(NEIGHBOURS);
    let high = a.max(b).max(0.0) as usize + NEIGHBOURS;
    let mut met = vec![0_u32; high - low + 1];
    for cut in cuts {
        for (value, off) in cut.piece.value.iter().zip(&cut.piece.off) {
            let place = (*value as usize).checked_sub(low).filter(|_| !off);
            if let Some(met) = place.and_then(|place| met.get_mut(place)) {
                *met += 1;
            }
        }
    }
    let mut wide: Vec<WideCode> = Vec::new();
    for at in NEIGHBOURS..met.len().saturating_sub(NEIGHBOURS) {
        let mean = |from: usize, to: usize| {
            let both = met[at - to..=at - from]
                .iter()
                .chain(&met[at + from..=at + to]);
            f64::from(both.sum::<u32>()) / real(2 * (to + 1 - from))
        };
        // Next to it, where a slow hand makes all codes frequent, and further away, where few samples make all of them rare.
        let usual = mean(1, NEAR).max(mean(1, NEIGHBOURS));
        // Where the control dwells the codes of its ends are met for that.
        let travel_pct = ends.travel_pct(real(low + at));
        if !(END_PCT..=100.0 - END_PCT).contains(&travel_pct) {
            continue;
        }
        let here = f64::from(met[at]);
        if here > (WIDE * usual).max(usual + SURE * usual.max(0.5).sqrt()) {
            wide.push(WideCode {
                code: low as u32 + at as u32,
                width: here / usual.max(0.5),
            });
        }
    }
    let all: u32 = met.iter().sum();
    (f64::from(all) / real(met.len()), wide)
}

/// Mean square in a zone without its wide codes, the median over strokes: the signal is what it would be had they the width of
/// others, and samples that read as one of them are left out.
fn loudness(cuts: &[Section], ends: Ends, zone: &WornZone, wide: &[WideCode]) -> Option<f64> {
    let mut each: Vec<f64> = cuts
        .iter()
        .filter_map(|cut| {
            let mut piece = cut.piece.clone();
            for (value, off) in piece.value.iter_mut().zip(&mut piece.off) {
                let code = *value;
                let wider = |wide: &&WideCode| code > f64::from(wide.code) + 0.5;
                let shift: f64 = wide.iter().filter(wider).map(|wide| wide.width - 1.0).sum();
                let on = |wide: &WideCode| (code - f64::from(wide.code)).abs() <= 0.5;
                *off |= wide.iter().any(on);
                *value += shift;
            }
            bridge(&mut piece);
            let core = 0..piece.value.len();
            let residuals =
                Residuals::smoothed_over(cut.half, &piece, &cut.runs, core.clone(), ends)?;
            let (mut squares, mut count) = (0.0, 0);
            for (travel_pct, residual) in residuals.points(core) {
                if (zone.from_pct..zone.to_pct).contains(&travel_pct) {
                    squares += residual * residual;
                    count += 1;
                }
            }
            (count > 0).then(|| squares / real(count))
        })
        .collect();
    median(&mut each)
}

/// Puts samples that are off on the straight line between those before and after them.
fn bridge(piece: &mut Piece) {
    let mut before = None;
    for at in (0..piece.value.len())
        .filter(|&at| !piece.off[at])
        .collect::<Vec<_>>()
    {
        if let Some(before) = before.filter(|before| at - before > 1) {
            let (from, to) = (piece.value[before], piece.value[at]);
            for between in before + 1..at {
                let part = real(between - before) / real(at - before);
                piece.value[between] = from + part * (to - from);
            }
        }
        before = Some(at);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn samples_on_a_wide_code_are_bridged() {
        let mut piece = Piece {
            value: vec![1.0, 9.0, 9.0, 4.0, 9.0],
            off: vec![false, true, true, false, true],
            period: 0.001,
        };
        bridge(&mut piece);
        assert_eq!(piece.value, [1.0, 2.0, 3.0, 4.0, 9.0]);
    }
}
