//! Recordings: timed ones of any source, how they ended, what their metadata say.

use measure::units::{Role, Step, Track};
use pedalproof::bench::{Asking, Plan, Run, RunEvent, Setup};
use pedalproof::capture::ChannelMeta;
use pedalproof::link::{Source, StreamOptions};
use std::path::Path;

/// A channel of a control's track.
pub fn signal(track: Track) -> ChannelMeta {
    ChannelMeta {
        role: Role::Signal,
        track: Some(track),
    }
}

/// A recording by the clock into `csv`, which nobody looks at: one step of so many seconds.
pub fn timed(source: Box<dyn Source>, step: Step, seconds: f64, csv: &Path) -> Setup {
    Setup {
        source,
        stream: StreamOptions::default(),
        plan: Plan::Timed(vec![(step, seconds)]),
        stations: None,
        profile: None,
        tag: None,
        channels: Vec::new(),
        out: Some(csv.to_owned()),
        baud: None,
        live: false,
        asking: Asking::default(),
    }
}

/// Waits for the end of a run; the words of its failure, if it failed.
pub fn failure(run: &Run) -> Option<String> {
    for event in &run.events {
        match event {
            RunEvent::Finished { .. } => return None,
            RunEvent::Failed(words) => return Some(words),
            _ => {}
        }
    }
    panic!("a run that neither finished nor failed");
}
