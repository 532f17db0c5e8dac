//! The card: what to do now, how far it is, what comes next; at the end the verdict and what decided it.

use super::sees::sees;
use crate::bench::{LinkState, StepProgress, StepState};
use crate::outlet::Shown;
use crate::report::decisive;
use crate::tui::draw::{Pen, Piece, columns_of, cut, rows_of, width, wrap};
use crate::tui::format;
use crate::tui::run::{Phase, Run};
use crate::tui::session::Session;
use crate::tui::theme::{self, Tone};
use measure::judge::{Finding, Outcome, Verdict};
use measure::units::Step;
use ratatui::layout::Rect;

/// Columns left and right of the card's words.
const MARGIN: u16 = 4;

/// Rows that the card wants, of `most`.
pub fn rows(run: &Run, width: u16, most: u16) -> u16 {
    let inner = width.saturating_sub(MARGIN);
    let wanted = match &run.phase {
        Phase::Live => return 4,
        Phase::Failed(why) => wrap(why, inner).len() + 2,
        Phase::Finished => reasons(run, inner).len() + 2,
    };
    u16::try_from(wanted)
        .unwrap_or(most)
        .clamp(4.min(most), most)
}

pub fn draw(session: &Session, pen: &mut Pen<'_>, area: Rect) {
    if area.height == 0 || area.width < 8 {
        return;
    }
    let run = &session.run;
    let tone = match &run.phase {
        Phase::Live => Tone::Now,
        Phase::Failed(_) => Tone::Bad,
        Phase::Finished => verdict(run).map_or(Tone::Plain, theme::verdict_tone),
    };
    let spine = pen.glyphs().spine;
    for y in area.top()..area.bottom() {
        pen.put(area.left() + 1, y, 1, spine, tone);
    }
    let inner = columns_of(area, area.x + 3, area.width - MARGIN);
    match &run.phase {
        Phase::Live => live(session, pen, inner),
        Phase::Failed(why) => failed(run, pen, inner, why),
        Phase::Finished => finished(run, pen, inner),
    }
}

/// What stands first while a run is under way, and the row under it.
pub struct Now {
    pub first: String,
    pub tone: Tone,
    pub under: Option<String>,
}

pub fn now(session: &Session) -> Now {
    let run = &session.run;
    let show = |first: &str, tone, under: Option<String>| Now {
        first: first.to_owned(),
        tone,
        under,
    };
    let advice = run.health.as_ref().and_then(|health| health.advice.clone());
    let waited = session.clock.saturating_sub(run.began).as_secs();
    if session.leaving {
        return show(
            "Ending the run. The recording is being closed.",
            Tone::Now,
            None,
        );
    }
    match run.health.as_ref().map(|health| health.link) {
        Some(LinkState::Lost) => {
            let under = advice
                .unwrap_or_else(|| "All recorded so far is safe; it goes on by itself.".into());
            return show(
                "The board is gone. Plug it in again.",
                Tone::Bad,
                Some(under),
            );
        }
        Some(LinkState::Ended) => {
            return show(
                "The stream is at its end. Working out what it says.",
                Tone::Now,
                advice,
            );
        }
        _ => {}
    }
    if run.taking.is_none() && run.store.is_empty() {
        let under = advice.unwrap_or_else(|| format!("Nothing readable yet ({waited} s)."));
        return show("Waiting for the board.", Tone::Open, Some(under));
    }
    match run.current() {
        Some(step) => match advice.or_else(|| sees(run, session.clock)) {
            Some(words) => show(&step.instruction, Tone::Open, Some(words)),
            None => show(&step.instruction, Tone::Now, None),
        },
        None if run
            .steps
            .iter()
            .any(|step| step.state == StepState::Waiting) =>
        {
            show("One moment.", Tone::Now, None)
        }
        None if run.steps.is_empty() => show("Recording.", Tone::Now, advice),
        None => show(
            "Every step is through. Working out the verdict.",
            Tone::Now,
            None,
        ),
    }
}

fn live(session: &Session, pen: &mut Pen<'_>, area: Rect) {
    let (run, now) = (&session.run, now(session));
    let mark = pen.glyphs().pointer;
    let pieces = [
        (mark, now.tone),
        (" ", now.tone),
        (&now.first, Tone::Strong),
    ];
    pen.pieces(area, area.top(), &pieces);
    let indented = Rect {
        x: area.x + 2,
        y: area.y + 1,
        width: area.width.saturating_sub(2),
        height: area.height.saturating_sub(2).min(2),
    };
    match (&now.under, run.current()) {
        (Some(words), _) => {
            pen.wrapped(indented, words, now.tone);
        }
        (None, Some(step)) => progress(pen, indented, step),
        (None, None) => {}
    }
    if area.height >= 3 {
        steps(run, pen, area, area.bottom() - 1);
    }
}

