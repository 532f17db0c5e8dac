//! The noise of a control that stands still: how often each reading came, and what hertz it is made of.

use super::cloud::framed;
use super::plot;
use super::travel::beside;
use crate::report::Sampled;
use crate::tui::draw::{Pen, columns_of};
use crate::tui::run::Run;
use crate::tui::theme::Tone;
use measure::figure::numbers::{fixed, four_digits};
use ratatui::layout::Rect;

/// How often each reading came at rest, about the mean of its hold.
pub(super) fn readings(run: &Run, pen: &mut Pen<'_>, area: Rect, sampled: &Sampled) {
    let title = "noise at rest: how often each reading came";
    let body = framed(pen, area, title, "", "");
    let lanes = run.drawn_lanes();
    for (lane, place) in lanes.iter().zip(plot::shares(body, lanes.len())) {
        let counts = sampled.at_rest(run.lane_name(*lane));
        let inner = plot::inner(place);
        let most = counts.values().copied().max().unwrap_or(0).max(1);
        let widest = counts.keys().map(|off| off.unsigned_abs()).max();
        let bins = 2 * i64::try_from(widest.unwrap_or(0)).unwrap_or(0) + 1;
        let middle = inner.left() + inner.width / 2;
        let wide = (i64::from(inner.width) / bins).clamp(1, 8);
        let fill = pen.glyphs().bar[0].repeat(usize::try_from(wide).unwrap_or(1));
        for (off, count) in &counts {
            let Ok(x) = u16::try_from(i64::from(middle) + off * wide - wide / 2) else {
                continue;
            };
            if x < inner.left() || x >= inner.right() {
                continue;
            }
            let full = (count * u64::from(inner.height.saturating_sub(1))).div_ceil(most);
            let full = u16::try_from(full).unwrap_or(0);
            for y in (0..full)
                .map(|up| inner.bottom() - 2 - up)
                .filter(|y| *y >= inner.top())
            {
                pen.put(x, y, inner.right() - x, &fill, Tone::Lane(*lane));
            }
            if wide >= 3 || off % 5 == 0 {
                let label = format!("{off:+}");
                let label = if *off == 0 { "0" } else { &label };
                pen.put(x, inner.bottom() - 1, inner.right() - x, label, Tone::Quiet);
            }
        }
        let samples: u64 = counts.values().sum();
        let rows = [run.lane_name(*lane), &format!("n {samples}"), "codes"];
        beside(pen, place, *lane, &rows);
    }
}

/// The lanes whose noise is to a large part hum, and the mains line in it.
pub(super) fn hums(run: &Run) -> impl Iterator<Item = (usize, u32)> {
    let assessment = run.assessment.as_deref();
    let hum = assessment.map_or(&[][..], |assessment| &assessment.diagnosis.hum);
    let lanes = run.drawn_lanes().into_iter();
    lanes.filter_map(move |lane| {
        let found = hum.iter().find(|hum| hum.channel == run.lane_name(lane));
        found.map(|hum| (lane, hum.hz))
    })
}

/// Rms at each hertz, the mains line named.
pub(super) fn lines(run: &Run, pen: &mut Pen<'_>, area: Rect, sampled: &Sampled) {
    let hums: Vec<(usize, u32)> = hums(run).collect();
    let all = hums.iter().filter_map(|(lane, hz)| {
        let lines = sampled.noise_lines(run.lane_name(*lane))?;
        Some((*lane, *hz, lines.rms))
    });
    let all: Vec<(usize, u32, Vec<f64>)> = all.collect();
    let right = all.iter().map(|(.., rms)| rms.len()).max().unwrap_or(0);
    let title = "noise at rest, hertz by hertz: the mains stand out";
    let body = framed(pen, area, title, "1 Hz", &format!("{right} Hz"));
    for ((lane, hz, rms), place) in all.iter().zip(plot::shares(body, all.len())) {
        let inner = plot::inner(place);
        let top = rms.iter().copied().fold(1e-6, f64::max);
        for column in 0..inner.width {
            let bins = |column: u16| usize::from(column) * rms.len() / usize::from(inner.width);
            let (from, to) = (bins(column), bins(column + 1).max(bins(column) + 1));
            let loudest = rms
                .get(from..to)
                .unwrap_or(&[])
                .iter()
                .copied()
                .fold(0.0, f64::max);
            let mains = usize::try_from(*hz).is_ok_and(|hz| (from + 1..=to).contains(&hz));
            let tone = if mains { Tone::Bad } else { Tone::Lane(*lane) };
            let below = Rect {
                y: inner.y + 1,
                height: inner.height - 1,
                ..inner
            };
            let bar = if inner.height > 1 { below } else { inner };
            let place = columns_of(bar, inner.left() + column, 1);
            super::travel::bar(pen, place, Some(loudest), top, tone);
            if mains && inner.height > 1 {
                let words = format!("mains, {hz} Hz");
                let x = place.x.saturating_sub(4).max(inner.left());
                pen.put(x, inner.top(), inner.right() - x, &words, Tone::Bad);
            }
        }
        let before = columns_of(place, place.x, plot::LEFT - 1);
        pen.right(before, inner.top(), &fixed(top, 1), Tone::Quiet);
        let loudest = four_digits(top);
        beside(
            pen,
            place,
            *lane,
            &[run.lane_name(*lane), "code rms", &format!("most {loudest}")],
        );
    }
}
