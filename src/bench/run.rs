//! A run: reads the source, decodes, labels, records, assesses, and tells of it. Two threads: one never waits for
//! anything but the source and the disk, the other assesses.

use super::assessor::{Assessor, last_assessment};
use super::card::{Card, ExpectedEnds, Label};
use super::events::{LinkState, RunCommand, RunEvent, StepProgress, StreamHealth};
use super::evidence_plan::EvidencePlan;
use super::looks::{Looking, Planned};
use super::recorder::Recorder;
use super::timed::TimedSteps;
use crate::capture::{ChannelMeta, Disk, RealDisk};
use crate::link::{Decoder, Received, Source, StreamOptions};
use crate::profile::Profile;
use measure::units::{Code, Scale, Step};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{
    Receiver, Sender, SyncSender, TryRecvError, TrySendError, channel, sync_channel,
};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// Longest wait for bytes: how late a command can be heard.
const WAIT: Duration = Duration::from_millis(20);
/// How often samples, progress and health are told.
const TELL_EVERY: Duration = Duration::from_millis(33);
/// How often the capture reaches the disk.
const FLUSH_EVERY: Duration = Duration::from_millis(500);
/// Events that wait to be taken; when there are so many, samples wait in the run, and what is out of date is left out.
const EVENTS: usize = 4;
/// How often what was taken is assessed, at most.
const ASSESS_EVERY: Duration = Duration::from_millis(500);

/// How samples get their step.
#[derive(Debug, Clone)]
pub enum Plan {
    /// The card: each step recognised from the signal.
    Card(Vec<Step>, EvidencePlan),
    /// By the clock, in seconds.
    Timed(Vec<(Step, f64)>),
}

/// What a run needs.
pub struct Setup {
    /// Where the bytes come from.
    pub source: Box<dyn Source>,
    /// What the user says of the stream.
    pub stream: StreamOptions,
    /// How samples get their step.
    pub plan: Plan,
    /// What the unit is held against.
    pub profile: Option<Arc<Profile>>,
    /// The unit's tag.
    pub tag: Option<String>,
    /// What the user says of channels; the others get their usual role.
    pub channels: Vec<(String, ChannelMeta)>,
    /// The capture to write.
    pub out: Option<PathBuf>,
    /// Speed of the port, for advice when nothing decodes; absent where there is none.
    pub baud: Option<u32>,
    /// Whether to assess the samples as they come and at the end, and keep in memory what that needs. A card with a profile is
    /// then looked at before it ends, and takes steps up again while a finding is open.
    pub live: bool,
}

/// A run under way.
#[derive(Debug)]
pub struct Run {
    /// What it tells.
    pub events: Receiver<RunEvent>,
    /// What it is told.
    pub commands: Sender<RunCommand>,
    thread: JoinHandle<()>,
}

impl Run {
    /// The two ends and the thread, for who keeps them apart.
    #[must_use]
    pub fn apart(self) -> (Receiver<RunEvent>, Sender<RunCommand>, JoinHandle<()>) {
        (self.events, self.commands, self.thread)
    }

    /// Waits until the run has ended by itself or after [`RunCommand::Stop`].
    pub fn join(self) {
        drop(self.commands);
        let _ = self.thread.join();
    }
}

/// Starts a run.
#[must_use]
pub fn start(setup: Setup) -> Run {
    start_on(setup, Box::new(RealDisk))
}

/// Starts a run whose capture is written on any disk: a test breaks it.
#[must_use]
pub fn start_on(setup: Setup, disk: Box<dyn Disk>) -> Run {
    let (tell, events) = sync_channel(EVENTS);
    let (commands, heard) = channel();
    let thread = thread::spawn(move || Runner::new(setup, disk, tell).run(&heard));
    Run {
        events,
        commands,
        thread,
    }
}

/// How samples get their step, under way.
pub(super) enum Labels {
    /// Until the board's scale is known.
    NotYet {
        plan: Plan,
        /// Whether a card is looked at before it ends.
        patient: bool,
    },
    Card(Box<Card>),
    Timed(TimedSteps),
}

impl Labels {
    pub(super) fn begin(&mut self, lead: usize, scale: Scale, expected: ExpectedEnds) {
        if let Self::NotYet { plan, patient } = self {
            *self = match plan {
                Plan::Card(steps, wanted) => {
                    let mut card = Card::new(steps, *wanted, lead, scale, expected);
                    card.keep_open(*patient);
                    Self::Card(Box::new(card))
                }
                Plan::Timed(steps) => Self::Timed(TimedSteps::new(steps)),
            };
        }
    }

