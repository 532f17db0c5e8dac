//! A run as it has shown itself so far: its samples, the test's progress, the assessment, how it ended.

pub mod heard;
mod ring;
mod store;
mod times;

pub use store::{Extremes, Store};

use crate::bench::{Batch, RunEvent, StepProgress, StepState, StreamHealth, StreamInfo};
use crate::profile::{self, FaultEdges, Profile};
use crate::record::{Assessment, ChannelPart};
use measure::figure::FigureName;
use measure::judge::{Limit, Verdict};
use measure::units::{Step, Track};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

/// Resolution of a board as long as none has said: the commonest.
pub const USUAL_BITS: u32 = 10;

/// How far a run is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Phase {
    Live,
    Finished,
    /// Broken: what happened and what to do.
    Failed(String),
}

/// One channel as the trace shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lane {
    pub name: String,
    /// Its track; absent for what is no signal of the unit.
    pub track: Option<Track>,
}

/// A run, of a unit or of a proof.
#[derive(Debug, Clone)]
pub struct Run {
    pub phase: Phase,
    /// The source, for people, as long as the stream has not said.
    pub source: String,
    /// The tag that was asked for.
    pub tag: Option<String>,
    /// What the unit is checked as.
    pub profile: Option<Profile>,
    /// What counts as a wiring fault, by track, as fractions of the reference.
    pub fault_edges: BTreeMap<Track, FaultEdges>,
    pub taking: Option<StreamInfo>,
    /// Every channel seen so far, in order of appearance.
    pub lanes: Vec<Lane>,
    /// The lane of each column that arrives now.
    pub columns: Vec<usize>,
    pub store: Store,
    pub steps: Vec<StepProgress>,
    pub health: Option<StreamHealth>,
    pub assessment: Option<Arc<Assessment>>,
    pub capture: Option<PathBuf>,
    pub saved: Option<Result<String, String>>,
    /// The verdict on a flashed board, when the run was a proof and has been judged.
    pub proved: Option<Verdict>,
    /// The screen's clock when it began.
    pub began: Duration,
    /// The screen's clock when the test last moved on.
    pub moved_on: Duration,
}

impl Run {
    /// Whether it was saved before; then it says so.
    pub fn was_saved(&mut self) -> bool {
        let Some(Ok(words)) = &mut self.saved else {
            return false;
        };
        if !words.starts_with("already ") {
            *words = format!("already {words}");
        }
        true
    }

    pub fn new(
        source: String,
        tag: Option<String>,
        profile: Option<Profile>,
        began: Duration,
    ) -> Self {
        Self {
            phase: Phase::Live,
            source,
            tag,
            profile,
            fault_edges: BTreeMap::new(),
            taking: None,
            lanes: Vec::new(),
            columns: Vec::new(),
            store: Store::default(),
            steps: Vec::new(),
            health: None,
            assessment: None,
            capture: None,
            saved: None,
            proved: None,
            began,
            moved_on: began,
        }
    }

    /// Takes in what the run reports, at a time of the screen's clock.
    pub fn apply(&mut self, event: &RunEvent, clock: Duration) {
        match event {
            RunEvent::Stream(taking) => {
                let profile = self.profile.as_ref();
                self.fault_edges =
                    profile.map_or_else(BTreeMap::new, |p| p.fault_edges(taking.bits));
                self.assign_lanes(taking);
                self.taking = Some(taking.clone());
            }
            RunEvent::Samples(batch) => self.feed(batch),
            RunEvent::Progress(steps) => {
                let far = |steps: &[StepProgress]| {
                    let each = steps.iter().map(|step| (step.state, step.have));
                    each.collect::<Vec<_>>()
                };
                if far(steps) != far(&self.steps) {
                    self.moved_on = clock;
                }
                self.steps.clone_from(steps);
            }
            RunEvent::Health(health) => self.health = Some(health.clone()),
            RunEvent::Assessed(assessment) => self.assessment = Some(Arc::clone(assessment)),
            RunEvent::Finished {
                assessment,
                capture,
            } => {
                if assessment.is_some() {
                    self.assessment.clone_from(assessment);
                }
                self.capture.clone_from(capture);
                self.phase = Phase::Finished;
            }
            RunEvent::Failed(why) => self.phase = Phase::Failed(why.clone()),
        }
    }

