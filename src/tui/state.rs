//! Everything that the screen shows, as values.
//!
//! Belongs here: the state and questions about it. Does not belong here: what changes it (`update`), drawing.

use super::blocks::{Blend, BlockOffer};
use super::compare::Under;
use super::keys::Situation;
use super::offers::{EarlierOffer, SourceOffer, UnitSummary};
use super::places::{Listed, Page};
use super::proving::{ProofAsk, Proving};
use super::store::Store;
use super::theme::Theme;
use super::window::Window;
use crate::bench::{StepProgress, StepState, StreamHealth, Taking};
use crate::profile::{FaultEdges, Profile};
use crate::record::{Assessment, ChannelPart};
use measure::figure::FigureName;
use measure::judge::Limit;
use measure::units::{Step, Track};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

/// Where the person is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Screen {
    /// Choosing a source.
    Sources,
    /// Naming the unit and its profile.
    Unit,
    /// At the bench.
    Bench,
    /// At the list of units kept.
    Units,
    /// At a page to read.
    Page,
    /// At the list of blocks.
    Blocks,
    /// At what a block puts out.
    Blend,
    /// At the question before a proof.
    ProofAsk,
    /// At a proof.
    Proving,
}

/// What lies over the place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Over {
    /// The help page.
    Help,
    /// Whether to end the run.
    Ask,
    /// The position of a station, as typed.
    Station(String),
    /// Which earlier run to lay under; the row under the pointer, the last stands for none.
    Earlier(usize),
}

/// What is shown where there is no room for every picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Picture {
    /// Codes over time.
    #[default]
    Trace,
    /// Noise along the travel.
    Travel,
    /// Deviation from the line along the travel.
    Deviation,
}

/// How far a run is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Phase {
    /// Under way.
    Live,
    /// At its end.
    Finished,
    /// Broken: what happened and what to do.
    Failed(String),
}

/// One channel as the trace shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lane {
    /// The channel's name.
    pub name: String,
    /// Its track; absent for what is no signal of the unit.
    pub track: Option<Track>,
}

/// What the lanes' height stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Height {
    /// The limits and everything seen so far.
    #[default]
    Limits,
    /// The board's whole ruler.
    Ruler,
    /// What is on the screen now.
    Close,
}

/// A run as it has shown itself so far.
#[derive(Debug, Clone)]
pub struct Run {
    /// How far it is.
    pub phase: Phase,
    /// The source, for people, as long as the stream has not said.
    pub source: String,
    /// The tag that was asked for.
    pub tag: Option<String>,
    /// What is being taken.
    pub taking: Option<Taking>,
    /// Every channel seen so far, in order of appearance.
    pub lanes: Vec<Lane>,
    /// The lane of each column that arrives now.
    pub columns: Vec<usize>,
    /// Every sample.
    pub store: Store,
    /// The card.
    pub steps: Vec<StepProgress>,
    /// The stream.
    pub health: Option<StreamHealth>,
    /// What the samples so far say.
    pub assessment: Option<Arc<Assessment>>,
    /// The capture, once it is known.
    pub capture: Option<PathBuf>,
    /// What became of saving, and whether it went well.
    pub saved: Option<Result<String, String>>,
    /// The screen's clock when it began.
    pub began: Duration,
}

impl Run {
    /// A run from which nothing has come yet.
    #[must_use]
    pub fn new(source: String, tag: Option<String>, began: Duration) -> Self {
        Self {
            phase: Phase::Live,
            source,
            tag,
            taking: None,
            lanes: Vec::new(),
            columns: Vec::new(),
            store: Store::default(),
            steps: Vec::new(),
            health: None,
            assessment: None,
            capture: None,
            saved: None,
            began,
        }
    }

    /// The step whose turn it is.
    #[must_use]
    pub fn current(&self) -> Option<&StepProgress> {
        self.steps
            .iter()
            .find(|step| step.state == StepState::Current)
    }

    /// The lanes that are drawn: signals of the unit, or everything when none is known to be one.
    #[must_use]
    pub fn drawn_lanes(&self) -> Vec<usize> {
        let signals: Vec<usize> = (0..self.lanes.len())
            .filter(|lane| self.lanes[*lane].track.is_some())
            .collect();
        if signals.is_empty() {
            (0..self.lanes.len()).collect()
        } else {
            signals
        }
    }

