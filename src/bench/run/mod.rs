//! A run: reads the source, decodes, labels, records, assesses, and reports. Two threads: one waits for nothing but
//! the source and the disk, the other assesses.

mod assessor;
#[cfg(feature = "inside")]
mod board_time;
mod capture_end;
mod channels;
mod check_as;
mod conclude;
mod events;
mod evidence;
mod imported;
mod labels;
mod late;
mod looks;
mod quarantine;
mod rate;
mod recorder;
mod runner;
mod setup;

#[cfg(feature = "inside")]
pub use board_time::BoardTime;
pub(in crate::bench) use channels::assign;
pub use events::{Batch, LinkState, RunCommand, RunEvent, StreamHealth, StreamInfo};
pub use imported::{Recorded, StepFound, labelled, start_imported};
pub use setup::{Asking, Plan, Setup};

use crate::capture::{Disk, RealDisk};
use runner::Runner;
use std::sync::mpsc::{Receiver, Sender, channel, sync_channel};
use std::thread::{self, JoinHandle};

/// Events that wait to be taken; when there are so many, samples wait in the run, and what is out of date is left out.
const EVENTS: usize = 4;

/// A run under way.
#[derive(Debug)]
pub struct Run {
    pub events: Receiver<RunEvent>,
    pub commands: Sender<RunCommand>,
    thread: JoinHandle<()>,
}

impl Run {
    /// The two ends and the thread, for who keeps them apart.
    pub fn apart(self) -> (Receiver<RunEvent>, Sender<RunCommand>, JoinHandle<()>) {
        (self.events, self.commands, self.thread)
    }

    /// The same run, each event looked at on its way.
    #[must_use]
    pub fn seen_by(self, mut look: impl FnMut(&RunEvent) + Send + 'static) -> Self {
        let (sender, events) = sync_channel(EVENTS);
        let told = self.events;
        thread::spawn(move || {
            for event in told {
                look(&event);
                if sender.send(event).is_err() {
                    return; // nobody listens any more, and the run finds that out by its next event
                }
            }
        });
        Self { events, ..self }
    }

    pub fn join(self) {
        drop(self.commands);
        let _ = self.thread.join();
    }
}

pub fn start(setup: Setup) -> Run {
    start_on(setup, Box::new(RealDisk))
}

/// Starts a run whose capture is written on any disk: a test breaks it.
pub fn start_on(setup: Setup, disk: Box<dyn Disk>) -> Run {
    let (sender, events) = sync_channel(EVENTS);
    let (commands, inbox) = channel();
    let thread = thread::spawn(move || Runner::new(setup, disk, sender).run(&inbox));
    Run {
        events,
        commands,
        thread,
    }
}
