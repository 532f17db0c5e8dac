//! The figures of one channel or pair as a table: value, what it is good for, unit and limit.

use crate::record::Assessment;
use crate::report::document::{Cell, Table, columns};
use measure::figure::numbers::{DASH, decimals_for, fixed, limit, reading};
use measure::figure::{Figure, FigureName, Figures, Mark};
use measure::judge::{Finding, Outcome};
use measure::units::Step;

/// The figures of every channel, then of every pair.
pub(in crate::report) fn by_channel(
    assessment: &Assessment,
) -> impl Iterator<Item = (&str, &Figures)> {
    let channels = assessment
        .channels
        .iter()
        .map(|(name, part)| (name.as_str(), &part.figures));
    let pairs = assessment
        .pairs
        .iter()
        .map(|(name, part)| (name.as_str(), &part.figures));
    channels.chain(pairs)
}

/// Every figure, with what is missing for those that were not measured. For texts: `x` marks what fails, `?` what is open.
pub(super) fn with_missing(assessment: &Assessment, channel: &str, figures: &Figures) -> Table {
    let judged = assessment.findings.iter().any(|f| f.channel == channel);
    let rows = figures.iter().filter_map(|(name, figure)| {
        let finding = assessment.finding(channel, name);
        let (value, interval, unit) = match figure {
            Some(figure) => (reading(figure).value, reach(figure), name.unit().label()),
            // No advice to measure what most controls have not.
            None if name.is(Mark::OfRheostats) && finding.is_none() => return None,
            None => (DASH.to_owned(), lacks(name, figures), ""),
        };
        Some(vec![
            format!("{} {}", mark(finding), name.facts().label).into(),
            value.into(),
            interval.into(),
            unit.into(),
            finding
                .map_or_else(String::new, |f| limit(f.min, f.max))
                .into(),
        ])
    });
    Table {
        columns: columns([
            "  result",
            ">value",
            "95 %",
            "unit",
            if judged { "allowed" } else { "" },
        ]),
        rows: rows.collect(),
        wrapped: Some(2),
        ..Table::default()
    }
}

fn mark(finding: Option<&Finding>) -> char {
    match finding.map(|finding| finding.outcome) {
        Some(Outcome::Fail) => 'x',
        Some(Outcome::Undecided | Outcome::NotMeasured) => '?',
        Some(Outcome::Pass) | None => ' ',
    }
}

/// Every figure that was measured, with its interval and what came of its limit. For reports.
pub(in crate::report) fn measured(
    assessment: &Assessment,
    channel: &str,
    figures: &Figures,
) -> Table {
    let present = figures.iter().filter_map(|(name, f)| Some((name, f?)));
    let rows = present.map(|(name, figure)| {
        let reading = reading(figure);
        let finding = assessment.finding(channel, name);
        vec![
            name.facts().label.into(),
            reading.value.into(),
            match figure.u {
                Some(_) => reading.interval.into(),
                None => "counted".into(),
            },
            name.unit().label().into(),
            finding.map_or_else(Cell::dash, |f| limit(f.min, f.max).into()),
            finding.map_or_else(Cell::dash, |f| Cell::Outcome(f.outcome)),
        ]
    });
    Table {
        caption: channel.to_owned(),
        columns: columns([
            "result",
            ">value",
            ">95 % interval",
            "unit",
            ">allowed",
            "outcome",
        ]),
        rows: rows.collect(),
        ..Table::default()
    }
}

/// The steps that would supply it; what it needs of them where they are there already.
fn lacks(name: FigureName, figures: &Figures) -> String {
    let done = |step: &Step| {
        let mut measured = figures.iter().filter(|(_, figure)| figure.is_some());
        measured.any(|(from, _)| from.facts().steps.show(*step))
    };
    let are_there = !name.steps().is_empty() && name.facts().steps.lacking(done).is_empty();
    if are_there {
        format!("needs {}", name.facts().needs)
    } else {
        format!("needs {}", steps(name).join(" or "))
    }
}

pub(super) fn steps(name: FigureName) -> Vec<&'static str> {
    name.steps().iter().map(|step| step.word()).collect()
}

/// How far the 95 % interval reaches from the value: `+/-0.31` when both ways alike, else `-0.23 +1.10`; a dash for what
/// is counted.
pub fn reach(figure: &Figure) -> String {
    let (down, up) = (
        figure.low.map(|low| figure.value - low),
        figure.high.map(|high| high - figure.value),
    );
    if figure.u.is_none() || (down.is_none() && up.is_none()) {
        return DASH.to_owned();
    }
    // To the value's own place, which two digits of u set.
    let decimals = figure.u.map_or(0, decimals_for);
    let rounded =
        |way: Option<f64>| way.map_or_else(|| " open".to_owned(), |way| fixed(way, decimals));
    let (down, up) = (rounded(down), rounded(up));
    if down == up {
        format!("+/-{down}")
    } else {
        format!("-{down} +{up}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{CaptureFacts, UnitFacts};
    use crate::report::document::{Block, Document};
    use measure::figure::Scope;
    use measure::judge::{Limit, decide};

    #[test]
    fn both_ways_alike_or_not_or_open() {
        let mut figure = Figure::symmetric(10.0, 0.15, 2.0, 5, "");
        assert_eq!(reach(&figure), "+/-0.30");
        figure.high = Some(11.1);
        assert_eq!(reach(&figure), "-0.30 +1.10");
        figure.high = None;
        assert_eq!(reach(&figure), "-0.30 + open");
        assert_eq!(reach(&Figure::counted(2.0, 8, "")), "-");
    }

    #[test]
    fn limits_stand_beside_their_figures_and_dashes_where_nothing_was_measured() {
        let mut figures = Figures::new(Scope::Channel);
        let noise = Figure::symmetric(2.5, 0.01, 2.0, 100, "");
        figures.set(FigureName::NoiseRestRms, noise.clone());
        let limit = Limit::new(None, Some(2.0)).unwrap();
        let assessment = Assessment {
            verdict: None,
            capture: CaptureFacts::default(),
            unit: UnitFacts::default(),
            channels: Vec::new(),
            pairs: Vec::new(),
            diagnosis: crate::diagnose::Diagnosis::default(),
            findings: vec![
                decide("a", FigureName::NoiseRestRms, limit, Some(&noise)),
                decide("a", FigureName::Hysteresis, limit, None),
            ],
        };
        let table = Block::Table(with_missing(&assessment, "a", &figures));
        let intro = vec![table];
        let text = Document {
            intro,
            ..Document::default()
        }
        .text();
        assert!(text.lines().all(|line| line.len() <= 80), "{text}");
        let line = |word: &str| text.lines().find(|line| line.contains(word)).unwrap();
        assert_eq!(
            line("noise at rest"),
            "x noise at rest          2.500  +/-0.020                       code  at most 2"
        );
        assert!(
            line("hysteresis").starts_with("? ")
                && line("hysteresis").contains("-  needs stations")
        );
        assert!(line("smoothness").ends_with("-  needs strokes"));
        let none = Figures::new(Scope::Channel);
        assert_eq!(lacks(FigureName::Hum120Rms, &none), "needs rest or full");
        let reason = "needs a hold of 0.5 s at 252 samples a second or more";
        assert_eq!(lacks(FigureName::Hum120Rms, &figures), reason);
    }
}
