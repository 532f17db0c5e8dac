//! The stream in one row (or two): rate, samples, what was rejected or is missing.
//!
//! Belongs here: the words of it. Does not belong here: counting.

use super::pen::{Pen, Piece};
use crate::bench::LinkState;
use crate::tui::state::State;
use crate::tui::theme::Tone;
use crate::tui::words;
use ratatui::layout::Rect;

/// Draws the state of the stream into the first row of the area, and advice into the second if there is one.
pub fn draw(state: &State, pen: &mut Pen<'_>, area: Rect) {
    let Some(health) = &state.run.health else {
        let words = format!(" nothing yet from {}", state.run.source);
        pen.put(area.left(), area.top(), area.width, &words, Tone::Quiet);
        return;
    };
    let (link, tone) = match health.link {
        LinkState::Connected => ("live", Tone::Good),
        LinkState::Lost => ("LINK LOST", Tone::Bad),
        LinkState::Ended => ("ended", Tone::Quiet),
    };
    let nominal = state.run.taking.as_ref().map(|taking| taking.rate_hz);
    let rate = match (health.rate_hz, nominal) {
        (Some(rate), Some(nominal)) => format!("  {rate:.1} of {}/s", words::bare(nominal)),
        (Some(rate), None) => format!("  {rate:.1}/s"),
        (None, _) => "  -/s".to_owned(),
    };
    let counts = &health.counts;
    let rejected_lines = counts
        .rejected
        .values()
        .fold(0_u64, |sum, n| sum.saturating_add(*n));
    let samples = format!("  {} samples", words::count(counts.samples));
    let missing = format!("  {} missing", words::count(counts.missing));
    let rejected = format!("  {} rejected", words::count(rejected_lines));
    let mut causes: Vec<String> = counts
        .rejected
        .iter()
        .filter(|(_, n)| **n > 0)
        .map(|(cause, n)| format!("{cause} {}", words::count(*n)))
        .collect();
    causes.sort();
    let causes = if causes.is_empty() {
        String::new()
    } else {
        format!(" ({})", causes.join(", "))
    };
    let restarts = match counts.restarts {
        0 => String::new(),
        n => format!("  {} resets", words::count(n)),
    };
    let not_shown = match health.not_shown {
        0 => String::new(),
        n => format!("  {} not shown here, in the capture", words::count(n)),
    };
    let concern = |n: u64| if n > 0 { Tone::Open } else { Tone::Quiet };
    let clock = match &state.run.taking {
        Some(taking) if !taking.board_time => "  host time",
        _ => "",
    };
    let pieces: [Piece<'_>; 10] = [
        (" ", Tone::Quiet),
        (link, tone),
        (&rate, Tone::Plain),
        (&samples, Tone::Plain),
        (&missing, concern(counts.missing)),
        (&restarts, Tone::Open),
        (&rejected, concern(rejected_lines)),
        (&causes, Tone::Open),
        (clock, Tone::Open),
        (&not_shown, Tone::Open),
    ];
    pen.pieces(area, area.top(), &pieces);
    if let Some(advice) = &health.advice
        && area.height > 1
    {
        let row = Rect {
            x: area.left() + 1,
            y: area.top() + 1,
            width: area.width.saturating_sub(2),
            height: area.height - 1,
        };
        pen.wrapped(row, advice, Tone::Open);
    }
}
