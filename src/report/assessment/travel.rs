//! Pictures over travel: noise with worn zones and dropouts, and deviation from a line; in ASCII, 80 columns.

use crate::record::ChannelPart;
use crate::report::document::{Picture, Plot};
use crate::report::text::wrapped;
use measure::figure::numbers::{fixed, four_digits, plain};
use measure::figure::{FigureName, Unit};
use measure::{DeviationCurve, Dropout, TravelMap, WornZone};

/// Columns of a picture: each 2 % of travel.
const WIDE: usize = 50;
/// Rows of the noise picture.
const HIGH: usize = 5;
/// Rows of the deviation picture: odd, the middle one is the line itself.
const DEEP: usize = 9;
/// Columns before a picture: a number and a rail.
const MARGIN: usize = 12;

/// Noise over travel of a channel's strokes; nothing without strokes.
pub(in crate::report) fn noise<'a>(channel: &str, part: &'a ChannelPart) -> Option<Picture<'a>> {
    let map = part.map.as_ref()?;
    let worn = match part.worn_zones.len() {
        0 => "no worn zone",
        1 => "one worn zone, shaded",
        _ => "worn zones shaded",
    };
    let dropouts = match part.dropouts.len() {
        0 => String::new(),
        n => format!(", lost contact marked below ({n}; up: towards full, down: towards rest)"),
    };
    Some(Picture {
        caption: format!(
            "{channel}: noise along the travel in {} strokes, {worn}{dropouts}; the dashed line is the usual noise, {}",
            map.strokes,
            Unit::Code.behind(&fixed(map.overall, 2))
        ),
        plot: Plot::Noise(map, part),
        ascii: noise_ascii(map, part).unwrap_or_default(),
    })
}

/// Deviation from the straight line over known travel; nothing without a curve.
pub(in crate::report) fn deviation<'a>(
    channel: &str,
    part: &'a ChannelPart,
    limit: Option<f64>,
) -> Option<Picture<'a>> {
    let curve = part.curve.as_ref()?;
    let needed = part.figures.value(FigureName::LinearityIndependent);
    let dotted = needed.map_or_else(String::new, |needed| {
        format!(
            "; dotted is the narrowest band that holds the line, {} % either way",
            four_digits(needed)
        )
    });
    Some(Picture {
        caption: format!(
            "{channel}: deviation from the straightest line, % of span, at {} positions; bars reach two standard \
             uncertainties; triangles up and down show each way alone{dotted}; {}",
            curve.points.len(),
            band(limit)
        ),
        plot: Plot::Deviation(curve, limit, needed),
        ascii: deviation_ascii(curve).unwrap_or_default(),
    })
}

/// The band of a limit, for a caption.
pub(in crate::report) fn band(limit: Option<f64>) -> String {
    limit.map_or_else(
        || "no limit is set".to_owned(),
        |limit| format!("the band is the limit, {} % either way", plain(limit)),
    )
}

/// Nothing where no bin of travel has a noise.
fn noise_ascii(map: &TravelMap, part: &ChannelPart) -> Option<String> {
    let columns = noise_columns(map);
    // Quiet tracks are drawn to a scale of their own so that nothing looks worn that is not.
    let top = columns.iter().flatten().copied().reduce(f64::max)?.max(2.0);
    let gaps = if columns.contains(&None) {
        "; ? = not covered"
    } else {
        ""
    };
    let mut lines = wrapped(&format!(
        "noise along the travel, {} strokes (1 = normal noise, {}{gaps})",
        map.strokes,
        Unit::Code.behind(&fixed(map.overall, 2))
    ));
    for row in (0..HIGH).rev() {
        let label = if row + 1 == HIGH {
            fixed(top, 1)
        } else {
            String::new()
        };
        lines.push(ruled(
            &label,
            '|',
            columns.iter().map(|column| bar(*column, row, top)),
        ));
    }
    lines.extend(scale());
    if !part.worn_zones.is_empty() {
        lines.push(ruled(
            "worn",
            ' ',
            (0..WIDE).map(|column| zone_mark(&part.worn_zones, column)),
        ));
    }
    lines.extend(dropouts(&part.dropouts));
    Some(lines.join("\n"))
}

