//! `profile/1`: text <-> [`Profile`].

use super::Place;
use super::schema::{channel_limits, pair_limits, steps};
use crate::wiring::Wiring;
use measure::figure::{FigureName, Scope};
use measure::judge::{Limit, LimitError};
use measure::units::{Step, Track};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What sort of control.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Worked by foot.
    Pedal,
    /// Turned by hand.
    Dial,
    /// Moved by hand.
    Lever,
}

/// One track: how it is wired and what it must do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrackPart {
    /// How it is wired to the board.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wiring: Option<Wiring>,
    /// Limits on its figures.
    pub limits: BTreeMap<FigureName, Limit>,
    /// Why each limit is what it is, where the profile says so.
    pub reasons: BTreeMap<FigureName, String>,
}

/// Limits on the pair of tracks.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct PairPart {
    /// Limits on the pair's figures.
    pub limits: BTreeMap<FigureName, Limit>,
    /// Why each limit is what it is, where the profile says so.
    pub reasons: BTreeMap<FigureName, String>,
}

/// Where the control commands zero: the end that must be seen before the board starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum StartRule {
    /// At the rest end.
    Rest,
    /// At the full end.
    Full,
}

/// What a good unit of a kind looks like. Every limit names a figure of its scope: enforced on reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Its name.
    pub name: String,
    /// What sort of control.
    pub kind: Kind,
    /// The steps a unit goes through, in order.
    pub card: Vec<Step>,
    /// Nominal supply of the control in millivolts.
    pub supply_mv: f64,
    /// The tracks.
    pub tracks: BTreeMap<Track, TrackPart>,
    /// The pair of tracks, when there are two.
    pub pair: Option<PairPart>,
    /// Where it commands zero.
    pub zero_command_at: StartRule,
    /// Within which time a fault must have stopped the output.
    pub stop_within_ms: f64,
    /// A word to the reader.
    pub comment: Option<String>,
}

/// What a good unit of a kind looks like. Units are in the names: `_ohm`, `_mv`, `_ms`, `_pct`; ratios are fractions of the
/// ADC's reference.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "profile/1")]
pub(super) struct Text {
    /// Always `profile/1`.
    #[schemars(extend("const" = "profile/1"))]
    format: String,
    /// What this kind of control is called.
    name: String,
    /// What sort of control.
    kind: Kind,
    /// The steps a unit goes through, in order.
    #[schemars(schema_with = "steps")]
    card: Vec<Step>,
    /// Nominal supply of the control in millivolts.
    #[schemars(extend("exclusiveMinimum" = 0))]
    supply_mv: f64,
    /// Its tracks: "1", or "1" and "2".
    #[schemars(with = "BTreeMap<TrackKey, TrackText>")]
    tracks: BTreeMap<String, TrackText>,
    /// What the two tracks must do together.
    #[serde(default)]
    pair: Option<PairText>,
    /// What must be seen before the board lets the motor run.
    start: StartText,
    /// Within how many milliseconds a fault must have stopped the output.
    #[schemars(extend("exclusiveMinimum" = 0))]
    stop_within_ms: f64,
    /// A word to the reader.
    #[serde(default)]
    comment: Option<String>,
    /// For editors: where the schema is.
    #[serde(default, rename = "$schema")]
    _schema: Option<String>,
}

/// A track's number as the key of a JSON object: for the schema alone, so that a refusal can name the key.
#[derive(JsonSchema)]
#[allow(dead_code)] // only its schema is used
enum TrackKey {
    #[serde(rename = "1")]
    One,
    #[serde(rename = "2")]
    Two,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "Track")]
struct TrackText {
    /// How it is wired to the board.
    #[serde(default)]
    wiring: Option<Wiring>,
    /// Limits on its figures.
    #[serde(default)]
    #[schemars(schema_with = "channel_limits")]
    limits: BTreeMap<String, LimitText>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "Pair")]
struct PairText {
    /// Limits on the pair's figures.
    #[serde(default)]
    #[schemars(schema_with = "pair_limits")]
    limits: BTreeMap<String, LimitText>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "Start")]
struct StartText {
    /// The end of travel that commands zero, which must be seen first.
    zero_command_at: StartRule,
}