    /// Number of codes of the board's ruler; of 10 bits as long as the stream has not said.
    #[must_use]
    pub fn ruler(&self) -> f64 {
        let bits = self.taking.as_ref().map_or(10, |taking| taking.bits);
        2_f64.powi(i32::try_from(bits.clamp(1, 24)).unwrap_or(10))
    }

    /// Time of the first and the last sample, microseconds; both 0 when there is none.
    #[must_use]
    pub fn extent_us(&self) -> (i64, i64) {
        let (first, last) = self.store.extent_us().unwrap_or((0, 0));
        (clamp_us(first), clamp_us(last))
    }
}

/// A board time as a signed number, so that a window may begin before the first sample.
#[must_use]
pub fn clamp_us(t_us: u64) -> i64 {
    i64::try_from(t_us).unwrap_or(i64::MAX)
}

/// The form for the unit.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct UnitForm {
    /// The source that was chosen before.
    pub source: usize,
    /// The tag as typed.
    pub tag: String,
    /// Which profile; the number of profiles stands for none.
    pub profile: usize,
}

/// The state of the screen.
#[derive(Debug, Clone)]
pub struct State {
    /// Glyphs and colours.
    pub theme: Theme,
    /// Where the person is.
    pub place: Screen,
    /// What lies over it.
    pub over: Option<Over>,
    /// What samples can come from.
    pub offers: Vec<SourceOffer>,
    /// The offer under the pointer.
    pub offer: usize,
    /// What went wrong with the last choice.
    pub refused: Option<String>,
    /// The profiles that can be chosen, the likeliest first.
    pub profiles: Vec<Profile>,
    /// The form for the unit.
    pub unit: UnitForm,
    /// What the unit is held against.
    pub profile: Option<Profile>,
    /// The run.
    pub run: Run,
    /// Whether there is a list of sources to go back to.
    pub can_choose: bool,
    /// The stretch of time shown.
    pub window: Window,
    /// What the lanes' height stands for.
    pub height: Height,
    /// The picture shown where there is no room for all.
    pub picture: Picture,
    /// What counts as a wiring fault, by track, as fractions of the reference.
    pub fault_edges: BTreeMap<Track, FaultEdges>,
    /// The earlier run that lies under this one.
    pub under: Option<Under>,
    /// The earlier run that is being read for this run.
    pub fetching: Option<String>,
    /// Earlier runs to choose from.
    pub earlier: Listed<EarlierOffer>,
    /// The units kept.
    pub units: Listed<UnitSummary>,
    /// The unit under the pointer.
    pub unit_kept: usize,
    /// The page to read.
    pub page: Page,
    /// The blocks.
    pub blocks: Listed<BlockOffer>,
    /// The block under the pointer.
    pub block: usize,
    /// What a block puts out.
    pub blend: Option<Blend>,
    /// The question before a proof.
    pub ask: Option<ProofAsk>,
    /// The proof, when the run is one.
    pub proving: Option<Proving>,
    /// The places that lead back from here, the last first to be gone back to.
    pub came_from: Vec<Screen>,
    /// The figure row under the pointer.
    pub figure: usize,
    /// Whether every figure of the catalogue is listed.
    pub every: bool,
    /// Time since the screen was opened.
    pub clock: Duration,
    /// Set when the person wants to leave as soon as the run has ended.
    pub leaving: bool,
}

impl State {
    /// A screen at the list of sources.
    #[must_use]
    pub fn choosing(theme: Theme, profiles: Vec<Profile>) -> Self {
        Self {
            theme,
            place: Screen::Sources,
            over: None,
            offers: Vec::new(),
            offer: 0,
            refused: None,
            profiles,
            unit: UnitForm::default(),
            profile: None,
            run: Run::new(String::new(), None, Duration::ZERO),
            can_choose: true,
            window: Window::default(),
            height: Height::default(),
            picture: Picture::default(),
            fault_edges: BTreeMap::new(),
            under: None,
            fetching: None,
            earlier: Listed::default(),
            units: Listed::default(),
            unit_kept: 0,
            page: Page::default(),
            blocks: Listed::default(),
            block: 0,
            blend: None,
            ask: None,
            proving: None,
            came_from: Vec::new(),
            figure: 0,
            every: false,
            clock: Duration::ZERO,
            leaving: false,
        }
    }

