//! A person at the card: reads the prompts, acts, and makes mistakes. Time is the board's.

use super::chance::Chance;
use super::control::{Control, Sampled, Stiff};
use measure::units::{Step, Trial};
use pedalproof::bench::{Asking, BoardTime, RunCommand, StepProgress, StepState};
use pedalproof::link::{Header, StreamOptions};
use pedalproof::profile::Profile;
use pedalproof::record::Assessment;
use std::sync::Arc;

/// Milliseconds between two samples.
const PERIOD_MS: f64 = 1.0;
/// A card longer than this does not end, seconds.
pub const ENDLESS_S: f64 = 420.0;

/// How this person goes about it. Everything that may go wrong goes wrong once, and then as the remark says.
#[derive(Debug, Clone, PartialEq)]
pub struct Habits {
    /// Seconds to read a prompt and begin.
    pub reading_s: (f64, f64),
    /// Seconds of one stroke.
    pub stroke_s: (f64, f64),
    /// Lets a hold go after so many seconds, the first time.
    pub lets_go_s: Option<f64>,
    /// Presses only so far when it is to be full, until told.
    pub presses_to: f64,
    /// Something lies under it: strokes go no further either, until told.
    pub carpet: bool,
    /// Lets the control snap back in strokes.
    pub snaps: bool,
    /// Foot on the control when it should be off: from so many seconds after the step began, this far, until told.
    pub foot_on: Option<(f64, f64)>,
    /// A foot that rests on it all the time, this far.
    pub foot_rests: f64,
    /// Turns half-way in so many of the first strokes.
    pub half_strokes: u32,
    /// Too fast in so many of the first strokes.
    pub fast_strokes: u32,
    /// Presses again at once after so many of the first releases.
    pub hasty_releases: u32,
    /// Goes away for so many seconds in this step.
    pub away: Option<(Step, f64)>,
    /// Asks for this step once more when it is through.
    pub repeats: Option<Step>,
    /// Slams it into the full stop in strokes.
    pub slams: bool,
    /// Pulls the board's cable in this step: after so many seconds, for so many.
    pub pulls: Option<(Step, f64, f64)>,
    /// Moves it at exactly this pace, seconds a stroke, without a pause.
    pub clockwork_s: Option<f64>,
}

impl Habits {
    pub fn careful() -> Self {
        Self {
            reading_s: (0.4, 1.0),
            stroke_s: (0.7, 1.2),
            lets_go_s: None,
            presses_to: 1.0,
            carpet: false,
            snaps: false,
            foot_on: None,
            foot_rests: 0.0,
            half_strokes: 0,
            fast_strokes: 0,
            hasty_releases: 0,
            away: None,
            repeats: None,
            slams: false,
            pulls: None,
            clockwork_s: None,
        }
    }
}

/// How a card ended.
#[derive(Debug)]
pub struct Ended {
    pub assessment: Option<Assessment>,
    pub seconds: f64,
    /// Every remark that was shown, in order.
    pub remarks: Vec<String>,
    pub endless: bool,
    /// The trials that were through.
    pub trials: Vec<Trial>,
    /// Looks at the findings.
    pub looks: u32,
}

/// What a prompt asks for, by its words.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Asked {
    LeaveAlone,
    Full,
    Strokes,
    Release,
    Shake,
    /// Of the trials: only the plug, the battery, the two wires, slower.
    Plug,
    Battery,
    Swap,
    Slower,
}

fn read(words: &str) -> Asked {
    let words = words.to_lowercase();
    let says = |part: &str| words.contains(part);
    if says("only the plug") {
        Asked::Plug
    } else if says("battery") {
        Asked::Battery
    } else if says("swap") {
        Asked::Swap
    } else if says("slower") {
        Asked::Slower
    } else if says("wiggle") {
        Asked::Shake
    } else if says("end to end") {
        Asked::Strokes
    } else if says("let it go") || says("let go") {
        Asked::Release
    } else if says("fully") || says("to full") {
        Asked::Full
    } else {
        Asked::LeaveAlone
    }
}

pub struct Person {
    run: BoardTime,
    sampled: Sampled,
    habits: Habits,
    chance: Chance,
    now_ms: f64,
    /// Where the hand has it, and where it rests by itself.
    at: f64,
    home: f64,
    remarks: Vec<String>,
    steps_done: usize,
    strokes: u32,
    releases: u32,
    /// When the step under way was first asked for, milliseconds.
    asked_ms: (usize, f64),
    /// Since when it is at the full stop, milliseconds, and how far off that it stops this time.
    pressed: Option<(f64, f64)>,
    /// The trial that is done now.
    trying: Option<Trial>,
    /// Somebody else looks at the card then, milliseconds.
    looked_at_ms: f64,
}

