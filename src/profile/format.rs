//! `profile/1`: text -> [`Profile`].

use super::invalid::InvalidProfile;
use super::schema::{LimitText, Text, TrackText};
use super::types::{MOST_DRIFT_PCT, PairPart, Profile, TrackPart};
use crate::outlet::{JsonError, json_advice, json_source, read_json};
use crate::wiring::{Wiring, WiringError};
use measure::figure::{FigureName, Scope};
use measure::judge::{Limit, LimitError};
use measure::units::Track;
use std::collections::BTreeMap;

impl Profile {
    /// Reads a profile from its text.
    pub fn from_json(text: &str) -> Result<Self, InvalidProfile> {
        Self::checked(text).map_err(|place| place.found_in(&json_source(text)))
    }

    fn checked(text: &str) -> Result<Self, InvalidProfile> {
        let text: Text = read_json(text).map_err(|e| from_json(&e))?;
        if text.format != "profile/1" {
            return Err(InvalidProfile::new(
                "format",
                format!(
                    "`{}` is not `profile/1`, the format this program reads",
                    text.format
                ),
            ));
        }
        if text.tracks.is_empty() {
            return Err(InvalidProfile::new(
                "tracks",
                "has no track: give at least \"1\"",
            ));
        }
        for (path, value) in [
            ("supply_mv", text.supply_mv),
            ("stop_within_ms", text.stop_within_ms),
        ] {
            if !(value.is_finite() && value > 0.0) {
                return Err(InvalidProfile::new(
                    path,
                    format!("{value} is not a positive number"),
                ));
            }
        }
        if !(0.0..=MOST_DRIFT_PCT).contains(&text.drift_allowance_pct) {
            return Err(InvalidProfile::new(
                "drift_allowance_pct",
                format!(
                    "{} is no share of span to leave for drift: give 0 to {MOST_DRIFT_PCT} percent",
                    text.drift_allowance_pct
                ),
            ));
        }
        if !(1..=24).contains(&text.code_bits) {
            return Err(InvalidProfile::new(
                "code_bits",
                format!("{} is no resolution: give 1 to 24 bits", text.code_bits),
            ));
        }
        let tracks: BTreeMap<Track, TrackPart> = text
            .tracks
            .into_iter()
            .map(|(key, part)| track(&key, part))
            .collect::<Result<_, _>>()?;
        if text.pair.is_some() && tracks.len() < 2 {
            return Err(InvalidProfile::new(
                "pair",
                "needs two tracks: add the other to `tracks`",
            ));
        }
        let pair = text
            .pair
            .map(|part| {
                limits("pair", part.limits, Scope::Pair)
                    .map(|(limits, reasons)| PairPart { limits, reasons })
            })
            .transpose()?;
        Ok(Self {
            name: text.name,
            kind: text.kind,
            card: text.card,
            code_bits: text.code_bits,
            supply_mv: text.supply_mv,
            tracks,
            pair,
            zero_command_at: text.start.zero_command_at,
            stop_within_ms: text.stop_within_ms,
            drift_allowance_pct: text.drift_allowance_pct,
            comment: text.comment,
        })
    }
}

fn from_json(error: &JsonError) -> InvalidProfile {
    let words = error.source.to_string();
    let what = words.split(" at line ").next().unwrap_or_default();
    let what = format!("{what}{}", json_advice(what));
    InvalidProfile {
        path: error.place.trim_end_matches(['.', '?']).to_owned(),
        at: Some((error.source.line(), error.source.column())),
        what,
    }
}

fn track(key: &str, part: TrackText) -> Result<(Track, TrackPart), InvalidProfile> {
    let path = format!("tracks.{key}");
    let number = key.parse::<u8>().ok().and_then(|n| Track::try_from(n).ok());
    let number = number.ok_or_else(|| InvalidProfile::new(&path, "a track is \"1\" or \"2\""))?;
    let wiring = part.wiring.map(Wiring::try_from).transpose();
    let wiring = wiring.map_err(|e: WiringError| {
        InvalidProfile::new(format!("{path}.wiring.{}", e.member()), e.to_string())
    })?;
    let (limits, reasons) = limits(&path, part.limits, Scope::Channel)?;
    Ok((
        number,
        TrackPart {
            wiring,
            limits,
            reasons,
        },
    ))
}

type Limits = (BTreeMap<FigureName, Limit>, BTreeMap<FigureName, String>);

fn limits(
    path: &str,
    texts: BTreeMap<String, LimitText>,
    scope: Scope,
) -> Result<Limits, InvalidProfile> {
    let (mut limits, mut reasons) = (BTreeMap::new(), BTreeMap::new());
    for (word, text) in texts {
        let path = format!("{path}.limits.{word}");
        let name: FigureName = word
            .parse()
            .map_err(|e: measure::units::UnknownWord| InvalidProfile::new(&path, e.to_string()))?;
        if name.scope() != scope {
            let belongs = if scope == Scope::Pair {
                "a track: move it to `tracks`"
            } else {
                "a pair: move it to `pair`"
            };
            return Err(InvalidProfile::new(
                &path,
                format!("`{word}` is a result of {belongs}"),
            ));
        }
        let limit = Limit::new(text.min, text.max)
            .map_err(|e: LimitError| InvalidProfile::new(&path, e.to_string()))?;
        can_be(name, limit).map_err(|what| InvalidProfile::new(&path, what))?;
        limits.insert(name, limit);
        if let Some(reason) = text.reason {
            reasons.insert(name, reason);
        }
    }
    Ok((limits, reasons))
}
/// A limit that no part can meet, or that lies far from all that its figure can be, is a slip of the pen.
fn can_be(name: FigureName, limit: Limit) -> Result<(), String> {
    let (least, most) = name.possible();
    let width = most - least;
    let far = |x: f64| width.is_finite() && !(least - width..=most + width).contains(&x);
    let sides = [limit.min(), limit.max()];
    if let Some(x) = sides.into_iter().flatten().find(|x| far(*x)) {
        return Err(format!(
            "`{name}` lies between {least} and {most}: a limit of {x:e} is none"
        ));
    }
    let never = |x: &f64| *x > most;
    if let Some(min) = limit.min().filter(never) {
        return Err(format!(
            "`{name}` is never above {most}: no part can reach a `min` of {min}"
        ));
    }
    if let Some(max) = limit.max().filter(|max| *max < least) {
        return Err(format!(
            "`{name}` is never below {least}: no part can keep a `max` of {max}"
        ));
    }
    Ok(())
}
