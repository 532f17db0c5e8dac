//! Known positions without the screen, on a pseudo-terminal: the truth of a bowed, of a played and of a wrongly set control
//! comes back through the whole way. The dial, its wiper and its board are modelled here and share no code with what is tested;
//! the person reads what the program says and does that, or goes by the clock.
#![cfg(unix)]

use crate::support::program::{pedalproof, program, stdout};
use pedalproof::link::{LineSource, Overflow, Pace, PtyBoard};
use serde_json::Value;
use std::f64::consts::PI;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{ChildStdin, Stdio};
use std::sync::{Arc, Mutex};

const RATE_HZ: f64 = 500.0;
/// How much faster than life.
const SPEED: f64 = 12.0;

/// What the hand is doing.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Doing {
    /// At this place of the travel, 0 to 1.
    At(f64),
    /// From end to end and back.
    Strokes,
    /// A tenth on, two seconds still, to the end and back.
    Ladder,
    /// To the first place and, a moment later, to the second.
    Via(f64, f64),
}

/// A dial of 12 bits: 4 % to 95 % of the ruler, bowed by `bow` of span in the middle, with a wiper that follows the knob only
/// when `play` of travel is taken up; beside it a sensor of its own ruler that follows the knob itself.
struct Dial {
    bow: f64,
    play: f64,
    noise: f64,
    doing: Arc<Mutex<Doing>>,
    /// Whether the sensor is there.
    sensor: bool,
    wiper: f64,
    from: f64,
    to: f64,
    /// Samples into the movement, its length, and those it then stands still.
    into: f64,
    length: f64,
    still: f64,
    upwards: bool,
    n: u64,
    chance: u64,
}

impl Dial {
    fn new(bow: f64, play: f64, doing: &Arc<Mutex<Doing>>) -> Self {
        Self {
            bow,
            play,
            noise: 1.5,
            doing: Arc::clone(doing),
            sensor: false,
            wiper: 0.0,
            from: 0.0,
            to: 0.0,
            into: 0.0,
            length: 0.0,
            still: 2.0 * RATE_HZ,
            upwards: true,
            n: 0,
            chance: 0x9E37_79B9_7F4A_7C15,
        }
    }

    /// Uniform in -0.5 .. 0.5: xorshift64 (Marsaglia, Journal of Statistical Software 8(14), 2003).
    fn uniform(&mut self) -> f64 {
        self.chance ^= self.chance << 13;
        self.chance ^= self.chance >> 7;
        self.chance ^= self.chance << 17;
        (self.chance >> 11) as f64 / (1u64 << 53) as f64 - 0.5
    }

    /// Sum of twelve uniforms: variance 1.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum()
    }

    fn go(&mut self, to: f64, seconds: f64, still_s: f64) {
        (self.from, self.to) = (self.to, to);
        (self.into, self.length) = (0.0, seconds * RATE_HZ);
        self.still = still_s * RATE_HZ;
    }

    /// Where the knob stands now.
    fn knob(&mut self) -> f64 {
        if self.into < self.length {
            self.into += 1.0;
            let part = self.into / self.length;
            return self.from + (self.to - self.from) * (1.0 - (PI * part).cos()) / 2.0;
        }
        self.still -= 1.0;
        let here = self.to;
        if self.still <= 0.0 {
            let doing = *self.doing.lock().unwrap();
            match doing {
                Doing::At(to) if (to - self.to).abs() > 1e-9 => self.go(to, 0.5, 0.2),
                Doing::At(_) => {}
                Doing::Via(first, _) if (first - self.to).abs() > 1e-9 => self.go(first, 0.7, 1.0),
                Doing::Via(_, then) => *self.doing.lock().unwrap() = Doing::At(then),
                Doing::Strokes => {
                    let to = if self.to > 0.5 { 0.0 } else { 1.0 };
                    self.go(to, 1.0, 0.2);
                }
                Doing::Ladder => {
                    self.upwards = if self.upwards {
                        self.to < 0.95
                    } else {
                        self.to < 0.05
                    };
                    let to =
                        ((self.to * 10.0).round() + if self.upwards { 1.0 } else { -1.0 }) / 10.0;
                    self.go(to, 0.5, 2.0);
                }
            }
        }
        here
    }
}

