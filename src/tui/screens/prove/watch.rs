//! What a proof shows while it runs: the output in its band, readings, places stood in, faults so far.

use crate::bench::{BANDS, Dwell, FaultSeen, ProofNow, ProofPoint, ProofWatch, band};
use crate::proof::Fault;
use crate::tui::draw::{Pen, inset, split};
use crate::tui::theme::Tone;
use crate::twin::State as Board;
use measure::figure::numbers::four_digits;
use ratatui::layout::Rect;

/// The output over time in the band that the block allows.
pub fn trace(watch: &ProofWatch, pen: &mut Pen<'_>, area: Rect) {
    pen.rule(
        area,
        area.top(),
        &format!(
            "{}, mV, in the band that the constants file allows",
            watch.names().1
        ),
    );
    let plot = Rect {
        x: area.x + 8,
        y: area.y + 1,
        width: area.width.saturating_sub(9),
        height: area.height.saturating_sub(1),
    };
    if plot.width < 4 || plot.height < 2 {
        return;
    }
    let (zero, full) = watch.output_range_mv();
    let top = full + 0.08 * (full - zero);
    for (mv, label) in [(full, "full"), (zero, "zero")] {
        let y = row_of(mv, top, plot);
        pen.right(
            Rect { width: 7, ..area },
            y,
            &format!("{} {mv:.0}", &label[..1]),
            Tone::Quiet,
        );
    }
    let columns = usize::from(plot.width);
    let each = per_column(watch, columns);
    let points: Vec<&ProofPoint> = watch.points().iter().collect();
    let shown = &points[points.len().saturating_sub(columns * each)..];
    for (x, chunk) in (plot.x..plot.right()).zip(shown.chunks(each)) {
        column(pen, plot, x, top, chunk);
    }
}

/// Points drawn in one column: as few as show ten seconds or what there is.
fn per_column(watch: &ProofWatch, columns: usize) -> usize {
    watch
        .points()
        .len()
        .min(750)
        .div_ceil(columns.max(1))
        .max(1)
}

fn column(pen: &mut Pen<'_>, plot: Rect, x: u16, top: f64, chunk: &[&ProofPoint]) {
    let allowed = chunk
        .iter()
        .filter_map(|point| point.allowed_mv)
        .reduce(hull);
    if let Some([low, high]) = allowed {
        let mark = pen.glyphs().band;
        for y in row_of(high, top, plot)..=row_of(low, top, plot) {
            pen.put(x, y, 1, mark, Tone::Band);
        }
    }
    let Some([low, high]) = chunk.iter().map(|point| point.measured_mv).reduce(hull) else {
        return;
    };
    let good = !chunk.iter().any(|point| outside(point));
    let mark = if good {
        pen.glyphs().interval
    } else {
        pen.theme.either("╳", "X")
    };
    for y in row_of(high, top, plot)..=row_of(low, top, plot) {
        pen.put(x, y, 1, mark, if good { Tone::Lane(0) } else { Tone::Bad });
    }
}

fn outside(point: &ProofPoint) -> bool {
    let [low, high] = point.measured_mv;
    point
        .allowed_mv
        .is_some_and(|[least, most]| low < least || high > most)
}

fn hull(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0].min(b[0]), a[1].max(b[1])]
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped into the plot
fn row_of(mv: f64, top: f64, plot: Rect) -> u16 {
    let last = f64::from(plot.height - 1);
    let up = (mv / top.max(1.0) * last).round().clamp(0.0, last);
    plot.bottom() - 1 - up as u16
}

/// What is read now, what should come, and the places so far.
pub fn readings(watch: &ProofWatch, pen: &mut Pen<'_>, area: Rect) {
    pen.rule(area, area.top(), "now");
    let body = inset(split(area, 1).1);
    let Some(now) = watch.now() else {
        pen.left(body, body.y, "no sample yet", Tone::Quiet);
        return;
    };
    let (state, tone) = board_words(now);
    let allowed = now.allowed_mv.map_or_else(
        || "-".to_owned(),
        |[low, high]| format!("{low:.0} to {high:.0} mV"),
    );
    let inputs: Vec<String> = watch
        .names()
        .0
        .iter()
        .zip(&now.inputs)
        .map(|(name, code)| format!("{name} {}", code.0))
        .collect();
    let rows = [
        (format!("measured  {:.0} mV", now.measured_mv), Tone::Strong),
        (format!("allowed   {allowed}"), Tone::Plain),
        (format!("by its constants file it {state}"), tone),
        (inputs.join("  "), Tone::Quiet),
    ];
    for (y, (words, tone)) in (body.top()..body.bottom()).zip(&rows) {
        pen.left(body, y, words, *tone);
    }
    let places = split(body, 4).1;
    for (y, stood) in (places.top()..places.bottom()).zip(watch.dwells().iter().rev()) {
        pen.left(places, y, &stood_words(stood), Tone::Quiet);
    }
}

