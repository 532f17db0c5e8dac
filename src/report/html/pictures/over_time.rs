//! A channel over time, its steps named above.

use super::axes::{Area, BAND, Drawn, INK, LETTERS, LINE, chart, runs};
use super::over_travel::lost;
use crate::record::ChannelPart;
use crate::report::trace::{MinMax, StepRun, Trace};
use measure::Towards;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

/// Pixels that one letter takes, about.
const LETTER: f64 = 0.55 * LETTERS as f64;

pub(super) fn trace(
    area: &Area<'_>,
    trace: &Trace,
    at: usize,
    part: Option<&ChannelPart>,
) -> Drawn {
    let Some((_, columns)) = trace.channels.get(at) else {
        return Ok(());
    };
    let (bottom, top) = range(columns);
    let height = top - bottom;
    let length = trace.length_s.max(f64::MIN_POSITIVE);
    let ceiling = top + 0.22 * height;
    let mut chart = chart(
        area,
        ("seconds", "code"),
        (0.0, length),
        (bottom - 0.05 * height, ceiling),
    )?;
    let across = f64::from(chart.plotting_area().dim_in_pixel().0);
    let letters = ("sans-serif", LETTERS).into_font().color(&INK);
    let letters = letters.pos(Pos::new(HPos::Center, VPos::Top));
    for run in &trace.runs {
        let area = [(run.from_s, bottom - 0.05 * height), (run.to_s, ceiling)];
        chart.draw_series([Rectangle::new(area, BAND.filled())])?;
        if let Some(label) = label(run, (run.to_s - run.from_s) / length * across) {
            let place = (f64::midpoint(run.from_s, run.to_s), ceiling - 0.02 * height);
            chart.draw_series([Text::new(label, place, letters.clone())])?;
        }
    }
    let width = length / count(columns.len());
    let points = columns.iter().enumerate().map(|(k, range)| {
        let t = (count(k) + 0.5) * width;
        range.map(|range| (t, range, k % 2 == 0))
    });
    for run in runs(points) {
        let line: Vec<(f64, f64)> = run.into_iter().flat_map(both_ends).collect();
        chart.draw_series([PathElement::new(line, LINE.stroke_width(1))])?;
    }
    // On the edge that it went away from, so that the excursion itself stays seen.
    for dropout in part.iter().flat_map(|part| &part.dropouts) {
        let edge = match dropout.towards {
            Towards::Ground => top + 0.05 * height,
            Towards::Supply => bottom - 0.02 * height,
        };
        let acts = part.and_then(|part| part.acts(dropout));
        lost(&mut chart, (dropout.t_s.clamp(0.0, length), edge), acts)?;
    }
    Ok(())
}

/// Lowest and highest of a column, alternately first: a line through both is as long as the signal moved.
fn both_ends((t, range, low_first): (f64, MinMax, bool)) -> Vec<(f64, f64)> {
    let (low, high) = (f64::from(range.low), f64::from(range.high));
    match low_first {
        _ if range.low == range.high => vec![(t, low)],
        true => vec![(t, low), (t, high)],
        false => vec![(t, high), (t, low)],
    }
}

fn range(columns: &[Option<MinMax>]) -> (f64, f64) {
    let seen = columns.iter().flatten();
    let low = seen.clone().map(|range| range.low).min().unwrap_or(0);
    let high = seen.map(|range| range.high).max().unwrap_or(1);
    let (low, high) = (f64::from(low), f64::from(high));
    if high - low < 10.0 {
        (low - 5.0, high + 5.0)
    } else {
        (low, high)
    }
}

/// The longest name that has room.
fn label(run: &StepRun, pixels: f64) -> Option<String> {
    let word = run.step.word().to_owned();
    let counted = (run.passages > 1).then(|| format!("{word} \u{d7}{}", run.passages));
    let names = counted.into_iter().chain([word]);
    names
        .into_iter()
        .find(|name| count(name.chars().count()) * LETTER < pixels)
}

fn count(n: usize) -> f64 {
    f64::from(u32::try_from(n).unwrap_or(u32::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::units::Step;

    #[test]
    fn a_name_is_left_out_where_it_has_no_room() {
        let run = StepRun {
            step: Step::Release,
            passages: 6,
            from_s: 0.0,
            to_s: 1.0,
        };
        // 13 pixels high, 7.15 wide: "release" takes 50, with its count 72.
        assert_eq!(label(&run, 100.0).as_deref(), Some("release \u{d7}6"));
        assert_eq!(label(&run, 60.0).as_deref(), Some("release"));
        assert_eq!(label(&run, 40.0), None);
    }
}
