//! A workshop of our own: a part, a hand, a room and a board whose truth is known.
//!
//! It shares no model with `crates/simulator`: other strokes (several hand shapes, tremor, pauses, ends not always reached),
//! white and 1/f noise, wear with a part locked to the place, bumps, ripple, contact lost at a place or under the shake,
//! spikes and bursts in time, mains lines, an alias, an ADC of 8 to 16 bits that may have wide codes.

use measure::figure::FigureName as Name;
use measure::judge::{Limit, Outcome, Verdict, decide, verdict, without_room};
use measure::units::{Code, Passage, Scale, Step, Track};
use measure::{BoardFacts, Channel, Measured, Recording, figures};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::f64::consts::TAU;

/// Wear of one stretch of travel.
#[derive(Debug, Clone, Copy)]
pub struct Worn {
    /// % of travel.
    pub from: f64,
    pub to: f64,
    /// Noise there over the noise elsewhere.
    pub ratio: f64,
    /// Share of the excess variance that is a fixed pattern of the place; the rest is fresh in every sample.
    pub locked: f64,
    /// Whether the fresh part is there while nothing moves, too.
    pub still: bool,
}

/// Contact lost at a place.
#[derive(Debug, Clone, Copy)]
pub struct Lost {
    /// % of travel.
    pub at: f64,
    pub ms: f64,
    /// Chance at each crossing.
    pub chance: f64,
    /// Crossings of one direction only.
    pub up_only: bool,
    /// Depth as a share of the way to ground.
    pub depth: f64,
}

/// A bump of the track, raised cosine: place, width and height, all in %.
#[derive(Debug, Clone, Copy)]
pub struct Bump {
    pub at: f64,
    pub width: f64,
    pub height: f64,
}

/// What comes from outside at any time.
#[derive(Debug, Clone, Copy, Default)]
pub struct Room {
    /// Mean seconds between spikes of one sample, and their size in codes of ten bits.
    pub spikes: Option<(f64, f64)>,
    /// The same for bursts of noise: seconds between, milliseconds, rms in codes of ten bits.
    pub bursts: Option<(f64, f64, f64)>,
    /// Bursts that come once in each period of the hand, at its own phase.
    pub in_step: bool,
    /// A line: Hz and rms in codes of ten bits.
    pub line: Option<(f64, f64)>,
    /// The line is rectified: 2 f with its multiples.
    pub rectified: bool,
    /// Spikes and bursts at an even rate rather than at random.
    pub even: bool,
}

/// A part and everything around it. Levels are shares of the ADC's range.
#[derive(Debug, Clone)]
pub struct Bench {
    pub bits: u32,
    pub rate_hz: f64,
    pub rest: f64,
    pub full: f64,
    /// White noise in codes of the board.
    pub noise: f64,
    /// Noise of equal power in every octave below 60 Hz, rms in codes of the board.
    pub pink: f64,
    /// Strokes, there and back counted as two; a hand's usual seconds for one.
    pub strokes: usize,
    pub stroke_s: f64,
    pub worn: Vec<Worn>,
    pub bumps: Vec<Bump>,
    /// Ripple of the track: period and peak-to-peak, %.
    pub ripple: Option<(f64, f64)>,
    pub lost: Option<Lost>,
    /// Contacts lost under the shake: how many, milliseconds each.
    pub shaken: Option<(usize, f64)>,
    pub room: Room,
    /// Wide codes of the ADC and their widths.
    pub wide: Vec<(u32, f64)>,
    /// A second track at half slope, without the first one's faults.
    pub twin: bool,
}

impl Default for Bench {
    fn default() -> Self {
        Self {
            bits: 10,
            rate_hz: 1000.0,
            rest: 0.1,
            full: 0.88,
            noise: 0.7,
            pink: 0.2,
            strokes: 12,
            stroke_s: 0.8,
            worn: Vec::new(),
            bumps: Vec::new(),
            ripple: None,
            lost: None,
            shaken: None,
            room: Room::default(),
            wide: Vec::new(),
            twin: false,
        }
    }
}

