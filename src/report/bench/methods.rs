//! How each figure was come by, and where the method comes from.

use super::source::BenchReport;
use crate::report::assessment::figures::by_channel;
use crate::report::document::{Block, Section};
use measure::figure::FigureName;

/// How figures become a verdict.
const RULES: [&str; 3] = [
    "Uncertainty after the GUM (JCGM 100): type A from the effective number of independent samples, type B from the \
     converter's steps and the board's stated non-linearity. Intervals are of 95 % coverage.",
    "Decision after JCGM 106, guarded both ways: pass when the whole interval lies inside the limit, fail when it lies \
     outside, otherwise undecided. One fail fails the part.",
    "Linearity and hysteresis need a known travel (stations, or a sensor on the same shaft): a stroke by hand gives neither.",
];

pub(super) fn section(report: &BenchReport<'_>) -> Section<'static> {
    let terms = FigureName::ALL
        .iter()
        .filter_map(|name| Some((name.word(), method(report, *name)?)));
    let blocks = vec![
        Block::List("- ", RULES.map(str::to_owned).to_vec()),
        Block::terms(terms),
    ];
    Section::new("How it was measured", blocks).at("methods")
}

/// Definition, formula, source, and what each channel used, channels of one method together; nothing for a figure that nobody
/// measured.
fn method(report: &BenchReport<'_>, name: FigureName) -> Option<String> {
    let mut used: Vec<(Vec<&str>, &str)> = Vec::new();
    for (channel, figures) in by_channel(report.assessment) {
        let Some(figure) = figures.get(name) else {
            continue;
        };
        match used.iter_mut().find(|(_, method)| *method == figure.method) {
            Some((channels, _)) => channels.push(channel),
            None => used.push((vec![channel], &figure.method)),
        }
    }
    let used: Vec<String> = used
        .into_iter()
        .map(|(channels, method)| format!("{}: {method}.", channels.join(", ")))
        .collect();
    (!used.is_empty()).then(|| {
        format!(
            "{} Formula: {}. Source: {}. Here, {}",
            name.facts().definition,
            name.facts().formula,
            name.facts().source,
            used.join(" ")
        )
    })
}
