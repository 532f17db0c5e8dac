//! The thread of a run: waits for nothing but the source and the disk.

use super::assessor::{Assessor, last_assessment};
use super::conclude::{conclude, is_due};
use super::events::{LinkState, RunCommand, RunEvent, StreamHealth};
use super::looks::{Awaited, Looking, Planned};
use super::recorder::Recorder;
use super::setup::{Plan, Setup};
use crate::bench::card::EvidencePlan;
use crate::capture::Disk;
use crate::link::{Decoder, Received, Source};
use crate::profile::Profile;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, TryRecvError, TrySendError};
use std::time::{Duration, Instant};

/// Longest wait for bytes: how late a command can be heard.
const WAIT: Duration = Duration::from_millis(20);
/// How often samples, progress and health are sent.
const SEND_EVERY: Duration = Duration::from_millis(33);
/// How often the capture reaches the disk.
const FLUSH_EVERY: Duration = Duration::from_millis(500);
/// How often what was taken is assessed, at most.
const ASSESS_EVERY: Duration = Duration::from_millis(500);

enum End {
    /// The card is through, the source is at its end, or somebody said so.
    Done,
    Failed(String),
}

pub(super) struct Runner {
    source: Box<dyn Source>,
    decoder: Decoder,
    recorder: Recorder,
    events: SyncSender<RunEvent>,
    begun: Instant,
    lost_since: Option<Instant>,
    last_send: Instant,
    last_flush: Instant,
    last_assess: Instant,
    assessor: Option<Assessor>,
    looking: Option<(Looking, Awaited)>,
    profile: Option<Arc<Profile>>,
}

impl Runner {
    pub(super) fn new(setup: Setup, disk: Box<dyn Disk>, events: SyncSender<RunEvent>) -> Self {
        let now = Instant::now();
        let (assessor, answers) = setup
            .live
            .then(|| Assessor::start(setup.profile.clone(), events.clone()))
            .unzip();
        let looking = match (&setup.plan, answers) {
            (Plan::Card(steps, evidence), Some(answers)) => {
                let planned = Planned {
                    steps: steps.clone(),
                    wanted: *evidence,
                };
                Some((Looking::new(planned), Awaited::new(answers)))
            }
            _ => None,
        };
        let profile = setup.profile.clone();
        let (recorder, source, stream) = Recorder::new(setup, disk);
        Self {
            source,
            decoder: Decoder::new(stream),
            recorder,
            events,
            begun: now,
            lost_since: None,
            last_send: now,
            last_flush: now,
            last_assess: now,
            assessor,
            looking,
            profile,
        }
    }

    pub(super) fn run(mut self, commands: &Receiver<RunCommand>) {
        let end = self.read_until_end(commands);
        self.decoder.end(&mut |_| {});
        // The capture is whole before anybody is waited for.
        let capture = self.recorder.close(self.decoder.counts());
        self.send_last();
        if let Some(assessor) = self.assessor.take() {
            assessor.end();
        }
        let failure = match end {
            End::Failed(message) => Some(message),
            // The last turn may have failed, too.
            End::Done => self.recorder.failure.take().or(capture.failure),
        };
        let event = if let Some(message) = failure {
            RunEvent::Failed(message + &capture.on_disk)
        } else {
            let file = capture.file;
            let evidence = self.recorder.evidence.as_ref();
            let assessment = evidence.and_then(|evidence| {
                last_assessment(file.as_deref(), evidence, self.profile.as_deref())
            });
            RunEvent::Finished {
                assessment: assessment.map(Arc::new),
                capture: file,
            }
        };
        let _ = self.events.send(event);
    }

    fn read_until_end(&mut self, commands: &Receiver<RunCommand>) -> End {
        let mut buffer = vec![0; 1 << 16];
        loop {
            loop {
                match commands.try_recv() {
                    // Also when nobody listens any more: keep what was taken and end.
                    Ok(RunCommand::Stop) | Err(TryRecvError::Disconnected) => return End::Done,
                    Ok(RunCommand::CheckAs(profile)) => self.check_as(profile),
                    Ok(command) => {
                        self.recorder.labels.command(command);
                        self.recorder.put_aside();
                    }
                    Err(TryRecvError::Empty) => break,
                }
            }
            let received = self.source.receive(&mut buffer, WAIT);
            self.recorder.read_from(self.source.as_ref());
            match received {
                Ok(Received::Bytes(n)) => {
                    self.take(&buffer[..n]);
                    if !self.source.may_mend() {
                        self.recorder.refuse_noise(self.decoder.counts());
                    }
                }
                Ok(Received::Nothing) => {}
                Ok(Received::Lost) => {
                    self.lost_since.get_or_insert_with(Instant::now);
                }
                Ok(Received::Back) => self.back(),
                Ok(Received::Ended) => return End::Done,
                Err(e) => return End::Failed(e.to_string()),
            }
            if let Some(message) = self.recorder.failure.take() {
                return End::Failed(message);
            }
            self.look();
            self.housekeeping();
            if self.recorder.labels.done() {
                return End::Done;
            }
        }
    }

