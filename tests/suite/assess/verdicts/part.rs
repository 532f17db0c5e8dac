//! A part of known truth and the session of a hand with it, written for these tests: shares nothing with `simulator`.
//!
//! Everything is a share of the board's reference until [`Session::capture`] makes codes of it, so that the same voltages
//! can be read by any board.

use crate::support::recording::signal;
use measure::units::{Code, Passage, Step, Track};
use pedalproof::capture::{BoardMeta, Capture, LooksTaken, Metadata, StreamCounts};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// One code of ten bits, as a share of the reference.
pub const CODE: f64 = 1.0 / 1024.0;

/// What is true of a part. Levels and scatters are shares of the reference.
#[derive(Debug, Clone, Copy)]
pub struct Part {
    pub rest: f64,
    pub full: f64,
    /// Between presses, standard deviation.
    pub full_scatter: f64,
    /// Between returns, standard deviation.
    pub rest_scatter: f64,
    /// White noise, rms.
    pub noise: f64,
    /// What is still missing of the full end when a press begins to be held, and the time constant that it goes with.
    pub creep: f64,
    pub creep_s: f64,
}

impl Part {
    /// In the middle of the limits of a hall pedal, quiet, and the same at every press.
    pub const GOOD: Self = Self {
        rest: 0.16,
        full: 0.84,
        full_scatter: 0.3 * CODE,
        rest_scatter: 0.3 * CODE,
        noise: 1.1 * CODE,
        creep: 0.0,
        creep_s: 1.0,
    };
}

/// How a board reads.
#[derive(Debug, Clone, Copy)]
pub struct Adc {
    pub bits: u32,
    pub vref_mv: f64,
    /// Bow in the middle of the scale, as a share of it.
    pub bow: f64,
}

impl Adc {
    pub const TEN: Self = Self::of(10, 5000.0);

    pub const fn of(bits: u32, vref_mv: f64) -> Self {
        Self {
            bits,
            vref_mv,
            bow: 0.0,
        }
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped first
    fn read(self, share: f64) -> Code {
        let codes = f64::from(1_u32 << self.bits);
        let bent = share + self.bow * 4.0 * share * (1.0 - share);
        Code((bent * codes).round().clamp(0.0, codes - 1.0) as u32)
    }
}

/// A session at 1 kHz.
pub struct Session {
    pub part: Part,
    random: ChaCha8Rng,
    shares: Vec<f64>,
    passages: Vec<Passage>,
    at: f64,
}

impl Session {
    pub fn new(part: Part, seed: u64) -> Self {
        Self {
            part,
            random: ChaCha8Rng::seed_from_u64(seed),
            shares: Vec::new(),
            passages: Vec::new(),
            at: part.rest,
        }
    }

    pub fn gauss(&mut self) -> f64 {
        StandardNormal.sample(&mut self.random)
    }

    /// Samples of one step, the level given by the time since they began; a new passage each time.
    pub fn take(&mut self, step: Step, seconds: f64, level: impl Fn(f64) -> f64) {
        let from = self.shares.len();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let count = (seconds * 1000.0).round() as u32;
        for i in 0..count {
            let t = f64::from(i) / 1000.0;
            let noise = self.part.noise * self.gauss();
            self.shares.push(level(t) + noise);
        }
        self.at = level(seconds);
        let to = self.shares.len();
        match self.passages.last_mut() {
            Some(last) if last.step == step => last.range.end = to,
            _ => self.passages.push(Passage {
                step,
                range: from..to,
            }),
        }
    }

    /// Samples taken so far.
    pub fn samples(&self) -> usize {
        self.shares.len()
    }

    /// A smooth movement to a level.
    pub fn go(&mut self, step: Step, to: f64, seconds: f64) {
        let from = self.at;
        self.take(step, seconds, |t| {
            let x = (t / seconds).clamp(0.0, 1.0);
            from + (to - from) * x * x * x * (10.0 - 15.0 * x + 6.0 * x * x)
        });
    }

