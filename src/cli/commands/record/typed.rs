//! Known positions typed on stdin while a run goes on, and a run that nobody moves.
//!
//! Belongs here: when a line is passed on, when waiting ends. Does not belong here: what a line says (`bench`).

use crate::bench::{RunCommand, RunEvent, StationWords, StepProgress, StepState, USUAL_STATIONS};
use crate::cli::progress::{Next, Watcher};
use crate::outlet::tell;
use measure::units::{Step, seconds_from_us};
use std::collections::VecDeque;
use std::io::BufRead;
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};

/// Seconds of board time without a new position after which nobody is waited for any longer.
const PATIENCE_S: f64 = 300.0;

/// One message for every line of stdin.
fn lines() -> Receiver<String> {
    let (sender, lines) = channel();
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines() {
            if !line.is_ok_and(|line| sender.send(line).is_ok()) {
                break;
            }
        }
    });
    lines
}

/// Passes lines on to the run, one position after the other.
pub(super) struct Typed {
    commands: Sender<RunCommand>,
    lines: Receiver<String>,
    /// Whether no more lines come.
    ended: bool,
    waiting: VecDeque<StationWords>,
    /// Positions that were taken when the last one was passed on.
    passed_at: Option<f64>,
    have: f64,
    /// Board time of the last new position, and now.
    since_us: Option<u64>,
    now_us: u64,
    advised: bool,
}

impl Typed {
    pub(super) fn new(commands: Sender<RunCommand>) -> Self {
        Self {
            commands,
            lines: lines(),
            ended: false,
            waiting: VecDeque::new(),
            passed_at: None,
            have: 0.0,
            since_us: None,
            now_us: 0,
            advised: false,
        }
    }

    fn hear(&mut self) {
        loop {
            match self.lines.try_recv() {
                Ok(line) => match StationWords::read(&line) {
                    Ok(words) => self.waiting.push_back(words),
                    Err(why) => tell!("{why}"),
                },
                Err(TryRecvError::Empty) => return,
                Err(TryRecvError::Disconnected) => {
                    self.ended = true;
                    return;
                }
            }
        }
    }

    fn pass_on(&mut self, words: StationWords) {
        // A run that has ended listens no more.
        let _ = self.commands.send(RunCommand::Station(words));
    }

    fn progress(&mut self, step: &StepProgress) {
        if (step.have - self.have).abs() > 0.0 {
            (self.have, self.since_us) = (step.have, Some(self.now_us));
            self.passed_at = None;
        }
        let current = step.state == StepState::Current;
        let stated = step.asked.is_some();
        let due = match self.waiting.front() {
            None => false,
            Some(StationWords::Plan(_)) => true,
            Some(StationWords::Here(Some(_))) => current && self.passed_at.is_none(),
            Some(_) => current,
        };
        if due && let Some(words) = self.waiting.pop_front() {
            if matches!(words, StationWords::Here(Some(_))) {
                self.passed_at = Some(step.have);
            }
            self.pass_on(words);
            return;
        }
        if !current {
            return;
        }
        if !std::mem::replace(&mut self.advised, true) {
            self.since_us = Some(self.now_us);
            if !stated && !self.ended {
                tell!(
                    "type the positions, e.g. {USUAL_STATIONS}, or one after the other as you set them; `back` takes the last one back, `end` ends"
                );
            }
        }
        let waited_us = self
            .now_us
            .saturating_sub(self.since_us.unwrap_or(self.now_us));
        let all_said = self.ended && self.waiting.is_empty() && self.passed_at.is_none();
        if all_said && !stated {
            tell!(
                "no more known positions were stated: that step ends here. Say them beforehand: --stations \"{USUAL_STATIONS}\""
            );
            self.pass_on(StationWords::End);
        } else if seconds_from_us(waited_us) > PATIENCE_S {
            tell!(
                "nothing has stood still at a new position for {PATIENCE_S:.0} s: the known positions end here, what was taken is kept"
            );
            self.pass_on(StationWords::End);
        }
    }
}

impl Watcher for Typed {
    fn see(&mut self, event: Option<&RunEvent>) -> anyhow::Result<Next> {
        self.hear();
        match event {
            Some(RunEvent::Samples(batch)) => {
                self.now_us = batch.t_us.last().copied().unwrap_or(self.now_us);
            }
            Some(RunEvent::Progress(steps)) => {
                if let Some(step) = steps.iter().find(|step| step.step == Step::Stations) {
                    self.progress(step);
                }
            }
            _ => {}
        }
        Ok(Next::GoOn)
    }
}