    pub(super) fn label(&mut self, t_us: u64, codes: &[Code]) -> Label {
        match self {
            Self::NotYet { .. } => Label {
                step: Step::Idle,
                position: None,
            },
            Self::Card(card) => card.push(t_us, codes),
            Self::Timed(timed) => timed.push(t_us),
        }
    }

    pub(super) fn progress(&self) -> &[StepProgress] {
        match self {
            Self::NotYet { .. } => &[],
            Self::Card(card) => card.progress(),
            Self::Timed(timed) => timed.progress(),
        }
    }

    pub(super) fn done(&self) -> bool {
        match self {
            Self::NotYet { .. } => false,
            Self::Card(card) => card.done(),
            Self::Timed(timed) => timed.done(),
        }
    }

    /// A card at its end is not kept open any longer.
    fn let_go(&mut self) {
        if let Self::Card(card) = self {
            card.keep_open(false);
        }
    }

    fn command(&mut self, command: RunCommand) {
        match (self, command) {
            (Self::Card(card), RunCommand::Skip) => card.skip(),
            (Self::Card(card), RunCommand::Repeat) => card.repeat(),
            (Self::Card(card), RunCommand::Station(position)) => card.station(position),
            (Self::Timed(timed), RunCommand::Skip) => timed.skip(),
            _ => {}
        }
    }
}

/// Why a run ends.
enum End {
    /// The card is through, the source is at its end, or somebody said so.
    Done,
    /// It cannot go on.
    Failed(String),
}

struct Runner {
    source: Box<dyn Source>,
    decoder: Decoder,
    recorder: Recorder,
    tell: SyncSender<RunEvent>,
    begun: Instant,
    lost_since: Option<Instant>,
    told: Instant,
    flushed: Instant,
    assessed: Instant,
    assessor: Option<Assessor>,
    looking: Option<Looking>,
    profile: Option<Arc<Profile>>,
}

impl Runner {
    fn new(setup: Setup, disk: Box<dyn Disk>, tell: SyncSender<RunEvent>) -> Self {
        let now = Instant::now();
        let (assessor, answers) = setup
            .live
            .then(|| Assessor::start(setup.profile.clone(), tell.clone()))
            .unzip();
        let looking = match (&setup.plan, answers) {
            (Plan::Card(steps, wanted), Some(answers)) => {
                let planned = Planned {
                    steps: steps.clone(),
                    wanted: *wanted,
                };
                Some(Looking::new(planned, answers))
            }
            _ => None,
        };
        let profile = setup.profile.clone();
        let (recorder, source, stream) = Recorder::new(setup, disk);
        Self {
            source,
            decoder: Decoder::new(stream),
            recorder,
            tell,
            begun: now,
            lost_since: None,
            told: now,
            flushed: now,
            assessed: now,
            assessor,
            looking,
            profile,
        }
    }

    fn run(mut self, commands: &Receiver<RunCommand>) {
        let end = self.turn_until_end(commands);
        self.decoder.end(&mut |_| {});
        // The capture is whole before anybody is waited for.
        let closed = self.recorder.close(self.decoder.counts());
        self.tell_last();
        if let Some(assessor) = self.assessor.take() {
            assessor.end();
        }
        let failed = match end {
            End::Failed(words) => Some(words),
            End::Done => closed.failed,
        };
        let event = if let Some(words) = failed {
            RunEvent::Failed(words + &closed.where_it_is)
        } else {
            let capture = closed.file;
            let evidence = self.recorder.evidence();
            let assessment = evidence.and_then(|evidence| {
                last_assessment(capture.as_deref(), evidence, self.profile.as_deref())
            });
            RunEvent::Finished {
                assessment: assessment.map(Arc::new),
                capture,
            }
        };
        let _ = self.tell.send(event);
    }

    fn turn_until_end(&mut self, commands: &Receiver<RunCommand>) -> End {
        let mut buffer = vec![0; 1 << 16];
        loop {
            loop {
                match commands.try_recv() {
                    // Also when nobody listens any more: keep what was taken and end.
                    Ok(RunCommand::Stop) | Err(TryRecvError::Disconnected) => return End::Done,
                    Ok(command) => self.recorder.labels.command(command),
                    Err(TryRecvError::Empty) => break,
                }
            }
            match self.source.receive(&mut buffer, WAIT) {
                Ok(Received::Bytes(n)) => self.take(&buffer[..n]),
                Ok(Received::Nothing) => {}
                Ok(Received::Lost) => {
                    self.lost_since.get_or_insert_with(Instant::now);
                }
                Ok(Received::Back) => self.back(),
                Ok(Received::Ended) => return End::Done,
                Err(e) => return End::Failed(e.to_string()),
            }
            if let Some(words) = self.recorder.trouble.take() {
                return End::Failed(words);
            }
            self.look_at_the_end();
            self.keep_up();
            if self.recorder.labels.done() {
                return End::Done;
            }
        }
    }