/// The loudest bin of each column over the noise of all travel; nothing where no stroke passed.
fn noise_columns(map: &TravelMap) -> Vec<Option<f64>> {
    (0..WIDE)
        .map(|column| {
            let inside = |from_pct: f64| column_of(from_pct) == Some(column);
            let medians = map
                .bins
                .iter()
                .filter(|bin| inside(bin.from_pct))
                .filter_map(|bin| bin.both.median);
            medians
                .reduce(f64::max)
                .map(|median| median / map.overall)
                .filter(|ratio| ratio.is_finite())
        })
        .collect()
}

/// One cell of a bar that ends at `value` of `top`: full, half, or nothing.
fn bar(value: Option<f64>, row: usize, top: f64) -> char {
    let Some(value) = value else {
        return if row == 0 { '?' } else { ' ' };
    };
    let filled = value / top * count(HIGH) - count(row);
    match filled {
        _ if filled >= 0.75 => '#',
        _ if filled >= 0.25 => ':',
        _ if row == 0 => '.',
        _ => ' ',
    }
}

fn zone_mark(zones: &[WornZone], column: usize) -> char {
    let (from, to) = (count(column) * 2.0, count(column + 1) * 2.0);
    let worn = zones
        .iter()
        .any(|zone| zone.from_pct < to && from < zone.to_pct);
    if worn { 'w' } else { ' ' }
}

fn dropouts(dropouts: &[Dropout]) -> Vec<String> {
    if dropouts.is_empty() {
        return Vec::new();
    }
    let mut at = [0_u32; WIDE];
    let mut elsewhere = 0;
    for dropout in dropouts {
        match dropout.travel_pct.and_then(column_of) {
            Some(column) => at[column] += 1,
            None => elsewhere += 1,
        }
    }
    let mark = |n| match n {
        0 => ' ',
        n => char::from_digit(n, 10).unwrap_or('*'),
    };
    let mut lines = vec![ruled("dropouts", ' ', at.into_iter().map(mark))];
    if elsewhere > 0 {
        lines.push(format!(
            "  dropouts where the travel is not known: {elsewhere}"
        ));
    }
    lines
}

fn deviation_ascii(curve: &DeviationCurve) -> Option<String> {
    let values = curve
        .points
        .iter()
        .flat_map(|p| [Some(p.deviation_pct), p.up_pct, p.down_pct])
        .flatten()
        .map(f64::abs);
    let top = values.filter(|v| v.is_finite()).reduce(f64::max)?.max(0.01);
    let mut cells = vec![[' '; WIDE]; DEEP];
    cells[DEEP / 2] = ['-'; WIDE];
    for point in &curve.points {
        let Some(column) = column_of(point.travel_pct) else {
            continue;
        };
        let marks = [
            (point.up_pct, '/'),
            (point.down_pct, '\\'),
            (Some(point.deviation_pct), 'o'),
        ];
        for (value, mark) in marks {
            if let Some(row) = value.and_then(|value| row_of(value, top)) {
                cells[row][column] = mark;
            }
        }
    }
    let mut lines = wrapped(&format!(
        "deviation from the straightest line, % of span: o halfway, / going up, \\ coming down; {} positions",
        curve.points.len()
    ));
    for (row, cells) in cells.into_iter().enumerate() {
        let label = match row {
            0 => format!("+{}", plain(rounded(top))),
            _ if row == DEEP / 2 => "0".to_owned(),
            _ if row + 1 == DEEP => format!("-{}", plain(rounded(top))),
            _ => String::new(),
        };
        lines.push(ruled(&label, '|', cells.into_iter()));
    }
    lines.extend(scale());
    Some(lines.join("\n"))
}

fn rounded(top: f64) -> f64 {
    (top * 100.0).round() / 100.0
}