/// What a figure must stay within: `min`, `max` or both, in the figure's unit.
#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "Limit")]
pub(super) struct LimitText {
    /// Lower side.
    #[serde(default)]
    min: Option<f64>,
    /// Upper side.
    #[serde(default)]
    max: Option<f64>,
    /// Why this number.
    #[serde(default)]
    reason: Option<String>,
}

impl Profile {
    /// Reads a profile from its text.
    ///
    /// # Errors
    /// The first thing wrong, with its place in the file.
    pub fn from_json(text: &str) -> Result<Self, Place> {
        Self::checked(text).map_err(|place| place.found_in(text))
    }

    fn checked(text: &str) -> Result<Self, Place> {
        let text = parsed(text)?;
        if text.format != "profile/1" {
            return Err(Place::new(
                "format",
                format!(
                    "`{}` is not `profile/1`, the format this program reads",
                    text.format
                ),
            ));
        }
        if text.tracks.is_empty() {
            return Err(Place::new("tracks", "has no track: give at least \"1\""));
        }
        for (path, value) in [
            ("supply_mv", text.supply_mv),
            ("stop_within_ms", text.stop_within_ms),
        ] {
            if !(value.is_finite() && value > 0.0) {
                return Err(Place::new(
                    path,
                    format!("{value} is not a positive number"),
                ));
            }
        }
        let tracks: BTreeMap<Track, TrackPart> = text
            .tracks
            .into_iter()
            .map(|(key, part)| track(&key, part))
            .collect::<Result<_, _>>()?;
        if text.pair.is_some() && tracks.len() < 2 {
            return Err(Place::new(
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
            supply_mv: text.supply_mv,
            tracks,
            pair,
            zero_command_at: text.start.zero_command_at,
            stop_within_ms: text.stop_within_ms,
            comment: text.comment,
        })
    }
}

/// The text as it is written, with the place of what the format does not allow.
fn parsed(text: &str) -> Result<Text, Place> {
    let mut reader = serde_json::Deserializer::from_str(text);
    let parsed: Text = serde_path_to_error::deserialize(&mut reader).map_err(|e| {
        let path = e.path().to_string();
        from_serde(&path, e.inner())
    })?;
    reader.end().map_err(|e| from_serde("", &e))?;
    Ok(parsed)
}

fn from_serde(path: &str, error: &serde_json::Error) -> Place {
    let words = error.to_string();
    let what = words
        .split(" at line ")
        .next()
        .unwrap_or_default()
        .to_owned();
    Place {
        path: path.trim_end_matches(['.', '?']).to_owned(),
        at: Some((error.line(), error.column())),
        what,
    }
}

fn track(key: &str, part: TrackText) -> Result<(Track, TrackPart), Place> {
    let path = format!("tracks.{key}");
    let number = key.parse::<u8>().ok().and_then(|n| Track::try_from(n).ok());
    let number = number.ok_or_else(|| Place::new(&path, "a track is \"1\" or \"2\""))?;
    if let Some(wiring) = &part.wiring {
        wiring
            .check()
            .map_err(|e| Place::new(format!("{path}.wiring.{}", e.member()), e.to_string()))?;
    }
    let (limits, reasons) = limits(&path, part.limits, Scope::Channel)?;
    Ok((
        number,
        TrackPart {
            wiring: part.wiring,
            limits,
            reasons,
        },
    ))
}

type Limits = (BTreeMap<FigureName, Limit>, BTreeMap<FigureName, String>);

fn limits(path: &str, texts: BTreeMap<String, LimitText>, scope: Scope) -> Result<Limits, Place> {
    let (mut limits, mut reasons) = (BTreeMap::new(), BTreeMap::new());
    for (word, text) in texts {
        let path = format!("{path}.limits.{word}");
        let name: FigureName = word
            .parse()
            .map_err(|e: measure::units::UnknownWord| Place::new(&path, e.to_string()))?;
        if name.scope() != scope {
            let belongs = if scope == Scope::Pair {
                "a track: move it to `tracks`"
            } else {
                "a pair: move it to `pair`"
            };
            return Err(Place::new(
                &path,
                format!("`{word}` is a figure of {belongs}"),
            ));
        }
        let limit = Limit::new(text.min, text.max)
            .map_err(|e: LimitError| Place::new(&path, e.to_string()))?;
        limits.insert(name, limit);
        if let Some(reason) = text.reason {
            reasons.insert(name, reason);
        }
    }
    Ok((limits, reasons))
}
