//! A capture as values.

use super::aside::SetAside;
use super::tried::Tried;
use measure::units::maths;
use measure::units::{Code, Passage, Role, Scale, ScaleError, Track};
use measure::{BoardFacts, Channel, Recording, Reference};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The board that sampled.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BoardMeta {
    #[serde(default)]
    pub name: String,
    pub bits: u32,
    pub vref_mv: f64,
    /// Nominal samples a second.
    pub rate_hz: f64,
    /// Integral non-linearity in codes, as stated or measured; absent when nobody stated it ([`Self::usual_inl_code`]).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inl_code: Option<f64>,
    /// `board`: `t_us` is the board's clock; `host`: time of arrival.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clock: Option<Clock>,
}

impl BoardMeta {
    /// A board of which nothing else is stated.
    pub fn new(name: impl Into<String>, bits: u32, vref_mv: f64, rate_hz: f64) -> Self {
        Self {
            name: name.into(),
            bits,
            vref_mv,
            rate_hz,
            inl_code: None,
            clock: None,
        }
    }

    /// What boards of these bits usually read off a straight line, in codes: two codes of ten bits where there are no more than
    /// ten (common practice, no source), sixteen of twelve where there are more (the commonest board of twelve bits reads up to
    /// 15 codes off: `tests/reference/34-adc-wide-codes.json`).
    pub fn usual_inl_code(&self) -> f64 {
        let (codes, of_bits) = if self.bits <= 10 {
            (2.0, 10.0)
        } else {
            (16.0, 12.0)
        };
        codes * maths::exp2(f64::from(self.bits) - of_bits)
    }
}

/// Whose clock `t_us` is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Clock {
    Board,
    Host,
}

/// The unit under test.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
pub struct UnitMeta {
    /// What is written on its sticker.
    #[serde(default)]
    pub tag: Option<String>,
    /// Name of its profile.
    #[serde(default)]
    pub profile: Option<String>,
}

/// What a column carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ChannelMeta {
    pub role: Role,
    /// Its track. Not stated it is the first; of two signals of a control with two tracks the first, then the second.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub track: Option<Track>,
}

/// The reference column.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RefMeta {
    /// Unit of its positions, e.g. `deg` or `mm`.
    pub unit: String,
    /// Position of the rest end.
    #[serde(default)]
    pub low: Option<f64>,
    /// Position of the full end.
    #[serde(default)]
    pub high: Option<f64>,
    /// Standard uncertainty of a position as stated: that of the mark, protractor or encoder, the same at every visit of
    /// a station. How the hand scatters about the mark differs between visits, is seen there and is not stated.
    #[serde(default)]
    pub u: Option<f64>,
}

/// What became of the stream's lines.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
pub struct StreamCounts {
    pub lines: u64,
    /// Lines that were samples.
    pub samples: u64,
    #[serde(default)]
    pub rejected: BTreeMap<String, u64>,
    /// Samples missing between the ones received.
    pub missing: u64,
    /// How often the board's clock began anew (a reset, a power cut); a key of ours, absent when it never did.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub restarts: u64,
    /// Of the missing, those of times when the board was away (a cable out) while a card was led, which takes again what was under
    /// way: no evidence lacks them. A key of ours, absent when there were none.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub away: u64,
}

#[allow(clippy::trivially_copy_pass_by_ref)] // as serde calls it
fn is_zero(n: &u64) -> bool {
    *n == 0
}

impl StreamCounts {
    /// All rejected lines; a file may state any counts, so the sum ends at the largest number.
    #[cfg(feature = "inside")]
    pub fn rejected_total(&self) -> u64 {
        many(self.rejected.values())
    }

    /// Samples lost while recording: missing ones, and rejected lines but for those that came before the stream
    /// could be read (a listener who joins late loses nothing of the recording by them), nor those of a time when the
    /// board was away and what was under way was taken again.
    pub fn lost(&self) -> u64 {
        let during = self
            .rejected
            .iter()
            .filter(|(cause, _)| !matches!(cause.as_str(), "before header" | "cut"));
        // A rejected line leaves a gap in the board's time, so it is among the missing already, unless the board
        // sends no time.
        many(during.map(|(_, n)| n)).max(self.missing.saturating_sub(self.away))
    }
}

/// The sum, or the largest number where it would be beyond.
fn many<'a>(counts: impl Iterator<Item = &'a u64>) -> u64 {
    counts.fold(0, |sum, count| sum.saturating_add(*count))
}

/// How often findings were looked at while the capture grew, so that whoever judges it can allow for that.
///
/// A key of ours beside those of the format; a reader that does not know it may judge a little too narrowly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct LooksTaken {
    /// The look that the capture ended at, from 1.
    pub taken: u32,
    /// Looks that were planned, at most 6.
    pub planned: u32,
}

/// The file of another program that a capture was made from. A key of ours beside those of the format.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ImportedFrom {
    /// Its name, without its folder.
    pub file: String,
    /// SHA-256 of it as it was, lower-case hex.
    pub sha256: String,
}

