//! How each figure was come by, and where the method comes from.

use crate::report::document::{Part, Section};
use crate::report::sheet::Sheet;
use measure::figure::FigureName;

/// How figures become a verdict.
const RULES: [&str; 3] = [
    "Uncertainty after the GUM (JCGM 100): type A from the effective number of independent samples, type B from the \
     converter's steps and the board's stated non-linearity. Intervals are of 95 % coverage.",
    "Decision after JCGM 106, guarded both ways: pass when the whole interval lies inside the limit, fail when it lies \
     outside, otherwise undecided. One fail fails the unit.",
    "Linearity and hysteresis need a known travel (stations, or a sensor on the same shaft): a stroke by hand gives neither.",
];

pub(super) fn section<'a>(sheet: &'a Sheet<'_>) -> Section<'a> {
    let terms = FigureName::ALL
        .iter()
        .filter_map(|name| Some((name.word().to_owned(), told(sheet, *name)?)));
    Section {
        id: "methods",
        title: "How it was measured",
        parts: vec![
            Part::List(RULES.map(str::to_owned).to_vec()),
            Part::Terms(terms.collect()),
        ],
    }
}

/// Definition, formula, source, and what each channel used; nothing for a figure that nobody measured.
fn told(sheet: &Sheet<'_>, name: FigureName) -> Option<String> {
    let channels = sheet
        .assessment
        .channels
        .iter()
        .map(|(n, part)| (n, &part.figures));
    let pairs = sheet
        .assessment
        .pairs
        .iter()
        .map(|(n, part)| (n, &part.figures));
    let used: Vec<String> = channels
        .chain(pairs)
        .filter_map(|(channel, figures)| Some(format!("{channel}: {}.", figures.get(name)?.method)))
        .collect();
    if used.is_empty() {
        return None;
    }
    Some(format!(
        "{} Formula: {}. Source: {}. Here, {}",
        name.definition(),
        name.formula(),
        name.source(),
        used.join(" ")
    ))
}
