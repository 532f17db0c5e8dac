//! The noise of a control that stands still: how often each reading came, and what hertz it is made of.

use super::axes::{Area, Drawn, INK, LETTERS, LINE, WORN, chart};
use measure::holds::NoiseLines;
use measure::statistics::real;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use std::collections::BTreeMap;

/// Share of all readings at each code about the mean of their hold.
pub(super) fn readings(area: &Area<'_>, counts: &BTreeMap<i64, u64>) -> Drawn {
    let code = |off: i64| f64::from(i32::try_from(off).unwrap_or(i32::MAX));
    let share = |count: u64| f64::from(u32::try_from(count).unwrap_or(u32::MAX));
    let all: f64 = counts.values().map(|count| share(*count)).sum();
    let shares = counts
        .iter()
        .map(|(off, count)| (code(*off), share(*count) / all * 100.0));
    let most = shares.clone().map(|(_, share)| share).fold(1.0, f64::max);
    let widest = shares.clone().map(|(off, _)| off.abs()).fold(2.0, f64::max) + 1.0;
    let words = ("code, from the mean of its hold", "% of readings");
    let mut chart = chart(area, words, (-widest, widest), (0.0, 1.1 * most))?;
    chart.draw_series(shares.map(|(off, share)| {
        Rectangle::new([(off - 0.4, 0.0), (off + 0.4, share)], LINE.filled())
    }))?;
    Ok(())
}

/// Rms at each hertz, the mains line named.
pub(super) fn lines(area: &Area<'_>, lines: &NoiseLines, mains_hz: u32) -> Drawn {
    let mains = f64::from(mains_hz);
    let each = (1..).map(real).zip(&lines.rms);
    let most = lines.rms.iter().copied().fold(1e-6, f64::max);
    let right = real(lines.rms.len()) + 1.0;
    let mut chart = chart(
        area,
        ("hertz", "noise at rest, code rms"),
        (0.0, right),
        (0.0, 1.2 * most),
    )?;
    chart.draw_series(each.map(|(hz, rms): (f64, &f64)| {
        let colour = if (hz - mains).abs() < 0.5 { WORN } else { LINE };
        Rectangle::new([(hz - 0.4, 0.0), (hz + 0.4, *rms)], colour.filled())
    }))?;
    let letters = ("sans-serif", LETTERS).into_font().color(&INK);
    let letters = letters.pos(Pos::new(HPos::Center, VPos::Top));
    let words = format!("mains, {mains_hz} Hz");
    chart.draw_series([Text::new(words, (mains.min(right), 1.18 * most), letters)])?;
    Ok(())
}
