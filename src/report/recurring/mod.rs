//! What recurs in a recording, ready to be laid over each other: returns, strokes, readings at rest; and readings along the travel.
//!
//! Belongs here: samples -> values of a picture, the same for screen and page. Does not belong here: how it is drawn; figures.

mod along;
mod sampled;

pub use along::{Along, Seen, Way};
pub use sampled::{Curve, Sampled};

use crate::capture::Capture;
use crate::profile::Profile;
use crate::record::{Assessment, ChannelPart};
use measure::figure::FigureName;
use measure::holds::NoiseLines;
use measure::units::Track;
use std::collections::BTreeMap;

/// What recurs on one channel.
#[derive(Debug, Clone, PartialEq)]
pub struct Recurring {
    pub channel: String,
    pub along: Option<Along>,
    /// Returns, seconds before each was counted.
    pub returns: Vec<Curve>,
    /// Strokes, seconds about the middle of each.
    pub strokes: Vec<Curve>,
    /// How many readings at rest lay so many codes from the mean of their hold.
    pub at_rest: BTreeMap<i64, u64>,
    /// What the noise at rest is made of, and the mains line in it, hertz: where much of it is hum.
    pub noise: Option<(NoiseLines, u32)>,
}

impl Recurring {
    /// Of every channel that was assessed.
    pub fn of(assessment: &Assessment, capture: &Capture, profile: Option<&Profile>) -> Vec<Self> {
        let sampled = Sampled::of(capture);
        let edges = profile.map(|profile| profile.fault_edges(capture.meta.board.bits));
        let edges = edges.unwrap_or_default();
        let codes = f64::from(2_u32.saturating_pow(capture.meta.board.bits));
        let track = |channel: &str| {
            let mut channels = capture.meta.channels.iter();
            let found = channels.find(|(name, _)| name == channel);
            found.and_then(|(_, meta)| meta.track).unwrap_or(Track::One)
        };
        let lead = assessment.channels.first();
        let lead = lead.map(|(name, part)| (name.as_str(), part));
        let parts = assessment.channels.iter();
        let each = parts.map(|(channel, part)| {
            let mut found = Self::of_channel(&sampled, (channel, part), lead, assessment);
            let allowed = [FigureName::RestRatio, FigureName::FullRatio].map(|figure| {
                let finding = assessment.finding(channel, figure)?;
                let (min, max) = (finding.min.unwrap_or(0.0), finding.max.unwrap_or(1.0));
                Some((min * codes, max * codes))
            });
            let edges = edges.get(&track(channel));
            let edge = |ratio: Option<f64>| ratio.map(|ratio| ratio * codes);
            let faults = edges.map_or((None, None), |edges| (edge(edges.low), edge(edges.high)));
            found.along = found.along.map(|along| along.within(allowed, faults));
            found
        });
        each.collect()
    }

    fn of_channel(
        sampled: &Sampled,
        (channel, part): (&str, &ChannelPart),
        lead: Option<(&str, &ChannelPart)>,
        assessment: &Assessment,
    ) -> Self {
        let first = lead.map_or(channel, |(name, _)| name);
        let paired = |lead: &str| {
            let pair = format!("{lead}/{channel}");
            assessment.pairs.iter().any(|(name, _)| *name == pair)
        };
        let other = lead.filter(|(name, _)| paired(name));
        let mut hums = assessment.diagnosis.hum.iter();
        let hum = hums.find(|hum| hum.channel == channel);
        Self {
            channel: channel.to_owned(),
            along: Along::of(sampled, (channel, part), other),
            returns: sampled.returns(channel),
            strokes: sampled.strokes(first, channel),
            at_rest: sampled.at_rest(channel),
            noise: hum.and_then(|hum| Some((sampled.noise_lines(channel)?, hum.hz))),
        }
    }
}
