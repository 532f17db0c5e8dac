//! The card: what to do now, how far it is, what comes next; at the end the verdict and what decided it.
//!
//! Belongs here: the words of the card. Does not belong here: recognising steps, judging.

use super::pen::{self, Pen, Piece};
use crate::bench::{LinkState, StepProgress, StepState};
use crate::judge::{Finding, Outcome, Verdict};
use crate::tui::state::{Phase, State};
use crate::tui::theme::{self, Tone};
use crate::tui::words;
use ratatui::layout::Rect;

/// Rows that the card wants, of `most`.
pub fn rows(state: &State, width: u16, most: u16) -> u16 {
    match &state.run.phase {
        Phase::Live => 3,
        Phase::Failed(why) => {
            let rows = pen::wrap(why, width.saturating_sub(4)).len() + 2;
            u16::try_from(rows).unwrap_or(most).clamp(3, most)
        }
        Phase::Finished => {
            let deciding = u16::try_from(deciding(state).len()).unwrap_or(most);
            deciding.saturating_mul(2).saturating_add(3).clamp(4, most)
        }
    }
}

/// Draws the card.
pub fn draw(state: &State, pen: &mut Pen<'_>, area: Rect) {
    if area.height == 0 || area.width < 8 {
        return;
    }
    let tone = match &state.run.phase {
        Phase::Live => Tone::Now,
        Phase::Failed(_) => Tone::Bad,
        Phase::Finished => verdict(state).map_or(Tone::Plain, theme::verdict_tone),
    };
    let spine = pen.glyphs().spine;
    for y in area.top()..area.bottom() {
        pen.put(area.left() + 1, y, 1, spine, tone);
    }
    let inner = Rect {
        x: area.x + 3,
        width: area.width - 4,
        ..area
    };
    match &state.run.phase {
        Phase::Live => live(state, pen, inner),
        Phase::Failed(why) => failed(state, pen, inner, why),
        Phase::Finished => finished(state, pen, inner),
    }
}

/// What stands first while a run is under way, and the row under it.
struct Now {
    first: String,
    tone: Tone,
    under: Option<String>,
}

fn now(state: &State) -> Now {
    let run = &state.run;
    let told = |first: &str, tone, under: Option<String>| Now {
        first: first.to_owned(),
        tone,
        under,
    };
    let advice = run.health.as_ref().and_then(|health| health.advice.clone());
    let waited = state.clock.saturating_sub(run.began).as_secs();
    if state.leaving {
        return told("Ending the run and closing the capture.", Tone::Now, None);
    }
    match run.health.as_ref().map(|health| health.link) {
        Some(LinkState::Lost) => {
            let under = advice
                .unwrap_or_else(|| "Everything taken so far is kept; it goes on by itself.".into());
            return told(
                "The board is gone. Plug it in again.",
                Tone::Bad,
                Some(under),
            );
        }
        Some(LinkState::Ended) => {
            return told(
                "The stream is at its end. Working out what it says.",
                Tone::Now,
                advice,
            );
        }
        _ => {}
    }
    if run.taking.is_none() && run.store.is_empty() {
        let under = advice.unwrap_or_else(|| {
            format!("Nothing that can be read has come yet; {waited} s so far.")
        });
        return told("Waiting for the board.", Tone::Open, Some(under));
    }
    match run.current() {
        Some(step) => told(step.instruction, Tone::Now, None),
        None if run
            .steps
            .iter()
            .any(|step| step.state == StepState::Waiting) =>
        {
            told("One moment.", Tone::Now, None)
        }
        None if run.steps.is_empty() => told("Recording.", Tone::Now, advice),
        None => told(
            "Every step is through. Working out the verdict.",
            Tone::Now,
            None,
        ),
    }
}

fn live(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let now = now(state);
    let mark = pen.glyphs().pointer;
    pen.pieces(
        area,
        area.top(),
        &[
            (mark, now.tone),
            (" ", now.tone),
            (&now.first, Tone::Strong),
        ],
    );
    if area.height >= 2 {
        let row = Rect {
            y: area.top() + 1,
            height: 1,
            ..area
        };
        match (&now.under, state.run.current()) {
            (Some(words), _) => {
                pen.put(
                    row.left() + 2,
                    row.top(),
                    row.width.saturating_sub(2),
                    words,
                    now.tone,
                );
            }
            (None, Some(step)) => progress(pen, row, step),
            (None, None) => {}
        }
    }
    if area.height >= 3 {
        steps(state, pen, area, area.top() + 2);
    }
}

/// A bar, the evidence in numbers, the remark.
fn progress(pen: &mut Pen<'_>, area: Rect, step: &StepProgress) {
    let cells = (area.width / 4).min(40);
    let filled = filled(step.have, step.want, cells);
    let [full, empty] = pen.glyphs().bar;
    let full = full.repeat(usize::from(filled));
    let empty = empty.repeat(usize::from(cells - filled));
    let evidence = format!("  {}", evidence(step));
    let mut pieces: Vec<Piece<'_>> = vec![
        ("  ", Tone::Plain),
        (&full, Tone::Now),
        (&empty, Tone::Quiet),
        (&evidence, Tone::Plain),
    ];
    if let Some(remark) = &step.remark {
        pieces.push(("   ", Tone::Plain));
        pieces.push((remark, Tone::Open));
    }
    pen.pieces(area, area.top(), &pieces);
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // held inside 0 ..= cells
fn filled(have: f64, want: f64, cells: u16) -> u16 {
    let share = if want > 0.0 { have / want } else { 0.0 };
    (share * f64::from(cells)).clamp(0.0, f64::from(cells)) as u16
}

