//! Worn zones over time: new, growing, as they were, gone.

use super::visits::{Entry, Visit};
use measure::WornZone;
use measure::figure::FigureName;
use measure::units::maths;

/// Standard uncertainty of each edge of a zone, percent of travel: the map's bins are 1 % wide, and the noise decides which of them is the
/// last that stands out.
const EDGE_PCT: f64 = 1.0;

/// Of a standard normal value, two-sided 95 %.
const FACTOR: f64 = 1.96;

/// A zone at one record.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    pub entry: usize,
    pub zone: WornZone,
}

/// A worn zone over time.
#[derive(Debug, Clone, PartialEq)]
pub struct ZoneStory {
    pub channel: String,
    /// As it is now, at the last record; `None` when it was looked for there and is not seen any more.
    pub now: Option<WornZone>,
    /// As it was when it was first seen, and at which entry; `None` when it is new.
    pub before: Option<(usize, WornZone)>,
    /// Whether it surely widened or became louder since.
    pub grows: bool,
    /// By how many percent of travel it widened since, 95 % interval.
    pub wider_pct: Option<(f64, f64)>,
    /// At each record that has it, oldest first.
    pub seen: Vec<Seen>,
}

impl ZoneStory {
    /// As it was seen last.
    pub fn last(&self) -> Option<WornZone> {
        self.now.or_else(|| self.seen.last().map(|seen| seen.zone))
    }
}

/// Zones of the last visit, and those of earlier ones that are gone.
pub(super) fn zones(visits: &[Visit], entries: &[Entry]) -> Vec<ZoneStory> {
    let Some((last, earlier)) = visits.split_last() else {
        return Vec::new();
    };
    let mut stories = Vec::new();
    for (channel, part) in &last.record.assessment.channels {
        for now in &part.worn_zones {
            let mut seen = along(earlier, channel, now);
            let before = seen.first().map(|first| (first.entry, first.zone));
            seen.push(Seen {
                entry: entries.len() - 1,
                zone: *now,
            });
            stories.push(ZoneStory {
                channel: channel.clone(),
                now: Some(*now),
                before,
                grows: before.is_some_and(|(_, was)| grew(&was, now)),
                wider_pct: before.map(|(_, was)| wider(&was, now)),
                seen,
            });
        }
        let looked = part
            .figures
            .get(FigureName::WornZonesCount.word())
            .is_some_and(Option::is_some);
        if looked {
            stories.extend(gone(earlier, channel, &part.worn_zones));
        }
    }
    stories
}

fn overlap(a: &WornZone, b: &WornZone) -> bool {
    a.from_pct < b.to_pct && b.from_pct < a.to_pct
}

/// The zone at the same place at each of some visits that has it.
fn along(visits: &[Visit], channel: &str, zone: &WornZone) -> Vec<Seen> {
    let at = |(entry, visit): (usize, &Visit)| {
        let zones = &visit.record.assessment.channels.get(channel)?.worn_zones;
        let zone = *zones.iter().find(|other| overlap(other, zone))?;
        Some(Seen { entry, zone })
    };
    visits.iter().enumerate().filter_map(at).collect()
}

/// Zones of the visit before that has any, of which nothing is seen now.
fn gone(earlier: &[Visit], channel: &str, now: &[WornZone]) -> Vec<ZoneStory> {
    let mut stories: Vec<ZoneStory> = Vec::new();
    for visit in earlier.iter().rev() {
        let Some(part) = visit.record.assessment.channels.get(channel) else {
            continue;
        };
        for was in &part.worn_zones {
            let is_named = stories
                .iter()
                .filter_map(ZoneStory::last)
                .any(|zone| overlap(&zone, was));
            if is_named || now.iter().any(|zone| overlap(zone, was)) {
                continue;
            }
            let seen = along(earlier, channel, was);
            stories.push(ZoneStory {
                channel: channel.to_owned(),
                now: None,
                before: seen.first().map(|first| (first.entry, first.zone)),
                grows: false,
                wider_pct: None,
                seen,
            });
        }
    }
    stories
}

/// Whether an interval of the growth in width, or of that in loudness, lies above nothing.
fn grew(was: &WornZone, now: &WornZone) -> bool {
    wider(was, now).0 > 0.0 || louder(was, now).0 > 1.0
}

/// By how much it widened: four edges, each with its uncertainty.
fn wider(was: &WornZone, now: &WornZone) -> (f64, f64) {
    let by = (now.to_pct - now.from_pct) - (was.to_pct - was.from_pct);
    let half = FACTOR * 2.0 * EDGE_PCT;
    (by - half, by + half)
}

/// How many times as loud it is. The logarithm of a standard deviation of d degrees of freedom has a variance of about 1/(2 d) (Bartlett
/// and Kendall 1946); a stroke gives one for each bin of 1 %, for neighbouring samples of a wiper go together.
fn louder(was: &WornZone, now: &WornZone) -> (f64, f64) {
    let variance = |zone: &WornZone| {
        let bins = (zone.to_pct - zone.from_pct).max(1.0);
        let strokes = f64::from(u32::try_from(zone.strokes_seen).unwrap_or(u32::MAX)).max(1.0);
        0.5 / (strokes * bins)
    };
    let times = maths::ln(now.noise_ratio / was.noise_ratio);
    let half = FACTOR * (variance(was) + variance(now)).sqrt();
    (maths::exp(times - half), maths::exp(times + half))
}
