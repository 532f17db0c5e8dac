//! Where a control stands while nobody asks for anything: after each release, and while its cable is moved.

use super::levels::Level;
use measure::Recording;
use measure::units::{Code, Step};

/// Nearer than this to an end is at it, as a share of the way from rest to full.
const NEAR: f64 = 0.2;
/// Share of the time after releases, and of that of shaking, that it must stand at full.
const MOSTLY: f64 = 0.5;
const STANDS: f64 = 0.7;
/// The same of shaking where nothing was released.
const ALWAYS: f64 = 0.95;
/// Share of the time about the releases that it must be pressed to "rest": a wire that came off at full stands there all the time.
const PRESSED: f64 = 0.02;
/// Less than this from rest to full is no way at all, as a share of all codes.
const NO_WAY: f64 = 0.05;

/// Whether a control that comes back by itself stands at "full" when it was let go: the person pressed at rest, and let go at full.
///
/// Both what followed the releases and the shaking must say so: somebody who presses for long and lets go for a moment stands at full, too.
pub fn ends_exchanged(recording: &Recording<'_>, codes: &[Code]) -> bool {
    let of = |step: Step| {
        let passages = recording.passages.iter().filter(move |p| p.step == step);
        passages.flat_map(|p| {
            codes
                .get(p.range.clone())
                .unwrap_or_default()
                .iter()
                .copied()
        })
    };
    let level = |step| Level::of(of(step)).map(|level| level.median);
    let (Some(rest), Some(full)) = (level(Step::Rest), level(Step::Full)) else {
        return false;
    };
    if (full - rest).abs() < NO_WAY * f64::from(recording.board.scale.codes()) {
        return false;
    }
    let stands = |step| {
        let (mut all, mut at_rest, mut at_full) = (0_u32, 0_u32, 0_u32);
        for code in of(step) {
            let travel = (code.as_f64() - rest) / (full - rest);
            all += 1;
            at_rest += u32::from(travel < NEAR);
            at_full += u32::from(travel > 1.0 - NEAR);
        }
        let share = |n: u32| f64::from(n) / f64::from(all.max(1));
        (all > 0).then(|| (share(at_rest), share(at_full)))
    };
    match (stands(Step::Release), stands(Step::Shake)) {
        (Some((at_rest, at_full)), Some((_, shaken_at_full))) => {
            at_full > MOSTLY && (PRESSED..at_full).contains(&at_rest) && shaken_at_full > STANDS
        }
        (None, Some((_, shaken_at_full))) => shaken_at_full > ALWAYS,
        _ => false,
    }
}
