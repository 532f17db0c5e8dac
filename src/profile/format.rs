//! `profile/1`: text <-> [`Profile`].

use crate::figure::{FigureName, Scope};
use crate::judge::{Limit, LimitError};
use crate::units::{Step, Track};
use crate::wiring::Wiring;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What sort of control.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
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
}

/// Limits on the pair of tracks.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct PairPart {
    /// Limits on the pair's figures.
    pub limits: BTreeMap<FigureName, Limit>,
}

/// Where the control commands zero: the end that must be seen before the board starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
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

/// What is wrong in a profile, and where: `path` is like `tracks.1.limits.rest_ratio`.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("at `{path}`: {what}")]
pub struct Place {
    /// Where in the file.
    pub path: String,
    /// What is wrong and what to do.
    pub what: String,
}

impl Place {
    fn new(path: impl Into<String>, what: impl Into<String>) -> Self {
        Self {
            path: path.into(),
            what: what.into(),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Text {
    format: String,
    name: String,
    kind: Kind,
    card: Vec<Step>,
    supply_mv: f64,
    tracks: BTreeMap<String, TrackText>,
    #[serde(default)]
    pair: Option<PairText>,
    start: StartText,
    stop_within_ms: f64,
    #[serde(default)]
    comment: Option<String>,
    #[serde(default, rename = "$schema")]
    _schema: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TrackText {
    #[serde(default)]
    wiring: Option<Wiring>,
    #[serde(default)]
    limits: BTreeMap<String, LimitText>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PairText {
    #[serde(default)]
    limits: BTreeMap<String, LimitText>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StartText {
    zero_command_at: StartRule,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LimitText {
    #[serde(default)]
    min: Option<f64>,
    #[serde(default)]
    max: Option<f64>,
    #[serde(default, rename = "reason")]
    _reason: Option<String>,
}

impl Profile {
    /// Reads a profile from its text.
    ///
    /// # Errors
    /// The first thing wrong, with its place in the file.
    pub fn from_json(text: &str) -> Result<Self, Place> {
        let text: Text = serde_json::from_str(text).map_err(|e| {
            Place::new(
                format!("line {} column {}", e.line(), e.column()),
                e.to_string(),
            )
        })?;
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
        let tracks = text
            .tracks
            .into_iter()
            .map(|(key, part)| track(&key, part))
            .collect::<Result<_, _>>()?;
        let pair = text
            .pair
            .map(|part| limits("pair", part.limits, Scope::Pair).map(|limits| PairPart { limits }))
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

fn track(key: &str, part: TrackText) -> Result<(Track, TrackPart), Place> {
    let path = format!("tracks.{key}");
    let number = key.parse::<u8>().ok().and_then(|n| Track::try_from(n).ok());
    let number = number.ok_or_else(|| Place::new(&path, "a track is \"1\" or \"2\""))?;
    if let Some(wiring) = &part.wiring {
        wiring
            .check()
            .map_err(|e| Place::new(format!("{path}.wiring.{}", e.member()), e.to_string()))?;
    }
    let limits = limits(&path, part.limits, Scope::Channel)?;
    Ok((
        number,
        TrackPart {
            wiring: part.wiring,
            limits,
        },
    ))
}

fn limits(
    path: &str,
    texts: BTreeMap<String, LimitText>,
    scope: Scope,
) -> Result<BTreeMap<FigureName, Limit>, Place> {
    texts
        .into_iter()
        .map(|(word, limit)| {
            let path = format!("{path}.limits.{word}");
            let name: FigureName = word
                .parse()
                .map_err(|e: crate::units::UnknownWord| Place::new(&path, e.to_string()))?;
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
            let limit = Limit::new(limit.min, limit.max)
                .map_err(|e: LimitError| Place::new(&path, e.to_string()))?;
            Ok((name, limit))
        })
        .collect()
}