/// Everything known of a capture but its samples: the `pedalproof` object of the metadata file.
#[derive(Debug, Clone, PartialEq)]
pub struct Metadata {
    pub board: BoardMeta,
    pub unit: UnitMeta,
    /// Channels in column order.
    pub channels: Vec<(String, ChannelMeta)>,
    pub reference: Option<RefMeta>,
    /// When it began, RFC 3339.
    pub started: Option<String>,
    pub stream: StreamCounts,
    /// Looks at findings while it grew; absent when nothing was decided before its end.
    pub looks: Option<LooksTaken>,
    /// Stretches that were taken back while recording.
    pub set_aside: Vec<SetAside>,
    /// What was tried behind all evidence, to tell two causes apart.
    pub tried: Vec<Tried>,
    /// What it was made from, when another program recorded it.
    pub imported: Option<ImportedFrom>,
    /// No board was there: the program's own simulated one was.
    pub simulated: bool,
    pub note: Option<String>,
}

/// A recording in memory: 8 bytes a sample for the time, 4 a channel, 8 for the reference.
#[derive(Debug, Clone)]
pub struct Capture {
    pub meta: Metadata,
    /// Board time in microseconds, one a sample.
    pub t_us: Vec<u64>,
    /// Runs of one step, together covering every sample.
    pub passages: Vec<Passage>,
    /// Codes, a column for each of `meta.channels`.
    pub codes: Vec<Vec<Code>>,
    /// Reference positions, NaN where none, if there is the column.
    pub reference: Option<Vec<f64>>,
    /// What was lost at the end of a cut file, in words.
    pub lost: Option<String>,
}

impl Metadata {
    /// A recording of which nothing else is known.
    pub fn new(board: BoardMeta, channels: Vec<(String, ChannelMeta)>) -> Self {
        Self {
            board,
            unit: UnitMeta::default(),
            channels,
            reference: None,
            started: None,
            stream: StreamCounts::default(),
            looks: None,
            set_aside: Vec::new(),
            tried: Vec::new(),
            imported: None,
            simulated: false,
            note: None,
        }
    }

    /// Gives signals that state no track one that no other states, the first before the second, in the order of the columns, as
    /// a stream's columns get theirs.
    pub fn give_tracks(&mut self) {
        let stated = |track: Track| self.channels.iter().any(|(_, of)| of.track == Some(track));
        let free: Vec<Track> = [Track::One, Track::Two]
            .into_iter()
            .filter(|track| !stated(*track))
            .collect();
        let unsaid = self.channels.iter_mut().map(|(_, of)| of);
        let unsaid = unsaid.filter(|of| of.role == Role::Signal && of.track.is_none());
        for (of, track) in unsaid.zip(free) {
            of.track = Some(track);
        }
    }

    /// The track of each signal.
    pub fn tracks(&self) -> BTreeMap<String, Track> {
        let signals = self.channels.iter();
        let signals = signals.filter(|(_, of)| of.role == Role::Signal);
        signals
            .map(|(name, of)| (name.clone(), of.track.unwrap_or(Track::One)))
            .collect()
    }

    /// The channel that measures the reference travel, by its place among the columns.
    pub fn reference_channel(&self) -> Option<usize> {
        let is_reference = |(_, channel): &(_, ChannelMeta)| channel.role == Role::Reference;
        self.channels.iter().position(is_reference)
    }
}

impl Capture {
    /// The capture as slices for `measure`: all that is evidence, which ends before the first trial.
    pub fn recording(&self) -> Result<Recording<'_>, ScaleError> {
        let proper = self.proper();
        let ended = self.passages.partition_point(|p| p.range.end <= proper);
        self.slices(proper, &self.passages[..ended])
    }

    /// Its first samples as slices, in these passages.
    pub fn slices<'a>(
        &'a self,
        samples: usize,
        passages: &'a [Passage],
    ) -> Result<Recording<'a>, ScaleError> {
        let board = &self.meta.board;
        let reference = self.reference.as_deref().map(|position| Reference {
            position: position.get(..samples).unwrap_or(position),
            low: self.meta.reference.as_ref().and_then(|r| r.low),
            high: self.meta.reference.as_ref().and_then(|r| r.high),
            u: self
                .meta
                .reference
                .as_ref()
                .and_then(|r| r.u)
                .unwrap_or(0.0),
        });
        let channels = self.meta.channels.iter().zip(&self.codes);
        Ok(Recording {
            board: BoardFacts {
                scale: Scale::new(board.bits, board.vref_mv)?,
                rate_hz: board.rate_hz,
                inl_code: board.inl_code,
                inl_stated: board.inl_code.is_some(),
                board_time: board.clock != Some(Clock::Host),
            },
            t_us: &self.t_us[..samples],
            passages,
            channels: channels
                .map(|((name, meta), codes)| Channel {
                    name,
                    role: meta.role,
                    track: meta.track.unwrap_or(Track::One),
                    codes: codes.get(..samples).unwrap_or(codes),
                })
                .collect(),
            reference,
            rests_at_a_stop: true,
        })
    }

    /// Seconds from the first to the last sample.
    pub fn duration_s(&self) -> f64 {
        match (self.t_us.first(), self.t_us.last()) {
            (Some(first), Some(last)) => {
                measure::units::seconds_from_us(last.saturating_sub(*first))
            }
            _ => 0.0,
        }
    }
}
