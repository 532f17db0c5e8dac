//! What a run needs to know before it starts.

use crate::bench::card::{EvidencePlan, Presence, StationPlan, TellApart};
use crate::capture::ChannelMeta;
use crate::link::{Source, StreamOptions};
use crate::profile::Profile;
use measure::units::Step;
use std::path::PathBuf;
use std::sync::Arc;

/// How samples get their step.
#[derive(Debug, Clone)]
pub enum Plan {
    /// The card: each step recognised from the signal.
    Card(Vec<Step>, EvidencePlan),
    /// By the clock, in seconds.
    Timed(Vec<(Step, f64)>),
}

/// Whether somebody can be asked while a card is under way, and for what.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Asking {
    pub presence: Presence,
    pub tell_apart: TellApart,
}

/// What a run needs.
pub struct Setup {
    pub source: Box<dyn Source>,
    /// What the user says of the stream.
    pub stream: StreamOptions,
    pub plan: Plan,
    /// The known positions of a `stations` step, when they are stated beforehand; after steps by the clock they come last.
    pub stations: Option<StationPlan>,
    /// What the unit is held against.
    pub profile: Option<Arc<Profile>>,
    pub tag: Option<String>,
    /// What the user says of channels; the others get their usual role.
    pub channels: Vec<(String, ChannelMeta)>,
    pub out: Option<PathBuf>,
    /// Speed of the port that somebody stated, for advice when nothing decodes.
    pub baud: Option<u32>,
    /// Whether to assess the samples as they come and at the end, and keep in memory what that needs. A card with a profile is
    /// then looked at before it ends, and takes steps up again while a finding is open.
    pub live: bool,
    pub asking: Asking,
}

impl Setup {
    /// A live run of the profile's card, else of the usual one.
    pub fn card(
        source: Box<dyn Source>,
        profile: Option<Arc<Profile>>,
        tag: Option<String>,
        out: PathBuf,
    ) -> Self {
        let plan = match &profile {
            Some(profile) => Plan::Card(profile.card.clone(), EvidencePlan::at_first(profile)),
            None => Plan::Card(
                vec![Step::Rest, Step::Full, Step::Strokes, Step::Release],
                EvidencePlan::default(),
            ),
        };
        Self {
            plan,
            profile,
            tag,
            live: true,
            ..Self::timed(source, Vec::new(), out)
        }
    }

    /// Steps by the clock, recorded and not assessed.
    pub fn timed(source: Box<dyn Source>, steps: Vec<(Step, f64)>, out: PathBuf) -> Self {
        Self {
            source,
            stream: StreamOptions {
                joined_mid_line: true,
                ..StreamOptions::default()
            },
            plan: Plan::Timed(steps),
            stations: None,
            profile: None,
            tag: None,
            channels: Vec::new(),
            out: Some(out),
            baud: None,
            live: false,
            asking: Asking::default(),
        }
    }
}
