//! What is wrong, where, how sure, and what to do about it.
//!
//! Belongs here: findings, figures and the wiring's predictions -> causes in order, with what to do. Does not belong here: how they
//! are shown (`report`, `tui`), limits and verdicts (`judge`).
//!
//! `hypotheses` state what each cause predicts and weigh what was seen (`weigh`); `rank` takes the strongest, then what explains the
//! rest; `words` says it. `evidence` is all that they look at: figures with their places and moments, and what the wiring foretells
//! of a good part and of every single fault (`predicted`).

mod arrivals;
mod dangers;
mod evidence;
mod gone;
mod headline;
mod hum;
mod hypotheses;
mod let_go;
mod levels;
mod losses;
mod predicted;
mod rank;
mod trials;
mod types;
mod weigh;
mod words;

pub use dangers::{Dangers, dangers, without_swap};
pub use let_go::ends_exchanged;
pub use trials::TrialSeen;
#[cfg(test)]
pub use types::Hum;
pub use types::{ActsTowards, Cause, CauseWord, Confidence, Diagnosis, WiringDanger};

use crate::profile::Profile;
use evidence::Evidence;
use measure::figure::FigureName;
use measure::judge::{Finding, Outcome, Verdict};
use measure::units::{Step, Trial};
use measure::{Measured, Recording};
use rank::Ranked;
use weigh::{Place, Suspicion, Symptom};

/// Log odds that a cause needs while nothing has failed yet: what is only open is seldom a fault.
const LEAST_OF_OPEN: f64 = 2.5;

/// What is to be diagnosed: a recording, what was measured of it and what came of that.
#[derive(Clone, Copy)]
pub struct Case<'a> {
    pub recording: &'a Recording<'a>,
    pub measured: &'a Measured,
    pub findings: &'a [Finding],
    pub verdict: Option<Verdict>,
    /// What it was checked as.
    pub profile: Option<&'a Profile>,
    /// The profile that the recording itself names.
    pub recorded_as: Option<&'a str>,
    /// What was tried to tell two causes apart.
    pub trials: &'a [TrialSeen<'a>],
}

/// Headline and causes. The dangers of the wiring are no matter of the recording: see [`dangers`].
pub fn diagnose(case: &Case<'_>) -> Diagnosis {
    let Found {
        causes,
        trial,
        other_profile,
    } = match (case.profile, case.verdict) {
        (Some(profile), Some(Verdict::Fail | Verdict::Undecided)) => {
            let evidence = Evidence::of(
                case.recording,
                case.measured,
                case.findings,
                profile,
                case.recorded_as,
            );
            found(&evidence, case.trials)
        }
        _ => Found::default(),
    };
    let mut headline = headline::headline(
        case.verdict,
        case.findings,
        &causes,
        case.profile.map(|profile| profile.name.as_str()),
    );
    if case.verdict == Some(Verdict::Pass) && left_unshaken(case) {
        headline += "; plug and cable were not tested";
    }
    Diagnosis {
        headline,
        causes,
        wiring_dangers: Vec::new(),
        trial,
        other_profile,
        hum: hum::hum(case.measured, case.findings),
    }
}

/// Whether the card asks to move the cable, and nobody did.
fn left_unshaken(case: &Case<'_>) -> bool {
    let asked = case
        .profile
        .is_some_and(|profile| profile.card.contains(&Step::Shake));
    let mut passages = case.recording.passages.iter();
    asked && !passages.any(|passage| passage.step == Step::Shake)
}

#[derive(Default)]
struct Found {
    causes: Vec<Cause>,
    /// What would tell the first from what else fits.
    trial: Option<Trial>,
    other_profile: Option<String>,
}

