//! The table of figures: value, what it is good for, unit and limit. ASCII, 80 columns.
//!
//! Belongs here: the columns. Does not belong here: which channel comes when (`assessment_text`), what a figure is.

use super::page::Page;
use measure::figure::numbers::{DASH, decimals_for, fixed, limit, reading};
use measure::figure::{Figure, FigureName, Figures};
use measure::judge::{Finding, Outcome};

/// Sets the table of one channel or pair; `findings` are those of its own figures.
pub(super) fn table(page: &mut Page, figures: &Figures, findings: &[&Finding]) {
    page.line(&row(
        "figure",
        "value",
        "95 %",
        "unit",
        if findings.is_empty() { "" } else { "allowed" },
        None,
    ));
    for (name, figure) in figures.iter() {
        let finding = findings.iter().find(|finding| finding.figure == name);
        let allowed = finding.map_or_else(String::new, |f| limit(f.min, f.max));
        let outcome = finding.map(|f| f.outcome);
        let Some(figure) = figure else {
            if name.of_rheostats() && finding.is_none() {
                continue; // no advice to measure what most controls have not
            }
            let needs = format!("needs {}", steps(name).join(" or "));
            page.line(&row(name.word(), DASH, &needs, "", &allowed, outcome));
            continue;
        };
        let value = reading(figure).value;
        let ways = ways(figure);
        page.line(&row(
            name.word(),
            &value,
            &ways,
            unit(name),
            &allowed,
            outcome,
        ));
    }
}

fn row(
    name: &str,
    value: &str,
    ways: &str,
    unit: &str,
    allowed: &str,
    outcome: Option<Outcome>,
) -> String {
    let mark = match outcome {
        Some(Outcome::Fail) => 'x',
        Some(Outcome::Undecided | Outcome::NotMeasured) => '?',
        Some(Outcome::Pass) | None => ' ',
    };
    format!("{mark} {name:<21} {value:>9}  {ways:<20} {unit:<8}  {allowed}")
}

/// The unit for people: a plain number has none.
pub(super) fn unit(name: FigureName) -> &'static str {
    if name.unit() == "1" { "" } else { name.unit() }
}

/// The steps that supply a figure, in words.
pub(super) fn steps(name: FigureName) -> Vec<&'static str> {
    name.steps().iter().map(|step| step.word()).collect()
}

/// How far the 95 % interval reaches from the value: `+/-0.31` when both ways alike, else `-0.23 +1.10`; a dash for what
/// is counted.
fn ways(figure: &Figure) -> String {
    let (down, up) = (
        figure.low.map(|low| figure.value - low),
        figure.high.map(|high| high - figure.value),
    );
    if figure.u.is_none() || (down.is_none() && up.is_none()) {
        return DASH.to_owned();
    }
    // To the value's own place, which two digits of u set.
    let decimals = figure.u.map_or(0, decimals_for);
    let told =
        |way: Option<f64>| way.map_or_else(|| " open".to_owned(), |way| fixed(way, decimals));
    let (down, up) = (told(down), told(up));
    if down == up {
        format!("+/-{down}")
    } else {
        format!("-{down} +{up}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::figure::Scope;
    use measure::judge::{Limit, decide};

    #[test]
    fn both_ways_alike_or_not_or_open() {
        let mut figure = Figure::symmetric(10.0, 0.15, 2.0, 5, "");
        assert_eq!(ways(&figure), "+/-0.30");
        figure.high = Some(11.1);
        assert_eq!(ways(&figure), "-0.30 +1.10");
        figure.high = None;
        assert_eq!(ways(&figure), "-0.30 + open");
        assert_eq!(ways(&Figure::counted(2.0, 8, "")), "-");
    }

    #[test]
    fn limits_stand_beside_their_figures_and_dashes_where_nothing_was_measured() {
        let mut figures = Figures::new(Scope::Channel);
        let noise = Figure::symmetric(2.5, 0.01, 2.0, 100, "");
        figures.set(FigureName::NoiseRestRms, noise.clone());
        let limit = Limit::new(None, Some(2.0)).unwrap();
        let fails = decide("a", FigureName::NoiseRestRms, limit, Some(&noise));
        let open = decide("a", FigureName::Hysteresis, limit, None);
        let mut page = Page::default();
        table(&mut page, &figures, &[&fails, &open]);
        let text = page.text();
        assert!(text.lines().all(|line| line.len() <= 80), "{text}");
        let line = |word: &str| text.lines().find(|line| line.contains(word)).unwrap();
        assert_eq!(
            line("noise_rest_rms"),
            "x noise_rest_rms            2.500  +/-0.020             code      <= 2"
        );
        assert!(
            line("hysteresis").starts_with("? ")
                && line("hysteresis").contains("-  needs stations")
        );
        assert!(line("smoothness").ends_with("-  needs strokes"));
    }
}
