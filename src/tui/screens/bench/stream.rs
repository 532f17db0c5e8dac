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
    let nominal = run.taking.as_ref().map(|taking| taking.rate_hz);
    let rate = match (health.rate_hz, nominal) {
        (Some(rate), Some(nominal)) => format!("  {rate:.1} of {}/s", four_digits(nominal)),
        (Some(rate), None) => format!("  {rate:.1}/s"),
        (None, _) => "  -/s".to_owned(),
    };
    let counts = &health.counts;
    let rejected_lines = counts
        .rejected
        .values()
        .fold(0_u64, |sum, n| sum.saturating_add(*n));
    let samples = format!("  {} samples", format::count(counts.samples));
    let missing = format!("  {} missing", format::count(counts.missing));
    let rejected = format!("  {} rejected", format::count(rejected_lines));
    let mut causes: Vec<String> = counts
        .rejected
        .iter()
        .filter(|(_, n)| **n > 0)
        .map(|(cause, n)| format!("{cause} {}", format::count(*n)))
        .collect();
    causes.sort();
    let causes = if causes.is_empty() {
        String::new()
    } else {
        format!(" ({})", causes.join(", "))
    };
    let restarts = match counts.restarts {
        0 => String::new(),
        n => format!("  {} resets", format::count(n)),
    };
    let not_shown = match health.not_shown {
        0 => String::new(),
        n => format!("  {} not shown here, in the capture", format::count(n)),
    };
    let concern = |n: u64| if n > 0 { Tone::Open } else { Tone::Quiet };
    let clock = match &run.taking {
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
