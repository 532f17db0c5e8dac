//! Watching a run without a screen: words on stderr.

use crate::bench::{LinkState, Run, RunCommand, RunEvent, StepState};
use crate::record::Assessment;
use anyhow::anyhow;
use measure::figure::numbers::fixed;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::RecvTimeoutError;
use std::time::Duration;

/// What a run ended with.
pub(super) struct Ended {
    pub(super) assessment: Option<Arc<Assessment>>,
    pub(super) capture: Option<PathBuf>,
    pub(super) counts: Option<crate::capture::StreamCounts>,
}

/// What a [`Watcher`] wants after an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Next {
    /// Go on.
    GoOn,
    /// End the run and keep what was taken.
    Stop,
}

/// Somebody else who looks at the run's events.
pub(super) trait Watcher {
    /// Sees each event before it is told of, and an empty wait as `None`.
    fn see(&mut self, event: Option<&RunEvent>) -> anyhow::Result<Next>;
    /// Whether it tells of the steps itself.
    fn tells_steps(&self) -> bool;
}

struct Nobody;

impl Watcher for Nobody {
    fn see(&mut self, _: Option<&RunEvent>) -> anyhow::Result<Next> {
        Ok(Next::GoOn)
    }

    fn tells_steps(&self) -> bool {
        false
    }
}

/// Tells of the run on stderr until it ends. Ctrl-C ends it early and keeps what was taken.
pub(super) fn until_end(run: Run) -> anyhow::Result<Ended> {
    until_end_with(run, &mut Nobody)
}

/// The same, with somebody who also watches and may end it.
pub(super) fn until_end_with(run: Run, watcher: &mut dyn Watcher) -> anyhow::Result<Ended> {
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [signal_hook::consts::SIGINT, signal_hook::consts::SIGTERM] {
        signal_hook::flag::register(signal, Arc::clone(&stop))?;
    }
    let mut words = Words::default();
    let mut stopping = false;
    let mut refusal = None;
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
                refusal.get_or_insert(why);
            }
        }
        match event {
            Ok(RunEvent::Progress(_)) if watcher.tells_steps() => {}
            Ok(RunEvent::Finished {
                assessment,
                capture,
            }) => {
                break Ok(Ended {
                    assessment,
                    capture,
                    counts: words.counts.take(),
                });
            }
            Ok(RunEvent::Failed(what)) => break Err(anyhow!(what)),
            Ok(event) => words.tell(event),
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => {
                break Err(anyhow!(
                    "the run ended without a word: this is a fault of the program"
                ));
            }
        }
    };
    run.join();
    refusal.map_or(ended, Err)
}

/// What was told already, so that nothing is told twice.
#[derive(Default)]
struct Words {
    step: Option<(usize, StepState)>,
    lost: bool,
    restarts: u64,
    advised: Option<String>,
    counts: Option<crate::capture::StreamCounts>,
}

impl Words {
    fn tell(&mut self, event: RunEvent) {
        match event {
            RunEvent::Taking(taking) => {
                let names: Vec<_> = taking
                    .channels
                    .iter()
                    .map(|(name, _)| name.as_str())
                    .collect();
                eprintln!(
                    "{}: {} bits, {} mV reference, {} samples a second: {}",
                    taking.source,
                    taking.bits,
                    taking.vref_mv,
                    fixed(taking.rate_hz, 0),
                    names.join(", ")
                );
                if !taking.board_time {
                    eprintln!(
                        "the board sends no time: the time of arrival is used, and timing figures say so"
                    );
                }
            }
            RunEvent::Progress(steps) => {
                let current = steps.iter().position(|s| s.state == StepState::Current);
                let now = current.map(|at| (at, StepState::Current));
                if now != self.step {
                    self.step = now;
                    if let Some((at, _)) = now {
                        let step = &steps[at];
                        eprintln!(
                            "{}/{} {}: {} ({} {})",
                            at + 1,
                            steps.len(),
                            step.step,
                            step.instruction,
                            fixed(step.want, 0),
                            step.unit
                        );
                    }
                }
            }
            RunEvent::Health(health) => {
                let lost = health.link == LinkState::Lost;
                if lost != self.lost {
                    self.lost = lost;
                    eprintln!(
                        "{}",
                        if lost {
                            "the board has gone: waiting for it to come back (Ctrl-C ends and keeps what was taken)"
                        } else {
                            "the board is back"
                        }
                    );
                }
                if health.counts.restarts > self.restarts {
                    self.restarts = health.counts.restarts;
                    eprintln!(
                        "the board began anew (a reset, or its power was cut): the recording goes on, and what was not sent is counted as missing"
                    );
                }
                if health.advice != self.advised {
                    if let Some(advice) = &health.advice {
                        eprintln!("{advice}");
                    }
                    self.advised = health.advice;
                }
                self.counts = Some(health.counts);
            }
            RunEvent::Samples(_)
            | RunEvent::Assessed(_)
            | RunEvent::Finished { .. }
            | RunEvent::Failed(_) => {}
        }
    }
}
