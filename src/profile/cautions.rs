//! What a good profile may still have got wrong: nothing that makes it unreadable, but worth a word.

use super::{Profile, TrackPart};
use measure::figure::FigureName;
use measure::judge::Limit;
use measure::units::Track;
use std::collections::BTreeMap;

impl Profile {
    /// Words of caution, most serious first; empty for a profile that agrees with itself.
    pub fn cautions(&self) -> Vec<String> {
        let mut cautions = Vec::new();
        for (track, part) in &self.tracks {
            self.against_wiring(*track, part, &mut cautions);
        }
        for (place, limits, reasons) in self.limit_lists() {
            for name in limits.keys() {
                if !name.steps().iter().any(|step| self.card.contains(step)) {
                    let steps: Vec<&str> = name.steps().iter().map(|step| step.word()).collect();
                    cautions.push(format!(
                        "{place}: no step of the test supplies {name}: add one of {} or take the limit out",
                        steps.join(", ")
                    ));
                }
            }
            for name in limits.keys().filter(|name| !reasons.contains_key(name)) {
                cautions.push(format!("{place}: the limit on {name} gives no reason"));
            }
        }
        for (track, _) in self.tracks.iter().filter(|(_, part)| part.wiring.is_none()) {
            cautions.push(format!(
                "track {track}: no wiring stated: no fault windows can be derived"
            ));
        }
        cautions
    }

    /// Every list of limits with its place in words and its reasons.
    pub fn limit_lists(
        &self,
    ) -> impl Iterator<
        Item = (
            String,
            &BTreeMap<FigureName, Limit>,
            &BTreeMap<FigureName, String>,
        ),
    > {
        let tracks = self
            .tracks
            .iter()
            .map(|(track, part)| (format!("track {track}"), &part.limits, &part.reasons));
        let pair = self
            .pair
            .iter()
            .map(|part| ("both tracks".to_owned(), &part.limits, &part.reasons));
        tracks.chain(pair)
    }

    /// A nominal unit, wired as stated, must be able to pass the limits on its own ends.
    fn against_wiring(&self, track: Track, part: &TrackPart, cautions: &mut Vec<String>) {
        /// The ratio of a nominal unit does not depend on the resolution.
        const ANY_BITS: u32 = 10;
        let control = self.control_wiring(ANY_BITS);
        let hookup = control
            .track(track)
            .and_then(|wired| control.hookup(wired).ok());
        let Some(hookup) = hookup else { return };
        for (name, travel) in [(FigureName::RestRatio, 0.0), (FigureName::FullRatio, 1.0)] {
            let (Some(limit), Some(ratio)) =
                (part.limits.get(&name), hookup.pin(travel, None).ratio())
            else {
                continue;
            };
            let outside = limit.min().is_some_and(|min| ratio < min)
                || limit.max().is_some_and(|max| ratio > max);
            if outside {
                cautions.push(format!(
                    "track {track}: wired as stated, a nominal part reads {name} = {ratio:.4}, outside its own limit; correct the parts stated under `wiring`, or the limit"
                ));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cautions(limits: &str, wiring: &str) -> Vec<String> {
        let text = format!(
            r#"{{"format":"profile/1","name":"t","kind":"dial","card":["rest","full"],"supply_mv":5000,
                "tracks":{{"1":{{{wiring}"limits":{limits}}}}},"start":{{"zero_command_at":"rest"}},"stop_within_ms":50}}"#
        );
        Profile::from_json(&text).unwrap().cautions()
    }

    const DIAL: &str = r#""wiring":{"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700},"#;

    #[test]
    fn a_profile_that_agrees_with_itself_gives_none() {
        let limits = r#"{"full_ratio":{"min":0.6,"max":0.75,"reason":"r"}}"#;
        assert_eq!(cautions(limits, DIAL), Vec::<String>::new());
    }

    #[test]
    fn contradictions_are_told() {
        let limits = r#"{"full_ratio":{"min":0.8},"smoothness":{"max":1,"reason":"r"}}"#;
        let found = cautions(limits, DIAL);
        assert_eq!(found.len(), 3, "{found:?}");
        // 10/14.7 = 0.6803. By hand.
        assert!(found[0].contains("full_ratio = 0.6803"), "{found:?}");
        assert!(found.iter().any(|t| t.contains("strokes")), "{found:?}");
        assert!(found.iter().any(|t| t.contains("no reason")), "{found:?}");
        assert!(cautions("{}", "")[0].contains("no wiring"));
    }
}