impl Person {
    pub fn new(profile: Profile, control: Control, habits: Habits, seed: u64) -> Self {
        Self::asked(profile, control, habits, seed, Asking::default())
    }

    /// At a card that may ask.
    pub fn asked(
        profile: Profile,
        control: Control,
        habits: Habits,
        seed: u64,
        asking: Asking,
    ) -> Self {
        let names: Vec<String> = match control.wires.len() {
            1 => vec!["signal".to_owned()],
            n => (1..=n).map(|n| format!("track_{n}")).collect(),
        };
        let mut columns = vec!["t_us".to_owned()];
        columns.extend(names);
        let options = StreamOptions {
            bits: Some(10),
            vref_mv: Some(5000.0),
            rate_hz: Some(1000.0 / PERIOD_MS),
            columns: Some(columns),
            inl_codes: Some(control.inl_codes),
            ..StreamOptions::default()
        };
        let header: Header = options.header().unwrap();
        Self {
            run: BoardTime::card(Arc::new(profile), options, &header, asking),
            sampled: Sampled::new(control, Chance::new(seed ^ 0xA5A5)),
            habits,
            chance: Chance::new(seed),
            now_ms: 0.0,
            at: 0.0,
            home: 0.0,
            remarks: Vec::new(),
            steps_done: 0,
            strokes: 0,
            releases: 0,
            asked_ms: (usize::MAX, 0.0),
            pressed: None,
            trying: None,
            looked_at_ms: f64::INFINITY,
        }
    }

    /// What is said by now.
    pub fn assessment(&mut self) -> Option<Assessment> {
        self.run.assessment()
    }

    pub fn command(&mut self, command: RunCommand) {
        self.run.command(command);
    }

    /// Goes on as the prompts say until so many seconds have passed; somebody else looks then.
    pub fn until(&mut self, seconds: f64) {
        self.looked_at_ms = 1000.0 * seconds;
        self.act();
        self.looked_at_ms = f64::INFINITY;
    }

    /// Goes through the card as its prompts say.
    pub fn go_through(mut self) -> Ended {
        self.act();
        Ended {
            assessment: self.run.assessment(),
            seconds: self.now_ms / 1000.0,
            endless: !self.run.done(),
            trials: {
                let steps = self.run.progress().into_iter();
                let done = steps.filter(|step| step.state == StepState::Done);
                done.filter_map(|step| step.trial).collect()
            },
            looks: self
                .run
                .capture()
                .and_then(|capture| capture.meta.looks)
                .map_or(0, |looks| looks.taken),
            remarks: self.remarks,
        }
    }

    fn act(&mut self) {
        while !self.over() {
            let Some((step, asked)) = self.prompt() else {
                self.wait(0.05);
                continue;
            };
            if self.offered() {
                self.wait(2.0);
                self.run.command(RunCommand::GoAhead);
                self.wait(0.05);
                continue;
            }
            let (from, to) = self.habits.reading_s;
            let reading_s = self.chance.between(from, to);
            self.wait(reading_s);
            if let Some((_, seconds)) = self.habits.away.take_if(|(when, _)| *when == step) {
                self.wait(seconds);
            }
            if self.prompt() != Some((step, asked)) {
                continue;
            }
            self.trying = self.current().and_then(|step| step.trial);
            match asked {
                Asked::LeaveAlone => self.leave_alone(step),
                Asked::Full => self.hold_full(step),
                Asked::Strokes => self.stroke(step),
                Asked::Release => self.release(step),
                Asked::Shake => self.shake(step),
                Asked::Plug => self.only_the_plug(step),
                Asked::Battery => {
                    self.let_down();
                    self.wait(3.0);
                    self.sampled.on_battery = true;
                    self.wait_while(step);
                }
                Asked::Swap => self.swap_wires(step),
                Asked::Slower => {
                    let usual = std::mem::replace(&mut self.habits.stroke_s, (1.8, 2.4));
                    self.habits.clockwork_s = None;
                    self.stroke(step);
                    self.habits.stroke_s = usual;
                }
            }
            self.repeat_if_so();
        }
    }

    fn over(&self) -> bool {
        self.run.done() || self.now_ms > (ENDLESS_S * 1000.0).min(self.looked_at_ms)
    }

    fn prompt(&self) -> Option<(Step, Asked)> {
        let steps = self.run.progress();
        let current = steps.iter().find(|step| step.state == StepState::Current)?;
        Some((current.step, read(&current.instruction)))
    }