/// A capture with its truth.
pub struct Taken {
    pub codes: Vec<Code>,
    pub second: Option<Vec<Code>>,
    pub t_us: Vec<u64>,
    pub passages: Vec<Passage>,
    scale: Scale,
    rate_hz: f64,
    /// True travel of each sample, %.
    pub travel: Vec<f64>,
    /// What the contact adds while it moves, % of span: wear, bumps, ripple, lost contact.
    pub contact: Vec<f64>,
    /// The strokes that the hand made, as samples.
    pub made: Vec<std::ops::Range<usize>>,
}

fn gauss(random: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(random)
}

/// 1/f noise of unit rms below 60 Hz: first-order noises an octave apart.
struct Pink {
    states: Vec<(f64, f64)>,
}

impl Pink {
    fn new(rate_hz: f64, random: &mut ChaCha8Rng) -> Self {
        let corner = |k: i32| 60.0 / 2.0_f64.powi(k);
        let states = (0..10)
            .map(|k| ((-TAU * corner(k) / rate_hz).exp(), gauss(random)))
            .collect();
        Self { states }
    }

    fn next(&mut self, random: &mut ChaCha8Rng) -> f64 {
        let n = self.states.len() as f64;
        let mut sum = 0.0;
        for (phi, state) in &mut self.states {
            *state = *phi * *state + (1.0 - *phi * *phi).sqrt() * gauss(random);
            sum += *state;
        }
        sum / n.sqrt()
    }
}

/// How far a hand has come at a share of its time: five habits.
fn shape(habit: u32, t: f64) -> f64 {
    let jerk = |t: f64| t.powi(3) * (10.0 - 15.0 * t + 6.0 * t * t);
    match habit {
        0 => jerk(t),
        // Quick to begin, slow to end, and the other way round.
        1 => 1.0 - (1.0 - t).powi(2) * (1.0 + 2.0 * t) * (1.0 - 0.3 * t * (1.0 - t)),
        2 => jerk(t.powf(1.3)),
        // Two moves with a slow middle.
        3 => {
            0.5 * (jerk((2.0 * t).min(1.0)) * 0.9 + 0.1 * 2.0 * t.min(0.5))
                + 0.5 * (jerk((2.0 * t - 1.0).max(0.0)) * 0.9 + 0.1 * (2.0 * t - 1.0).max(0.0))
        }
        // Even in the middle, rounded at both ends.
        _ => t - (TAU * t).sin() / TAU * 0.95,
    }
}

struct Hand {
    dt: f64,
    travel: Vec<f64>,
    passages: Vec<Passage>,
    made: Vec<std::ops::Range<usize>>,
    random: ChaCha8Rng,
}

impl Hand {
    fn at(&self) -> f64 {
        self.travel.last().copied().unwrap_or(0.0)
    }

    fn stay(&mut self, seconds: f64) {
        let at = self.at();
        let count = (seconds / self.dt).round() as usize;
        self.travel.extend(std::iter::repeat_n(at, count));
    }

    fn go(&mut self, to: f64, seconds: f64) {
        let (from, count) = (self.at(), (seconds / self.dt).round() as usize);
        let habit = self.random.random_range(0..5);
        let tremor = self.random.random_range(0.02..0.12) * (to - from).abs() / 100.0;
        let (hz, phase) = (
            self.random.random_range(7.0..11.0),
            self.random.random_range(0.0..TAU),
        );
        for i in 1..=count {
            let t = i as f64 / count as f64;
            let edge = (8.0 * t).min(8.0 * (1.0 - t)).clamp(0.0, 1.0);
            let shiver = tremor * edge * edge * (TAU * hz * i as f64 * self.dt + phase).sin();
            self.travel
                .push(from + (to - from) * shape(habit, t) + shiver);
        }
    }