impl LineSource for Dial {
    fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64> {
        let t_us = 5_000_000 + self.n * 2000;
        if self.n.is_multiple_of(500) {
            let angle = if self.sensor { ",angle" } else { "" };
            let header = "# pedalproof 1 bits=12 vref_mv=5000 rate_hz=500 cols=t_us,dial";
            out.extend(format!("{header}{angle}\n").as_bytes());
        }
        self.n += 1;
        let knob = self.knob();
        let half = self.play / 2.0;
        self.wiper = self.wiper.clamp(knob - half, knob + half);
        let x = self.wiper;
        let share = x + self.bow * 4.0 * x * (1.0 - x);
        let noise = self.noise * self.normal();
        let code = 4096.0 * (0.04 + 0.91 * share) + noise;
        out.extend(format!("{t_us},{:.0}", code.round()).as_bytes());
        if self.sensor {
            let angle = 300.0 + 3000.0 * knob + 0.7 * self.normal();
            out.extend(format!(",{:.0}", angle.round()).as_bytes());
        }
        out.push(b'\n');
        Some(t_us)
    }
}

/// What the person does on hearing a line, other than what the program asks for.
type Aside<'a> = &'a mut dyn FnMut(&str, &mut ChildStdin, &PtyBoard);

/// Records a dial with `arguments`; gives all that was said.
fn recorded(dir: &Path, dial: Dial, pace: Pace, arguments: &[&str], aside: Aside<'_>) -> String {
    let doing = Arc::clone(&dial.doing);
    let by_clock = pace == Pace::AsRead;
    let board = PtyBoard::start(dial, pace, Overflow::Wait).unwrap();
    let port = board.path().to_string_lossy().into_owned();
    let mut child = program(dir)
        .args(["record", "--port", &port, "--out", "x"])
        .args(arguments)
        .stdin(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let mut said = String::new();
    for line in BufReader::new(child.stderr.take().unwrap()).lines() {
        let line = line.unwrap();
        let will = |what| *doing.lock().unwrap() = what;
        if by_clock {
        } else if let Some(way) = sent_back(&line) {
            will(way);
        } else if let Some(place) = asked(&line) {
            will(Doing::At(place / 100.0));
        } else if line.contains(" rest:") || line.contains(" shake:") {
            will(Doing::At(0.0));
        } else if line.contains(" full:") {
            will(Doing::At(1.0));
        } else if line.contains(" strokes:") {
            will(Doing::Strokes);
        } else if line.contains("by about a tenth") {
            will(Doing::Ladder);
        }
        aside(&line, &mut stdin, &board);
        said += &line;
        said.push('\n');
    }
    assert!(child.wait().unwrap().success(), "{said}");
    said
}

/// The position that a line asks for: `3 of 21: Up to 20 %, and let it stand.`
fn asked(line: &str) -> Option<f64> {
    let (_, rest) = line.split_once(" of ")?.1.split_once(": ")?;
    let words = ["Set it to ", "Up to ", "Down to "];
    let rest = words.iter().find_map(|word| rest.strip_prefix(word))?;
    rest.split(' ').next()?.parse().ok()
}

/// `go back to 40 deg, then to 60 deg`.
fn sent_back(line: &str) -> Option<Doing> {
    let (back, then) = line.split_once("go back to ")?.1.split_once(", then to ")?;
    let number = |text: &str| text.split(' ').next()?.parse::<f64>().ok();
    Some(Doing::Via(number(back)? / 100.0, number(then)? / 100.0))
}

fn nothing(_: &str, _: &mut ChildStdin, _: &PtyBoard) {}

fn assessed(dir: &Path, profile: &[&str]) -> Value {
    let arguments = [&["assess", "x.csv", "--json"], profile].concat();
    serde_json::from_str(&stdout(&pedalproof(dir, &arguments))).unwrap()
}

/// Holds the interval of a figure of the dial against the truth, `widths` of it away from the value at most.
fn holds(assessment: &Value, figure: &str, truth: f64, widths: f64) {
    let figure_of = &assessment["channels"]["dial"]["figures"][figure];
    let number = |key: &str| figure_of[key].as_f64().unwrap();
    let (value, low, high) = (number("value"), number("low"), number("high"));
    println!("{figure}: {value:.4}, {low:.4} .. {high:.4}, truth {truth:.4}");
    let (low, high) = (
        value - widths * (value - low),
        value + widths * (high - value),
    );
    assert!(
        low <= truth && truth <= high,
        "{figure}: {low} .. {high}, truth {truth}"
    );
    assert!(
        high - low < 0.3 * widths,
        "{figure}: {low} .. {high} says little"
    );
}

fn metadata(dir: &Path) -> Value {
    let text = std::fs::read_to_string(dir.join("x.csv-metadata.json")).unwrap();
    serde_json::from_str::<Value>(&text).unwrap()["pedalproof"].clone()
}

/// Rows of a step: (position, code of the dial).
fn rows(dir: &Path, step: &str) -> Vec<(String, f64)> {
    let text = std::fs::read_to_string(dir.join("x.csv")).unwrap();
    let rows = text
        .lines()
        .skip(1)
        .map(|row| row.split(',').collect::<Vec<_>>());
    let of_step = rows.filter(|row| row[1] == step);
    of_step
        .map(|row| (row[row.len() - 1].to_owned(), row[2].parse().unwrap()))
        .collect()
}

/// The person does what is asked when they have read it, so no two runs are the same: a 95 % interval misses one truth in twenty.
/// Twice as wide it misses one in ten thousand.
const PROMPTED: f64 = 2.0;
const PACED: Pace = Pace::Times(SPEED);

/// A parabola of height b over its ends, by hand. Straightest line: b / 2. Least squares over eleven tenths: the mean of
/// 4 x (1 - x) is 0.6, the ends lie 0.6 b below it. Through both ends: b. Through rest: slope s with (4 - s) x - 4 x^2 at 0.4
/// equal to s at 1: s = 0.96 / 1.4.
fn holds_bow(assessment: &Value, b: f64, widths: f64) {
    holds(assessment, "linearity_independent", b / 2.0, widths);
    holds(assessment, "linearity_best_fit", 0.6 * b, widths);
    holds(assessment, "linearity_terminal", b, widths);
    holds(assessment, "linearity_zero_based", 0.96 / 1.4 * b, widths);
}

/// The hand goes by the clock and the board as fast as it is read: the same stream every time.
#[test]
fn the_bow_of_a_dial_comes_back_within_its_intervals() {
    let dir = tempfile::tempdir().unwrap();
    let dial = Dial::new(0.015, 0.0, &Arc::new(Mutex::new(Doing::Ladder)));
    let stations = ["--stations", "0,10,...,100,...,0"];
    recorded(dir.path(), dial, Pace::AsRead, &stations, &mut nothing);
    let assessment = assessed(dir.path(), &[]);
    holds_bow(&assessment, 1.5, 1.0);
    holds(&assessment, "hysteresis", 0.0, 1.0);
    let reference = &metadata(dir.path())["ref"];
    assert_eq!(reference["unit"], "%");
    assert_eq!(
        (reference["low"].as_f64(), reference["high"].as_f64()),
        (Some(0.0), Some(100.0))
    );
    let stations = rows(dir.path(), "stations");
    assert!(stations.len() > 21 * 300 && stations.iter().all(|(at, _)| !at.is_empty()));
    assert!(rows(dir.path(), "idle").iter().all(|(at, _)| at.is_empty()));
}

/// On the way up the wiper is half the play behind, on the way down half before: the difference is the play, 0.8 % of travel. The ends
/// are reached from below and from above, so 100 % is the way from 0.4 % to 99.6 %.
#[test]
fn the_play_of_a_dial_comes_back_within_its_interval() {
    let dir = tempfile::tempdir().unwrap();
    let dial = Dial::new(0.0, 0.008, &Arc::new(Mutex::new(Doing::Ladder)));
    let stations = ["--stations", "0,10,...,100,...,0 deg ±0.02"];
    recorded(dir.path(), dial, Pace::AsRead, &stations, &mut nothing);
    let assessment = assessed(dir.path(), &[]);
    holds(&assessment, "hysteresis", 0.8 / 0.992, 1.0);
    let reference = &metadata(dir.path())["ref"];
    assert_eq!(
        (&reference["unit"], reference["u"].as_f64()),
        (&Value::from("deg"), Some(0.02))
    );
}

#[test]
fn a_three_wire_dial_passes() {
    let dir = tempfile::tempdir().unwrap();
    let dial = Dial::new(0.015, 0.0, &Arc::new(Mutex::new(Doing::At(0.0))));
    let card = [
        "--profile",
        "dial-three-wire",
        "--stations",
        "0,10,...,100,...,0",
    ];
    let said = recorded(dir.path(), dial, PACED, &card, &mut nothing);
    let assessment = assessed(dir.path(), &["--profile", "dial-three-wire"]);
    assert!(
        said.contains("1 of 21: Set it to 0 %") && said.contains("12 of 21: Down to 90 %"),
        "{said}"
    );
    holds_bow(&assessment, 1.5, PROMPTED);
    assert_eq!(
        assessment["verdict"], "pass",
        "{said}\n{:#}",
        assessment["findings"]
    );
    assert!(
        rows(dir.path(), "strokes")
            .iter()
            .all(|(at, _)| at.is_empty())
    );
}

#[test]
fn a_sensor_on_the_same_shaft_says_where_it_stands() {
    let dir = tempfile::tempdir().unwrap();
    let dial = Dial {
        sensor: true,
        ..Dial::new(0.0, 0.004, &Arc::new(Mutex::new(Doing::At(0.0))))
    };
    let card = [
        "--profile",
        "dial-three-wire",
        "--channel",
        "angle=reference",
    ];
    let said = recorded(dir.path(), dial, PACED, &card, &mut nothing);
    // The dial's board is straight; unsaid, the rest end is too near its limit for a usual one.
    let straight = ["--profile", "dial-three-wire", "--inl-codes", "0.5"];
    let assessment = assessed(dir.path(), &straight);
    holds(&assessment, "hysteresis", 0.4 / 0.998, PROMPTED);
    assert_eq!(
        assessment["verdict"], "pass",
        "{said}\n{:#}",
        assessment["findings"]
    );
    let meta = metadata(dir.path());
    assert_eq!(meta["ref"]["unit"], "code");
    assert_eq!(meta["channels"]["angle"]["role"], "reference");
    // In every sample: strokes are measured against it as well.
    let text = std::fs::read_to_string(dir.path().join("x.csv")).unwrap();
    assert!(
        text.starts_with("t_us,step,dial,angle,ref"),
        "{}",
        &text[..60]
    );
    let same = |row: &str| row.split(',').nth(3) == row.split(',').nth(4);
    let other = text.lines().skip(1).find(|row| !same(row));
    assert_eq!(other, None);
}

/// The person types the list, then letters and a position that the scale does not have; then sees that the knob stood at 55
/// when 60 was taken, takes that back and goes on. Nothing of the others is lost.
#[test]
fn typed_positions_letters_and_one_taken_back() {
    let dir = tempfile::tempdir().unwrap();
    let mut wrong = false;
    let mut aside = |line: &str, stdin: &mut ChildStdin, _: &PtyBoard| {
        let mut say = |words: &str| writeln!(stdin, "{words}").unwrap();
        if line.starts_with("type the positions") {
            say("sixty");
            say("500,510,520,...");
            say("0,20,...,100,...,0 deg");
        } else if line.contains("4 of 11: Up to 60") {
            say("400");
        } else if line.contains("5 of 11: Up to 80") && !wrong {
            wrong = true;
            say("back");
        }
    };
    let card = ["--profile", "dial-three-wire"];
    let dial = Dial::new(0.02, 0.0, &Arc::new(Mutex::new(Doing::At(0.0))));
    let said = recorded(dir.path(), dial, PACED, &card, &mut aside);
    for words in [
        "`sixty` is no position",
        "leads nowhere",
        "400 deg is not on the scale from 0 deg to 100 deg",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    // On a slow machine the next one stands by then: it is taken back, and has no samples yet that could be set aside.
    let taken_back =
        |from, to| format!("taken back: go back to {from} deg, then to {to} deg again");
    if said.contains(&taken_back(40, 60)) {
        let aside = metadata(dir.path())["set_aside"].clone();
        assert!(
            aside.as_array().is_some_and(|all| !all.is_empty()),
            "{aside}"
        );
    } else {
        assert!(said.contains(&taken_back(60, 80)), "{said}");
    }
    let assessment = assessed(dir.path(), &["--profile", "dial-three-wire"]);
    holds(
        &assessment,
        "linearity_terminal",
        4.0 * 0.6 * 0.4 * 2.0,
        PROMPTED,
    );
}

/// Nobody says anything and nobody can: the step ends with words.
#[test]
fn without_positions_the_step_is_left_out_and_told() {
    let dir = tempfile::tempdir().unwrap();
    let doing = Arc::new(Mutex::new(Doing::At(0.0)));
    let board = PtyBoard::start(
        Dial::new(0.0, 0.0, &doing),
        Pace::Times(SPEED),
        Overflow::Wait,
    )
    .unwrap();
    let port = board.path().to_string_lossy().into_owned();
    let text = include_str!("../../../profiles/dial-three-wire.json");
    let mut profile: Value = serde_json::from_str(text).unwrap();
    profile["card"] = serde_json::json!(["rest", "stations"]);
    std::fs::write(dir.path().join("p.json"), profile.to_string()).unwrap();
    let ran = pedalproof(
        dir.path(),
        &format!("record --port {port} --out x --profile p.json"),
    );
    let said = String::from_utf8_lossy(&ran.stderr);
    assert!(
        ran.status.success() && said.contains("no more known positions were stated"),
        "{said}"
    );
    for (arguments, words) in [
        (["--steps", "rest=2,stations=9"], "not taken by the clock"),
        (["--stations", "0,...,100"], "two positions come before"),
    ] {
        let ran = pedalproof(
            dir.path(),
            &[&["record", "--port", &port, "--out", "y"], &arguments[..]].concat(),
        );
        let said = String::from_utf8_lossy(&ran.stderr).into_owned();
        assert!(
            ran.status.code() == Some(2) && said.contains(words),
            "{said}"
        );
    }
}

/// Some seconds of board time are gone, a twentieth of the run: the card has taken again what was under way, and the verdict
/// lacks nothing.
#[test]
fn a_pulled_cable_does_not_cost_the_verdict() {
    let dir = tempfile::tempdir().unwrap();
    let mut pulled = false;
    let mut aside = |line: &str, _: &mut ChildStdin, board: &PtyBoard| {
        if line.contains("7 of 21") && !std::mem::replace(&mut pulled, true) {
            board.unplug().unwrap();
            std::thread::sleep(std::time::Duration::from_millis(900));
            board.replug().unwrap();
        }
    };
    let dial = Dial::new(0.015, 0.0, &Arc::new(Mutex::new(Doing::At(0.0))));
    let card = [
        "--profile",
        "dial-three-wire",
        "--stations",
        "0,10,...,100,...,0",
    ];
    let said = recorded(dir.path(), dial, PACED, &card, &mut aside);
    let stream = &metadata(dir.path())["stream"];
    println!("{stream}");
    let (missing, away) = (
        stream["missing"].as_u64().unwrap(),
        stream["away"].as_u64().unwrap(),
    );
    assert!(missing > 500 && away == missing, "{stream}");
    let assessment = assessed(dir.path(), &["--profile", "dial-three-wire"]);
    holds_bow(&assessment, 1.5, PROMPTED);
    assert_eq!(
        assessment["verdict"], "pass",
        "{said}\n{:#}",
        assessment["findings"]
    );
}