    fn remark(&self) -> String {
        let steps = self.run.progress();
        let current = steps.iter().find(|step| step.state == StepState::Current);
        current
            .and_then(|step| step.remark.clone())
            .unwrap_or_default()
    }

    /// Whether a trial is offered, and nobody has said yes.
    fn offered(&self) -> bool {
        self.current()
            .is_some_and(|step| step.trial.is_some() && step.asks())
    }

    fn current(&self) -> Option<StepProgress> {
        let mut steps = self.run.progress().into_iter();
        steps.find(|step| step.state == StepState::Current)
    }

    /// Ends the card when it is said that nothing comes of it, after some more tries.
    fn give_up_if_told(&mut self) {
        let told_so = |person: &Self| told(&person.remark(), &["the test ends here"]);
        if told_so(self) {
            self.wait(3.0);
            if told_so(self) {
                self.run.command(RunCommand::Stop);
            }
        }
    }

    fn wait_while(&mut self, step: Step) {
        while self.still_asked(step) {
            self.wait(0.05);
            self.give_up_if_told();
        }
    }

    fn still_asked(&self, step: Step) -> bool {
        let asked = |now: StepProgress| now.step == step && now.trial == self.trying;
        !self.over() && self.current().is_some_and(asked)
    }

    fn repeat_if_so(&mut self) {
        let steps = self.run.progress();
        let mut done = steps.iter().filter(|s| s.state == StepState::Done);
        let (n, last) = (done.clone().count(), done.next_back().map(|s| s.step));
        if n > self.steps_done && last.is_some() && last == self.habits.repeats && !self.over() {
            self.habits.repeats = None;
            self.run.command(RunCommand::Repeat);
        }
        self.steps_done = n;
    }

    // What the hand does.

    fn sample(&mut self, position: f64) {
        if self.over() {
            return;
        }
        let position = self.at_the_full_stop(position);
        let position = match self.sampled.control.stiff {
            Some(Stiff::Blocked) => 0.0,
            Some(Stiff::Stop(at)) => position.min(at),
            _ => position,
        };
        self.pull_if_so();
        let codes = self.sampled.read(position, self.now_ms);
        self.run.sample((self.now_ms * 1000.0) as u64, &codes);
        self.now_ms += PERIOD_MS;
        if self.now_ms % 20.0 > 0.0 {
            return;
        }
        let remark = self.remark();
        if self.remarks.last() != Some(&remark) && !remark.is_empty() {
            self.remarks.push(remark);
        }
    }

    /// Where it is when the hand has it at the full stop: that scatters from press to press, and may give way.
    fn at_the_full_stop(&mut self, position: f64) -> f64 {
        let (scatter, creep) = (
            self.sampled.control.full_scatter,
            self.sampled.control.full_creep,
        );
        if scatter <= 0.0 && creep.is_none() {
            return position;
        }
        if position < 0.9 {
            self.pressed = None;
            return position;
        }
        if self.pressed.is_none() {
            self.pressed = Some((self.now_ms, scatter * self.chance.normal()));
        }
        let (since_ms, off) = self.pressed.unwrap_or_default();
        let gives = creep.map_or(0.0, |(far, s)| {
            far * (-(self.now_ms - since_ms) / 1000.0 / s).exp()
        });
        position.min(1.0) + off - gives
    }

    /// The board's cable comes out, and in again: its clock goes on, what it sent meanwhile is lost.
    fn pull_if_so(&mut self) {
        let Some((step, after_s, for_s)) = self.habits.pulls else {
            return;
        };
        let steps = self.run.progress();
        let current = steps.iter().position(|s| s.state == StepState::Current);
        let Some(at) = current.filter(|at| steps[*at].step == step) else {
            return;
        };
        if self.asked_ms.0 != at {
            self.asked_ms = (at, self.now_ms);
        }
        if self.now_ms - self.asked_ms.1 > 1000.0 * after_s {
            self.habits.pulls = None;
            self.run.away((1000.0 * for_s) as u64);
            self.now_ms += 1000.0 * for_s;
        }
    }

    fn wait(&mut self, seconds: f64) {
        let until = self.now_ms + seconds * 1000.0;
        while self.now_ms < until && !self.over() {
            self.sample(self.at);
        }
    }

    /// A hand's movement: smooth at both ends (minimum jerk, Flash and Hogan 1985), with a tremor.
    fn go(&mut self, to: f64, seconds: f64) {
        let (from, began) = (self.at, self.now_ms);
        let tremor = self.chance.between(0.0, 0.003);
        while self.now_ms - began < seconds * 1000.0 && !self.over() {
            let s = (self.now_ms - began) / (seconds * 1000.0);
            let smooth = s * s * s * (10.0 - 15.0 * s + 6.0 * s * s);
            let shake = tremor * (4.0 * s * (1.0 - s)) * (0.05 * (self.now_ms - began)).sin();
            self.sample((from + (to - from) * smooth + shake).clamp(0.0, 1.02));
        }
        self.at = to;
    }

