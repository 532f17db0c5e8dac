//! Two tracks that part outside the strokes: the pair's figures are of the strokes alone, and a track that dies after them shows nowhere else.

use measure::figure::FigureName;
use measure::figure::numbers::fixed;
use measure::judge::{Finding, Outcome};
use measure::units::{Step, seconds_from_us};
use measure::{Channel, Measured, MeasuredPair, Recording};

/// Tracks further apart than this are not one, % of travel: what noise, lag and a quick release do stays below. Our own choice.
const APART_PCT: f64 = 10.0;
/// And for so long in one go, seconds: a contact that bounces is a dropout.
const LONG_S: f64 = 0.2;
/// Longest step between two samples of one go, seconds.
const TOGETHER_S: f64 = 0.1;

const ADVICE: &str = "look at the plug and at both signal wires, and measure again; if it stays, the part is no good";

/// A stretch in which tracks were apart.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Apart {
    from_s: f64,
    to_s: f64,
    worst_pct: f64,
}

/// Fails the tracks' disagreement where they part for long outside the strokes.
pub(super) fn tell_of_parted_tracks(
    recording: &Recording<'_>,
    measured: &Measured,
    findings: &mut [Finding],
) {
    for pair in &measured.pairs {
        let name = format!("{}/{}", pair.a, pair.b);
        let passes = |f: &&mut Finding| {
            f.channel == name
                && f.figure == FigureName::TrackDisagreement
                && matches!(f.outcome, Outcome::Pass | Outcome::Undecided)
        };
        let Some(finding) = findings.iter_mut().find(passes) else {
            continue;
        };
        if let Some(apart) = longest(recording, pair) {
            finding.outcome = Outcome::Fail;
            finding.reason = format!(
                "from {} s on the tracks are up to {} % of travel apart for {} s; in the strokes: {}",
                fixed(apart.from_s, 1),
                fixed(apart.worst_pct, 0),
                fixed(apart.to_s - apart.from_s, 1),
                finding.reason
            );
            finding.advice = Some(ADVICE.to_owned());
        }
    }
}

/// The longest stretch in which the tracks do not lie on the line that the strokes gave.
fn longest(recording: &Recording<'_>, pair: &MeasuredPair) -> Option<Apart> {
    let channel = |name: &str| -> Option<&Channel<'_>> {
        recording
            .channels
            .iter()
            .find(|channel| channel.name == name)
    };
    let (a, b) = (channel(&pair.a)?, channel(&pair.b)?);
    let gain = pair.figures.value(FigureName::TrackGain)?;
    let offset = pair.figures.value(FigureName::TrackOffset)?;
    let span = measured_span(recording, b)?;
    let first = *recording.t_us.first()?;
    let (mut longest, mut open): (Option<Apart>, Option<Apart>) = (None, None);
    let tied = |step| matches!(step, Step::Ground | Step::Reference);
    let passages = recording.passages.iter().filter(|p| !tied(p.step));
    for at in passages.flat_map(|passage| passage.range.clone()) {
        let (Some(a), Some(b), Some(t_us)) =
            (a.codes.get(at), b.codes.get(at), recording.t_us.get(at))
        else {
            continue;
        };
        let now = seconds_from_us(t_us.saturating_sub(first));
        let pct = 100.0 * (b.as_f64() - gain * a.as_f64() - offset).abs() / span;
        if pct <= APART_PCT {
            open = None;
            continue;
        }
        let goes_on = open.filter(|open| now - open.to_s <= TOGETHER_S);
        let is = Apart {
            from_s: goes_on.map_or(now, |open| open.from_s),
            to_s: now,
            worst_pct: goes_on.map_or(pct, |open| open.worst_pct.max(pct)),
        };
        open = Some(is);
        let length = |apart: Apart| apart.to_s - apart.from_s;
        if length(is) >= LONG_S && longest.is_none_or(|most| length(is) > length(most)) {
            longest = Some(is);
        }
    }
    longest
}

/// How far the strokes go, codes.
fn measured_span(recording: &Recording<'_>, channel: &Channel<'_>) -> Option<f64> {
    let strokes = recording
        .passages
        .iter()
        .filter(|p| p.step == Step::Strokes);
    let codes = strokes.flat_map(|p| channel.codes.get(p.range.clone()).unwrap_or_default());
    let mut codes: Vec<f64> = codes.map(|code| code.as_f64()).collect();
    codes.sort_by(f64::total_cmp);
    // Without a hundredth at each end: lost contact is no travel.
    let aside = codes.len() / 100;
    let span = codes.get(codes.len().checked_sub(1 + aside)?)? - codes.get(aside)?;
    (span > 0.0).then_some(span)
}
