//! The picture of what a block puts out over two controls, with the point where they stand now.

use super::state::{Blend, Fed, Outcome};
use crate::constants::{Q15_ONE, Task};
use crate::tui::draw::{Pen, columns_of, cut, inset, rows_of, split};
use crate::tui::run::Run;
use crate::tui::session::Session;
use crate::tui::theme::{Charset, Tone};
use crate::twin::StepOutput;
use crate::twin::blend::{BlendCell, EdgeView, percent};
use ratatui::layout::Rect;

/// From this width on the edges stand beside the picture.
const WIDE: u16 = 120;
/// Columns of what stands beside the picture.
const BESIDE: u16 = 46;
/// Columns left of the picture.
const SCALE: u16 = 7;
/// Growing command in the plain set: a tenth each.
const PLAIN: &[&str] = &[".", ":", "-", "=", "+", "*", "#", "%", "@", "M"];

/// What must be remembered where a command is shown.
const SETTLED: &str = "Settled outputs by the firmware's own arithmetic; rise and fall limits and filters at their end.";

impl Blend {
    pub fn view(&self, session: &Session, pen: &mut Pen<'_>, area: Rect) {
        pen.heading(area, &format!("What {} puts out", self.offer.name));
        let codes = self.codes(&session.run);
        let inputs = u16::try_from(self.inputs.len()).unwrap_or(3);
        let (above, foot) = split(split(area, 1).1, area.height.saturating_sub(inputs + 5));
        let (left, beside) = if area.width >= WIDE {
            let left = columns_of(above, above.x, above.width - BESIDE);
            let right = columns_of(above, left.right() + 1, BESIDE - 2);
            (left, right)
        } else {
            (above, Rect::default())
        };
        picture(self, pen, left, &codes);
        edges(self, pen, beside);
        readings(&session.run, self, pen, foot, &codes);
    }
}

/// The picture: a cell's height (or shade) is the command there.
fn picture(page: &Blend, pen: &mut Pen<'_>, area: Rect, codes: &[Option<u16>]) {
    let rows = area.height.saturating_sub(2);
    let (Some(down), true) = (
        page.table.len().checked_sub(1),
        rows >= 1 && area.width > SCALE + 8,
    ) else {
        return;
    };
    let name = |at: usize| {
        page.factors
            .get(at)
            .and_then(|input| page.inputs.get(*input))
    };
    let first = name(0).map_or("-", |reading| reading.name.as_str());
    let second = name(1).map_or("", |reading| reading.name.as_str());
    let over = match second {
        "" => format!("command over {first}"),
        second => format!("command over {first} (across) and {second} (up)"),
    };
    pen.rule(area, area.top(), &over);
    let width = area.width - SCALE - 1;
    let plot = Rect {
        x: area.x + SCALE,
        y: area.y + 1,
        width,
        height: if down == 0 { rows.min(3) } else { rows },
    };
    for y in 0..plot.height {
        let share = if plot.height > 1 {
            f64::from(plot.height - 1 - y) / f64::from(plot.height - 1)
        } else {
            1.0
        };
        let Some(row) = page.table.get(nearest(share, down)) else {
            continue;
        };
        if y == 0 || y + 1 == plot.height || y == plot.height / 2 {
            let code = row.first().and_then(|put| put.second);
            let label = code.map_or_else(String::new, |code| code.to_string());
            pen.right(
                columns_of(area, area.x, SCALE - 1),
                plot.y + y,
                &label,
                Tone::Quiet,
            );
        }
        for x in 0..plot.width {
            let share = f64::from(x) / f64::from(plot.width.max(2) - 1);
            let put = row.get(nearest(share, row.len().saturating_sub(1)));
            if let Some(put) = put {
                let (cell, tone) = cell(pen, put);
                pen.put(plot.x + x, plot.y + y, 1, cell, tone);
            }
        }
    }
    ends(page, pen, plot);
    point(page, pen, plot, codes);
}

/// Codes under the picture: at its ends and in its middle.
fn ends(page: &Blend, pen: &mut Pen<'_>, plot: Rect) {
    let Some(row) = page.table.first() else {
        return;
    };
    let at = |share: f64| {
        row.get(nearest(share, row.len().saturating_sub(1)))
            .map_or_else(String::new, |put| put.first.to_string())
    };
    let place = rows_of(plot, plot.bottom(), 1);
    pen.left(place, place.y, &at(0.0), Tone::Quiet);
    pen.middle(place, place.y, &at(0.5), Tone::Quiet);
    pen.right(place, place.y, &at(1.0), Tone::Quiet);
}

/// Where the controls stand now; beyond an end it is drawn at that end.
fn point(page: &Blend, pen: &mut Pen<'_>, plot: Rect, codes: &[Option<u16>]) {
    let share = |at: usize| -> Option<f64> {
        let input = *page.factors.get(at)?;
        let code = codes.get(input).copied().flatten()?;
        let Task::Factor(factor) = &page.offer.block.numbers().inputs.get(input)?.task else {
            return None;
        };
        let whole = f64::from(factor.full_edge.abs_diff(factor.rest_edge)).max(1.0);
        Some(f64::from(factor.travel(code)) / whole)
    };
    let Some(across) = share(0) else {
        return;
    };
    let up = share(1).unwrap_or(1.0);
    let x = plot.x + cells(across, plot.width);
    let y = plot.bottom() - 1 - cells(up, plot.height);
    let good = matches!(page.outcome(codes), Outcome::Runs(_));
    let [left, right] = pen.glyphs().off;
    let mark = match across {
        a if a < 0.0 => left,
        a if a > 1.0 => right,
        _ => pen.glyphs().value,
    };
    pen.put(x, y, 1, mark, if good { Tone::Now } else { Tone::Bad });
}

