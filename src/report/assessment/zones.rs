//! Worn zones and dropouts of one channel in words.

use crate::record::{Assessment, ChannelPart, WornOn};
use measure::figure::numbers::fixed;
use measure::{Dropout, Towards, WornZone};

/// Most dropouts with a sentence of their own.
const MOST_DROPOUTS: usize = 10;

/// A sentence for each worn zone and each of the first dropouts, and one for the rest.
pub(in crate::report) fn zones(
    assessment: &Assessment,
    channel: &str,
    part: &ChannelPart,
) -> Vec<String> {
    let mut sentences = worn(assessment, channel, part);
    sentences.extend(dropped(part, MOST_DROPOUTS));
    sentences
}

pub(in crate::report) fn worn(
    assessment: &Assessment,
    channel: &str,
    part: &ChannelPart,
) -> Vec<String> {
    let zones = part.worn_zones.iter();
    zones
        .map(|zone| of_zone(assessment, channel, zone))
        .collect()
}

/// A sentence for each of the first `most` dropouts, and one for the rest.
pub(in crate::report) fn dropped(part: &ChannelPart, most: usize) -> Vec<String> {
    let first = part.dropouts.iter().take(most);
    let mut sentences: Vec<String> = first.map(|dropout| of_dropout(part, dropout)).collect();
    if part.dropouts.len() > most {
        let more = part.dropouts.len() - most;
        sentences.push(format!("... and {more} more: see --json"));
    }
    sentences
}

fn of_zone(assessment: &Assessment, channel: &str, zone: &WornZone) -> String {
    let where_else = match assessment.worn_on(channel, zone) {
        WornOn::OnlyTrack => String::new(),
        WornOn::Alone(other) => format!("; {other} is quiet there: a fault of this track"),
        WornOn::Both(other) => {
            format!("; {other} is as loud there: look at supply and wiring first")
        }
    };
    format!(
        "worn at {}-{} % of travel: {} times the noise, in {} of {} strokes{where_else}",
        fixed(zone.from_pct, 0),
        fixed(zone.to_pct, 0),
        fixed(zone.noise_ratio, 1),
        zone.strokes_seen,
        zone.strokes
    )
}

fn of_dropout(part: &ChannelPart, dropout: &Dropout) -> String {
    let at = dropout.travel_pct.map_or_else(String::new, |travel| {
        format!(" at {} % of travel", fixed(travel.max(0.0), 0))
    });
    format!(
        "{} s: lost for {} ms{at}, jumped {}{}",
        fixed(dropout.t_s, 1),
        fixed(dropout.duration_ms, 0),
        match dropout.towards {
            Towards::Ground => "down",
            Towards::Supply => "up",
        },
        part.acts(dropout)
            .map_or_else(String::new, |end| format!(", towards {end}"))
    )
}
