//! [`Profile`] -> text of `profile/1`.

use super::{Kind, Profile, USUAL_DRIFT_PCT};
use measure::figure::FigureName;
use measure::judge::Limit;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

impl Profile {
    /// The profile as its file holds it, ending in a newline. Reads back as the same profile.
    pub fn to_json(&self) -> String {
        let mut out = Map::new();
        let mut put = |key: &str, value: Value| out.insert(key.to_owned(), value);
        put("format", json!("profile/1"));
        put("name", json!(self.name));
        put("kind", json!(self.kind));
        if let Some(comment) = &self.comment {
            put("comment", json!(comment));
        }
        put("card", json!(self.card));
        put("code_bits", json!(self.code_bits));
        put("supply_mv", number(self.supply_mv));
        let tracks: Map<String, Value> = self
            .tracks
            .iter()
            .map(|(track, part)| {
                let mut own = Map::new();
                if let Some(wiring) = &part.wiring {
                    own.insert("wiring".to_owned(), json!(wiring));
                }
                own.insert("limits".to_owned(), limits(&part.limits, &part.reasons));
                (track.to_string(), Value::Object(own))
            })
            .collect();
        put("tracks", Value::Object(tracks));
        if let Some(pair) = &self.pair {
            put(
                "pair",
                json!({ "limits": limits(&pair.limits, &pair.reasons) }),
            );
        }
        put("start", json!({ "zero_command_at": self.zero_command_at }));
        put("stop_within_ms", number(self.stop_within_ms));
        if (self.drift_allowance_pct - USUAL_DRIFT_PCT).abs() > f64::EPSILON {
            put("drift_allowance_pct", number(self.drift_allowance_pct));
        }
        // A tree of plain values: writing it cannot fail.
        serde_json::to_string_pretty(&out).unwrap_or_default() + "\n"
    }
}

fn limits(limits: &BTreeMap<FigureName, Limit>, reasons: &BTreeMap<FigureName, String>) -> Value {
    let one = |(name, limit): (&FigureName, &Limit)| {
        let mut own = Map::new();
        for (side, value) in [("min", limit.min()), ("max", limit.max())] {
            if let Some(value) = value {
                own.insert(side.to_owned(), number(value));
            }
        }
        if let Some(reason) = reasons.get(name) {
            own.insert("reason".to_owned(), json!(reason));
        }
        (name.word().to_owned(), Value::Object(own))
    };
    Value::Object(limits.iter().map(one).collect())
}

/// Whole numbers without a decimal point, as people write them.
#[allow(clippy::cast_possible_truncation)] // whole and small
fn number(value: f64) -> Value {
    if value.fract() == 0.0 && value.abs() < 1e15 {
        json!(value as i64)
    } else {
        json!(value)
    }
}

impl Kind {
    /// The word as profiles write it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Pedal => "pedal",
            Self::Dial => "dial",
            Self::Lever => "lever",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_built_in_profile_reads_back_as_itself() {
        for (name, text) in crate::profile::BUILT_IN {
            let profile = Profile::from_json(text).unwrap();
            let written = profile.to_json();
            assert_eq!(Profile::from_json(&written).unwrap(), profile, "{name}");
            assert!(!written.contains("null"), "{name}: {written}");
        }
    }
}
