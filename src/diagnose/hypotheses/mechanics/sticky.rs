//! Sticky return: it comes to rest at another place each time, and every track shows the same.

use crate::diagnose::evidence::{Evidence, Signal};
use crate::diagnose::types::{ActsTowards, CauseWord};
use crate::diagnose::weigh::{Place, Suspicion};
use measure::figure::FigureName;
use measure::figure::numbers::fixed;
use measure::judge::Outcome;

const OF_RETURN: [FigureName; 2] = [FigureName::ReturnScatter, FigureName::ReturnRange];
/// What a control that sticks near its rest moves as well.
const OF_REST: [FigureName; 2] = [FigureName::RestRatio, FigureName::RestCode];
/// Seconds of a return that is no longer brisk. Common practice, no source.
const BRISK_S: f64 = 0.3;

pub(in crate::diagnose::hypotheses) fn suspect(evidence: &Evidence<'_>) -> Vec<Suspicion> {
    let mut signals = evidence.signals.iter().enumerate();
    let first = signals.find_map(|(at, signal)| {
        let explained = evidence.failed(signal.name, &OF_RETURN);
        (!explained.is_empty()).then_some((at, signal))
    });
    let Some((at, signal)) = first else {
        return Vec::new();
    };
    let explained = evidence
        .signals
        .iter()
        .flat_map(|signal| evidence.failed(signal.name, &OF_RETURN));
    let explained = explained.collect::<Vec<_>>();
    let partner = evidence.partner(at).map(|other| &evidence.signals[other]);
    let alike = partner.and_then(|other| Some(share(signal)? / share(other)?));
    let alike = alike.map(|ratio| (0.6..=1.7).contains(&ratio));
    let slow = signal.value(FigureName::ReleaseTime);
    let quiet = passes(evidence, signal.name, FigureName::NoiseRestRms);
    let in_time = passes(evidence, signal.name, FigureName::ReleaseTime);
    let place = match partner {
        Some(_) => Place::default(),
        None => Place::channel(at),
    };
    let suspicion = Suspicion::new(CauseWord::StickyReturn, 0.5, place)
        .weighs(1.5, || scattered(signal))
        .expects(alike, [2.0, 3.0], || {
            "both tracks show it: the mechanics, not the electronics".to_owned()
        })
        .expects(quiet, [1.5, 1.5], || "it is quiet once it rests".to_owned())
        .expects(slow.map(|s| s > BRISK_S), [1.0, 0.0], || {
            let s = slow.map_or_else(String::new, |s| fixed(s, 2));
            format!("it takes {s} s to come back")
        })
        .expects(in_time, [0.0, 2.5], String::new)
        .explains(explained)
        .acts(ActsTowards::Full);
    // Rest ends away from their place come with it when they lie beyond rest, towards full.
    let held_up = evidence
        .signals
        .iter()
        .filter(|signal| held_up(evidence, signal));
    vec![suspicion.explains(held_up.flat_map(|s| evidence.failed(s.name, &OF_REST)))]
}

fn scattered(signal: &Signal<'_>) -> String {
    let of = |name| signal.value(name).zip(signal.span());
    let pct = |(codes, span): (f64, f64)| fixed(codes / span * 100.0, 1);
    match (of(FigureName::ReturnRange), of(FigureName::ReturnScatter)) {
        (Some(range), _) => format!(
            "after each release it rests somewhere else, up to {} % of travel apart",
            pct(range)
        ),
        (None, Some(scatter)) => format!(
            "after each release it rests somewhere else, by {} % of travel (standard deviation)",
            pct(scatter)
        ),
        (None, None) => "after each release it rests somewhere else".to_owned(),
    }
}

/// Scatter of the returns as a share of the span.
fn share(signal: &Signal<'_>) -> Option<f64> {
    Some(signal.value(FigureName::ReturnScatter)? / signal.span().filter(|span| *span > 0.0)?)
}

/// Whether a signal rests on the full side of where it should.
fn held_up(evidence: &Evidence<'_>, signal: &Signal<'_>) -> bool {
    let rests = || {
        let [rest, full] = signal.model.as_ref()?.good;
        let (rest, full) = (rest?.nominal, full?.nominal);
        let seen = signal.ends(evidence.codes)[0]?;
        Some((seen - rest) * (full - rest) > 0.0 && (seen - rest).abs() < 0.3 * (full - rest).abs())
    };
    rests().unwrap_or(false)
}

/// Whether a finding passed; `None` when there is none.
fn passes(evidence: &Evidence<'_>, channel: &str, figure: FigureName) -> Option<bool> {
    let mut findings = evidence.findings.iter();
    let finding = findings.find(|f| f.channel == channel && f.figure == figure)?;
    match finding.outcome {
        Outcome::Pass => Some(true),
        Outcome::Fail => Some(false),
        Outcome::Undecided | Outcome::NotMeasured => None,
    }
}