/// A share of so many cells, from 0.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 ..= cells - 1
fn cells(share: f64, cells: u16) -> u16 {
    let last = f64::from(cells.saturating_sub(1));
    (share * last).round().clamp(0.0, last) as u16
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // 0 ..= last, which is small
fn nearest(share: f64, last: usize) -> usize {
    (share * last as f64).round().clamp(0.0, last as f64) as usize
}

fn cell(pen: &Pen<'_>, put: &BlendCell) -> (&'static str, Tone) {
    let Some(command) = put.command_q15 else {
        return (pen.glyphs().fault, Tone::Fault);
    };
    if command == 0 {
        return (pen.theme.either("·", " "), Tone::Quiet);
    }
    let steps = if pen.theme.charset == Charset::Ascii {
        PLAIN
    } else {
        pen.glyphs().fill
    };
    let share = f64::from(command) / f64::from(Q15_ONE);
    (steps[nearest(share, steps.len() - 1)], Tone::Lane(0))
}

fn edges(page: &Blend, pen: &mut Pen<'_>, area: Rect) {
    if area.height < 4 {
        return;
    }
    pen.rule(area, area.top(), "at the edges, the others at full");
    let mut rest = inset(split(area, 1).1);
    for edge in &page.edges {
        let name = page
            .inputs
            .get(edge.input)
            .map_or("-", |reading| reading.name.as_str());
        for (words, tone) in edge_words(edge, name) {
            let taken = pen.wrapped(rest, &words, tone);
            rest = split(rest, taken).1;
        }
        rest = split(rest, 1).1;
    }
    pen.wrapped(rest, SETTLED, Tone::Quiet);
}

fn edge_words(edge: &EdgeView, name: &str) -> Vec<(String, Tone)> {
    let list = |codes: &[(u16, Option<u16>)]| {
        let each: Vec<String> = codes
            .iter()
            .map(|(code, dac)| match dac {
                Some(dac) => format!("{code} gives {dac}"),
                None => format!("{code} stops"),
            })
            .collect();
        each.join(", ")
    };
    let mut words = vec![
        (name.to_owned(), Tone::Strong),
        (format!("zero: {}", list(&edge.zero)), Tone::Plain),
        (format!("full: {}", list(&edge.full)), Tone::Plain),
    ];
    if let Some((code, dac)) = edge.first_step {
        words.push((format!("first step: code {code} gives {dac}"), Tone::Plain));
    }
    words
}

/// The inputs with where their codes come from, and what comes out.
fn readings(run: &Run, page: &Blend, pen: &mut Pen<'_>, area: Rect, codes: &[Option<u16>]) {
    pen.rule(area, area.top(), "the controls now");
    for (y, (at, reading)) in (area.top() + 1..area.bottom()).zip(page.inputs.iter().enumerate()) {
        let (pointer, tone) = pen.pointer(at == page.at);
        let code = codes.get(at).copied().flatten();
        let input = page.offer.block.numbers().inputs.get(at);
        let window = input.map(|input| input.window);
        let outside = code.is_some_and(|code| !page.inside(at, code));
        let named = format!(" {:<16}", cut(&reading.name, 16));
        let is = code.map_or_else(|| "   -".to_owned(), |code| format!("{code:>4}"));
        let room = window.map_or_else(String::new, |window| {
            format!("  window {} to {}", window.low, window.high)
        });
        let fed = match reading.fed {
            Fed::Keys => "by hand".to_owned(),
            Fed::Partner => "agrees with its partner".to_owned(),
            Fed::Lane(lane) => {
                let name = run.lanes.get(lane).map_or("-", |lane| &lane.name);
                format!("live: {name}")
            }
        };
        let warning = if outside { "  OUTSIDE  " } else { "  " };
        let pieces = [
            ("  ", Tone::Plain),
            (pointer, Tone::Now),
            (&named, tone),
            (&is, if outside { Tone::Bad } else { Tone::Strong }),
            (&room, Tone::Quiet),
            (warning, Tone::Bad),
            (&fed, Tone::Quiet),
        ];
        pen.pieces(area, y, &pieces);
    }
    let y = area.top() + 1 + u16::try_from(page.inputs.len()).unwrap_or(3);
    if y < area.bottom() {
        output(page, pen, rows_of(area, y, area.bottom() - y), codes);
    }
}

fn output(page: &Blend, pen: &mut Pen<'_>, area: Rect, codes: &[Option<u16>]) {
    let place = inset(area);
    match page.outcome(codes) {
        Outcome::Unknown => {
            let words = "No code of every input yet: the channel that feeds it is silent. f feeds it by hand.";
            pen.wrapped(place, words, Tone::Open);
        }
        Outcome::Stops => {
            let outside =
                (0..codes.len()).any(|at| codes[at].is_some_and(|code| !page.inside(at, code)));
            let why = if outside {
                "an input is outside its window"
            } else {
                "the two tracks do not agree"
            };
            let zero = page.offer.block.numbers().output.zero_dac;
            let words = format!(
                "The board STOPS: {why}. Output zero (DAC code {zero}) until its power is cycled."
            );
            pen.wrapped(place, &words, Tone::Bad);
        }
        Outcome::Runs(shown) => running(page, pen, place, shown),
    }
}

fn running(page: &Blend, pen: &mut Pen<'_>, place: Rect, shown: StepOutput) {
    let top = (1_u32 << page.offer.block.numbers().board.dac_bits) - 1;
    let code = format!("DAC code {} of {top}", shown.dac);
    let command = format!("   {:.2} % of full command", percent(shown.command_q15));
    let pieces = [
        ("The board puts out ", Tone::Plain),
        (code.as_str(), Tone::Strong),
        (&command, Tone::Plain),
    ];
    pen.pieces(place, place.top(), &pieces);
}
