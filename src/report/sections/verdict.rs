//! The verdict with what decided it, and every figure that was held against a limit.

use crate::record::Assessment;
use crate::report::assessment_text::{unit_words, verdict_words};
use crate::report::document::{Banner, Found, Gauge, Part, Section};
use crate::report::figures_text::unit;
use crate::report::sheet::Sheet;
use crate::report::zones_text::{dropped, worn};
use measure::figure::FigureName;
use measure::figure::numbers::{DASH, limit, reading};
use measure::judge::{Finding, Outcome, Verdict};

/// Dropouts told one by one beside the verdict.
const FEW_DROPOUTS: usize = 3;

/// Findings in the order in which they matter.
const ORDER: [Outcome; 4] = [
    Outcome::Fail,
    Outcome::Undecided,
    Outcome::NotMeasured,
    Outcome::Pass,
];

pub(super) fn banner(sheet: &Sheet<'_>) -> Banner {
    let assessment = sheet.assessment;
    Banner {
        verdict: assessment.verdict,
        headline: verdict_words(assessment),
        unit: unit_words(assessment),
        why: why(assessment),
    }
}

fn why(assessment: &Assessment) -> Vec<String> {
    let findings = &assessment.findings;
    let of = |outcomes: &[Outcome]| -> Vec<&Finding> {
        let all = findings.iter();
        all.filter(|f| outcomes.contains(&f.outcome)).collect()
    };
    match assessment.verdict {
        Some(Verdict::Pass) => vec![format!(
            "All {} limits are kept, each by the whole 95 % interval of its figure.",
            findings.len()
        )],
        Some(Verdict::Fail) => told(assessment, &of(&[Outcome::Fail])),
        Some(Verdict::Undecided) => {
            told(assessment, &of(&[Outcome::Undecided, Outcome::NotMeasured]))
        }
        None => vec!["No limit was set, so that there is nothing to judge by.".to_owned()],
    }
}

/// The reasons of findings; where wear or dropouts decided, also where they are.
fn told(assessment: &Assessment, findings: &[&Finding]) -> Vec<String> {
    let mut told = Vec::new();
    for finding in findings {
        let reason = &finding.reason;
        told.push(format!("{} {}: {reason}", finding.channel, finding.figure));
        let part = assessment
            .channels
            .iter()
            .find(|(name, _)| *name == finding.channel);
        let Some((name, part)) = part else { continue };
        told.extend(match finding.figure {
            FigureName::WornZonesCount => worn(assessment, name, part),
            FigureName::DropoutsCount => dropped(part, FEW_DROPOUTS),
            _ => Vec::new(),
        });
    }
    told
}

pub(super) fn findings<'a>(sheet: &'a Sheet<'_>) -> Option<Section<'a>> {
    let findings = &sheet.assessment.findings;
    if findings.is_empty() {
        return None;
    }
    let sorted = ORDER
        .iter()
        .flat_map(|outcome| findings.iter().filter(move |f| f.outcome == *outcome));
    let told = sorted.map(|finding| found(sheet, finding)).collect();
    let passed = findings
        .iter()
        .filter(|f| f.outcome == Outcome::Pass)
        .count();
    let words = format!(
        "{passed} of {} limits are kept. A limit is kept when the whole 95 % interval lies inside it, broken when it lies \
         outside; anything else stays undecided.",
        findings.len()
    );
    Some(Section {
        id: "findings",
        title: "Figures held against limits",
        parts: vec![Part::Words(words), Part::Findings(told)],
    })
}

fn found(sheet: &Sheet<'_>, finding: &Finding) -> Found {
    let figures = sheet.assessment.figures(&finding.channel);
    let figure = figures.and_then(|figures| figures.get(finding.figure));
    let told = figure.map(reading);
    let unit = unit(finding.figure);
    let with_unit = |number: &str| format!("{number} {unit}").trim_end().to_owned();
    Found {
        outcome: finding.outcome,
        channel: finding.channel.clone(),
        figure: finding.figure.word(),
        value: told
            .as_ref()
            .map_or_else(|| DASH.to_owned(), |told| with_unit(&told.value)),
        interval: told
            .filter(|_| figure.is_some_and(|figure| figure.u.is_some()))
            .map(|told| told.interval),
        allowed: with_unit(&limit(finding.min, finding.max)),
        gauge: Gauge {
            min: finding.min,
            max: finding.max,
            value: figure.map(|figure| figure.value),
            low: figure.and_then(|figure| figure.low),
            high: figure.and_then(|figure| figure.high),
        },
        reason: finding.reason.clone(),
        advice: finding.advice.clone(),
    }
}
