//! One lane's picture: extremes per column into cells, over the bands of its limits.

use crate::tui::draw::{Pen, columns_of, split};
use crate::tui::run::{Extremes, Store};
use crate::tui::theme::{Charset, Tone};
use ratatui::layout::Rect;
use std::ops::Range;

/// Columns left of the lanes (codes, names of bands) and right of them (readings).
pub const LEFT: u16 = 6;
pub const RIGHT: u16 = 12;

/// What is left of a lane between those columns.
pub fn inner(area: Rect) -> Rect {
    columns_of(area, area.x + LEFT, area.width - LEFT - RIGHT)
}

/// Shares the rows among so many parts, the first ones getting what does not divide; those that get none are left out.
pub fn shares(area: Rect, count: usize) -> impl Iterator<Item = Rect> {
    let count = u16::try_from(count).unwrap_or(u16::MAX).max(1);
    let mut rest = area;
    (0..count)
        .map(move |nth| {
            let (share, below) = split(
                rest,
                area.height / count + u16::from(nth < area.height % count),
            );
            rest = below;
            share
        })
        .filter(|share| share.height > 0)
}

/// A pause longer than this is a gap: one and a half sample periods (DESIGN 4.1), or 100 ms when the rate is not known.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // positive, and below 2^53
pub fn longest_gap_us(rate_hz: f64) -> u64 {
    if rate_hz.is_finite() && rate_hz > 1e-3 {
        (1.5e6 / rate_hz) as u64
    } else {
        100_000
    }
}

/// Codes at the bottom and the top of a lane; `low < high`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axis {
    pub low: f64,
    pub high: f64,
}

impl Axis {
    /// The row of `rows` (0 at the top) that a code lies in; a code off the axis lies in the outermost.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // held inside 0 ..= rows - 1
    pub fn row(self, code: f64, rows: u16) -> u16 {
        let share = (self.high - code) / (self.high - self.low);
        let last = rows.saturating_sub(1);
        (share * f64::from(rows)).clamp(0.0, f64::from(last)) as u16
    }

    /// The codes that a row of `rows` stands for: lower and upper edge.
    pub fn codes(self, row: u16, rows: u16) -> (f64, f64) {
        let step = (self.high - self.low) / f64::from(rows.max(1));
        let top = self.high - step * f64::from(row);
        (top - step, top)
    }
}

/// Columns and rows of dots in a cell.
pub fn dots(charset: Charset) -> (u16, u16) {
    match charset {
        Charset::Unicode => (2, 4),
        Charset::Ascii => (1, 1),
    }
}

/// The time at which each column begins and, as a last entry, the first after the right edge, microseconds.
pub fn times((from_us, to_us): (i64, i64), columns: u16) -> Vec<i64> {
    let span = i128::from(to_us) - i128::from(from_us) + 1;
    (0..=columns)
        .map(|column| {
            let t = i128::from(from_us) + span * i128::from(column) / i128::from(columns.max(1));
            i64::try_from(t).unwrap_or(i64::MAX)
        })
        .collect()
}

/// The first sample of each column and, as a last entry, the first after the right edge.
pub fn columns(store: &Store, edges: (i64, i64), columns: u16) -> Vec<usize> {
    let first_at = |t: i64| store.first_at(u64::try_from(t.max(0)).unwrap_or(u64::MAX));
    times(edges, columns).into_iter().map(first_at).collect()
}

/// True smallest and largest code of each column. The stretch from one sample to the next is drawn too, unless a
/// sample is missing between them: a gap stays a gap.
pub fn extents(
    store: &Store,
    lane: usize,
    firsts: &[usize],
    longest_gap_us: u64,
) -> Vec<Option<Extremes>> {
    firsts
        .windows(2)
        .map(|pair| extent(store, lane, *pair.first()?..*pair.last()?, longest_gap_us))
        .collect()
}

/// True smallest and largest code of one column's samples and of the stretch that leads to them.
pub fn extent(
    store: &Store,
    lane: usize,
    samples: Range<usize>,
    longest_gap_us: u64,
) -> Option<Extremes> {
    let joined = |sample: usize| {
        let before = sample.checked_sub(1)?;
        let gap = store.time_us(sample)?.checked_sub(store.time_us(before)?)?;
        (gap <= longest_gap_us).then_some(before)
    };
    let first = joined(samples.start).unwrap_or(samples.start);
    store.extremes(lane, first..samples.end)
}

/// What lies behind a trace, in codes.
#[derive(Debug, Clone, Default)]
pub struct Backdrop {
    /// Bands of limits: lower and upper edge.
    pub bands: Vec<(f64, f64)>,
    /// Below the first and above the second a reading is a wiring fault.
    pub faults: (Option<f64>, Option<f64>),
}

impl Backdrop {
    /// Whether a row of a lane is drawn as a fault: its middle lies beyond a threshold and no limit reaches into it.
    pub fn is_fault(&self, (low, high): (f64, f64)) -> bool {
        let middle = f64::midpoint(low, high);
        let (below, above) = self.faults;
        let beyond =
            below.is_some_and(|edge| middle < edge) || above.is_some_and(|edge| middle > edge);
        beyond && !self.is_band((low, high))
    }

    fn is_band(&self, (low, high): (f64, f64)) -> bool {
        self.bands
            .iter()
            .any(|(min, max)| *min < high && *max > low)
    }
}

