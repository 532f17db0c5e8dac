//! The stream in one row (or two): rate, samples, what was rejected or is missing.

use crate::bench::LinkState;
use crate::tui::draw::{Pen, Piece};
use crate::tui::format;
use crate::tui::run::Run;
use crate::tui::theme::Tone;
use measure::figure::numbers::four_digits;
use ratatui::layout::Rect;

/// Draws the state of the stream into the first row of the area, and advice into the second if there is one.
pub fn draw(run: &Run, pen: &mut Pen<'_>, area: Rect) {
    let Some(health) = &run.health else {
        let words = format!(" nothing yet from {}", run.source);
        pen.left(area, area.top(), &words, Tone::Quiet);
        return;
    };
    let (link, tone) = match health.link {
        LinkState::Connected => ("live", Tone::Good),
        LinkState::Lost => ("LINK LOST", Tone::Bad),
        LinkState::Ended => ("ended", Tone::Quiet),
    };
    let rate = match health.rate_hz {
        Some(rate) => format!("  {}/s", four_digits(rate.round())),
        None => "  -/s".to_owned(),
    };
    let counts = &health.counts;
    let left_out: Vec<(&String, &u64)> = counts
        .rejected
        .iter()
        .filter(|(cause, n)| **n > 0 && !is_start(cause))
        .collect();
    let damaged = left_out
        .iter()
        .fold(0_u64, |sum, (_, n)| sum.saturating_add(**n));
    let lost = match (counts.missing, damaged) {
        (0, 0) => "  nothing lost".to_owned(),
        (0, _) => String::new(),
        (1, _) => "  1 sample lost".to_owned(),
        (missing, _) => format!("  {} samples lost", format::count(missing)),
    };
    let mut causes: Vec<&str> = left_out.iter().map(|(cause, _)| cause.as_str()).collect();
    causes.sort_unstable();
    let damaged = match damaged {
        0 => String::new(),
        1 => format!("  1 damaged line ({})", causes.join(", ")),
        n => format!(
            "  {} damaged lines ({})",
            format::count(n),
            causes.join(", ")
        ),
    };
    let restarts = match counts.restarts {
        0 => String::new(),
        1 => "  1 reset".to_owned(),
        n => format!("  {} resets", format::count(n)),
    };
    let not_shown = match health.not_shown {
        0 => String::new(),
        n => format!("  {} not shown here, in the recording", format::count(n)),
    };
    let clock = match &run.taking {
        Some(taking) if !taking.board_time => "  time of arrival",
        _ => "",
    };
    let lost_tone = if counts.missing > 0 {
        Tone::Open
    } else {
        Tone::Quiet
    };
    let pieces: [Piece<'_>; 8] = [
        (" ", Tone::Quiet),
        (link, tone),
        (&rate, Tone::Plain),
        (&lost, lost_tone),
        (&restarts, Tone::Open),
        (&damaged, Tone::Open),
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

/// Whether lines of this cause are what a listener hears before it knows where lines begin and what they mean.
fn is_start(cause: &str) -> bool {
    matches!(cause, "cut" | "before header")
}
