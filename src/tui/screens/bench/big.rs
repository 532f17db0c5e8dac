//! What to do, filling the screen: to be read from where the foot is, with the details a key away.
//!
//! Everything is there three times: by word, by shape, by colour.

use super::card::{self, Now};
use super::pictures::scale;
use crate::bench::{Cue, LinkState, StepProgress};
use crate::profile::Kind;
use crate::tui::draw::{LETTER, Pen, inset, rows_of, split, width, wrap};
use crate::tui::run::{Phase, Run};
use crate::tui::session::Session;
use crate::tui::theme::Tone;
use measure::figure::numbers::fixed;
use measure::units::Step;
use ratatui::layout::Rect;

/// Rows below the letters: bar, volts, strip, its names, steps.
const FOOT: u16 = 5;

/// Whether a run is shown in big letters: while it goes on and a step of its card is under way, or its board is missed.
pub fn is_big(session: &Session) -> bool {
    let run = &session.run;
    session.prompting.big && run.phase == Phase::Live && !session.leaving && word(run).is_some()
}

pub fn draw(session: &Session, pen: &mut Pen<'_>, area: Rect) {
    let run = &session.run;
    let now = card::now(session);
    let (letters, foot) = split(area, area.height.saturating_sub(FOOT));
    let both = letters.height > 2 * LETTER;
    let (above, below) = split(
        letters,
        if both {
            letters.height / 2
        } else {
            letters.height - 1
        },
    );
    let word = word(run).unwrap_or_default();
    pen.big(above, &word, now.tone);
    let (said, counter) = split(below, 1);
    let counted = run.current().map(counted);
    sentence(pen, inset(said), run, &now);
    if both && let Some(counted) = &counted {
        pen.big(counter, counted, Tone::Strong);
    }
    progress(
        pen,
        inset(rows_of(foot, foot.top(), 1)),
        run,
        counted.as_deref(),
    );
    control(pen, inset(rows_of(foot, foot.top() + 1, 3)), run);
    card::steps(run, pen, inset(foot), foot.bottom() - 1);
}

/// The word that fills the screen.
fn word(run: &Run) -> Option<String> {
    if run.health.as_ref().map(|health| health.link) == Some(LinkState::Lost) {
        return Some("PLUG IN".to_owned());
    }
    let step = run.current()?;
    let by_foot = run.profile.as_ref().map(|profile| profile.kind) == Some(Kind::Pedal);
    let word = match step.cue {
        Some(Cue::Press) if by_foot => "PRESS",
        Some(Cue::Press) => "TO FULL",
        Some(Cue::LetGo) if by_foot => "LET GO",
        Some(Cue::LetGo) => "TO ZERO",
        Some(Cue::Hold) => "HOLD",
        Some(Cue::LeaveIt) => "LEAVE IT",
        Some(Cue::Wiggle) => "WIGGLE",
        None => return asked(step),
    };
    Some(word.to_owned())
}

/// A known position is asked for by its name; without one there is a sentence alone.
fn asked(step: &StepProgress) -> Option<String> {
    (step.step == Step::Stations).then(|| step.asked.clone())?
}

/// `3 of 5`, or the seconds that are left.
fn counted(step: &StepProgress) -> String {
    if step.unit == "s" {
        format!("{} s", fixed((step.want - step.have).max(0.0).ceil(), 0))
    } else {
        format!("{} of {}", fixed(step.have, 0), fixed(step.want, 0))
    }
}

/// What to do in a sentence, or what was seen of it.
fn sentence(pen: &mut Pen<'_>, area: Rect, run: &Run, now: &Now) {
    let remark = run.current().and_then(|step| step.remark.as_deref());
    let (words, tone) = match (&now.under, remark) {
        (Some(_), _) if now.tone == Tone::Bad => (now.first.as_str(), now.tone),
        (Some(under), _) => (under.as_str(), now.tone),
        (None, Some("good")) => ("good, that counted", Tone::Good),
        (None, Some(remark)) => (remark, Tone::Open),
        (None, None) => (now.first.as_str(), Tone::Plain),
    };
    // One row where it fits; else its beginning goes into the row above.
    match &wrap(words, area.width)[..] {
        [first, rest @ ..] if !rest.is_empty() && area.y > 0 => {
            pen.middle(area, area.top() - 1, first, tone);
            pen.middle(area, area.top(), &rest.join(" "), tone);
        }
        _ => pen.middle(area, area.top(), words, tone),
    }
}