    /// Finds or makes a lane for each column; a channel that was there before keeps its lane.
    fn assign_lanes(&mut self, taking: &StreamInfo) {
        self.columns.clear();
        for (name, track) in &taking.channels {
            let known = self.lanes.iter().position(|lane| lane.name == *name);
            let lane = known.filter(|lane| !self.columns.contains(lane));
            self.columns.push(lane.unwrap_or(self.lanes.len()));
            let seen = Lane {
                name: name.clone(),
                track: *track,
            };
            match lane.and_then(|lane| self.lanes.get_mut(lane)) {
                Some(lane) => *lane = seen,
                None => self.lanes.push(seen),
            }
        }
    }

    fn feed(&mut self, batch: &Batch) {
        while self.columns.len() < batch.codes.len() {
            self.columns.push(self.lanes.len());
            self.lanes.push(Lane {
                name: format!("channel {}", self.lanes.len() + 1),
                track: None,
            });
        }
        self.store
            .feed(&batch.t_us, &batch.step, &batch.codes, &self.columns);
    }

    /// The tag that the stream or the person gave.
    pub fn tag(&self) -> Option<&str> {
        let taking = self.taking.as_ref();
        let streamed = taking.and_then(|taking| taking.tag.as_deref());
        streamed.or(self.tag.as_deref())
    }

    /// The kind of control that it looks like, when that is not the one that it is checked as.
    pub fn other_profile(&self) -> Option<Profile> {
        let diagnosis = &self.assessment.as_ref()?.diagnosis;
        let live = self.phase == Phase::Live;
        let name = diagnosis.other_profile.as_deref().filter(|_| live)?;
        profile::find(name)
    }

    /// The step whose turn it is.
    pub fn current(&self) -> Option<&StepProgress> {
        let mut steps = self.steps.iter();
        steps.find(|step| step.state == StepState::Current)
    }

    /// The lanes that are drawn: signals of the unit, or everything when none is known to be one.
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

    /// A lane's name; empty when there is no such lane.
    pub fn lane_name(&self, lane: usize) -> &str {
        self.lanes.get(lane).map_or("", |lane| lane.name.as_str())
    }

    pub fn bits(&self) -> u32 {
        self.taking
            .as_ref()
            .map_or(USUAL_BITS, |taking| taking.bits)
    }

    /// Number of codes of the board's ADC.
    pub fn full_scale(&self) -> f64 {
        2_f64.powi(i32::try_from(self.bits().clamp(1, 24)).unwrap_or(10))
    }

    /// Volts that a code stands for; `None` where nothing says so.
    pub fn volts(&self, code: u32) -> Option<f64> {
        let reference_mv = self.taking.as_ref()?.vref_mv;
        Some(f64::from(code) / self.full_scale() * reference_mv / 1000.0)
    }

    /// Time of the first and the last sample, microseconds; both 0 when there is none.
    pub fn extent_us(&self) -> (i64, i64) {
        let (first, last) = self.store.extent_us().unwrap_or((0, 0));
        (clamp_us(first), clamp_us(last))
    }

    /// What the assessment says of a lane.
    pub fn part(&self, lane: usize) -> Option<&ChannelPart> {
        let name = &self.lanes.get(lane)?.name;
        let mut channels = self.assessment.as_deref()?.channels.iter();
        channels
            .find(|(known, _)| known == name)
            .map(|(_, part)| part)
    }

    /// Whether there are strokes to draw along the travel, now or later.
    pub fn has_strokes(&self) -> bool {
        let on_card = |s: &StepProgress| s.step == Step::Strokes && s.state != StepState::Skipped;
        self.steps.iter().any(on_card) || self.any_part(|part| part.map.is_some())
    }

    /// Whether any channel has a curve over known travel.
    pub fn has_curve(&self) -> bool {
        self.any_part(|part| part.curve.is_some())
    }

    fn any_part(&self, is: impl Fn(&ChannelPart) -> bool) -> bool {
        let assessment = self.assessment.as_deref();
        assessment.is_some_and(|a| a.channels.iter().any(|(_, part)| is(part)))
    }

    /// The limit of the profile on a figure of a channel or of a pair (`a/b`).
    pub fn limit(&self, channel: &str, name: FigureName) -> Option<Limit> {
        let profile = self.profile.as_ref()?;
        if channel.contains('/') {
            let limit = profile.pair.as_ref()?.limits.get(&name)?;
            return Some(profile.on_board(name, *limit, self.bits()));
        }
        let lane = self.lanes.iter().find(|lane| lane.name == channel)?;
        let limit = profile.tracks.get(&lane.track?)?.limits.get(&name)?;
        Some(profile.on_board(name, *limit, self.bits()))
    }
}

/// A board time as a signed number, so that a window may begin before the first sample.
pub fn clamp_us(t_us: u64) -> i64 {
    i64::try_from(t_us).unwrap_or(i64::MAX)
}
