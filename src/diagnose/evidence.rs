//! What hypotheses look at: figures, findings, places and moments, and what the wiring predicts.

use super::arrivals::Arrivals;
use super::gone::{Gone, gone};
use super::let_go::ends_exchanged;
use super::levels::Level;
use super::predicted::TrackModel;
use super::weigh::Symptom;
use crate::profile::Profile;
use measure::figure::{FigureName, Figures};
use measure::judge::{Finding, Outcome};
use measure::units::{Role, Step, Track};
use measure::{Dropout, Measured, MeasuredChannel, MeasuredPair, Recording};

/// All that is known of one recording of one part.
pub(super) struct Evidence<'a> {
    pub profile: &'a Profile,
    /// The profile that the recording itself names.
    pub recorded_as: Option<&'a str>,
    pub findings: &'a [Finding],
    /// What is to be explained: failed findings, or open ones while none has failed.
    pub broken: Outcome,
    pub signals: Vec<Signal<'a>>,
    pub pairs: Vec<Pair<'a>>,
    /// Codes of the board, 2^bits.
    pub codes: f64,
    /// Rest and full were taken the wrong way round.
    pub ends_exchanged: bool,
    pub vref_mv: f64,
    /// Share of the recording in which the cable was moved.
    pub shaken_share: f64,
    /// How long the recording lasted.
    pub seconds: f64,
}

/// One signal channel.
pub(super) struct Signal<'a> {
    pub name: &'a str,
    pub track: Track,
    /// The board's input, counted as our streamer sends them: `A0`.
    pub pin: String,
    pub measured: &'a MeasuredChannel,
    pub model: Option<TrackModel>,
    pub lost: Vec<Lost>,
    pub arrivals: Arrivals,
    /// When it was not there at all.
    pub gone: Option<Gone>,
    pub rest: Option<Level>,
    pub full: Option<Level>,
    pub all: Option<Level>,
}

/// A loss of contact, with the step that it came in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lost {
    pub dropout: Dropout,
    pub step: Step,
}

/// Two tracks.
pub(super) struct Pair<'a> {
    pub name: String,
    pub measured: &'a MeasuredPair,
    /// Places of both among the signals.
    pub signals: [usize; 2],
    /// How far they are from each other, sample by sample.
    pub apart: Option<Level>,
}

impl<'a> Evidence<'a> {
    pub fn of(
        recording: &Recording<'a>,
        measured: &'a Measured,
        findings: &'a [Finding],
        profile: &'a Profile,
        recorded_as: Option<&'a str>,
    ) -> Self {
        let scale = recording.board.scale;
        let models = TrackModel::all(profile, u32::from(scale.bits()));
        let columns = recording.channels.iter().enumerate();
        let signals: Vec<Signal<'a>> = columns
            .filter(|(_, channel)| channel.role == Role::Signal)
            .filter_map(|(column, channel)| {
                let part = measured.channels.iter().find(|c| c.name == channel.name)?;
                let of = |step: Step| {
                    let passages = recording.passages.iter().filter(move |p| p.step == step);
                    Level::of(passages.flat_map(|p| {
                        let codes = channel.codes.get(p.range.clone()).unwrap_or_default();
                        codes.iter().copied()
                    }))
                };
                let mut signal = Signal {
                    name: channel.name,
                    track: channel.track,
                    pin: format!("A{column}"),
                    measured: part,
                    model: models.iter().find(|m| m.track == channel.track).cloned(),
                    lost: lost(recording, &part.dropouts),
                    arrivals: Arrivals::default(),
                    gone: None,
                    rest: of(Step::Rest),
                    full: of(Step::Full),
                    all: Level::of(channel.codes.iter().copied()),
                };
                let of_codes = f64::from(scale.codes());
                if let [Some(rest), Some(full)] = signal.ends(of_codes) {
                    let ends = [rest * of_codes, full * of_codes];
                    signal.arrivals = Arrivals::of(recording, channel.codes, ends, &part.dropouts);
                }
                let model = signal.model.as_ref();
                signal.gone = model.and_then(|model| gone(recording, channel.codes, model));
                Some(signal)
            })
            .collect();
        let pairs = measured.pairs.iter().filter_map(|pair| {
            let at = |name: &str| signals.iter().position(|signal| signal.name == name);
            let codes = |name: &str| {
                let mut channels = recording.channels.iter();
                channels.find(|c| c.name == name).map(|c| c.codes)
            };
            Some(Pair {
                name: format!("{}/{}", pair.a, pair.b),
                measured: pair,
                signals: [at(&pair.a)?, at(&pair.b)?],
                apart: Level::of_distances(codes(&pair.a)?, codes(&pair.b)?),
            })
        });
        Self {
            profile,
            recorded_as,
            findings,
            broken: broken(findings),
            pairs: pairs.collect(),
            signals,
            codes: f64::from(scale.codes()),
            ends_exchanged: ends_exchanged(recording, profile).is_some(),
            vref_mv: scale.vref_mv(),
            shaken_share: share_of(recording, Step::Shake),
            seconds: match recording.t_us {
                [first, .., last] => measure::units::seconds_from_us(last.saturating_sub(*first)),
                _ => 0.0,
            },
        }
    }

