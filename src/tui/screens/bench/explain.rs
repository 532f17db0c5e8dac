//! The figure under the pointer in words.

use super::rows::Row;
use super::state::Bench;
use crate::report::reach;
use crate::tui::draw::Pen;
use crate::tui::theme::Tone;
use measure::figure::Figure;
use measure::figure::numbers::{self, reading};
use ratatui::layout::Rect;

/// One figure in words; gives the row after it.
pub fn figure(bench: &Bench, pen: &mut Pen<'_>, area: Rect, row: &Row<'_>) -> u16 {
    let title = format!("{} of {}", row.name.facts().label, row.channel);
    pen.rule(area, area.top(), &title);
    let steps: Vec<&str> = row.name.steps().iter().map(|step| step.word()).collect();
    let mut lines = vec![("what", row.name.facts().definition.to_owned())];
    match row.figure {
        Some(figure) => {
            // A count has no interval.
            let half = reading(figure).half.is_some();
            let interval = if half { " (95 % interval)" } else { "" };
            let now = format!("{}{interval}", with_half(pen, row, figure));
            lines.push(("now", now.trim_end().to_owned()));
        }
        None => lines.push((
            "now",
            format!("not measured; comes from: {}", steps.join(", ")),
        )),
    }
    if row.limited() {
        let limit = numbers::limit(row.min, row.max);
        lines.push(("limit", row.name.unit().behind(&limit)));
    }
    if let Some(finding) = row.finding {
        let so_far = if row.over {
            ""
        } else {
            " so far, not yet for good"
        };
        lines.push((
            "so",
            format!("{}{so_far}: {}", finding.outcome, finding.reason),
        ));
        if let Some(advice) = &finding.advice {
            lines.push(("do", advice.clone()));
        }
    }
    if let Some(was) = was(bench, pen, row) {
        lines.push(("was", was));
    }
    if let Some(figure) = row.figure {
        lines.push(("how", figure.method.clone()));
    }
    lines.push((
        "word",
        format!("{} in files; {}", row.name.word(), row.name.facts().source),
    ));
    let mut y = area.top() + 1;
    for (label, text) in lines {
        if y >= area.bottom() {
            let more = format!(" more: assess --explain {} ", row.name.word());
            pen.right(area, area.top(), &more, Tone::Quiet);
            break;
        }
        pen.put(area.left() + 2, y, 6, label, Tone::Quiet);
        let place = Rect {
            x: area.left() + 9,
            y,
            width: area.width.saturating_sub(11),
            height: area.bottom().saturating_sub(y).min(3),
        };
        y += pen.wrapped(place, &text, Tone::Plain).max(1);
    }
    y + 1
}

/// What it was in the run that lies under, and whether it changed.
fn was(bench: &Bench, pen: &Pen<'_>, row: &Row<'_>) -> Option<String> {
    let overlay = bench.overlay.as_ref()?;
    let compared = overlay.of(row.channel, row.name)?;
    let changed = match compared.change {
        None => "not to be compared with it",
        Some(_) if compared.stands_out => "a change that stands out",
        Some(_) => "no change that the two uncertainties do not explain",
    };
    let before = with_half(pen, row, &compared.before);
    Some(format!("{before} on {}: {changed}", overlay.name))
}

/// A value with half its 95 % interval, or with how far it reaches each way where that is uneven, and its unit.
fn with_half(pen: &Pen<'_>, row: &Row<'_>, figure: &Figure) -> String {
    row.name
        .unit()
        .behind(&value(figure, pen.theme.either("±", "+-")))
}

fn value(figure: &Figure, sign: &str) -> String {
    let reading = reading(figure);
    let Some(half) = reading.half else {
        return reading.value;
    };
    let reach = reach(figure);
    if reach.starts_with("+/-") {
        format!("{} {sign} {half}", reading.value)
    } else {
        format!("{}  {reach}", reading.value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 13.2 .. 102.1 around 25.3: 12.1 down and 76.8 up.
    #[test]
    fn an_uneven_interval_is_not_drawn_even() {
        let mut figure = Figure::symmetric(25.3, 5.0, 2.0, 4, "");
        assert_eq!(value(&figure, "±"), "25.3 ± 10.0");
        (figure.low, figure.high) = (Some(13.2), Some(102.1));
        assert_eq!(value(&figure, "±"), "25.3  -12.1 +76.8");
    }
}
