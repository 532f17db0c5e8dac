//! The thread that assesses what a run has shown so far, and the last assessment.
//!
//! Belongs here: handing evidence over without waiting. Does not belong here: figures (`assess`), what a look decides (`looks`).

use super::events::RunEvent;
use super::evidence::Evidence;
use super::looks::{Answers, Job};
use crate::bench;
use crate::capture::{self, StreamCounts};
use crate::outlet::Shown;
use crate::profile::Profile;
use crate::record::Assessment;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::thread::{self, JoinHandle};

pub(super) struct Assessor {
    jobs: SyncSender<Job>,
    /// Whether it is waiting: a copy of the evidence is made only then.
    idle: Arc<AtomicBool>,
    thread: JoinHandle<()>,
}

impl Assessor {
    /// Starts it; gives what answers the looks.
    pub(super) fn start(
        profile: Option<Arc<Profile>>,
        events: SyncSender<RunEvent>,
    ) -> (Self, Answers) {
        let (jobs, inbox) = sync_channel(1);
        let (answer, answers) = channel();
        let idle = Arc::new(AtomicBool::new(true));
        let done = Arc::clone(&idle);
        let thread = thread::spawn(move || {
            assess_as_they_come(&inbox, profile.as_deref(), &events, &answer, &done);
        });
        (Self { jobs, idle, thread }, answers)
    }

    /// Hands a copy of the evidence over, unless it is busy. Whether it did; `None` when the thread is gone.
    pub(super) fn submit(
        &self,
        evidence: &Evidence,
        stream: StreamCounts,
        look: Option<u64>,
    ) -> Option<bool> {
        if !self.idle.swap(false, Ordering::AcqRel) {
            return (!self.thread.is_finished()).then_some(false);
        }
        let mut capture = evidence.kept.clone();
        capture.meta.stream = stream;
        let job = Job {
            capture,
            samples: evidence.seen,
            look,
        };
        self.jobs.send(job).is_ok().then_some(true)
    }

    /// Waits until it has done what it has in hand.
    pub(super) fn end(self) {
        drop(self.jobs);
        let _ = self.thread.join();
    }
}

fn assess_as_they_come(
    jobs: &Receiver<Job>,
    profile: Option<&Profile>,
    events: &SyncSender<RunEvent>,
    answer: &Sender<(u64, Option<Arc<Assessment>>)>,
    idle: &AtomicBool,
) {
    for job in jobs {
        let assessment = bench::assess(&job.capture, profile).ok();
        let assessment = assessment.map(|mut assessment| {
            assessment.capture.samples = job.samples;
            Arc::new(assessment)
        });
        let look = job.look;
        drop(job);
        // The run first: it does not wait for whoever shows it.
        if let Some(look) = look {
            let _ = answer.send((look, assessment.clone()));
        }
        if let Some(assessment) = assessment {
            let _ = events.send(RunEvent::Assessed(assessment));
        }
        idle.store(true, Ordering::Release);
    }
}

/// The assessment of a run that is through. The evidence in memory says the same as the file and is there already; only when
/// it is not whole is the file read. With the file's name and digest, if one was written.
pub(super) fn last_assessment(
    file: Option<&Path>,
    evidence: &Evidence,
    profile: Option<&Profile>,
) -> Option<Assessment> {
    if (evidence.full || evidence.thinned)
        && let Some(file) = file
        && let Ok(mut opened) = capture::open(file)
    {
        return bench::assess_file(&mut opened, file, profile).ok();
    }
    let mut assessment = bench::assess(&evidence.kept, profile).ok()?;
    assessment.capture.samples = evidence.seen;
    if let Some(file) = file {
        let name = file.file_name().unwrap_or(file.as_os_str());
        assessment.capture.file = Some(Path::new(name).shown().into_owned());
        assessment.capture.sha256 = capture::summary(file).ok().map(|about| about.sha256);
    }
    Some(assessment)
}
