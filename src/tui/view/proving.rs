//! A flashed board held against its block: the question before it, the run, the verdict.
//!
//! Belongs here: the layout and words of those places. Does not belong here: what is right or wrong (`proof`).

use super::choose::heading;
use super::pen::{self, Pen};
use super::split;
use crate::bench::{BANDS, FaultSeen, LinkState, ProofNow, ProofPoint, ProofWatch, Stood, band};
use crate::proof::Stage;
use crate::report::SAFETY;
use crate::tui::blocks::ProofRound;
use crate::tui::proving::{ProofAsk, ProofTold, Proving, YES, sources};
use crate::tui::state::{Phase, State};
use crate::tui::theme::{self, Tone};
use crate::tui::words;
use crate::twin::State as Board;
use ratatui::layout::Rect;

/// Words of the two rounds: what each is, and what a person does in it.
fn round_words(round: ProofRound) -> (&'static str, &'static str) {
    match round {
        ProofRound::Compare => (
            "the right output everywhere",
            "go through all of pedal x dial, stand still at many positions; begin and end at rest",
        ),
        ProofRound::Faults => (
            "a stop at every fault",
            "the signal wire pulled, tied to ground, tied to the supply, each asked for in turn",
        ),
    }
}

/// The question before a proof.
pub fn ask(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let Some(ask) = &state.ask else {
        return;
    };
    heading(pen, area, "Hold a flashed board against its block");
    let (body, foot) = split(area, area.height.saturating_sub(3));
    let mut rest = inset(split(body, 2).1);
    let mut row = |pen: &mut Pen<'_>, words: &str, tone: Tone| {
        let taken = pen.wrapped(rest, words, tone);
        rest = split(rest, taken).1;
    };
    row(pen, SAFETY, Tone::Open);
    row(
        pen,
        "Isolate the traction battery while wiring.",
        Tone::Open,
    );
    let block = format!("block   {}", ask.offer.name);
    row(pen, &block, Tone::Plain);
    for round in [ProofRound::Compare, ProofRound::Faults] {
        let (mark, tone) = chosen(pen, ask.round == round, Tone::Quiet);
        let (is, does) = round_words(round);
        row(pen, &format!("{mark} {is}: {does}"), tone);
    }
    row(pen, "measured at", Tone::Quiet);
    measured_at(state, ask, pen, rest);
    let foot = inset(foot);
    let question = format!(
        "Are the drive wheels off the ground or the motor leads off? Type {YES}: {}_",
        ask.typed
    );
    let taken = pen.wrapped(foot, &question, Tone::Now);
    if let Some(why) = &ask.refused {
        pen.wrapped(split(foot, taken).1, why, Tone::Bad);
    }
}

/// The sources, as many as fit around the one under the pointer.
fn measured_at(state: &State, ask: &ProofAsk, pen: &mut Pen<'_>, area: Rect) {
    let sources = sources(state, &ask.offer);
    if sources.is_empty() {
        let words = "no board found: plug one in and press f5";
        pen.put(area.x, area.y, area.width, words, Tone::Open);
    }
    let first = (ask.source + 1).saturating_sub(usize::from(area.height));
    let rows = (area.top()..area.bottom()).zip(sources.iter().enumerate().skip(first));
    for (y, (at, source)) in rows {
        let (mark, tone) = chosen(pen, at == ask.source, Tone::Plain);
        let detail = match source.blocked {
            Some(_) => "cannot be used as it is",
            None => source.detail.as_str(),
        };
        let words = format!("{mark} {}: {detail}", source.name);
        pen.put(area.x, y, area.width, &words, tone);
    }
}

/// The mark and tone of a choice.
fn chosen(pen: &Pen<'_>, is: bool, otherwise: Tone) -> (&'static str, Tone) {
    if is {
        (pen.glyphs().pointer, Tone::Strong)
    } else {
        ("-", otherwise)
    }
}