/// A bar and the evidence in numbers; the remark under them.
fn progress(pen: &mut Pen<'_>, area: Rect, step: &StepProgress) {
    let cells = (area.width / 4).min(40);
    let [full, empty] = bar(pen, step, cells);
    let evidence = format!("  {}", evidence(step));
    let keys = match (step.step, &step.asked) {
        (Step::Stations, Some(_)) => "   p type it   bksp undo",
        (Step::Stations, None) => "   p type them   k skip",
        _ => "",
    };
    let pieces: [Piece<'_>; 4] = [
        (&full, Tone::Now),
        (&empty, Tone::Quiet),
        (&evidence, Tone::Plain),
        (keys, Tone::Quiet),
    ];
    pen.pieces(area, area.top(), &pieces);
    if let (Some(remark), 2..) = (&step.remark, area.height) {
        pen.left(area, area.top() + 1, remark, Tone::Open);
    }
}

/// The full and the empty part of a bar of so many cells.
pub fn bar(pen: &Pen<'_>, step: &StepProgress, cells: u16) -> [String; 2] {
    let filled = filled(step.have, step.want, cells);
    let [full, empty] = pen.glyphs().bar;
    [
        full.repeat(usize::from(filled)),
        empty.repeat(usize::from(cells - filled)),
    ]
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // held inside 0 ..= cells
fn filled(have: f64, want: f64, cells: u16) -> u16 {
    let share = if want > 0.0 { have / want } else { 0.0 };
    (share * f64::from(cells)).clamp(0.0, f64::from(cells)) as u16
}

fn evidence(step: &StepProgress) -> String {
    let decimals = usize::from(step.unit == "s");
    let unit = match step.step {
        Step::Stations => "positions",
        _ => step.unit,
    };
    format!(
        "{:.decimals$} of {:.decimals$} {unit}",
        step.have, step.want
    )
}

/// The whole card in one row.
pub fn steps(run: &Run, pen: &mut Pen<'_>, area: Rect, y: u16) {
    let mut x = area.left() + 2;
    let text = |step: &StepProgress, skipped: &str| {
        let skipped = if step.state == StepState::Skipped {
            skipped
        } else {
            ""
        };
        let mark = pen.theme.step_mark(step.state);
        format!("{mark} {}{skipped}   ", step.name())
    };
    let said = |skipped| -> Vec<String> { run.steps.iter().map(|s| text(s, skipped)).collect() };
    let whole = said(" skipped");
    // The step under way matters more than a word at those that are over: their mark says it, too.
    let columns: u16 = whole.iter().map(|text| width(text.trim_end())).sum::<u16>();
    let gaps = 3 * u16::try_from(whole.len().saturating_sub(1)).unwrap_or(0);
    let texts = if x + columns + gaps > area.right() {
        said("")
    } else {
        whole
    };
    for (step, text) in run.steps.iter().zip(&texts) {
        let tone = match step.state {
            StepState::Done => Tone::Good,
            StepState::Current => Tone::Now,
            StepState::Waiting | StepState::Skipped => Tone::Quiet,
        };
        x = pen.put(x, y, area.right().saturating_sub(x), text, tone);
    }
}

fn failed(run: &Run, pen: &mut Pen<'_>, area: Rect, why: &str) {
    pen.left(area, area.top(), "The run cannot go on.", Tone::Strong);
    let below = rows_of(area, area.top() + 1, area.height - 1);
    let taken = pen.wrapped(below, why, Tone::Plain);
    if !run.store.is_empty() && taken < below.height {
        let samples = format!(
            "{} samples were taken before.",
            format::count(run.store.len() as u64)
        );
        pen.left(area, below.top() + taken, &samples, Tone::Quiet);
    }
}

/// The verdict of the last assessment.
fn verdict(run: &Run) -> Option<Verdict> {
    run.assessment.as_ref()?.verdict
}

/// The findings that made the verdict what it is.
fn deciding(run: &Run) -> Vec<&Finding> {
    run.assessment.as_deref().map_or_else(Vec::new, decisive)
}

/// The first words of a run that is over, their tone, and the reason.
fn outcome(run: &Run) -> (String, Tone, String) {
    let tone = verdict(run).map_or(Tone::Strong, theme::verdict_tone);
    let Some(assessment) = &run.assessment else {
        let why = "no sample arrived".to_owned();
        return ("NOTHING TAKEN".to_owned(), Tone::Strong, why);
    };
    let headline = &assessment.diagnosis.headline;
    let (first, why) = headline.split_once(": ").unwrap_or((headline, ""));
    (first.to_owned(), tone, why.to_owned())
}

/// What decided the verdict, in rows of `columns`: the first of each finding with its outcome.
fn reasons(run: &Run, columns: u16) -> Vec<(Option<Outcome>, String, Tone)> {
    let mut rows = Vec::new();
    let diagnosis = run
        .assessment
        .as_ref()
        .map(|assessment| &assessment.diagnosis);
    for cause in diagnosis.map_or(&[][..], |diagnosis| &diagnosis.causes) {
        let facts = cause.because.iter().map(|fact| (fact.clone(), Tone::Plain));
        let remedies = cause.remedies.iter();
        let remedies = remedies.map(|remedy| (format!("> {remedy}"), Tone::Strong));
        let test = cause.tell_apart.iter();
        let test = test.map(|test| (format!("? To be sure: {test}"), Tone::Quiet));
        for (text, tone) in facts.chain(remedies).chain(test) {
            let wrapped = wrap(&text, columns.saturating_sub(2));
            rows.extend(wrapped.into_iter().map(|row| (None, row, tone)));
        }
    }
    for danger in diagnosis.map_or(&[][..], |diagnosis| &diagnosis.wiring_dangers) {
        let change = danger.change.as_deref().unwrap_or_default();
        let text = format!(
            "! Wiring: if the {}, it reads {}. {change}",
            danger.fault, danger.reads
        );
        let wrapped = wrap(&text, columns.saturating_sub(2));
        rows.extend(wrapped.into_iter().map(|row| (None, row, Tone::Open)));
    }
    for finding in deciding(run) {
        let name = finding.figure.facts().label;
        let reason = format!("{} {name}: {}", finding.channel, finding.reason);
        for (nth, row) in wrap(&reason, columns.saturating_sub(2))
            .into_iter()
            .enumerate()
        {
            rows.push(((nth == 0).then_some(finding.outcome), row, Tone::Plain));
        }
        let advice = finding.advice.as_deref().unwrap_or_default();
        for row in wrap(advice, columns.saturating_sub(2)) {
            rows.push((None, row, Tone::Quiet));
        }
    }
    rows
}

fn finished(run: &Run, pen: &mut Pen<'_>, area: Rect) {
    let (word, tone, why) = outcome(run);
    let tag = run.tag.as_deref();
    let unit = tag.map_or(String::new(), |tag| format!("{tag}: "));
    let pieces = [
        (unit.as_str(), Tone::Strong),
        (word.as_str(), tone),
        (": ", Tone::Plain),
        (&why, Tone::Plain),
    ];
    pen.pieces(area, area.top(), &pieces);
    let reasons = reasons(run, area.width);
    let room = usize::from(area.height.saturating_sub(2));
    let shown = if reasons.len() > room {
        room.saturating_sub(1)
    } else {
        room
    };
    let mut y = area.top() + 1;
    for (outcome, words, tone) in reasons.iter().take(shown) {
        if let Some(outcome) = outcome {
            let mark = pen.theme.outcome_mark(*outcome);
            pen.put(area.left(), y, 1, mark, theme::outcome_tone(*outcome));
        }
        let room = area.width.saturating_sub(2);
        pen.put(area.left() + 2, y, room, words, *tone);
        y += 1;
    }
    if reasons.len() > shown {
        pen.put(
            area.left() + 2,
            y,
            area.width,
            "and more: see the list of results",
            Tone::Quiet,
        );
    }
    if area.height >= 2 {
        saved(run, pen, area, area.bottom() - 1);
    }
}

/// Where things lie.
fn saved(run: &Run, pen: &mut Pen<'_>, area: Rect, y: u16) {
    let (text, tone) = match (&run.saved, &run.capture) {
        (Some(Ok(what)), _) => (what.clone(), Tone::Good),
        (Some(Err(why)), _) => (format!("Not saved. {why}"), Tone::Bad),
        (None, Some(path)) => (
            format!("Not saved yet: s saves.   Recording: {}", path.shown()),
            Tone::Quiet,
        ),
        (None, None) => ("Not saved yet: s saves.".to_owned(), Tone::Quiet),
    };
    let text = text.replace('\n', " ");
    let text = cut(&text, usize::from(area.width));
    pen.left(area, y, &text, tone);
}
