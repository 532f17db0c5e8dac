//! What the screen costs: a frame at 200 x 60 with a million samples behind it, and (on Linux, with tmux) the real binary on a
//! board of four channels at 1 kHz: its share of one core, and the time to its first frame.
//!
//! `cargo bench --bench screen` prints all; asked for (DESIGN issue 6): a frame under 3 ms, under 10 % of one core.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use criterion::{Criterion, criterion_group};
use measure::units::{Code, Step, Track};
use pedalproof::bench::{Batch, RunEvent, StreamInfo};
use pedalproof::profile;
use pedalproof::tui::{Charset, Colour, Message, State, Theme, update, view};
use ratatui::Terminal;
use ratatui::backend::TestBackend;

/// Samples of four channels at 1 kHz, the first two of the unit's tracks: strokes of four seconds.
fn samples(from: u32, count: u32) -> Batch {
    let mut batch = Batch {
        codes: vec![Vec::new(); 4],
        ..Batch::default()
    };
    for i in from..from + count {
        let phase = i % 4000;
        let x = if phase < 2000 { phase } else { 4000 - phase } / 3;
        let wobble = i.wrapping_mul(7919) % 5;
        batch.t_us.push(u64::from(i) * 1000);
        batch.step.push(Step::Strokes);
        for (channel, low) in batch.codes.iter_mut().zip([164, 82, 1000, 500]) {
            channel.push(Code(
                low + wobble + if low < 200 { x * low / 164 } else { 0 },
            ));
        }
    }
    batch
}

/// A run of so many samples.
fn running(count: u32) -> State {
    let theme = Theme {
        charset: Charset::Unicode,
        colour: Colour::True,
    };
    let profile = profile::find("pedal-hall-two-track");
    let mut state = State::at_run(theme, profile, "bench".to_owned(), Some("T1".to_owned()));
    let channel = |name: &str, track| (name.to_owned(), track);
    let taking = StreamInfo {
        channels: vec![
            channel("pedal_a", Some(Track::One)),
            channel("pedal_b", Some(Track::Two)),
            channel("supply", None),
            channel("dial", None),
        ],
        bits: 10,
        vref_mv: 5000.0,
        rate_hz: 1000.0,
        board_time: true,
        source: "bench".to_owned(),
        tag: None,
    };
    update(&mut state, Message::Run(RunEvent::Stream(taking)));
    for from in (0..count).step_by(1000) {
        update(
            &mut state,
            Message::Run(RunEvent::Samples(samples(from, 1000))),
        );
    }
    state
}

fn frames(criterion: &mut Criterion) {
    let mut million = running(1_000_000);
    let mut draw = |name: &str, state: &State| {
        let mut terminal = Terminal::new(TestBackend::new(200, 60)).unwrap();
        criterion.bench_function(name, |bencher| {
            bencher.iter(|| {
                terminal
                    .draw(|frame| view(state, frame))
                    .map(|_| ())
                    .unwrap();
            });
        });
    };
    draw("frame 200x60, a million samples, live", &million);
    press(&mut million, 'w');
    draw(
        "frame 200x60, a million samples, all of them on it",
        &million,
    );
    criterion.bench_function("taking in 33 samples of 4 channels", |bencher| {
        let mut state = running(1000);
        let batch = samples(1000, 33);
        bencher.iter(|| update(&mut state, Message::Run(RunEvent::Samples(batch.clone()))));
    });
}

fn press(state: &mut State, key: char) {
    use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
    let key = KeyEvent::new(KeyCode::Char(key), KeyModifiers::NONE);
    update(state, Message::Key(key));
}

criterion_group!(benches, frames);

fn main() {
    benches();
    Criterion::default().configure_from_args().final_summary();
    #[cfg(target_os = "linux")]
    real::measure();
}

