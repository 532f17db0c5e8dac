//! A flashed board held against its block: the run, the verdict; in `ask` the question before it.
//!
//! Belongs here: the layout and words of those places. Does not belong here: what is right or wrong (`proof`).

mod ask;
mod watch;

pub use ask::ask;

use super::choose::heading;
use super::pen::{self, Pen};
use super::split;
use crate::bench::{LinkState, ProofWatch};
use crate::proof::Stage;
use crate::tui::blocks::ProofRound;
use crate::tui::proving::{ProofTold, Proving};
use crate::tui::state::{Phase, State};
use crate::tui::theme::{self, Tone};
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
    watch::trace(watch, pen, picture);
    let (left, right) = halves(below);
    watch::readings(watch, pen, left);
    if faults {
        watch::rounds(watch.faults(), pen, right);
    } else {
        watch::map(watch, pen, right);
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
        watch::trace(watch, pen, picture);
        match proving.choice.round {
            ProofRound::Compare => watch::map(watch, pen, below),
            ProofRound::Faults => watch::rounds(watch.faults(), pen, below),
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
    use measure::judge::Outcome;
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