    fn step(&mut self, step: Step, act: impl FnOnce(&mut Self)) {
        let start = self.travel.len();
        act(self);
        let range = start..self.travel.len();
        if !range.is_empty() {
            self.passages.push(Passage { step, range });
        }
    }

    /// The whole card.
    fn card(&mut self, bench: &Bench) {
        self.step(Step::Rest, |hand| {
            hand.travel.push(0.0);
            hand.stay(2.0);
        });
        self.step(Step::Idle, |hand| hand.go(100.0, 0.7));
        self.step(Step::Full, |hand| hand.stay(2.0));
        self.step(Step::Idle, |hand| {
            hand.go(0.0, 0.9);
            hand.stay(0.5);
        });
        self.step(Step::Strokes, |hand| {
            for stroke in 0..bench.strokes {
                let to = if stroke % 2 == 0 { 100.0 } else { 0.0 };
                let seconds = bench.stroke_s * hand.random.random_range(0.75..1.3);
                let from = hand.travel.len();
                hand.go(to, seconds);
                hand.made.push(from..hand.travel.len());
                let seconds = hand.random.random_range(0.05..0.35);
                hand.stay(seconds);
            }
        });
        for _ in 0..4 {
            self.step(Step::Release, |hand| {
                hand.go(100.0, 0.6);
                hand.stay(0.5);
                let (from, tau) = (hand.at(), 0.02);
                let count = (0.3 / hand.dt).round() as usize;
                for i in 1..=count {
                    hand.travel.push(from * (-(i as f64) * hand.dt / tau).exp());
                }
                hand.travel.push(0.0);
                hand.stay(1.1);
            });
        }
        self.step(Step::Shake, |hand| hand.stay(4.0));
    }
}

/// The times at which something comes, in seconds.
fn times(every_s: f64, even: bool, until_s: f64, random: &mut ChaCha8Rng) -> Vec<f64> {
    let mut out = Vec::new();
    let mut t = every_s * random.random_range(0.0..1.0);
    while t < until_s {
        out.push(t);
        t += if even {
            every_s
        } else {
            -every_s * (1.0 - random.random_range(0.0..1.0_f64)).ln()
        };
    }
    out
}

impl Bench {
    /// Codes of this board for one of ten bits.
    pub fn ten_bits(&self) -> f64 {
        2.0_f64.powi(self.bits as i32 - 10)
    }

    fn span(&self) -> f64 {
        (self.full - self.rest) * 2.0_f64.powi(self.bits as i32)
    }

    /// One sample as the ADC reads it.
    fn read(&self, level: f64) -> Code {
        let top = 2.0_f64.powi(self.bits as i32) - 1.0;
        if self.wide.is_empty() {
            return Code(level.round().clamp(0.0, top) as u32);
        }
        // Transitions: every code one width, the wide ones theirs, all together the whole range.
        let extra: f64 = self.wide.iter().map(|(_, width)| width - 1.0).sum();
        let usual = 1.0 - extra / (top + 1.0 - self.wide.len() as f64);
        let x = level + 0.5;
        let (mut code, mut begins) = (0_u32, 0.0);
        for (wide, width) in &self.wide {
            let here = begins + f64::from(wide - code) * usual;
            if x < here {
                break;
            }
            if x < here + width {
                return Code(*wide);
            }
            (code, begins) = (wide + 1, here + width);
        }
        Code((f64::from(code) + ((x - begins) / usual).floor()).clamp(0.0, top) as u32)
    }