    /// From here on it is another kind of control.
    fn check_as(&mut self, profile: Arc<Profile>) {
        if !self.recorder.check_as(&profile) {
            return;
        }
        if let Some(assessor) = self.assessor.take() {
            assessor.end();
            let events = self.events.clone();
            let (assessor, answers) = Assessor::start(Some(Arc::clone(&profile)), events);
            let planned = Planned {
                steps: profile.card.clone(),
                wanted: EvidencePlan::at_first(&profile),
            };
            self.assessor = Some(assessor);
            self.looking = Some((Looking::new(planned), Awaited::new(answers)));
        }
        self.profile = Some(profile);
    }

    fn take(&mut self, bytes: &[u8]) {
        let host_us = u64::try_from(self.begun.elapsed().as_micros()).unwrap_or(u64::MAX);
        self.recorder.first_bytes.add(bytes);
        let recorder = &mut self.recorder;
        // Line by line, so that nothing is counted that came after the end of the run.
        for line in bytes.split_inclusive(|byte| *byte == b'\n') {
            self.decoder
                .feed(line, host_us, &mut |event| recorder.event(event));
            if recorder.labels.done() || recorder.failure.is_some() {
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

    /// Whatever is due: sending, flushing, assessing.
    fn housekeeping(&mut self) {
        let now = Instant::now();
        if now - self.last_send >= SEND_EVERY {
            self.last_send = now;
            self.send_now(if self.lost_since.is_some() {
                LinkState::Lost
            } else {
                LinkState::Connected
            });
        }
        if now - self.last_flush >= FLUSH_EVERY {
            self.last_flush = now;
            self.recorder.flush(self.decoder.counts());
        }
        if now - self.last_assess >= ASSESS_EVERY
            && let (Some(assessor), Some(evidence)) = (&self.assessor, &self.recorder.evidence)
        {
            self.last_assess = now;
            let _ = assessor.submit(evidence, self.recorder.counts(self.decoder.counts()), None);
        }
    }

    /// A look at a card at its end: an open finding may want more of a step. What arrives meanwhile is `idle`, so that
    /// the evidence of a look does not depend on how long the look takes.
    fn look(&mut self) {
        let (Some((looking, awaited)), Some(assessor)) = (&mut self.looking, &self.assessor) else {
            return;
        };
        self.recorder.state_tried();
        if !is_due(&self.recorder.labels) {
            awaited.waiting_for = None;
        } else if awaited.waiting_for.is_some() {
            if let Some(assessment) = awaited.heard() {
                conclude(&mut self.recorder, looking, assessment.as_deref());
            }
        } else if let Some(evidence) = self.recorder.evidence.as_ref().filter(|e| !e.full) {
            let look = awaited.next();
            match assessor.submit(
                evidence,
                self.recorder.counts(self.decoder.counts()),
                Some(look),
            ) {
                Some(true) => awaited.waiting_for = Some(look),
                Some(false) => {}
                None => self.recorder.labels.close(),
            }
        } else {
            // Nothing was taken, or more than can be looked at.
            self.recorder.labels.close();
        }
    }

    /// Sends what there is, as far as somebody takes it: the run waits for nobody. Samples that are not taken stay for the
    /// next time; of the rest the next time has newer ones.
    fn send_now(&mut self, link: LinkState) {
        if let Some(stream) = self.recorder.stream.take()
            && let Err(TrySendError::Full(RunEvent::Stream(stream))) =
                self.events.try_send(RunEvent::Stream(stream))
        {
            self.recorder.stream = Some(stream);
            return;
        }
        if let Some(batch) = self.recorder.take_batch()
            && let Err(TrySendError::Full(RunEvent::Samples(batch))) =
                self.events.try_send(RunEvent::Samples(batch))
        {
            self.recorder.batch = batch;
            return;
        }
        let progress = self.recorder.labels.progress();
        let _ = self.events.try_send(RunEvent::Progress(progress));
        let health = self.health(link);
        let _ = self.events.try_send(RunEvent::Health(health));
    }

    /// Sends the rest, and waits until it is taken.
    fn send_last(&mut self) {
        let stream = self.recorder.stream.take().map(RunEvent::Stream);
        let batch = self.recorder.take_batch().map(RunEvent::Samples);
        let progress = RunEvent::Progress(self.recorder.labels.progress());
        let health = RunEvent::Health(self.health(LinkState::Ended));
        for event in stream.into_iter().chain(batch).chain([progress, health]) {
            let _ = self.events.send(event);
        }
    }

    fn health(&mut self, link: LinkState) -> StreamHealth {
        let counts = self.decoder.counts();
        self.recorder.health(counts, link, self.begun.elapsed())
    }
}