fn board_words(now: &ProofNow) -> (&'static str, Tone) {
    match now.twin {
        Board::Waiting => ("waits to be seen at rest", Tone::Open),
        Board::Running => ("runs", Tone::Good),
        Board::Stopped => ("is stopped", Tone::Bad),
    }
}

fn stood_words(stood: &Dwell) -> String {
    let at: Vec<String> = stood
        .factors_pct
        .iter()
        .map(|pct| format!("{pct:.0} %"))
        .collect();
    format!(
        "at {}: {:.0} mV wanted, {:+.0}",
        at.join(" x "),
        stood.expected_mv,
        stood.measured_mv - stood.expected_mv
    )
}

/// Which areas of pedal x dial were stood in, and how often.
pub fn map(watch: &ProofWatch, pen: &mut Pen<'_>, area: Rect) {
    pen.rule(area, area.top(), "stood still in, by % of command");
    let body = inset(split(area, 1).1);
    if watch
        .dwells()
        .iter()
        .any(|stood| stood.factors_pct.len() > 2)
    {
        let (seen, of) = watch.covered();
        pen.left(body, body.y, &format!("{seen} of {of} areas"), Tone::Plain);
        return;
    }
    let count = |across: usize, up: usize| {
        let inside = |stood: &&Dwell| {
            let at = |n: usize| stood.factors_pct.get(n).map(|pct| band(*pct, BANDS));
            at(0) == Some(across) && at(1).is_none_or(|at| at == up)
        };
        watch.dwells().iter().filter(inside).count()
    };
    for (y, up) in (body.top()..body.bottom()).zip((0..BANDS).rev()) {
        let mut x = pen.left(body, y, &format!("{:>3}+ ", up * 100 / BANDS), Tone::Quiet);
        for across in 0..BANDS {
            let n = count(across, up);
            let (text, tone) = match n {
                0 => (format!("  {}  ", pen.glyphs().outside), Tone::Quiet),
                n => (format!(" {n:>2}  "), Tone::Good),
            };
            x = pen.put(x, y, body.right().saturating_sub(x), &text, tone);
        }
    }
    let foot = "      0+  25+  50+  75+  %";
    if body.height > 4 {
        pen.left(body, body.y + 4, foot, Tone::Quiet);
    }
}

/// How the faults went so far.
pub fn rounds(faults: &[FaultSeen], pen: &mut Pen<'_>, area: Rect) {
    pen.rule(area, area.top(), "faults so far, at a first look");
    let body = inset(split(area, 1).1);
    if faults.is_empty() {
        pen.left(body, body.y, "none yet", Tone::Quiet);
    }
    let mut rest = body;
    for seen in faults {
        let (words, tone) = fault_words(seen);
        let taken = pen.wrapped(rest, &words, tone);
        rest = split(rest, taken).1;
    }
}

fn fault_words(seen: &FaultSeen) -> (String, Tone) {
    let fault = seen.trial.fault.word().replace('-', " ");
    let name = match (seen.trial.input, seen.trial.fault) {
        (Some(input), Fault::Open) => format!("A{input}, wire open"),
        (Some(input), _) => format!("A{input}, wire to {fault}"),
        (None, _) => fault,
    };
    if seen.left_out {
        return (format!("{name}: skipped"), Tone::Quiet);
    }
    let peak = seen
        .peak_mv
        .map_or_else(String::new, |mv| format!("; {mv:.0} mV at most"));
    match (seen.zero_ms, seen.came_back) {
        (_, true) => (format!("{name}: THE OUTPUT CAME BACK{peak}"), Tone::Bad),
        (Some(ms), false) => (
            format!(
                "{name}: off after {} ms and stayed off{peak}",
                four_digits(ms)
            ),
            Tone::Good,
        ),
        (None, false) if seen.peak_mv.is_some() => {
            (format!("{name}: NOT ZERO YET{peak}"), Tone::Bad)
        }
        (None, false) if seen.done => (format!("{name}: done"), Tone::Good),
        (None, false) => (format!("{name}: asked for"), Tone::Open),
    }
}