fn found(evidence: &Evidence<'_>, tried: &[TrialSeen<'_>]) -> Found {
    let symptoms = symptoms(evidence);
    // What was recorded as something else says nothing about the part.
    if symptoms.is_empty() || evidence.ends_exchanged {
        return Found::default();
    }
    let least = match evidence.broken {
        Outcome::Fail => 0.0,
        _ => LEAST_OF_OPEN,
    };
    let mut suspicions = hypotheses::suspicions(evidence);
    trials::weigh(evidence, tried, &mut suspicions);
    let (mut ranked, unexplained) = rank::causes(suspicions, &symptoms, least);
    if evidence.broken == Outcome::Fail && !unexplained.is_empty() {
        let mut unknown = unknown(evidence, &unexplained);
        let fact = trials::of_unknown(evidence, tried);
        unknown.suspicion.facts.extend(fact.map(str::to_owned));
        ranked.push(unknown);
    }
    let causes = ranked.iter().map(|ranked| cause(evidence, ranked));
    let kind = |ranked: &&Ranked| ranked.suspicion.word == CauseWord::WrongProfile;
    let other = ranked.first().filter(kind);
    Found {
        causes: causes.collect(),
        trial: trials::next(evidence, &ranked, tried),
        other_profile: other.and_then(|ranked| ranked.suspicion.detail.clone()),
    }
}

/// What is to be explained: every broken finding; a count of dropouts in its parts.
fn symptoms(evidence: &Evidence<'_>) -> Vec<Symptom> {
    let findings = evidence.findings.iter().enumerate();
    let broken = findings.filter(|(_, finding)| finding.outcome == evidence.broken);
    broken
        .flat_map(|(at, finding)| {
            let signal = evidence.signals.iter().find(|s| s.name == finding.channel);
            let groups = signal
                .filter(|_| finding.figure == FigureName::DropoutsCount)
                .map(losses::groups)
                .unwrap_or_default();
            let parts: Vec<usize> = match &groups[..] {
                [] => vec![0],
                groups => groups.iter().map(|group| group.part).collect(),
            };
            let symptom = move |part| Symptom { finding: at, part };
            parts.into_iter().map(symptom)
        })
        .collect()
}

/// What nothing that is known here explains.
fn unknown(evidence: &Evidence<'_>, unexplained: &[Symptom]) -> Ranked {
    let mut findings: Vec<usize> = unexplained.iter().map(|symptom| symptom.finding).collect();
    findings.dedup();
    let mut suspicion = Suspicion::new(CauseWord::Unknown, 0.0, Place::default())
        .explains(unexplained.iter().copied())
        .acts(ActsTowards::Either);
    let named = findings.iter().map(|at| &evidence.findings[*at]);
    for finding in named.clone() {
        let label = finding.figure.facts().label;
        suspicion
            .facts
            .push(format!("{} {label}: {}", finding.channel, finding.reason));
    }
    if let Some(first) = named.clone().next() {
        let label = first.figure.facts().label;
        suspicion = suspicion.detailed(format!("{} {label}", first.channel));
    }
    Ranked {
        suspicion,
        confidence: Confidence::Possible,
        rival: None,
    }
}

/// A cause as it is written.
fn cause(evidence: &Evidence<'_>, ranked: &Ranked) -> Cause {
    let suspicion = &ranked.suspicion;
    let said = words::explain(evidence, suspicion);
    let channels = &suspicion.place.channels;
    let of = |each: fn(&evidence::Signal<'_>) -> String| {
        let signals = channels.iter().filter_map(|at| evidence.signals.get(*at));
        let names: Vec<String> = signals.map(each).collect();
        match (&names[..], evidence.signals.len()) {
            ([], 1) => Some(each(&evidence.signals[0])),
            ([], _) => None,
            (names, _) => Some(names.join("/")),
        }
    };
    let mut findings: Vec<usize> = suspicion.explains.iter().map(|s| s.finding).collect();
    findings.sort_unstable();
    findings.dedup();
    let (from_pct, to_pct) = suspicion.place.travel.unzip();
    Cause {
        cause: suspicion.word,
        confidence: ranked.confidence,
        channel: of(|signal| signal.name.to_owned()),
        pin: of(|signal| signal.pin.clone()),
        from_pct,
        to_pct,
        acts_towards: suspicion.acts,
        because: suspicion.facts.clone(),
        remedies: said.remedies,
        tell_apart: (ranked.confidence != Confidence::Certain).then_some(said.settles),
        findings,
        clause: said.clause,
    }
}