    /// What the room adds, in codes.
    fn room(&self, hand: &Hand, random: &mut ChaCha8Rng) -> Vec<f64> {
        let (n, dt) = (hand.travel.len(), hand.dt);
        let mut out = vec![0.0; n];
        let until = n as f64 * dt;
        if let Some((every, size)) = self.room.spikes {
            for t in times(every, self.room.even, until, random) {
                let sign = if random.random_bool(0.5) { 1.0 } else { -1.0 };
                if let Some(at) = out.get_mut((t / dt) as usize) {
                    *at += sign * size * self.ten_bits();
                }
            }
        }
        if let Some((every, ms, rms)) = self.room.bursts {
            let begins = if self.room.in_step {
                let phase = random.random_range(0.15..0.85);
                let strokes = hand.made.iter().step_by(2);
                let inside =
                    |r: &std::ops::Range<usize>| (r.start as f64 + phase * r.len() as f64) * dt;
                strokes.map(inside).collect()
            } else {
                times(every, self.room.even, until, random)
            };
            for t in begins {
                let from = (t / dt) as usize;
                let to = (((t + ms / 1000.0) / dt) as usize).min(n);
                for code in out.iter_mut().take(to).skip(from) {
                    *code += rms * self.ten_bits() * gauss(random);
                }
            }
        }
        if let Some((hz, rms)) = self.room.line {
            let phase = random.random_range(0.0..TAU);
            let off = 1.0 + random.random_range(-0.002..0.002);
            for (i, at) in out.iter_mut().enumerate() {
                let wave = (TAU * hz * off * i as f64 * dt + phase).sin();
                // Of |sin| the mean is 2/pi and the rms about it 0.3078.
                let wave = if self.room.rectified {
                    (wave.abs() - std::f64::consts::FRAC_2_PI) / 0.3078
                } else {
                    wave * 2.0_f64.sqrt()
                };
                *at += rms * self.ten_bits() * wave;
            }
        }
        out
    }

    /// What the contact adds, in codes.
    fn contact(&self, hand: &Hand, random: &mut ChaCha8Rng) -> Vec<f64> {
        let travel = &hand.travel;
        let span = self.span();
        let locked: Vec<f64> = (0..2100).map(|_| gauss(random)).collect();
        let mut out = vec![0.0; travel.len()];
        for (i, &at) in travel.iter().enumerate() {
            let moving = i > 0 && (at - travel[i - 1]).abs() > 1e-9;
            for worn in &self.worn {
                if !(worn.from..worn.to).contains(&at.clamp(0.0, 99.999)) {
                    continue;
                }
                let excess = (worn.ratio * worn.ratio - 1.0).sqrt() * self.noise;
                let cell = ((at + 2.0) * 20.0).clamp(0.0, 2098.0);
                out[i] += excess * worn.locked.sqrt() * locked[cell as usize];
                if moving || worn.still {
                    out[i] += excess * (1.0 - worn.locked).sqrt() * gauss(random);
                }
            }
            for bump in &self.bumps {
                let x = (at - bump.at) / bump.width;
                if x.abs() < 0.5 {
                    out[i] += bump.height / 100.0 * span * 0.5 * (1.0 + (TAU * x).cos());
                }
            }
            if let Some((period, peak)) = self.ripple {
                out[i] += peak / 100.0 * span / 2.0 * (TAU * at / period).sin();
            }
        }
        let mut lose = |from: usize, ms: f64, depth: f64| {
            let count = (ms / 1000.0 / hand.dt).round().max(1.0) as usize;
            for at in from..(from + count).min(out.len()) {
                let level = self.rest * 2.0_f64.powi(self.bits as i32) + travel[at] / 100.0 * span;
                out[at] = -depth * level;
            }
        };
        if let Some(lost) = self.lost {
            for i in 1..travel.len() {
                let up = travel[i - 1] < lost.at && travel[i] >= lost.at;
                let down = travel[i - 1] > lost.at && travel[i] <= lost.at;
                if (up || (down && !lost.up_only)) && random.random_bool(lost.chance) {
                    lose(i, lost.ms, lost.depth);
                }
            }
        }
        if let Some((count, ms)) = self.shaken
            && let Some(shake) = hand.passages.iter().find(|p| p.step == Step::Shake)
        {
            for k in 0..count {
                let part = (k as f64 + random.random_range(0.1..0.9)) / count as f64;
                let at = shake.range.start + (part * (shake.range.len() as f64 - 60.0)) as usize;
                lose(at, ms, 1.0);
            }
        }
        out
    }