    fn take(&mut self, bytes: &[u8]) {
        let host_us = u64::try_from(self.begun.elapsed().as_micros()).unwrap_or(u64::MAX);
        self.recorder.look_at(bytes);
        let recorder = &mut self.recorder;
        // Line by line, so that nothing is counted that came after the end of the run.
        for line in bytes.split_inclusive(|byte| *byte == b'\n') {
            self.decoder
                .feed(line, host_us, &mut |event| recorder.event(event));
            if recorder.labels.done() || recorder.trouble.is_some() {
                break;
            }
        }
    }

    fn back(&mut self) {
        let gap = self
            .lost_since
            .take()
            .map_or(0, |since| since.elapsed().as_micros());
        self.decoder
            .resume_after_gap(u64::try_from(gap).unwrap_or(u64::MAX), &mut |_| {});
    }

    /// Whatever is due: telling, flushing, assessing.
    fn keep_up(&mut self) {
        let now = Instant::now();
        if now - self.told >= TELL_EVERY {
            self.told = now;
            self.tell_now(if self.lost_since.is_some() {
                LinkState::Lost
            } else {
                LinkState::Connected
            });
        }
        if now - self.flushed >= FLUSH_EVERY {
            self.flushed = now;
            self.recorder.flush(self.decoder.counts());
        }
        if now - self.assessed >= ASSESS_EVERY
            && let (Some(assessor), Some(evidence)) = (&self.assessor, self.recorder.evidence())
        {
            self.assessed = now;
            let _ = assessor.take(evidence, self.recorder.counts(self.decoder.counts()), None);
        }
    }

    /// A card at its end is looked at before it is let go: an open finding may want more of a step. What arrives
    /// meanwhile is `idle`, so that the evidence of a look does not depend on how long the look takes.
    fn look_at_the_end(&mut self) {
        let (Some(looking), Some(assessor)) = (&mut self.looking, &self.assessor) else {
            return;
        };
        if !matches!(&self.recorder.labels, Labels::Card(card) if card.at_end()) {
            looking.forget();
        } else if looking.waiting() {
            if let (Some(again), Labels::Card(card)) = (looking.heard(), &mut self.recorder.labels)
            {
                let mut taken_up = false;
                for (step, want) in again {
                    taken_up |= card.take_up(step, want);
                }
                card.keep_open(taken_up);
                if taken_up {
                    self.recorder.looked(looking.go_on());
                }
            }
        } else if let Some(evidence) = self.recorder.evidence().filter(|e| !e.is_full()) {
            let look = looking.next();
            match assessor.take(
                evidence,
                self.recorder.counts(self.decoder.counts()),
                Some(look),
            ) {
                Some(true) => looking.wait_for(look),
                Some(false) => {}
                None => self.recorder.labels.let_go(),
            }
        } else {
            // Nothing was taken, or more than can be looked at.
            self.recorder.labels.let_go();
        }
    }

    /// Tells what there is to tell, as far as somebody takes it: the run waits for nobody. Samples that are not taken stay for
    /// the next time; of the rest the next time has newer ones.
    fn tell_now(&mut self, link: LinkState) {
        if let Some(taking) = self.recorder.take_taking()
            && let Err(TrySendError::Full(RunEvent::Taking(taking))) =
                self.tell.try_send(RunEvent::Taking(taking))
        {
            return self.recorder.put_back_taking(taking);
        }
        if let Some(batch) = self.recorder.take_batch()
            && let Err(TrySendError::Full(RunEvent::Samples(batch))) =
                self.tell.try_send(RunEvent::Samples(batch))
        {
            return self.recorder.put_back(batch);
        }
        let progress = self.recorder.labels.progress().to_vec();
        let _ = self.tell.try_send(RunEvent::Progress(progress));
        let _ = self.tell.try_send(RunEvent::Health(self.health(link)));
    }

    /// Tells the rest, and waits until it is taken.
    fn tell_last(&mut self) {
        let taking = self.recorder.take_taking().map(RunEvent::Taking);
        let batch = self.recorder.take_batch().map(RunEvent::Samples);
        let progress = RunEvent::Progress(self.recorder.labels.progress().to_vec());
        let health = RunEvent::Health(self.health(LinkState::Ended));
        for event in taking.into_iter().chain(batch).chain([progress, health]) {
            let _ = self.tell.send(event);
        }
    }

    fn health(&self, link: LinkState) -> StreamHealth {
        let counts = self.decoder.counts();
        let advice = self.recorder.advice(counts, self.begun.elapsed());
        self.recorder.health(counts, link, advice)
    }
}
