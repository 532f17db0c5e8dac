//! A run in the board's time: the recorder, the card, the looks and the assessment of any run, fed sample by sample.
//!
//! Belongs here: what takes the place of the port, the threads and the host's clock, so that a test can go through thousands
//! of cards. Does not belong here: anything that a run does otherwise.

use super::conclude::{conclude, is_due};
use super::looks::{Looking, Planned};
use super::recorder::Recorder;
use super::{Asking, Plan, RunCommand, Setup};
use crate::bench::{self, EvidencePlan, StepProgress};
use crate::capture::{Capture, RealDisk};
use crate::link::{Counts, Event, Header, LinkError, Received, Source, StreamOptions};
use crate::profile::Profile;
use crate::record::Assessment;
use measure::units::Code;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

/// A card of a profile, under way.
pub struct BoardTime {
    recorder: Recorder,
    looking: Option<Looking>,
    profile: Arc<Profile>,
    /// Somebody has ended it.
    stopped: bool,
    /// Samples that were lost before the next one.
    missing: u64,
    counts: Counts,
}

/// Samples come by [`BoardTime::sample`] and from nowhere else.
struct Nothing;

impl Source for Nothing {
    fn receive(&mut self, _: &mut [u8], _: Duration) -> Result<Received, LinkError> {
        Ok(Received::Ended)
    }

    fn describe(&self) -> String {
        "by hand".to_owned()
    }
}

impl BoardTime {
    /// A live run of the profile's card on a board that says this of itself; nothing is written.
    pub fn card(
        profile: Arc<Profile>,
        stream: StreamOptions,
        header: &Header,
        asking: Asking,
    ) -> Self {
        let source = Box::new(Nothing);
        let setup = Setup {
            out: None,
            stream,
            asking,
            ..Setup::card(source, Some(Arc::clone(&profile)), None, PathBuf::new())
        };
        let looking = match &setup.plan {
            Plan::Card(steps, wanted) => Some(Looking::new(Planned {
                steps: steps.clone(),
                wanted: *wanted,
            })),
            Plan::Timed(_) => None,
        };
        let (mut recorder, ..) = Recorder::new(setup, Box::new(RealDisk));
        recorder.event(Event::Header(header));
        Self {
            recorder,
            looking,
            profile,
            stopped: false,
            missing: 0,
            counts: Counts::default(),
        }
    }

    /// The board was away for so many samples.
    pub fn away(&mut self, samples: u64) {
        self.missing = samples;
    }

    /// The board's next sample; a look at the findings where one is due.
    pub fn sample(&mut self, t_us: u64, codes: &[Code]) {
        let missing = std::mem::take(&mut self.missing);
        self.counts.missing += missing;
        self.recorder.event(Event::Sample {
            t_us,
            codes,
            missing,
            restarted: false,
            in_doubt: false,
        });
        self.counts.samples += 1;
        if is_due(&self.recorder.labels) && !self.done() {
            let assessment = self.assessment();
            if let Some(looking) = &mut self.looking {
                conclude(&mut self.recorder, looking, assessment.as_ref());
            }
        }
    }

    /// What the screen shows of the card.
    pub fn progress(&self) -> Vec<StepProgress> {
        self.recorder.labels.progress()
    }

    pub fn command(&mut self, command: RunCommand) {
        self.stopped |= command == RunCommand::Stop;
        if let RunCommand::CheckAs(profile) = &command
            && self.recorder.check_as(profile)
        {
            self.looking = Some(Looking::new(Planned {
                steps: profile.card.clone(),
                wanted: EvidencePlan::at_first(profile),
            }));
            self.profile = Arc::clone(profile);
        }
        self.recorder.labels.command(command);
    }

    pub fn done(&self) -> bool {
        self.stopped || self.recorder.labels.done()
    }

    /// What was taken so far.
    pub fn capture(&self) -> Option<&Capture> {
        self.recorder
            .evidence
            .as_ref()
            .map(|evidence| &evidence.kept)
    }

    /// What it says so far.
    pub fn assessment(&mut self) -> Option<Assessment> {
        self.recorder.state_tried();
        let counts = self.recorder.counts(&self.counts);
        if let Some(evidence) = &mut self.recorder.evidence {
            evidence.kept.meta.stream = counts;
        }
        bench::assess(self.capture()?, Some(&self.profile)).ok()
    }
}
