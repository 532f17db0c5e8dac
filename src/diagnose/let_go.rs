//! Where a control stands while nobody asks for anything: after each release, and while its cable is moved.

use super::levels::Level;
use crate::profile::Profile;
use measure::Recording;
use measure::units::{Code, Role, Step, seconds_from_us};

/// Nearer than this to an end is at it, as a share of the way from rest to full.
const NEAR: f64 = 0.2;
/// Share of the time after releases, and of that of shaking, that it must stand at full.
const MOSTLY: f64 = 0.5;
const STANDS: f64 = 0.7;
/// The same of shaking where nothing was released.
const ALWAYS: f64 = 0.95;
/// Share of the time about the releases that it must be pressed to "rest": a wire that came off at full stands there all the time.
const PRESSED: f64 = 0.02;
/// So long it must have stood at full before rest was taken for the first time, seconds: who is asked to let go has done so by then.
const BEFORE_S: f64 = 2.0;
/// Less than this from rest to full is no way at all, as a share of all codes.
const NO_WAY: f64 = 0.05;

/// When every track of a control that comes back by itself stood at "full" though it was let go: the person pressed at rest, and let go at
/// full. `None` where one did not: who exchanges the ends does it to every track.
pub fn ends_exchanged(recording: &Recording<'_>, profile: &Profile) -> Option<&'static str> {
    let comes_back = profile.card.contains(&Step::Release);
    let signals = recording.channels.iter();
    let signals = signals.filter(|channel| comes_back && channel.role == Role::Signal);
    let seen = signals.map(|channel| of_track(recording, channel.codes));
    let seen: Option<Vec<&str>> = seen.collect();
    seen?.first().copied()
}

/// The same of one track.
///
/// Both what followed the releases and the shaking must say so: somebody who presses for long and lets go for a moment stands at full, too.
/// Or it stood there before rest was taken at all, as a control that works backwards does, until somebody pressed it for the card's sake.
fn of_track(recording: &Recording<'_>, codes: &[Code]) -> Option<&'static str> {
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
    let (rest, full) = (level(Step::Rest)?, level(Step::Full)?);
    if (full - rest).abs() < NO_WAY * f64::from(recording.board.scale.codes()) {
        return None;
    }
    let travel = |code: Code| (code.as_f64() - rest) / (full - rest);
    let stands = |step| {
        let (mut all, mut at_rest, mut at_full) = (0_u32, 0_u32, 0_u32);
        for code in of(step) {
            let travel = travel(code);
            all += 1;
            at_rest += u32::from(travel < NEAR);
            at_full += u32::from(travel > 1.0 - NEAR);
        }
        let share = |n: u32| f64::from(n) / f64::from(all.max(1));
        (all > 0).then(|| (share(at_rest), share(at_full)))
    };
    if stood_before_rest(recording, codes, travel) {
        return Some("before rest was taken");
    }
    match (stands(Step::Release), stands(Step::Shake)) {
        (Some((at_rest, at_full)), Some((_, shaken_at_full))) => {
            let released = at_full > MOSTLY && (PRESSED..at_full).contains(&at_rest);
            (released && shaken_at_full > STANDS)
                .then_some("let go, after the releases and while the cable was moved,")
        }
        (None, Some((_, shaken_at_full))) => (shaken_at_full > ALWAYS)
            .then_some("while the cable was moved (or was it held pressed then?)"),
        _ => None,
    }
}

/// Whether a control stood at full for long before its rest was taken for the first time.
fn stood_before_rest(
    recording: &Recording<'_>,
    codes: &[Code],
    travel: impl Fn(Code) -> f64,
) -> bool {
    let passages = recording.passages.iter();
    let before = passages.take_while(|passage| passage.step != Step::Rest);
    let idle = before.filter(|passage| passage.step == Step::Idle);
    let at_full = |at: usize| codes.get(at).is_some_and(|code| travel(*code) > 1.0 - NEAR);
    let stood = idle.map(|passage| {
        let there: Vec<usize> = passage.range.clone().filter(|at| at_full(*at)).collect();
        let time = |at: &usize| recording.t_us.get(*at).copied().unwrap_or_default();
        let lasted = there.last().map(time).zip(there.first().map(time));
        let all = passage.range.len();
        // Somebody who plays with it is not standing there.
        let mostly = 2 * there.len() > all;
        lasted
            .filter(|_| mostly)
            .map_or(0.0, |(to, from)| seconds_from_us(to.saturating_sub(from)))
    });
    stood.sum::<f64>() >= BEFORE_S
}