fn evidence(step: &StepProgress) -> String {
    let decimals = usize::from(step.unit == "s");
    format!(
        "{:.decimals$} of {:.decimals$} {}",
        step.have, step.want, step.unit
    )
}

/// The whole card in one row.
fn steps(state: &State, pen: &mut Pen<'_>, area: Rect, y: u16) {
    let mut x = area.left() + 2;
    for step in &state.run.steps {
        let tone = match step.state {
            StepState::Done => Tone::Good,
            StepState::Current => Tone::Now,
            StepState::Waiting | StepState::Skipped => Tone::Quiet,
        };
        let left_out = if step.state == StepState::Skipped {
            " left out"
        } else {
            ""
        };
        let mark = pen.theme.step_mark(step.state);
        let text = format!("{mark} {}{left_out}   ", step.step);
        x = pen.put(x, y, area.right().saturating_sub(x), &text, tone);
    }
}

fn failed(state: &State, pen: &mut Pen<'_>, area: Rect, why: &str) {
    pen.put(
        area.left(),
        area.top(),
        area.width,
        "The run cannot go on.",
        Tone::Strong,
    );
    let below = Rect {
        y: area.top() + 1,
        height: area.height - 1,
        ..area
    };
    let taken = pen.wrapped(below, why, Tone::Plain);
    if !state.run.store.is_empty() && taken < below.height {
        let kept = format!(
            "{} samples were taken before.",
            words::count(state.run.store.len() as u64)
        );
        pen.put(
            area.left(),
            below.top() + taken,
            area.width,
            &kept,
            Tone::Quiet,
        );
    }
}

/// The verdict of the last assessment.
fn verdict(state: &State) -> Option<Verdict> {
    state.run.assessment.as_ref()?.verdict
}

/// The findings that made the verdict what it is: those that failed, else those that are open.
fn deciding(state: &State) -> Vec<&Finding> {
    let Some(assessment) = state.run.assessment.as_deref() else {
        return Vec::new();
    };
    let decides = |outcome: Outcome| match assessment.verdict {
        Some(Verdict::Fail) => outcome == Outcome::Fail,
        Some(Verdict::Undecided) => matches!(outcome, Outcome::Undecided | Outcome::NotMeasured),
        Some(Verdict::Pass) | None => false,
    };
    let findings = assessment.findings.iter();
    findings
        .filter(|finding| decides(finding.outcome))
        .collect()
}

fn finished(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let deciding = deciding(state);
    let total = state
        .run
        .assessment
        .as_ref()
        .map_or(0, |a| a.findings.len());
    let (word, why) = match (verdict(state), &state.run.assessment) {
        (Some(Verdict::Pass), _) => ("PASS", format!("every one of the {total} limits holds")),
        (Some(Verdict::Fail), _) => (
            "FAIL",
            format!("{} of {total} limits broken", deciding.len()),
        ),
        (Some(Verdict::Undecided), _) => (
            "UNDECIDED",
            format!("{} of {total} limits open, none broken", deciding.len()),
        ),
        (None, Some(_)) => (
            "DONE",
            "no limits were given, so there is no verdict".to_owned(),
        ),
        (None, None) => ("NOTHING TAKEN", "no sample arrived".to_owned()),
    };
    let tone = verdict(state).map_or(Tone::Strong, theme::verdict_tone);
    let unit = state
        .run
        .tag
        .as_deref()
        .map_or(String::new(), |tag| format!("{tag}: "));
    let pieces = [
        (unit.as_str(), Tone::Strong),
        (word, tone),
        ("  ", Tone::Plain),
        (&why, Tone::Plain),
    ];
    pen.pieces(area, area.top(), &pieces);
    let (mut y, last) = (area.top() + 1, area.bottom().saturating_sub(1));
    for (nth, finding) in deciding.iter().enumerate() {
        if y + 1 >= last && deciding.len() - nth > 1 || y >= last {
            let more = format!("and {} more in the list below", deciding.len() - nth);
            pen.put(area.left() + 2, y.min(last), area.width, &more, Tone::Quiet);
            y = y.min(last) + 1;
            break;
        }
        y = decider(pen, area, y, last, finding);
    }
    if y <= last {
        kept(state, pen, area, last);
    }
}

/// One finding with its reason and advice; gives the row after it.
fn decider(pen: &mut Pen<'_>, area: Rect, y: u16, last: u16, finding: &Finding) -> u16 {
    let tone = theme::outcome_tone(finding.outcome);
    let mark = pen.theme.outcome_mark(finding.outcome);
    let name = format!(" {} {}: ", finding.channel, words::name(finding.figure));
    let pieces = [
        (mark, tone),
        (name.as_str(), Tone::Strong),
        (finding.reason.as_str(), Tone::Plain),
    ];
    pen.pieces(area, y, &pieces);
    match &finding.advice {
        Some(advice) if y + 1 < last => {
            pen.put(
                area.left() + 4,
                y + 1,
                area.width.saturating_sub(4),
                advice,
                Tone::Quiet,
            );
            y + 2
        }
        _ => y + 1,
    }
}

/// Where things lie.
fn kept(state: &State, pen: &mut Pen<'_>, area: Rect, y: u16) {
    let (text, tone) = match (&state.run.saved, &state.run.capture) {
        (Some(Ok(what)), _) => (what.clone(), Tone::Good),
        (Some(Err(why)), _) => (format!("Not saved. {why}"), Tone::Bad),
        (None, Some(path)) => (
            format!("Capture: {}   s saves the record too", path.display()),
            Tone::Quiet,
        ),
        (None, None) => ("Not saved yet: s saves.".to_owned(), Tone::Quiet),
    };
    let text = text.replace('\n', " ");
    pen.put(area.left(), y, area.width, &text, tone);
}