/// A proof under way or over.
pub fn draw(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let Some(proving) = &state.proving else {
        return;
    };
    let name = pen::cut(&proving.choice.offer.name, 30);
    let title = format!("{name}: {}", round_words(proving.choice.round).0);
    heading(pen, area, &title);
    let body = split(area, 1).1;
    match (&state.run.phase, &proving.told) {
        (Phase::Live, _) => live(state, proving, pen, body),
        (Phase::Failed(why), _) => {
            pen.put(
                body.x + 2,
                body.y + 1,
                body.width,
                "The run cannot go on.",
                Tone::Strong,
            );
            pen.wrapped(inset(split(body, 2).1), why, Tone::Plain);
        }
        (Phase::Finished, None) => {
            pen.put(
                body.x + 2,
                body.y + 1,
                body.width,
                "Working out the verdict from the whole capture.",
                Tone::Now,
            );
        }
        (Phase::Finished, Some(Err(why))) => {
            pen.put(
                body.x + 2,
                body.y + 1,
                body.width,
                "There is no verdict.",
                Tone::Strong,
            );
            pen.wrapped(inset(split(body, 2).1), why, Tone::Bad);
        }
        (Phase::Finished, Some(Ok(told))) => verdict(proving, told, pen, body),
    }
}

fn live(state: &State, proving: &Proving, pen: &mut Pen<'_>, area: Rect) {
    let (card, rest) = split(area, 4);
    now(state, proving, pen, card);
    let Some(watch) = &proving.watch else {
        return;
    };
    let faults = proving.choice.round == ProofRound::Faults;
    let (picture, below) = split(
        rest,
        rest.height
            .saturating_sub(rows_below(watch, faults, rest.height)),
    );
    trace(watch, pen, picture);
    let (left, right) = halves(below);
    readings(watch, pen, left);
    if faults {
        rounds(watch.faults(), pen, right);
    } else {
        map(watch, pen, right);
    }
}

fn rows_below(watch: &ProofWatch, faults: bool, height: u16) -> u16 {
    let wanted = if faults {
        8
    } else {
        6 + u16::try_from(watch.stood().len())
            .unwrap_or(u16::MAX)
            .min(20)
    };
    wanted.clamp(8, (height / 2).max(8))
}

/// What to do, and how far it is.
fn now(state: &State, proving: &Proving, pen: &mut Pen<'_>, area: Rect) {
    let (first, under, tone) = told_now(state, proving);
    let pieces = [
        (pen.glyphs().pointer, tone),
        (" ", tone),
        (first.as_str(), Tone::Strong),
    ];
    let place = Rect {
        x: area.x + 2,
        width: area.width.saturating_sub(3),
        ..area
    };
    pen.pieces(place, area.top() + 1, &pieces);
    let below = Rect {
        x: place.x + 2,
        y: area.y + 2,
        width: place.width.saturating_sub(2),
        height: 1,
    };
    pen.wrapped(below, &under, Tone::Plain);
}

fn told_now(state: &State, proving: &Proving) -> (String, String, Tone) {
    let waited = state.clock.saturating_sub(state.run.began).as_secs();
    let health = state.run.health.as_ref();
    let advice = health.and_then(|health| health.advice.clone());
    if proving.unfit.is_some() {
        return (
            "This board and the block do not go together.".into(),
            "Ending the run.".into(),
            Tone::Bad,
        );
    }
    if health.is_some_and(|health| health.link == LinkState::Lost) {
        let under = advice.unwrap_or_else(|| "It goes on by itself.".to_owned());
        return (
            "The measuring board is gone. Plug it in again.".into(),
            under,
            Tone::Bad,
        );
    }
    let Some(watch) = &proving.watch else {
        let under = advice.unwrap_or_else(|| {
            format!("Nothing that can be read has come yet; {waited} s so far.")
        });
        return ("Waiting for the measuring board.".into(), under, Tone::Open);
    };
    if let Some((stage, at, of)) = watch.stage() {
        let under = match stage {
            Stage::Done => "Ending the run.".to_owned(),
            _ => {
                format!("fault {at} of {of}; it goes on by itself when it is done, k leaves it out")
            }
        };
        return (sentence(stage), under, Tone::Now);
    }
    let (seen, of) = watch.covered();
    let time = state.run.steps.first().map_or_else(String::new, |step| {
        format!(", {:.0} of {:.0} s", step.have, step.want)
    });
    let under = format!(
        "stood still at {} places, in {seen} of {of} areas{time}",
        watch.stood().len()
    );
    (
        "Stand still for a second, then move on to another place of pedal and dial.".into(),
        under,
        Tone::Now,
    )
}

