//! The profile that goes with a change of the wiring.

use super::Profile;
use crate::wiring::search::Recommendation;
use crate::wiring::valid::EndLimits;
use crate::wiring::{Curve, Hookup, Wiring};
use measure::figure::FigureName;
use measure::judge::Limit;
use measure::units::Track;
use std::collections::BTreeMap;

/// Readings do not depend on the resolution.
const ANY_BITS: u32 = 10;

impl Profile {
    /// The same control rewired: its wiring changed, the limits on its ends moved with them, and what else depends on the sign or
    /// size of its span.
    #[must_use]
    pub fn rewired(&self, changes: &[(Track, &Recommendation)]) -> Self {
        let wired = changes.iter().map(|(track, change)| {
            let limits = [change.rest_ratio, change.full_ratio];
            (*track, change.wiring, limits)
        });
        let mut profile = self.with_wiring(&wired.collect::<Vec<_>>());
        let words = changes
            .iter()
            .filter(|(track, _)| self.tracks.contains_key(track))
            .map(|(track, change)| format!("track {track}: {}", change.change));
        let words: Vec<String> = words.collect();
        profile.name = format!("{}, rewired", self.name);
        let before = self.comment.as_ref();
        let before = before.map_or_else(String::new, |comment| format!(" Before: {comment}"));
        profile.comment = Some(format!("Rewired: {}.{before}", words.join("; ")));
        profile
    }

    /// The same with these tracks wired so, the limits on their ends as given, and what else depends on the sign or size of
    /// a span.
    pub(super) fn with_wiring(&self, changes: &[(Track, Wiring, [EndLimits; 2])]) -> Self {
        let mut profile = self.clone();
        let mut scales = BTreeMap::new();
        for (track, wiring, limits) in changes {
            let Some(part) = profile.tracks.get_mut(track) else {
                continue;
            };
            let span = |wiring: Option<Wiring>| {
                let hookup = Hookup::new(wiring?, self.supply_mv, ANY_BITS).ok()?;
                Some(Curve::of(&hookup).span())
            };
            let scale = span(Some(*wiring))
                .zip(span(part.wiring))
                .map_or(1.0, |(after, before)| after / before);
            scales.insert(*track, scale);
            part.wiring = Some(*wiring);
            for (name, limits) in [
                (FigureName::RestRatio, limits[0]),
                (FigureName::FullRatio, limits[1]),
            ] {
                put(&mut part.limits, name, limits);
                if let Some(reason) = part.reasons.get_mut(&name) {
                    *reason = format!("moved with the wiring; before: {reason}");
                }
            }
            rescale(&mut part.limits, FigureName::SpanCode, scale);
        }
        if let Some(pair) = &mut profile.pair {
            let of = |track| scales.get(&track).copied().unwrap_or(1.0);
            let gain = of(Track::Two) / of(Track::One);
            rescale(&mut pair.limits, FigureName::TrackGain, gain);
            if !scales.is_empty() {
                pair.limits.remove(&FigureName::TrackOffset);
            }
        }
        profile
    }
}

fn put(limits: &mut BTreeMap<FigureName, Limit>, name: FigureName, ends: EndLimits) {
    match Limit::new(ends.min, ends.max) {
        Ok(limit) => {
            limits.insert(name, limit);
        }
        // Neither side: there was no limit.
        Err(_) => {
            limits.remove(&name);
        }
    }
}

/// A limit on what grows with the span, its sides changed over when the sign turns.
fn rescale(limits: &mut BTreeMap<FigureName, Limit>, name: FigureName, by: f64) {
    let Some(limit) = limits.get(&name) else {
        return;
    };
    let [min, max] = [limit.min(), limit.max()].map(|side| side.map(|side| side * by));
    let (min, max) = if by < 0.0 { (max, min) } else { (min, max) };
    put(limits, name, EndLimits { min, max });
}