fn progress(pen: &mut Pen<'_>, area: Rect, run: &Run, counted: Option<&str>) {
    let (Some(step), Some(counted)) = (run.current(), counted) else {
        return;
    };
    let words = format!("  {counted}");
    let [full, empty] = card::bar(pen, step, area.width.saturating_sub(12));
    let pieces = [
        (full.as_str(), Tone::Now),
        (empty.as_str(), Tone::Quiet),
        (words.as_str(), Tone::Strong),
    ];
    pen.pieces(area, area.top(), &pieces);
}

/// Where the control is, between fault, rest, range, full and fault: a pointer with its volts, the strip, the names of its parts.
fn control(pen: &mut Pen<'_>, area: Rect, run: &Run) {
    let Some(lane) = run.drawn_lanes().first().copied() else {
        return;
    };
    if area.height < 3 || area.width < 8 {
        return;
    }
    let full_scale = run.full_scale();
    let column = |code: f64| {
        let share = (code / full_scale).clamp(0.0, 1.0);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // of 0 ..= width
        let at = (share * f64::from(area.width - 1)).round() as u16;
        area.left() + at
    };
    let [pointer, strip, names] = [0, 1, 2].map(|row| area.top() + row);
    let glyphs = pen.glyphs();
    // Names stand below what they name, side by side: one that would run into another or off the edge moves away from it.
    let mut named: Vec<(u16, &str)> = Vec::new();
    let mut paint = |pen: &mut Pen<'_>, (from, to): (f64, f64), glyph: &str, tone, name| {
        let (from, to) = (column(from), column(to));
        let width = (to + 1).saturating_sub(from);
        pen.put(from, strip, width, &glyph.repeat(usize::from(width)), tone);
        named.push((from, name));
    };
    let rail = glyphs.outside;
    paint(pen, (0.0, full_scale), rail, Tone::Quiet, "");
    for (name, low, high) in scale::bands(run, lane) {
        paint(pen, (low, high), glyphs.band, Tone::Band, name);
    }
    let (low, high) = scale::faults(run, lane);
    if let Some(low) = low {
        paint(pen, (0.0, low), glyphs.fault, Tone::Fault, "fault");
    }
    if let Some(high) = high {
        paint(pen, (high, full_scale), glyphs.fault, Tone::Fault, "fault");
    }
    for (x, name) in side_by_side(named, area) {
        pen.put(x, names, area.right().saturating_sub(x), name, Tone::Quiet);
    }
    let Some(code) = run.store.last_code(lane) else {
        return;
    };
    let at = column(f64::from(code));
    pen.put(at, strip, 1, glyphs.value, Tone::Strong);
    let words = format!("{} {}", run.lane_name(lane), volts(run, code));
    let left = at.min(
        area.right()
            .saturating_sub(words.chars().count().try_into().unwrap_or(0)),
    );
    pen.put(left, pointer, area.right() - left, &words, Tone::Strong);
}

/// Names at their columns, each moved as little as keeps a blank between them and all of them in the area.
fn side_by_side(mut named: Vec<(u16, &str)>, area: Rect) -> Vec<(u16, &str)> {
    named.retain(|(_, name)| !name.is_empty());
    named.sort_by_key(|(x, _)| *x);
    let mut free = area.left();
    for (x, name) in &mut named {
        *x = (*x).max(free);
        free = *x + width(name) + 1;
    }
    let mut end = area.right() + 1;
    for (x, name) in named.iter_mut().rev() {
        *x = (*x).min(end.saturating_sub(width(name) + 1));
        end = *x;
    }
    named
}

/// `2.31 V`; the code where nothing says what it stands for.
fn volts(run: &Run, code: u32) -> String {
    run.volts(code).map_or_else(
        || code.to_string(),
        |volts| format!("{} V", fixed(volts, 2)),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand, of 24 columns: `rest` gives way to `fault`, and at the other end `full` to `fault`.
    #[test]
    fn names_below_the_strip_stand_side_by_side() {
        let area = Rect::new(0, 0, 24, 1);
        let named = vec![
            (2, "rest"),
            (19, "full"),
            (0, "fault"),
            (21, "fault"),
            (0, ""),
        ];
        let want = [(0, "fault"), (6, "rest"), (14, "full"), (19, "fault")];
        assert_eq!(side_by_side(named, area), want);
    }
}