    /// Stands where it is.
    pub fn stay(&mut self, step: Step, seconds: f64) {
        let at = self.at;
        self.take(step, seconds, |_| at);
    }

    /// Contact is lost for a while: the signal stands elsewhere, and comes back to where it was.
    pub fn lost(&mut self, step: Step, elsewhere: f64, seconds: f64) {
        let at = self.at;
        self.take(step, seconds, |_| elsewhere);
        self.at = at;
    }

    pub fn rest(&mut self, seconds: f64) {
        let level = self.part.rest + self.part.rest_scatter * self.gauss();
        self.go(Step::Idle, level, 0.5);
        self.stay(Step::Rest, seconds);
        self.stay(Step::Idle, 0.05);
    }

    /// A press that is held: where it ends is drawn anew each time.
    fn press(&mut self, step: Step, seconds: f64) {
        let level = self.part.full + self.part.full_scatter * self.gauss();
        let Part { creep, creep_s, .. } = self.part;
        self.go(Step::Idle, level - creep, 0.4);
        self.take(step, seconds, |t| level - creep * (-t / creep_s).exp());
    }

    /// One press, recorded as `full`.
    pub fn full(&mut self, seconds: f64) {
        self.press(Step::Full, seconds);
        self.stay(Step::Idle, 0.05);
    }

    /// So many movements from one end to the other, a second each.
    pub fn strokes(&mut self, count: u32) {
        self.go(Step::Idle, self.part.rest, 0.5);
        for stroke in 0..count {
            let (end, scatter) = if stroke % 2 == 0 {
                (self.part.full, self.part.full_scatter)
            } else {
                (self.part.rest, self.part.rest_scatter)
            };
            let to = end + scatter * self.gauss();
            self.go(Step::Strokes, to, 1.0);
        }
    }

    /// Held, let go, back: the spring's time constant is 50 ms.
    pub fn releases(&mut self, count: u32) {
        for _ in 0..count {
            self.stay(Step::Idle, 0.05);
            self.press(Step::Release, 0.8);
            let (from, to) = (
                self.at,
                self.part.rest + self.part.rest_scatter * self.gauss(),
            );
            self.take(Step::Release, 1.4, |t| to + (from - to) * (-t / 0.05).exp());
        }
    }

    /// What a card takes at its first look, or the amounts of a later one.
    pub fn card(part: Part, seed: u64, strokes: u32, returns: u32) -> Self {
        let mut session = Self::new(part, seed);
        session.rest(1.0);
        session.full(1.0);
        session.strokes(strokes);
        session.releases(returns);
        session.stay(Step::Shake, 4.0);
        session
    }

    /// What a board makes of it, as one track.
    pub fn capture(&self, adc: Adc, looks: Option<(u32, u32)>) -> Capture {
        self.tracks(adc, looks, &[("pedal", Track::One, 1.0)])
    }

    /// The same with several tracks, each so many times the first; the same noise on all.
    pub fn tracks(
        &self,
        adc: Adc,
        looks: Option<(u32, u32)>,
        tracks: &[(&str, Track, f64)],
    ) -> Capture {
        let n = self.shares.len() as u64;
        let channels = tracks.iter().map(|(name, track, _)| {
            let meta = signal(*track);
            ((*name).to_owned(), meta)
        });
        Capture {
            meta: Metadata {
                stream: StreamCounts {
                    lines: n,
                    samples: n,
                    ..StreamCounts::default()
                },
                looks: looks.map(|(taken, planned)| LooksTaken { taken, planned }),
                ..Metadata::new(
                    BoardMeta::new("own", adc.bits, adc.vref_mv, 1000.0),
                    channels.collect(),
                )
            },
            t_us: (0..n).map(|i| i * 1000).collect(),
            passages: self.passages.clone(),
            codes: tracks
                .iter()
                .map(|(_, _, gain)| self.shares.iter().map(|x| adc.read(x * gain)).collect())
                .collect(),
            reference: None,
            lost: None,
        }
    }
}
