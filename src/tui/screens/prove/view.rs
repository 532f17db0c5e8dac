//! What a proof shows: what to do and what is seen while it runs, at the end the verdict.

use super::state::Prove;
use super::watch;
use crate::bench::{LinkState, ProofWatch};
use crate::proof::Stage;
use crate::tui::draw::{Pen, columns_of, cut, inset, split};
use crate::tui::host::{ProofResult, ProofRound};
use crate::tui::run::{Phase, Run};
use crate::tui::session::Session;
use crate::tui::theme::{self, Tone};
use ratatui::layout::Rect;

impl Prove {
    pub fn view(&self, session: &Session, pen: &mut Pen<'_>, area: Rect) {
        let name = cut(&self.choice.offer.name, 30);
        let title = format!("{name}: {}", self.choice.round.title());
        pen.heading(area, &title);
        let body = split(area, 1).1;
        let (title, title_tone, why, tone) = match (&session.run.phase, &self.result) {
            (Phase::Live, _) => return live(session, self, pen, body),
            (Phase::Finished, Some(Ok(result))) => {
                return verdict(&session.run, self, result, pen, body);
            }
            (Phase::Failed(why), _) => (
                "The run cannot go on.",
                Tone::Strong,
                why.as_str(),
                Tone::Plain,
            ),
            (Phase::Finished, Some(Err(why))) => (
                "There is no verdict.",
                Tone::Strong,
                why.as_str(),
                Tone::Bad,
            ),
            (Phase::Finished, None) => (
                "Working out the verdict from the whole recording.",
                Tone::Now,
                "",
                Tone::Plain,
            ),
        };
        pen.put(body.x + 2, body.y + 1, body.width, title, title_tone);
        pen.wrapped(inset(split(body, 2).1), why, tone);
    }
}

fn live(session: &Session, proof: &Prove, pen: &mut Pen<'_>, area: Rect) {
    let (card, rest) = split(area, 4);
    now(session, proof, pen, card);
    let Some(watch) = &proof.watch else {
        return;
    };
    let faults = proof.choice.round == ProofRound::Faults;
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
        6 + u16::try_from(watch.dwells().len())
            .unwrap_or(u16::MAX)
            .min(20)
    };
    wanted.clamp(8, (height / 2).max(8))
}

/// What to do, and how far it is.
fn now(session: &Session, proof: &Prove, pen: &mut Pen<'_>, area: Rect) {
    let (first, under, tone) = instruction(session, proof);
    let pieces = [
        (pen.glyphs().pointer, tone),
        (" ", tone),
        (first.as_str(), Tone::Strong),
    ];
    let place = columns_of(area, area.x + 2, area.width.saturating_sub(3));
    pen.pieces(place, area.top() + 1, &pieces);
    let below = Rect {
        x: place.x + 2,
        y: area.y + 2,
        width: place.width.saturating_sub(2),
        height: 1,
    };
    pen.wrapped(below, &under, Tone::Plain);
}

fn instruction(session: &Session, proof: &Prove) -> (String, String, Tone) {
    let waited = session.clock.saturating_sub(session.run.began).as_secs();
    let health = session.run.health.as_ref();
    let advice = health.and_then(|health| health.advice.clone());
    if proof.unfit.is_some() {
        return (
            "This board and the constants file do not go together.".into(),
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
    let Some(watch) = &proof.watch else {
        let under = advice.unwrap_or_else(|| {
            format!("Nothing that can be read has come yet; {waited} s so far.")
        });
        return ("Waiting for the measuring board.".into(), under, Tone::Open);
    };
    if let Some((stage, at, of)) = watch.stage() {
        let under = match stage {
            Stage::Done => "Ending the run.".to_owned(),
            _ => {
                format!("step {at} of {of}; it goes on by itself when it is done, k skips it")
            }
        };
        return (sentence(stage, watch.names().0), under, Tone::Now);
    }
    let (seen, of) = watch.covered();
    let time = session.run.steps.first().map_or_else(String::new, |step| {
        format!(", {:.0} of {:.0} s", step.have, step.want)
    });
    let under = format!(
        "stood still at {} places, in {seen} of {of} areas{time}",
        watch.dwells().len()
    );
    (
        "Stand still for a second, then move on to another place of pedal and dial.".into(),
        under,
        Tone::Now,
    )
}

/// The guide's words, with the key of the screen.
fn sentence(stage: Stage, wires: &[String]) -> String {
    match stage {
        Stage::Power => {
            "Let go, and switch the board's power off and on (k if it is not noticed).".to_owned()
        }
        other => other.describe(wires),
    }
}

/// The verdict with everything that decided it.
fn verdict(run: &Run, proof: &Prove, result: &ProofResult, pen: &mut Pen<'_>, area: Rect) {
    let tone = theme::verdict_tone(result.verdict);
    let mark = pen.theme.verdict_mark(result.verdict);
    let (first, rest) = split(area, 2);
    let mut lines = result.text.lines();
    let head = lines.next().unwrap_or_default();
    let pieces = [("  ", Tone::Plain), (mark, tone), (" ", tone), (head, tone)];
    pen.pieces(first, first.y + 1, &pieces);
    let (body, foot) = split(rest, rest.height.saturating_sub(2));
    // The text is 80 columns wide.
    let text = columns_of(body, body.x, body.width.min(80));
    let rows: Vec<&str> = lines.collect();
    for (y, row) in (text.top()..text.bottom()).zip(rows.iter().skip(proof.top)) {
        pen.left(text, y, row, row_tone(row));
    }
    let below = rows
        .len()
        .saturating_sub(proof.top + usize::from(text.height));
    if below > 0 {
        pen.right(
            columns_of(area, area.x, area.width.saturating_sub(1)),
            first.y + 1,
            &format!("{below} more rows below"),
            Tone::Quiet,
        );
    }
    if let (Some(watch), true) = (&proof.watch, area.width >= 140) {
        let beside = columns_of(
            body,
            text.right() + 2,
            area.right().saturating_sub(text.right() + 3),
        );
        let (picture, below) = split(beside, beside.height / 2);
        watch::trace(watch, pen, picture);
        match proof.choice.round {
            ProofRound::Compare => watch::map(watch, pen, below),
            ProofRound::Faults => watch::rounds(watch.faults(), pen, below),
        }
    }
    let (words, tone) = match &run.saved {
        Some(Ok(what)) => (what.clone(), Tone::Good),
        Some(Err(why)) => (format!("Not saved. {why}"), Tone::Bad),
        None => (
            "Not saved yet: s keeps the recording and its marks.".to_owned(),
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
    let left = columns_of(area, area.x, area.width / 2);
    let right = columns_of(
        area,
        left.right() + 1,
        area.width.saturating_sub(left.width + 1),
    );
    (left, right)
}