/// The guide's words as a sentence.
fn sentence(stage: Stage) -> String {
    let words = match stage {
        Stage::Power => "release, and cycle the board's power; k if it is not noticed",
        other => other.words(),
    };
    let mut letters = words.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    format!("{}{}.", first.unwrap_or_default(), letters.as_str())
}

/// The output over time in the band that the block allows.
fn trace(watch: &ProofWatch, pen: &mut Pen<'_>, area: Rect) {
    pen.rule(
        area,
        area.top(),
        &format!("{}, mV, in the band that the block allows", watch.names().1),
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
    let (zero, full) = watch.ends_mv();
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
fn readings(watch: &ProofWatch, pen: &mut Pen<'_>, area: Rect) {
    pen.rule(area, area.top(), "now");
    let body = inset(split(area, 1).1);
    let Some(now) = watch.now() else {
        pen.put(body.x, body.y, body.width, "no sample yet", Tone::Quiet);
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
        (format!("by its block it {state}"), tone),
        (inputs.join("  "), Tone::Quiet),
    ];
    for (y, (words, tone)) in (body.top()..body.bottom()).zip(&rows) {
        pen.put(body.x, y, body.width, words, *tone);
    }
    let places = split(body, 4).1;
    for (y, stood) in (places.top()..places.bottom()).zip(watch.stood().iter().rev()) {
        pen.put(places.x, y, places.width, &stood_words(stood), Tone::Quiet);
    }
}

fn board_words(now: &ProofNow) -> (&'static str, Tone) {
    match now.twin {
        Board::Waiting => ("waits to be seen at rest", Tone::Open),
        Board::Running => ("runs", Tone::Good),
        Board::Stopped => ("is stopped", Tone::Bad),
    }
}

fn stood_words(stood: &Stood) -> String {
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
fn map(watch: &ProofWatch, pen: &mut Pen<'_>, area: Rect) {
    pen.rule(area, area.top(), "stood still in, by % of command");
    let body = inset(split(area, 1).1);
    if watch
        .stood()
        .iter()
        .any(|stood| stood.factors_pct.len() > 2)
    {
        let (seen, of) = watch.covered();
        pen.put(
            body.x,
            body.y,
            body.width,
            &format!("{seen} of {of} areas"),
            Tone::Plain,
        );
        return;
    }
    let count = |across: usize, up: usize| {
        let inside = |stood: &&Stood| {
            let at = |n: usize| stood.factors_pct.get(n).map(|pct| band(*pct, BANDS));
            at(0) == Some(across) && at(1).is_none_or(|at| at == up)
        };
        watch.stood().iter().filter(inside).count()
    };
    for (y, up) in (body.top()..body.bottom()).zip((0..BANDS).rev()) {
        let mut x = pen.put(
            body.x,
            y,
            body.width,
            &format!("{:>3}+ ", up * 100 / BANDS),
            Tone::Quiet,
        );
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
        pen.put(body.x, body.y + 4, body.width, foot, Tone::Quiet);
    }
}

/// How the faults went so far.
fn rounds(faults: &[FaultSeen], pen: &mut Pen<'_>, area: Rect) {
    pen.rule(area, area.top(), "faults so far, at a first look");
    let body = inset(split(area, 1).1);
    if faults.is_empty() {
        pen.put(body.x, body.y, body.width, "none yet", Tone::Quiet);
    }
    let mut rest = body;
    for seen in faults {
        let (words, tone) = fault_words(seen);
        let taken = pen.wrapped(rest, &words, tone);
        rest = split(rest, taken).1;
    }
}

fn fault_words(seen: &FaultSeen) -> (String, Tone) {
    let name = seen.fault.word();
    if seen.left_out {
        return (format!("{name}: left out"), Tone::Quiet);
    }
    let peak = seen
        .peak_mv
        .map_or_else(String::new, |mv| format!(", at most {mv:.0} mV after it"));
    match (seen.zero_ms, seen.came_back) {
        (_, true) => (format!("{name}: THE OUTPUT CAME BACK{peak}"), Tone::Bad),
        (Some(ms), false) => (
            format!(
                "{name}: zero after {} ms{peak}, zero since",
                words::bare(ms)
            ),
            Tone::Good,
        ),
        (None, false) if seen.peak_mv.is_some() => {
            (format!("{name}: NOT ZERO YET{peak}"), Tone::Bad)
        }
        (None, false) => (format!("{name}: asked for"), Tone::Open),
    }
}

/// The verdict with everything that decided it.
fn verdict(proving: &Proving, told: &ProofTold, pen: &mut Pen<'_>, area: Rect) {
    let tone = theme::verdict_tone(told.verdict);
    let mark = pen.theme.verdict_mark(told.verdict);
    let (first, rest) = split(area, 2);
    let mut lines = told.text.lines();
    let head = lines.next().unwrap_or_default();
    let pieces = [("  ", Tone::Plain), (mark, tone), (" ", tone), (head, tone)];
    pen.pieces(first, first.y + 1, &pieces);
    let (body, foot) = split(rest, rest.height.saturating_sub(2));
    // The text is 80 columns wide.
    let text = Rect {
        width: body.width.min(80),
        ..body
    };
    let rows: Vec<&str> = lines.collect();
    for (y, row) in (text.top()..text.bottom()).zip(rows.iter().skip(proving.top)) {
        pen.put(text.x, y, text.width, row, row_tone(row));
    }
    let below = rows
        .len()
        .saturating_sub(proving.top + usize::from(text.height));
    if below > 0 {
        pen.right(
            Rect {
                width: area.width.saturating_sub(1),
                ..area
            },
            first.y + 1,
            &format!("{below} more rows below"),
            Tone::Quiet,
        );
    }
    if let (Some(watch), true) = (&proving.watch, area.width >= 140) {
        let beside = Rect {
            x: text.right() + 2,
            width: area.right().saturating_sub(text.right() + 3),
            ..body
        };
        let (picture, below) = split(beside, beside.height / 2);
        trace(watch, pen, picture);
        match proving.choice.round {
            ProofRound::Compare => map(watch, pen, below),
            ProofRound::Faults => rounds(watch.faults(), pen, below),
        }
    }
    let (words, tone) = match &proving.saved {
        Some(Ok(what)) => (what.clone(), Tone::Good),
        Some(Err(why)) => (format!("Not saved. {why}"), Tone::Bad),
        None => (
            "Not saved yet: s keeps the capture and its marks.".to_owned(),
            Tone::Quiet,
        ),
    };
    pen.wrapped(inset(foot), &words, tone);
}

/// Rows of findings have the tone of their outcome.
fn row_tone(row: &str) -> Tone {
    use crate::judge::Outcome;
    let outcomes = [
        Outcome::Pass,
        Outcome::Fail,
        Outcome::Undecided,
        Outcome::NotMeasured,
    ];
    let is = |outcome: &&Outcome| row.starts_with(&format!("  {outcome} "));
    match outcomes.iter().find(is) {
        Some(outcome) => theme::outcome_tone(*outcome),
        None => Tone::Plain,
    }
}

fn halves(area: Rect) -> (Rect, Rect) {
    let left = Rect {
        width: area.width / 2,
        ..area
    };
    let right = Rect {
        x: left.right() + 1,
        width: area.width.saturating_sub(left.width + 1),
        ..area
    };
    (left, right)
}

fn inset(area: Rect) -> Rect {
    Rect {
        x: area.x + 2.min(area.width),
        width: area.width.saturating_sub(4),
        ..area
    }
}
