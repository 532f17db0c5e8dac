//! What was found along the way: worn zones and dropouts, one row each.

use crate::record::ChannelPart;
use crate::tui::draw::Pen;
use crate::tui::format;
use crate::tui::run::Run;
use crate::tui::theme::Tone;
use measure::figure::numbers::four_digits;
use measure::{Dropout, Towards, WornZone};
use ratatui::layout::Rect;

/// Draws as many as there is room for and says how many more there are; nothing when nothing was found.
pub fn draw(run: &Run, pen: &mut Pen<'_>, area: Rect) {
    let Some(assessment) = run.assessment.as_deref() else {
        return;
    };
    let mut lines = Vec::new();
    for (name, part) in &assessment.channels {
        lines.extend(part.worn_zones.iter().map(|zone| worn(name, zone)));
        lines.extend(part.dropouts.iter().map(|lost| dropped(name, part, lost)));
    }
    if lines.is_empty() || area.height < 2 {
        return;
    }
    pen.rule(area, area.top(), "found on the way");
    let room = usize::from(area.height - 1);
    if lines.len() > room {
        let more = format!(" {} more ", lines.len() - room);
        pen.right(area, area.top(), &more, Tone::Quiet);
    }
    for (y, line) in (area.top() + 1..area.bottom()).zip(&lines) {
        pen.put(
            area.left() + 2,
            y,
            area.width.saturating_sub(3),
            line,
            Tone::Open,
        );
    }
}

fn worn(channel: &str, zone: &WornZone) -> String {
    format!(
        "{channel} worn at {:.0} to {:.0} % of travel: noise x {:.1}, in {} of {} strokes",
        zone.from_pct, zone.to_pct, zone.noise_ratio, zone.strokes_seen, zone.strokes
    )
}

fn dropped(channel: &str, part: &ChannelPart, dropout: &Dropout) -> String {
    let way = match dropout.towards {
        Towards::Ground => "down",
        Towards::Supply => "up",
    };
    let end = part
        .acts(dropout)
        .map_or_else(String::new, |end| format!(", towards {end}"));
    let at = dropout
        .travel_pct
        .map_or(String::new(), |pct| format!(" at {pct:.0} % of travel"));
    format!(
        "{channel} lost for {} ms{at}, at {}: jumped {way}{end}",
        four_digits(dropout.duration_ms),
        format::duration(dropout.t_s),
    )
}
