//! A run without a screen: its progress on stderr.

use crate::bench::{
    LinkState, Run, RunCommand, RunEvent, StepProgress, StepState, StreamHealth, StreamInfo,
};
use crate::capture::StreamCounts;
use crate::outlet::{tell, watched};
use crate::record::Assessment;
use anyhow::anyhow;
use measure::figure::numbers::fixed;
use measure::units::Step;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::RecvTimeoutError;
use std::time::Duration;

/// What ends a run with everything that was taken: Ctrl-C, a polite end, the terminal's window closed.
#[cfg(unix)]
const ENDING: [i32; 3] = [
    signal_hook::consts::SIGINT,
    signal_hook::consts::SIGTERM,
    signal_hook::consts::SIGHUP,
];
#[cfg(not(unix))]
const ENDING: [i32; 2] = [signal_hook::consts::SIGINT, signal_hook::consts::SIGTERM];

/// Does a piece of work; says `words` on stderr when it takes longer than `patience`.
pub(super) fn told_beyond<T>(patience: Duration, words: &str, work: impl FnOnce() -> T) -> T {
    let (done, waiting) = std::sync::mpsc::channel::<()>();
    std::thread::scope(|scope| {
        scope.spawn(move || {
            if waiting.recv_timeout(patience) == Err(RecvTimeoutError::Timeout) {
                tell!("{words}");
            }
        });
        let result = work();
        drop(done);
        result
    })
}

/// Does a piece of work; while a person watches, counts its seconds on stderr behind `words`, from the first on, and wipes that away.
/// At most 50 characters.
pub(super) fn counted<T>(words: &str, work: impl FnOnce() -> T) -> T {
    let (done, waiting) = std::sync::mpsc::channel::<()>();
    std::thread::scope(|scope| {
        scope.spawn(move || {
            let mut seconds = 0_u32;
            while waiting.recv_timeout(Duration::from_secs(1)) == Err(RecvTimeoutError::Timeout) {
                seconds += 1;
                watched(&format!("{words} ... {seconds} s"));
            }
            if seconds > 0 {
                watched("");
            }
        });
        let result = work();
        drop(done);
        result
    })
}

/// What a run ended with.
pub(super) struct RunResult {
    pub(super) assessment: Option<Arc<Assessment>>,
    pub(super) capture: Option<PathBuf>,
    pub(super) counts: Option<StreamCounts>,
    /// The source ended before the steps did, and nobody had asked for it.
    pub(super) went_away: bool,
}

/// What a [`Watcher`] wants after an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Next {
    GoOn,
    /// End the run and keep what was taken.
    Stop,
}

/// Follows a run's events beside the progress on stderr.
pub(super) trait Watcher {
    /// Sees each event before it is reported, and an empty wait as `None`.
    fn see(&mut self, _: Option<&RunEvent>) -> anyhow::Result<Next> {
        Ok(Next::GoOn)
    }

    /// Whether it reports the steps itself.
    fn reports_steps(&self) -> bool {
        false
    }
}

impl Watcher for () {}

/// Reports the run on stderr until it ends. Ctrl-C ends it early and keeps what was taken.
pub(super) fn until_end(run: Run) -> anyhow::Result<RunResult> {
    until_end_with(run, &mut ())
}

/// The same, with a watcher that may end it.
pub(super) fn until_end_with(run: Run, watcher: &mut dyn Watcher) -> anyhow::Result<RunResult> {
    let stop = Arc::new(AtomicBool::new(false));
    for signal in ENDING {
        signal_hook::flag::register(signal, Arc::clone(&stop))?;
    }
    let mut reporter = Reporter::default();
    let mut stopping = false;
    let mut failure = None;
    let mut under_way = false;
    let ended = loop {
        if stop.load(Ordering::Relaxed) && !stopping {
            stopping = true;
            let _ = run.commands.send(RunCommand::Stop);
        }
        let event = run.events.recv_timeout(Duration::from_millis(100));
        match watcher.see(event.as_ref().ok()) {
            Ok(Next::GoOn) => {}
            Ok(Next::Stop) => stop.store(true, Ordering::Relaxed),
            Err(why) => {
                stop.store(true, Ordering::Relaxed);
                failure.get_or_insert(why);
            }
        }
        if let Ok(RunEvent::Progress(steps)) = &event {
            let open =
                |step: &StepProgress| matches!(step.state, StepState::Waiting | StepState::Current);
            under_way = steps.iter().any(open);
        }
        match event {
            Ok(RunEvent::Progress(_)) if watcher.reports_steps() => {}
            Ok(RunEvent::Finished {
                assessment,
                capture,
            }) => {
                break Ok(RunResult {
                    assessment,
                    capture,
                    counts: reporter.counts.take(),
                    went_away: under_way && !stopping,
                });
            }
            Ok(RunEvent::Failed(what)) => break Err(anyhow!(what)),
            Ok(event) => reporter.report(event),
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => {
                break Err(anyhow!(
                    "the run ended without a word: this is a fault of the program"
                ));
            }
        }
    };
    run.join();
    failure.map_or(ended, Err)
}

