//! The picture along the travel: noise with worn zones and dropouts, growing with the strokes. And what every picture along
//! the travel shares: title, scale, where the control stands now.

use super::plot::{self, Axis, LEFT, RIGHT};
use crate::record::ChannelPart;
use crate::tui::draw::{Pen, columns_of, rows_of};
use crate::tui::run::{Phase, Run};
use crate::tui::theme::Tone;
use measure::TravelMap;
use measure::figure::FigureName;
use measure::figure::numbers::fixed;
use ratatui::layout::Rect;

/// A quiet track is drawn to this scale at least, in multiples of its usual noise: nothing looks worn that is not.
const LEAST_TOP: f64 = 2.0;

/// Noise along the travel, a part for each channel.
pub fn draw(run: &Run, pen: &mut Pen<'_>, area: Rect) {
    let parts = parts(run, |part| part.map.is_some());
    let strokes = parts.iter().filter_map(|(_, part)| part.map.as_ref());
    let strokes = strokes.map(|map| map.strokes).max().unwrap_or(0);
    let lost = parts.iter().any(|(_, part)| !part.dropouts.is_empty());
    let [down, up] = pen.glyphs().dropout;
    let title = if lost {
        format!(
            "noise along the travel, {strokes} strokes; contact lost {up} to full, {down} to rest"
        )
    } else {
        format!("noise along the travel, {strokes} strokes (1 = normal noise)")
    };
    let none = "It grows here with every stroke.";
    let Some(inner) = frame(run, pen, area, &title, &parts, none) else {
        return;
    };
    for ((lane, part), place) in parts.iter().zip(plot::shares(inner, parts.len())) {
        if let Some(map) = &part.map {
            noise_of(pen, place, *lane, part, map, run.lane_name(*lane));
        }
    }
}

/// The drawn lanes that have something to show.
pub(super) fn parts(run: &Run, has: impl Fn(&ChannelPart) -> bool) -> Vec<(usize, &ChannelPart)> {
    let lanes = run.drawn_lanes().into_iter();
    lanes
        .filter_map(|lane| Some((lane, run.part(lane)?)))
        .filter(|(_, part)| has(part))
        .collect()
}

/// Title and scale; gives what is between them, or nothing when there is nothing to draw or no room.
pub(super) fn frame(
    run: &Run,
    pen: &mut Pen<'_>,
    area: Rect,
    title: &str,
    parts: &[(usize, &ChannelPart)],
    none: &str,
) -> Option<Rect> {
    if area.width <= LEFT + RIGHT + 20 || area.height < 4 {
        return None;
    }
    pen.rule(area, area.top(), title);
    if parts.is_empty() {
        pen.middle(area, area.top() + area.height / 2, none, Tone::Quiet);
        return None;
    }
    let scale = rows_of(plot::inner(area), area.bottom() - 1, 1);
    ruler(pen, scale);
    hand(run, pen, scale, parts);
    Some(rows_of(area, area.y + 1, area.height - 2))
}

/// `rest   20 %  40 % ... full`.
fn ruler(pen: &mut Pen<'_>, scale: Rect) {
    let before = columns_of(scale, scale.x - LEFT, LEFT - 1);
    pen.right(before, scale.y, "rest", Tone::Quiet);
    for pct in [20_u16, 40, 60, 80] {
        let x = scale.left() + scale.width * pct / 100;
        pen.put(x, scale.y, 4, &format!("{pct} %"), Tone::Quiet);
    }
    pen.put(scale.right() + 1, scale.y, RIGHT - 1, "full", Tone::Quiet);
}

/// Where the control stands now, as far as its ends are known.
fn hand(run: &Run, pen: &mut Pen<'_>, scale: Rect, parts: &[(usize, &ChannelPart)]) {
    let Some((lane, part)) = parts.first() else {
        return;
    };
    let end = |name| part.figures.get(name).map(|figure| figure.value);
    let code = run.store.last_code(*lane).map(f64::from);
    let live = matches!(run.phase, Phase::Live);
    if let (true, Some(rest), Some(full), Some(code)) = (
        live,
        end(FigureName::RestCode),
        end(FigureName::FullCode),
        code,
    ) && let Some(column) = column((code - rest) / (full - rest) * 100.0, scale.width)
    {
        let mark = pen.theme.either("▲", "^");
        pen.put(scale.left() + column, scale.y, 1, mark, Tone::Now);
    }
}

/// The column of a travel in percent; what lies outside stands at the edge, what is no number nowhere.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // held inside 0 ..= columns - 1
pub(super) fn column(travel_pct: f64, columns: u16) -> Option<u16> {
    let last = f64::from(columns.saturating_sub(1));
    let column = (travel_pct / 100.0 * f64::from(columns)).floor();
    column.is_finite().then(|| column.clamp(0.0, last) as u16)
}

/// The travel that a column stands for, percent.
fn stretch(column: u16, columns: u16) -> (f64, f64) {
    let at = |column: u16| f64::from(column) * 100.0 / f64::from(columns.max(1));
    (at(column), at(column + 1))
}

/// The loudest bin under each column, in multiples of the usual noise; nothing where no stroke tells.
fn loudness(map: &TravelMap, columns: u16) -> Vec<Option<f64>> {
    (0..columns)
        .map(|column| {
            let (from, to) = stretch(column, columns);
            let under = map
                .bins
                .iter()
                .filter(|bin| bin.from_pct < to && from < bin.to_pct);
            let medians = under.filter_map(|bin| bin.both.median);
            let ratio = medians.reduce(f64::max).map(|median| median / map.overall);
            ratio.filter(|ratio| ratio.is_finite())
        })
        .collect()
}