/// Draws what lies behind a trace.
pub fn backdrop(pen: &mut Pen<'_>, area: Rect, axis: Axis, behind: &Backdrop) {
    let glyphs = pen.glyphs();
    let width = usize::from(area.width);
    let (band, fault) = (glyphs.band.repeat(width), glyphs.fault.repeat(width));
    for row in 0..area.height {
        let codes = axis.codes(row, area.height);
        let y = area.top() + row;
        if behind.is_fault(codes) {
            pen.left(area, y, &fault, Tone::Fault);
        } else if behind.is_band(codes) {
            pen.left(area, y, &band, Tone::Band);
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Line {
    /// Every dot.
    Whole,
    /// Every other column of dots, so that it is told from a whole one without colour.
    Dotted,
}

pub fn trace(
    pen: &mut Pen<'_>,
    area: Rect,
    axis: Axis,
    extents: &[Option<Extremes>],
    line: Line,
    tone: Tone,
) {
    let (across, down) = dots(pen.theme.charset);
    let rows = area.height * down;
    let mut cells = vec![0_u8; usize::from(area.width) * usize::from(area.height)];
    for (column, extent) in (0_u16..).zip(extents) {
        let Some(extent) = extent else { continue };
        if line == Line::Dotted && column % 2 == 1 {
            continue;
        }
        let top = axis.row(f64::from(extent.max), rows);
        let bottom = axis.row(f64::from(extent.min), rows);
        for row in top..=bottom {
            let at =
                usize::from(row / down) * usize::from(area.width) + usize::from(column / across);
            if let Some(cell) = cells.get_mut(at) {
                *cell |= bit(column % across, row % down);
            }
        }
    }
    for (at, cell) in cells.iter().enumerate().filter(|(_, cell)| **cell != 0) {
        let width = usize::from(area.width);
        let (Ok(x), Ok(y)) = (u16::try_from(at % width), u16::try_from(at / width)) else {
            continue;
        };
        let mut letters = [0; 4];
        let symbol = match (pen.theme.charset, line) {
            (Charset::Unicode, _) => char::from_u32(0x2800 + u32::from(*cell))
                .unwrap_or('?')
                .encode_utf8(&mut letters),
            (Charset::Ascii, Line::Whole) => "*",
            (Charset::Ascii, Line::Dotted) => ",",
        };
        pen.put(area.left() + x, area.top() + y, 1, symbol, tone);
    }
}

/// The bit of a dot in a Braille pattern (Unicode 0x2800: dots 1 2 3 7 down the left, 4 5 6 8 down the right).
pub fn bit(column: u16, row: u16) -> u8 {
    match (column, row) {
        (0, 0..=2) => 1 << row,
        (0, _) => 1 << 6,
        (_, 0..=2) => 1 << (row + 3),
        _ => 1 << 7,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::theme::Theme;
    use measure::units::{Code, Step};
    use ratatui::buffer::Buffer;

    #[test]
    fn a_dropout_of_one_sample_in_a_minute_is_on_the_screen() {
        let mut codes = vec![Code(500); 60_000];
        codes[31_234] = Code(0);
        let mut store = Store::default();
        let t: Vec<u64> = (0..60_000_u64).map(|i| i * 1000).collect();
        store.feed(&t, &vec![Step::Rest; 60_000], &[codes], &[0]);
        let firsts = columns(&store, (0, 59_999_000), 100);
        let extents = extents(&store, 0, &firsts, 1500);
        assert_eq!(extents.len(), 100);
        let deep: Vec<usize> = (0..100).filter(|c| extents[*c].unwrap().min == 0).collect();
        assert_eq!(deep, [52]); // 31 234 of 60 000 is column 52.05
        let area = Rect::new(0, 0, 50, 4);
        let mut buffer = Buffer::empty(area);
        let axis = Axis {
            low: 0.0,
            high: 1024.0,
        };
        trace(
            &mut Pen::new(&mut buffer, Theme::default()),
            area,
            axis,
            &extents,
            Line::Whole,
            Tone::Plain,
        );
        assert_eq!(buffer[(26, 3)].symbol(), "⡇");
        assert_eq!(buffer[(25, 3)].symbol(), " ");
    }

    #[test]
    fn a_gap_stays_a_gap() {
        let mut store = Store::default();
        let t: Vec<u64> = (0..10).chain(30..40).map(|i| i * 1000).collect();
        store.feed(&t, &[], &[vec![Code(5); 20]], &[0]);
        let firsts = columns(&store, (0, 39_000), 40);
        let extents = extents(&store, 0, &firsts, 1500);
        let there: Vec<bool> = extents.iter().map(Option::is_some).collect();
        assert!(there[..9].iter().all(|t| *t) && there[31..].iter().all(|t| *t));
        assert!(there[11..29].iter().all(|t| !*t), "{there:?}");
    }

    #[test]
    fn zoomed_in_past_the_samples_the_trace_holds_together() {
        let mut store = Store::default();
        store.feed(
            &[0, 1000, 2000],
            &[],
            &[vec![Code(0), Code(9), Code(9)]],
            &[0],
        );
        let firsts = columns(&store, (0, 2000), 20);
        assert!(
            extents(&store, 0, &firsts, 1500)
                .iter()
                .all(Option::is_some)
        );
    }

    #[test]
    fn rows_and_codes_are_each_others_inverse() {
        let axis = Axis {
            low: 100.0,
            high: 900.0,
        };
        for row in 0..8 {
            let (low, high) = axis.codes(row, 8);
            assert_eq!(axis.row(f64::midpoint(low, high), 8), row);
        }
        assert_eq!(axis.row(5000.0, 8), 0);
        assert_eq!(axis.row(-5.0, 8), 7);
        assert_eq!(axis.row(f64::NAN, 8), 0);
    }
}