/// The row, 0 on top, of a value between `-top` and `top`.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked to be in 0 .. DEEP
fn row_of(value: f64, top: f64) -> Option<usize> {
    let row = ((1.0 - value / top) / 2.0 * count(DEEP - 1)).round();
    (row >= 0.0 && row < count(DEEP)).then_some(row as usize)
}

/// The column of a travel in percent; 100 % is in the last one.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked to be in 0 ..= 100
fn column_of(travel_pct: f64) -> Option<usize> {
    (0.0..=100.0)
        .contains(&travel_pct)
        .then(|| ((travel_pct / 2.0) as usize).min(WIDE - 1))
}

/// A row of a picture behind its label and a rail.
fn ruled(label: &str, rail: char, cells: impl Iterator<Item = char>) -> String {
    let cells: String = cells.collect();
    format!("{label:>w$} {rail}{}", cells.trim_end(), w = MARGIN - 2)
}

fn scale() -> [String; 2] {
    let marks = (1..=WIDE).map(|column| if column % 10 == 0 { '+' } else { '-' });
    let numbers = "         20        40        60        80        100 % of travel";
    [ruled("", '+', marks), ruled("rest", '0', numbers.chars())]
}

#[allow(clippy::cast_precision_loss)] // columns and rows
fn count(n: usize) -> f64 {
    n as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::figure::{Figures, Scope};
    use measure::{BinNoise, CurvePoint, Towards, TravelBin, TravelMode, statistics::Line};

    fn part() -> ChannelPart {
        let noise = |bin: u32| {
            let loud = (30..36).contains(&bin);
            BinNoise {
                count: 10,
                strokes: 8,
                rms: Some(1.0),
                median: (bin < 96).then_some(if loud { 5.0 } else { 1.0 }),
            }
        };
        let bin = |bin: u32| TravelBin {
            from_pct: f64::from(bin),
            to_pct: f64::from(bin + 1),
            both: noise(bin),
            up: noise(bin),
            down: noise(bin),
        };
        let dropout = |travel_pct| Dropout {
            t_s: 1.0,
            duration_ms: 3.0,
            depth_pct: 20.0,
            travel_pct,
            towards: Towards::Ground,
        };
        ChannelPart {
            figures: Figures::new(Scope::Channel),
            worn_zones: vec![WornZone {
                from_pct: 30.0,
                to_pct: 36.0,
                noise_ratio: 5.0,
                strokes_seen: 8,
                strokes: 8,
            }],
            dropouts: vec![dropout(Some(62.0)), dropout(Some(63.0)), dropout(None)],
            map: Some(TravelMap {
                bins: (0..100).map(bin).collect(),
                overall: 1.0,
                strokes: 8,
            }),
            curve: None,
        }
    }

    #[test]
    fn a_worn_zone_stands_out_where_it_is() {
        let part = part();
        insta::assert_snapshot!("noise_over_travel", noise("lever", &part).unwrap().ascii);
    }

    #[test]
    fn without_strokes_there_is_no_picture() {
        let part = ChannelPart {
            map: None,
            ..part()
        };
        assert!(noise("lever", &part).is_none());
        assert!(deviation("lever", &part, None).is_none());
    }

    #[test]
    fn a_bow_looks_like_one() {
        let point = |k: u32| {
            let x = f64::from(k) / 20.0;
            // A parabola of 1.8 % sagitta about its minimax line: -0.9 at the ends, +0.9 in the middle.
            let deviation_pct = 1.8 * 4.0 * x * (1.0 - x) - 0.9;
            CurvePoint {
                travel_pct: 100.0 * x,
                code: 0.0,
                deviation_pct,
                u_pct: 0.01,
                up_pct: Some(deviation_pct - 0.45),
                down_pct: None,
            }
        };
        let curve = DeviationCurve {
            points: (0..=20).map(point).collect(),
            line: Line {
                x0: 0.0,
                y0: 0.0,
                slope: 1.0,
            },
            span_code: 100.0,
            mode: TravelMode::Stations,
        };
        let text = deviation_ascii(&curve).unwrap();
        assert!(text.lines().all(|line| line.len() <= 80), "{text}");
        insta::assert_snapshot!("deviation_over_travel", text);
    }
}