fn noise_of(
    pen: &mut Pen<'_>,
    area: Rect,
    lane: usize,
    part: &ChannelPart,
    map: &TravelMap,
    name: &str,
) {
    let marked = !(part.worn_zones.is_empty() && part.dropouts.is_empty()) && area.height >= 2;
    let inner = Rect {
        height: area.height - u16::from(marked),
        ..plot::inner(area)
    };
    let columns = loudness(map, inner.width);
    let loudest = columns.iter().flatten().copied().fold(0.0, f64::max);
    let top = loudest.max(LEAST_TOP);
    for (x, value) in (inner.left()..).zip(&columns) {
        bar(pen, columns_of(inner, x, 1), *value, top, Tone::Lane(lane));
    }
    let before = columns_of(area, area.x, LEFT - 1);
    pen.right(before, inner.top(), &fixed(top, 1), Tone::Quiet);
    if inner.height >= 3 {
        let axis = Axis {
            low: 0.0,
            high: top,
        };
        let one = inner.top() + axis.row(1.0, inner.height);
        pen.right(before, one, "1", Tone::Quiet);
    }
    let decimals = if map.overall < 10.0 { 2 } else { 0 };
    let usual = format!("1={} code", fixed(map.overall, decimals));
    beside(pen, area, lane, &[name, &usual]);
    if marked {
        found(pen, area, inner, part);
    }
}

/// A bar that ends at `value` of `top`.
pub(super) fn bar(pen: &mut Pen<'_>, place: Rect, value: Option<f64>, top: f64, tone: Tone) {
    let fill = pen.glyphs().fill;
    let Some(value) = value else {
        pen.put(place.x, place.bottom() - 1, 1, "?", Tone::Quiet);
        return;
    };
    let parts = u16::try_from(fill.len()).unwrap_or(1);
    let mut filled = eighths(value / top, place.height * parts).max(1);
    for y in (place.top()..place.bottom()).rev() {
        let here = filled.min(parts);
        let Some(glyph) = usize::from(here).checked_sub(1).and_then(|at| fill.get(at)) else {
            return;
        };
        pen.put(place.x, y, 1, glyph, tone);
        filled -= here;
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // held inside 0 ..= most
fn eighths(share: f64, most: u16) -> u16 {
    (share * f64::from(most))
        .round()
        .clamp(0.0, f64::from(most)) as u16
}

/// The row of what was found: worn stretches, and dropouts over them.
fn found(pen: &mut Pen<'_>, area: Rect, inner: Rect, part: &ChannelPart) {
    let y = area.bottom() - 1;
    let glyphs = pen.glyphs();
    for zone in &part.worn_zones {
        let ends = (
            column(zone.from_pct, inner.width),
            column(zone.to_pct, inner.width),
        );
        if let (Some(from), Some(to)) = ends {
            for column in from..=to {
                pen.put(inner.left() + column, y, 1, glyphs.worn, Tone::Bad);
            }
            let word = " worn";
            pen.put(
                inner.left() + to + 1,
                y,
                inner.width.saturating_sub(to + 1),
                word,
                Tone::Bad,
            );
        }
    }
    for dropout in &part.dropouts {
        let mark = match part.acts(dropout) {
            Some("full") => glyphs.dropout[1],
            Some(_) => glyphs.dropout[0],
            None => "!",
        };
        if let Some(column) = dropout.travel_pct.and_then(|pct| column(pct, inner.width)) {
            pen.put(inner.left() + column, y, 1, mark, Tone::Bad);
        }
    }
    if !part.dropouts.is_empty() {
        let count = format!("lost {} x", part.dropouts.len());
        pen.put(inner.right() + 1, y, RIGHT - 1, &count, Tone::Bad);
    }
}

/// Right of a part: its name and what fits below.
pub(super) fn beside(pen: &mut Pen<'_>, area: Rect, lane: usize, rows: &[&str]) {
    let x = area.right() - RIGHT + 1;
    for (nth, (y, text)) in (area.top()..area.bottom()).zip(rows).enumerate() {
        let tone = if nth == 0 {
            Tone::Lane(lane)
        } else {
            Tone::Quiet
        };
        pen.put(x, y, RIGHT - 1, text, tone);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::{BinNoise, TravelBin};

    #[test]
    fn travel_has_its_column() {
        assert_eq!(column(0.0, 50), Some(0));
        assert_eq!(column(41.0, 50), Some(20)); // 2 % a column: 40 .. 42
        assert_eq!(column(100.0, 50), Some(49));
        assert_eq!(column(-7.0, 50), Some(0));
        assert_eq!(column(f64::NAN, 50), None);
    }

    #[test]
    fn the_loudest_bin_under_a_column_is_drawn_and_a_place_without_strokes_is_not() {
        let bin = |bin: u32| {
            let noise = BinNoise {
                median: (bin != 5).then_some(if bin == 3 { 6.0 } else { 2.0 }),
                ..BinNoise::default()
            };
            TravelBin {
                from_pct: f64::from(bin * 10),
                to_pct: f64::from(bin * 10 + 10),
                both: noise,
                up: noise,
                down: noise,
            }
        };
        let map = TravelMap {
            bins: (0..10).map(bin).collect(),
            overall: 2.0,
            strokes: 4,
        };
        assert_eq!(
            loudness(&map, 5),
            [Some(1.0), Some(3.0), Some(1.0), Some(1.0), Some(1.0)]
        );
        let fine = loudness(&map, 20);
        assert_eq!((fine[6], fine[10], fine[11]), (Some(3.0), None, None));
    }
}