    /// Let go: the spring takes it home, with the bounce of the stop.
    fn snap_back(&mut self) {
        if !self.sampled.control.spring {
            let seconds = self.chance.between(0.4, 0.8);
            return self.go(0.0, seconds);
        }
        let fall_ms = match self.sampled.control.stiff {
            Some(Stiff::Slow(seconds)) => seconds * 1000.0,
            _ => self.chance.between(50.0, 110.0),
        };
        let scatter = self.sampled.control.scatter;
        self.home = match self.sampled.control.stiff {
            Some(Stiff::Hangs(far)) => self.chance.between(0.0, far),
            _ => scatter * self.chance.normal(),
        };
        let (from, home, began) = (self.at, self.home, self.now_ms);
        while self.now_ms - began < fall_ms && !self.over() {
            let s = (self.now_ms - began) / fall_ms;
            self.sample(home + (from - home) * (1.0 - s * s));
        }
        self.bounce(home, (from - home).clamp(0.0, 1.0), fall_ms, 1.0);
        self.at = home;
    }

    /// What the stop at `end` does: to the side where the travel is.
    fn bounce(&mut self, end: f64, fell: f64, fall_ms: f64, side: f64) {
        let stop = self.sampled.control.stop;
        let mut height = stop.height * fell;
        if let Some(hz) = stop.rings_hz {
            let began = self.now_ms;
            while self.now_ms - began < 400.0 && !self.over() {
                let s = (self.now_ms - began) / 1000.0;
                let swing = (2.0 * std::f64::consts::PI * hz * s).sin() * (-s / 0.07).exp();
                self.sample(end - side * height * swing);
            }
            return;
        }
        // Each bounce is a throw: a parabola, a third as high and 0.6 as long as the one before.
        let falls_ms = 2.0 * fall_ms * stop.height.sqrt();
        let mut lasts_ms = stop.ms.unwrap_or(falls_ms);
        let mut throws = 0;
        let most = stop.throws.unwrap_or(u32::MAX);
        while throws < most && height > 0.002 && lasts_ms > 2.0 && !self.over() {
            let began = self.now_ms;
            while self.now_ms - began < lasts_ms && !self.over() {
                let s = (self.now_ms - began) / lasts_ms;
                self.sample(end + side * 4.0 * height * s * (1.0 - s));
            }
            height *= 0.35;
            lasts_ms *= 0.6;
            throws += 1;
        }
    }

    /// Kicked down into the full stop.
    fn slam(&mut self) {
        let (from, began) = (self.at, self.now_ms);
        let press_ms = self.chance.between(60.0, 120.0);
        while self.now_ms - began < press_ms && !self.over() {
            let s = (self.now_ms - began) / press_ms;
            self.sample(from + (1.0 - from) * s * s);
        }
        self.bounce(1.0, 1.0 - from, press_ms, -1.0);
        self.at = 1.0;
    }

    /// Back at rest, by the hand or by itself.
    fn let_down(&mut self) {
        if self.at > 0.02 {
            self.snap_back();
        }
    }

    fn leave_alone(&mut self, step: Step) {
        if self.at > 0.02 {
            self.snap_back();
        }
        if self.habits.foot_rests > 0.0 {
            self.go(self.habits.foot_rests, 0.3);
        }
        let began = self.now_ms;
        while self.still_asked(step) {
            self.wait(0.05);
            self.give_up_if_told();
            if let Some((after_s, far)) = self.habits.foot_on
                && self.now_ms - began > after_s * 1000.0
            {
                self.habits.foot_on = None;
                self.go(far, 0.3);
                // Until a remark tells it, and as long as it takes to read that.
                self.wait(2.5);
                while self.still_asked(step) && !told(&self.remark(), &["let", "off", "alone"]) {
                    self.wait(0.1);
                }
                self.wait(0.8);
                self.snap_back();
            }
        }
    }