/// The real binary in a terminal of its own.
#[cfg(target_os = "linux")]
mod real {
    use measure::units::Code;
    use pedalproof::link::{
        Header, LineSource, Overflow, Pace, PtyBoard, StreamOptions, StreamText, Sums,
    };
    use std::process::Command;
    use std::time::{Duration, Instant};

    /// Four channels at 1 kHz, a pedal that goes up and down.
    struct Board {
        text: StreamText,
        next: u32,
        header: bool,
    }

    impl LineSource for Board {
        fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64> {
            let t_us = 1_000_000 + u64::from(self.next) * 1000;
            if self.next.is_multiple_of(1000) && !self.header {
                self.header = true;
                self.text.write_header(out);
            } else {
                let batch = super::samples(self.next, 1);
                let codes: Vec<Code> = batch.codes.iter().map(|column| column[0]).collect();
                self.text.write_sample(t_us, &codes, out);
                self.next += 1;
                self.header = false;
            }
            Some(t_us)
        }

        fn power_cycle(&mut self) {
            self.next = 0;
        }
    }

    fn tmux(arguments: &[&str]) -> String {
        let mut command = Command::new("tmux");
        command
            .args(["-u", "-f", "/dev/null", "-L", "pedalproof-bench"])
            .args(arguments);
        let message = command.env("LC_ALL", "C.UTF-8").output().unwrap();
        String::from_utf8(message.stdout).unwrap()
    }

    fn wait_for(words: &str) -> String {
        for _ in 0..3000 {
            let shown = tmux(&["capture-pane", "-p", "-t", "0"]);
            if shown.contains(words) {
                return shown;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        panic!(
            "`{words}` did not appear: {}",
            tmux(&["capture-pane", "-p", "-t", "0"])
        );
    }

    /// Seconds of processor time that a process has taken: fields 14 and 15 of /proc/PID/stat, in hundredths (proc(5)).
    fn taken(pid: &str) -> f64 {
        let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).unwrap();
        let after_name = stat.rsplit(") ").next().unwrap();
        let ticks = after_name.split(' ').skip(11).take(2);
        ticks
            .map(|ticks| ticks.parse::<f64>().unwrap())
            .sum::<f64>()
            / 100.0
    }

    pub fn measure() {
        if Command::new("tmux").arg("-V").output().is_err() {
            println!("no tmux: the real binary is not measured");
            return;
        }
        let line = b"# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,pedal_a,pedal_b,supply,dial";
        let header: Header = StreamOptions::default().header_from(line).unwrap();
        let board = Board {
            text: StreamText::new(header, Sums::With),
            next: 0,
            header: false,
        };
        let board = PtyBoard::start(board, Pace::Times(1.0), Overflow::DropLines).unwrap();
        let folder = tempfile::tempdir().unwrap();
        let command = format!(
            "cd {0} && exec env PEDALPROOF_STATE={0} PEDALPROOF_RECORDS={0} {1} --port {2}",
            folder.path().display(),
            env!("CARGO_BIN_EXE_pedalproof"),
            board.path().display()
        );
        let began = Instant::now();
        tmux(&["new-session", "-d", "-x", "200", "-y", "60", &command]);
        wait_for("What shall we");
        println!("start to first frame, tmux and all: {:?}", began.elapsed());
        tmux(&["send-keys", "-t", "0", "Enter"]);
        wait_for("Which unit");
        tmux(&["send-keys", "-t", "0", "Enter"]);
        wait_for(" live ");
        let pid = tmux(&["list-panes", "-F", "#{pane_pid}"]);
        let pid = pid.trim();
        std::thread::sleep(Duration::from_secs(3));
        for round in 1..=3 {
            let (before, began) = (taken(pid), Instant::now());
            std::thread::sleep(Duration::from_secs(10));
            let share = (taken(pid) - before) / began.elapsed().as_secs_f64() * 100.0;
            println!("200x60, 4 channels x 1 kHz, ten seconds ({round}): {share:.1} % of one core");
        }
        tmux(&["kill-server"]);
    }
}