/// What was reported, so that nothing is reported twice.
#[derive(Default)]
struct Reporter {
    step: Option<usize>,
    /// What was asked for last, and the last remark on a known position.
    asked: Option<String>,
    remarked: Option<String>,
    /// The last remark on any other step.
    remark: Option<String>,
    lost: bool,
    restarts: u64,
    advised: Option<String>,
    counts: Option<StreamCounts>,
}

impl Reporter {
    fn report(&mut self, event: RunEvent) {
        match event {
            RunEvent::Stream(stream) => report_stream(&stream),
            RunEvent::Progress(steps) => self.report_step(&steps),
            RunEvent::Health(health) => self.report_health(health),
            RunEvent::Samples(_)
            | RunEvent::Assessed(_)
            | RunEvent::Finished { .. }
            | RunEvent::Failed(_) => {}
        }
    }

    fn report_step(&mut self, steps: &[StepProgress]) {
        let current = steps.iter().position(|s| s.state == StepState::Current);
        if let Some(step) = current.and_then(|at| steps.get(at)) {
            self.report_station(step);
        }
        let mut ended = steps.iter().filter(|s| s.state == StepState::Skipped);
        let shown = current.map(|at| &steps[at]).or(ended.next_back());
        let spoken = shown.filter(|step| step.step != Step::Stations);
        let remark = spoken.and_then(|step| step.remark.clone());
        if remark != self.remark {
            if let Some(words) = remark.as_ref().filter(|_| current == self.step) {
                tell!("    {words}");
            }
            self.remark = remark;
        }
        if current == self.step {
            return;
        }
        self.step = current;
        if let Some(at) = current {
            let step = &steps[at];
            tell!(
                "{}/{} {}: {} ({} {})",
                at + 1,
                steps.len(),
                step.name(),
                step.instruction,
                fixed(step.want, 0),
                step.unit
            );
        }
    }

    /// Known positions: each as it is asked for, and what is said of it.
    fn report_station(&mut self, step: &StepProgress) {
        if step.step != Step::Stations {
            return;
        }
        if step.asked != self.asked {
            self.asked.clone_from(&step.asked);
            let (nth, of) = (fixed(step.have + 1.0, 0), fixed(step.want, 0));
            if self.asked.is_some() {
                tell!("  {nth} of {of}: {}", step.instruction);
            }
        }
        if step.remark != self.remarked {
            self.remarked.clone_from(&step.remark);
            if let Some(words) = &self.remarked {
                tell!("  {words}");
            }
        }
    }

    fn report_health(&mut self, health: StreamHealth) {
        let lost = health.link == LinkState::Lost;
        if lost != self.lost {
            self.lost = lost;
            tell!(
                "{}",
                if lost {
                    "The board is gone: plug it in again. (Ctrl-C ends and keeps what was recorded.)"
                } else {
                    "The board is back."
                }
            );
        }
        if health.counts.restarts > self.restarts {
            self.restarts = health.counts.restarts;
            tell!(
                "The board was reset, or lost its power. Recording continues; what was not sent counts as lost."
            );
        }
        if health.advice != self.advised {
            if let Some(advice) = &health.advice {
                tell!("{advice}");
            }
            self.advised = health.advice;
        }
        self.counts = Some(health.counts);
    }
}

fn report_stream(stream: &StreamInfo) {
    let names: Vec<&str> = stream.channels.iter().map(|(n, _)| n.as_str()).collect();
    tell!(
        "{}: {} bits, {} mV reference, {} samples/s: {}",
        stream.source,
        stream.bits,
        stream.vref_mv,
        fixed(stream.rate_hz, 0),
        names.join(", ")
    );
    if !stream.board_time {
        tell!("The board sends no time: the time of arrival is used, and timing results say so.");
    }
}