    fn hold_full(&mut self, step: Step) {
        let mut far = self.habits.presses_to + self.chance.between(-0.002, 0.002);
        if self.sampled.control.full_scatter > 0.0 || self.sampled.control.full_creep.is_some() {
            far = 1.0;
        }
        let press_s = self.chance.between(0.3, 0.7);
        self.go(far.min(1.0), press_s);
        if let Some(seconds) = self.habits.lets_go_s.take() {
            self.wait(seconds);
            self.snap_back();
            self.wait(0.5);
            return;
        }
        while self.still_asked(step) {
            self.wait(0.05);
            self.give_up_if_told();
            if told(&self.remark(), &["let it go once", "to zero once"]) {
                self.wait(0.4);
                self.snap_back();
                self.wait(0.4);
                return;
            }
            if far < 0.99
                && told(
                    &self.remark(),
                    &["right down", "further", "fully", "harder"],
                )
            {
                self.wait(0.7);
                (self.habits.presses_to, self.habits.carpet) = (1.0, false);
                return;
            }
        }
    }

    fn stroke(&mut self, step: Step) {
        while self.still_asked(step) {
            let top = if self.habits.carpet {
                self.habits.presses_to
            } else {
                1.0
            };
            self.strokes += 1;
            let (from, to) = self.habits.stroke_s;
            let seconds = self.chance.between(from, to);
            let mut seconds = self.habits.clockwork_s.unwrap_or(seconds);
            if self.strokes <= self.habits.fast_strokes {
                seconds = 0.12;
            }
            let half = self.strokes <= self.habits.half_strokes;
            let goal = if half { 0.55 } else { top };
            if self.at > 0.5 {
                if self.habits.snaps {
                    self.snap_back();
                } else {
                    let home = self.home.max(0.0);
                    self.go(home, seconds);
                }
            } else if self.habits.slams && self.strokes % 4 == 1 {
                self.slam();
            } else {
                self.go(goal, seconds);
                if half {
                    self.go(0.0, seconds);
                }
            }
            let turn_s = self.chance.between(0.02, 0.25);
            self.wait(if self.habits.clockwork_s.is_some() {
                0.0
            } else {
                turn_s
            });
            self.give_up_if_told();
        }
    }

    fn release(&mut self, step: Step) {
        while self.still_asked(step) {
            let press_s = self.chance.between(0.3, 0.6);
            self.go(1.0, press_s);
            // The prompt says a second.
            let hold_s = self.chance.between(0.9, 1.5);
            self.wait(hold_s);
            self.give_up_if_told();
            if !self.still_asked(step) {
                return;
            }
            self.snap_back();
            self.releases += 1;
            let hasty = self.releases <= self.habits.hasty_releases;
            let alone_s = if hasty {
                0.5
            } else {
                self.chance.between(1.1, 1.8)
            };
            self.wait(alone_s);
        }
    }

    /// Only the plug at the board is wiggled: it loses contact every second or so, when it is loose there.
    fn only_the_plug(&mut self, step: Step) {
        self.let_down();
        self.wait(0.4);
        let mut next = self.now_ms + 500.0;
        while self.still_asked(step) {
            if self.now_ms >= next {
                next = self.now_ms + 1000.0 * self.chance.between(0.5, 1.6);
                let loose = self
                    .sampled
                    .control
                    .plug
                    .filter(|_| self.sampled.control.at_plug);
                if let Some(plug) = loose {
                    self.sampled.lose(self.now_ms, plug.ms);
                }
            }
            self.wait(0.01);
        }
    }

    /// Both wires come out, one after the other, and go in the other way round; then it is pressed twice.
    fn swap_wires(&mut self, step: Step) {
        self.let_down();
        self.wait(2.0);
        for inputs in [
            [None, Some(1)],
            [None, None],
            [Some(1), None],
            [Some(1), Some(0)],
        ] {
            self.sampled.inputs = inputs.to_vec();
            self.wait(1.3);
        }
        while self.still_asked(step) {
            self.go(1.0, 0.5);
            self.wait(1.3);
            self.snap_back();
            self.wait(1.3);
        }
    }

    fn shake(&mut self, step: Step) {
        self.let_down();
        self.wait(0.4);
        let began = self.now_ms;
        let mut losses: Vec<(f64, f64)> = Vec::new();
        if let Some(plug) = self.sampled.control.plug {
            for _ in 0..plug.times {
                losses.push((began + 1000.0 * self.chance.between(0.1, 0.9), plug.ms));
            }
            losses.sort_by(|a, b| a.0.total_cmp(&b.0));
        }
        while self.still_asked(step) {
            if let Some((at, ms)) = losses.first().copied()
                && self.now_ms >= at
            {
                losses.remove(0);
                self.sampled.lose(self.now_ms, ms);
            }
            self.wait(0.01);
        }
    }
}

fn told(remark: &str, words: &[&str]) -> bool {
    let remark = remark.to_lowercase();
    words.iter().any(|word| remark.contains(word))
}
