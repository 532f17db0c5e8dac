//! The card: what to do now, how far it is, what comes next; at the end the verdict and what decided it.

use super::sees::sees;
use crate::bench::{LinkState, StepProgress, StepState};
use crate::outlet::Shown;
use crate::report::decisive;
use crate::tui::draw::{Pen, Piece, columns_of, cut, rows_of, split, width, wrap};
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
        Phase::Finished => wrap(&headline(run), inner).len() + reasons(run, inner).len() + 1,
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

/// A row of what decided the verdict.
struct Reason {
    /// The first of each finding has its outcome.
    outcome: Option<Outcome>,
    text: String,
    tone: Tone,
    rank: Rank,
}

/// What stays when there is not room for all: what to do, before why.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Rank {
    Remedy,
    Advice,
    Evidence,
}

/// What the verdict does not speak for, since the profile does not know its track.
fn not_judged(run: &Run) -> Option<String> {
    let signals = run.lanes.iter();
    let signals = signals.filter_map(|lane| Some((lane.name.as_str(), lane.track?)));
    run.profile.as_ref()?.not_judged(signals)
}

/// What decided the verdict, in rows of `columns`.
fn reasons(run: &Run, columns: u16) -> Vec<Reason> {
    let mut rows = Vec::new();
    let mut add = |outcome: Option<Outcome>, text: &str, tone, rank| {
        for (nth, text) in wrap(text, columns.saturating_sub(2))
            .into_iter()
            .enumerate()
        {
            rows.push(Reason {
                outcome: outcome.filter(|_| nth == 0),
                text,
                tone,
                rank,
            });
        }
    };
    if let Some(missing) = not_judged(run) {
        add(None, &format!("! {missing}"), Tone::Open, Rank::Remedy);
    }
    let assessment = run.assessment.as_ref();
    let diagnosis = assessment.map(|assessment| &assessment.diagnosis);
    for cause in diagnosis.map_or(&[][..], |diagnosis| &diagnosis.causes) {
        for fact in &cause.because {
            add(None, fact, Tone::Plain, Rank::Evidence);
        }
        for remedy in &cause.remedies {
            add(None, &format!("> {remedy}"), Tone::Strong, Rank::Remedy);
        }
        if let Some(test) = &cause.tell_apart {
            let text = format!("? To be sure: {test}");
            add(None, &text, Tone::Quiet, Rank::Advice);
        }
    }
    let dangers = diagnosis.map_or(&[][..], |diagnosis| &diagnosis.wiring_dangers);
    let shared = assessment.and_then(|assessment| assessment.diagnosis.shared_change());
    for danger in dangers {
        let change = danger.change.as_deref().filter(|_| shared.is_none());
        let text = format!(
            "! Wiring: if the {}, it reads {}. {}",
            danger.fault,
            danger.reads,
            change.unwrap_or_default()
        );
        add(None, &text, Tone::Open, Rank::Remedy);
    }
    if let Some(change) = shared {
        add(None, &format!("! {change}"), Tone::Open, Rank::Remedy);
    }
    for finding in deciding(run) {
        let name = finding.figure.facts().label;
        let reason = format!("{} {name}: {}", finding.channel, finding.reason);
        add(Some(finding.outcome), &reason, Tone::Plain, Rank::Evidence);
        let advice = finding.advice.as_deref().unwrap_or_default();
        add(None, advice, Tone::Quiet, Rank::Advice);
    }
    rows
}

/// The part, the first words, and the reason.
fn headline(run: &Run) -> String {
    let (word, _, why) = outcome(run);
    format!("{}{word}: {why}", unit(run))
}

/// What stands before the first words of a part that has a name.
fn unit(run: &Run) -> String {
    let tag = run.tag.as_deref();
    tag.map_or(String::new(), |tag| format!("{tag}: "))
}

/// The headline, never cut as long as there are rows; gives the rows taken.
fn first(run: &Run, pen: &mut Pen<'_>, area: Rect) -> u16 {
    let taken = pen.wrapped(area, &headline(run), Tone::Plain);
    // The verdict once more in its colour, where it stands whole in the first row.
    let (unit, (word, tone, _)) = (unit(run), outcome(run));
    let rows = wrap(&headline(run), area.width);
    if rows
        .first()
        .is_some_and(|row| row.starts_with(&format!("{unit}{word}:")))
    {
        let pieces = [(unit.as_str(), Tone::Strong), (word.as_str(), tone)];
        pen.pieces(area, area.top(), &pieces);
    }
    taken
}

fn finished(run: &Run, pen: &mut Pen<'_>, area: Rect) {
    let (above, foot) = split(area, area.height.saturating_sub(1));
    let taken = first(run, pen, above);
    let mut reasons = reasons(run, area.width);
    let room = usize::from(above.height.saturating_sub(taken));
    let shown = if reasons.len() > room {
        reasons.sort_by_key(|reason| reason.rank);
        room.saturating_sub(1)
    } else {
        room
    };
    let mut y = above.top() + taken;
    for reason in reasons.iter().take(shown) {
        if let Some(outcome) = reason.outcome {
            let mark = pen.theme.outcome_mark(outcome);
            pen.put(area.left(), y, 1, mark, theme::outcome_tone(outcome));
        }
        let room = area.width.saturating_sub(2);
        pen.put(area.left() + 2, y, room, &reason.text, reason.tone);
        y += 1;
    }
    if reasons.len() > shown && room > 0 {
        let words = format!(
            "{} more: make the window larger, or `pedalproof assess FILE`",
            reasons.len() - shown
        );
        pen.left(area, y, &words, Tone::Quiet);
    }
    saved(run, pen, foot, foot.top());
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