    /// The failed findings of a channel or pair on any of these figures, whole.
    pub fn failed(&self, channel: &str, figures: &[FigureName]) -> Vec<Symptom> {
        let findings = self.findings.iter().enumerate();
        findings
            .filter(|(_, finding)| {
                finding.outcome == self.broken
                    && finding.channel == channel
                    && figures.contains(&finding.figure)
            })
            .map(|(finding, _)| Symptom { finding, part: 0 })
            .collect()
    }

    /// Every failed finding of a channel, and of the pairs that it belongs to.
    pub fn all_failed(&self, channel: &str) -> Vec<Symptom> {
        let of = |name: &str| name == channel || name.split('/').any(|part| part == channel);
        let findings = self.findings.iter().enumerate();
        findings
            .filter(|(_, finding)| finding.outcome == self.broken && of(&finding.channel))
            .map(|(finding, _)| Symptom { finding, part: 0 })
            .collect()
    }

    /// Failed pair findings of any of these figures that a channel has to do with.
    pub fn failed_pairs(&self, channel: &str, figures: &[FigureName]) -> Vec<Symptom> {
        let pairs = self.pairs.iter();
        pairs
            .filter(|pair| pair.measured.a == channel || pair.measured.b == channel)
            .flat_map(|pair| self.failed(&pair.name, figures))
            .collect()
    }

    /// The other track of a pair.
    pub fn partner(&self, signal: usize) -> Option<usize> {
        self.pairs.iter().find_map(|pair| match pair.signals {
            [a, b] if a == signal => Some(b),
            [a, b] if b == signal => Some(a),
            _ => None,
        })
    }
}

impl Signal<'_> {
    pub fn figures(&self) -> &Figures {
        &self.measured.figures
    }

    pub fn value(&self, name: FigureName) -> Option<f64> {
        self.figures().value(name)
    }

    /// Readings at rest and fully operated as fractions of the reference: the figures, else the middle of what was taken there.
    pub fn ends(&self, codes: f64) -> [Option<f64>; 2] {
        let level = |level: Option<Level>| level.map(|level| level.median / codes);
        [
            self.value(FigureName::RestRatio).or(level(self.rest)),
            self.value(FigureName::FullRatio).or(level(self.full)),
        ]
    }

    /// Whether it is a sensor's, which has no track.
    pub fn is_sensor(&self) -> bool {
        self.model.as_ref().is_some_and(TrackModel::is_sensor)
    }

    /// Span in codes, without its sign.
    pub fn span(&self) -> Option<f64> {
        self.value(FigureName::SpanCode).map(f64::abs)
    }
}

/// Failed, or open while none has failed.
fn broken(findings: &[Finding]) -> Outcome {
    let failed = findings
        .iter()
        .any(|finding| finding.outcome == Outcome::Fail);
    if failed {
        Outcome::Fail
    } else {
        Outcome::Undecided
    }
}

/// Each loss with the step that it came in.
fn lost(recording: &Recording<'_>, dropouts: &[Dropout]) -> Vec<Lost> {
    let first = recording.t_us.first().copied().unwrap_or_default();
    let step_at = |t_s: f64| {
        let sample = recording
            .t_us
            .partition_point(|t| measure::units::seconds_from_us(t.saturating_sub(first)) < t_s);
        let after = recording
            .passages
            .partition_point(|passage| passage.range.end <= sample);
        let passage = recording.passages.get(after);
        passage.map_or(Step::Idle, |passage| passage.step)
    };
    let dropouts = dropouts.iter();
    dropouts
        .map(|dropout| Lost {
            dropout: *dropout,
            step: step_at(dropout.t_s),
        })
        .collect()
}

/// Share of the samples that were taken in a step.
#[allow(clippy::cast_precision_loss)] // counts of samples
fn share_of(recording: &Recording<'_>, step: Step) -> f64 {
    let passages = recording.passages.iter().filter(|p| p.step == step);
    let samples: usize = passages.map(|p| p.range.len()).sum();
    samples as f64 / (recording.t_us.len() as f64).max(1.0)
}