    /// A whole card.
    pub fn take(&self, seed: u64) -> Taken {
        let mut hand = Hand {
            dt: 1.0 / self.rate_hz,
            travel: Vec::new(),
            passages: Vec::new(),
            made: Vec::new(),
            random: ChaCha8Rng::seed_from_u64(seed ^ 0x5eed_0001),
        };
        hand.card(self);
        let mut random = ChaCha8Rng::seed_from_u64(seed.wrapping_mul(7919) ^ 0x5eed_0002);
        let room = self.room(&hand, &mut random);
        let contact = self.contact(&hand, &mut random);
        let range = 2.0_f64.powi(self.bits as i32);
        let span = self.span();
        let mut pink = Pink::new(self.rate_hz, &mut random);
        let rest = self.rest * range + random.random_range(-0.5..0.5);
        let mut codes = Vec::with_capacity(hand.travel.len());
        let mut second = self.twin.then(Vec::new);
        for (i, at) in hand.travel.iter().enumerate() {
            let own = self.noise * gauss(&mut random) + self.pink * pink.next(&mut random);
            let level = rest + at / 100.0 * span;
            codes.push(self.read(level + own + contact[i] + room[i]));
            if let Some(second) = &mut second {
                let own = self.noise * gauss(&mut random);
                second.push(self.read(level / 2.0 + own + room[i]));
            }
        }
        let step = 1e6 / self.rate_hz;
        Taken {
            t_us: (0..codes.len())
                .map(|i| 3_000_000 + (i as f64 * step).round() as u64)
                .collect(),
            codes,
            second,
            passages: hand.passages,
            scale: Scale::new(self.bits, 5000.0).unwrap(),
            rate_hz: self.rate_hz,
            contact: contact.iter().map(|c| 100.0 * c / span.abs()).collect(),
            travel: hand.travel,
            made: hand.made,
        }
    }
}

/// What a shop's limits say of a capture.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    pub verdict: Verdict,
    pub failed: Vec<(String, Name)>,
}

impl Taken {
    pub fn recording(&self) -> Recording<'_> {
        let board = BoardFacts::new(self.scale, self.rate_hz);
        let mut recording = Recording::new(board, &self.t_us, &self.passages);
        recording
            .channels
            .push(Channel::signal("lever", Track::One, &self.codes));
        if let Some(second) = &self.second {
            recording
                .channels
                .push(Channel::signal("second", Track::Two, second));
        }
        recording
    }

    pub fn measure(&self) -> Measured {
        figures(&self.recording())
    }

    /// The limits that every profile here has: noise of two codes of ten bits, no worn zone, no dropout.
    pub fn judge(&self, measured: &Measured) -> Judged {
        let ten_bits = 2.0_f64.powi(i32::from(self.scale.bits()) - 10);
        let mut findings = Vec::new();
        for channel in &measured.channels {
            for (name, max) in [
                (Name::NoiseRestRms, 2.0 * ten_bits),
                (Name::NoiseFullRms, 2.0 * ten_bits),
                (Name::WornZonesCount, 0.0),
                (Name::DropoutsCount, 0.0),
            ] {
                let limit = Limit::new(None, Some(max)).unwrap();
                let figure = channel.figures.get(name);
                let finding = decide(&channel.name, name, limit, figure);
                findings.push(without_room(finding, limit, figure, &channel.rooms));
            }
        }
        let failed = findings.iter().filter(|f| f.outcome == Outcome::Fail);
        Judged {
            verdict: verdict(&findings).unwrap(),
            failed: failed.map(|f| (f.channel.clone(), f.figure)).collect(),
        }
    }
}