    /// A screen at a run that has begun.
    #[must_use]
    pub fn at_run(
        theme: Theme,
        profile: Option<Profile>,
        source: String,
        tag: Option<String>,
    ) -> Self {
        Self {
            place: Screen::Bench,
            profile,
            run: Run::new(source, tag, Duration::ZERO),
            can_choose: false,
            ..Self::choosing(theme, Vec::new())
        }
    }

    /// Which keys mean something.
    #[must_use]
    pub fn situation(&self) -> Situation {
        match (&self.over, self.place, &self.run.phase) {
            (Some(Over::Help), _, _) => Situation::Help,
            (Some(Over::Ask), _, _) => Situation::Ask,
            (Some(Over::Station(_)), _, _) => Situation::Station,
            (Some(Over::Earlier(_)), _, _) => Situation::Earlier,
            (None, Screen::Sources, _) => Situation::Sources,
            (None, Screen::Unit, _) => Situation::Unit,
            (None, Screen::Bench, Phase::Live) => Situation::Live,
            (None, Screen::Bench, Phase::Finished | Phase::Failed(_)) => Situation::Ended,
            (None, Screen::Units, _) => Situation::Units,
            (None, Screen::Page, _) => Situation::Page,
            (None, Screen::Blocks, _) => Situation::Blocks,
            (None, Screen::Blend, _) => Situation::Blend,
            (None, Screen::ProofAsk, _) => Situation::ProofAsk,
            (None, Screen::Proving, Phase::Live) => Situation::Proving,
            (None, Screen::Proving, Phase::Finished | Phase::Failed(_)) => Situation::Proved,
        }
    }

    /// Whether there is a run: at the bench or a proof, or at a place that leads back there.
    #[must_use]
    pub fn has_run(&self) -> bool {
        let has = |place: &Screen| matches!(place, Screen::Bench | Screen::Proving);
        has(&self.place) || self.came_from.iter().any(has)
    }

    /// Whether a run is under way.
    #[must_use]
    pub fn is_live(&self) -> bool {
        self.has_run() && self.run.phase == Phase::Live
    }

    /// The part of the assessment that is about a lane.
    #[must_use]
    pub fn part(&self, lane: usize) -> Option<&ChannelPart> {
        let name = &self.run.lanes.get(lane)?.name;
        let mut channels = self.run.assessment.as_deref()?.channels.iter();
        channels
            .find(|(known, _)| known == name)
            .map(|(_, part)| part)
    }

    /// Whether there are strokes to draw along the travel, now or later.
    #[must_use]
    pub fn has_strokes(&self) -> bool {
        let on_card = self
            .run
            .steps
            .iter()
            .any(|s| s.step == Step::Strokes && s.state != StepState::Skipped);
        on_card || self.any_part(|part| part.map.is_some())
    }

    /// Whether any channel has a curve over known travel.
    #[must_use]
    pub fn has_curve(&self) -> bool {
        self.any_part(|part| part.curve.is_some())
    }

    fn any_part(&self, is: impl Fn(&ChannelPart) -> bool) -> bool {
        let assessment = self.run.assessment.as_deref();
        assessment.is_some_and(|a| a.channels.iter().any(|(_, part)| is(part)))
    }

    /// The limit of the profile on a figure of a channel or of a pair (`a/b`).
    #[must_use]
    pub fn limit(&self, channel: &str, name: FigureName) -> Option<Limit> {
        let profile = self.profile.as_ref()?;
        if channel.contains('/') {
            return profile.pair.as_ref()?.limits.get(&name).copied();
        }
        let lane = self.run.lanes.iter().find(|lane| lane.name == channel)?;
        let part = profile.tracks.get(&lane.track?)?;
        part.limits.get(&name).copied()
    }
}
