//! A simulation under way: hand, channels and board together, sample by sample.

use super::board::{Board, quantise};
use super::channel::{ChannelRun, Place};
use super::control::{Control, Ratiometry, Returning};
use super::hand::{Hand, HandSample};
use super::script::Script;
use super::truth::{ChannelTruth, Truth};
use measure::units::{Code, Passage, Role, Scale, ScaleError, Step, Track};
use thiserror::Error;

/// Everything that is simulated, but for the seed.
#[derive(Debug, Clone, PartialEq)]
pub struct SimUnit {
    /// What is written on the sticker.
    pub tag: String,
    /// The control.
    pub control: Control,
    /// The board.
    pub board: Board,
    /// What the hand does.
    pub script: Script,
}

/// A simulation that cannot be.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum SimError {
    /// The board's ruler.
    #[error(transparent)]
    Scale(#[from] ScaleError),
    /// A rate that is not a positive number.
    #[error("{0} samples a second cannot be: state the simulated board's rate in hertz, e.g. 1000")]
    Rate(f64),
    /// A control without channels.
    #[error("a control without channels gives nothing to sample: give it at least one")]
    NoChannels,
}

/// One sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample<'a> {
    /// Board time in microseconds, not wrapped: what the board prints is this modulo 2^32.
    pub t_us: u64,
    /// One code a channel.
    pub codes: &'a [Code],
    /// What the hand really does. No board prints this.
    pub hand: HandSample,
}

/// A seeded simulation. The same unit and seed give the same samples.
#[derive(Debug, Clone)]
pub struct Simulation {
    tag: String,
    board: Board,
    scale: Scale,
    hand: Hand,
    channels: Vec<ChannelRun>,
    codes: Vec<Code>,
    n: u64,
    /// The sample at which the board's clock began, at `board.start_us`.
    clock_began: u64,
    returning: (f64, f64),
    release_time_s: f64,
    tremor: f64,
}

impl Simulation {
    /// Starts a simulation.
    ///
    /// # Errors
    /// When the board cannot be or the control has no channels.
    pub fn new(unit: &SimUnit, seed: u64) -> Result<Self, SimError> {
        let (board, control) = (unit.board, &unit.control);
        let scale = board.scale()?;
        if !(board.rate_hz.is_finite() && board.rate_hz > 0.0) {
            return Err(SimError::Rate(board.rate_hz));
        }
        let channels: Vec<_> = (0..)
            .zip(&control.channels)
            .map(|(channel, model)| {
                let place = Place {
                    seed,
                    serial: control.serial,
                    channel,
                    supply_mv: control.supply_mv,
                };
                ChannelRun::new(model.clone(), board, f64::from(scale.codes()), &place)
            })
            .collect();
        let first = channels.first().ok_or(SimError::NoChannels)?;
        let returning = match control.returning {
            Returning::Travel { mean, sd } => (mean, sd),
            Returning::Codes(sd) => (0.0, sd / (first.code_at(1.0) - first.code_at(0.0)).abs()),
        };
        Ok(Self {
            tag: unit.tag.clone(),
            board,
            scale,
            hand: Hand::new(
                unit.script.clone(),
                control.spring,
                returning,
                board.rate_hz,
                seed,
            ),
            codes: vec![Code(0); channels.len()],
            channels,
            n: 0,
            clock_began: 0,
            returning,
            release_time_s: control.spring.tau_s * libm::log(9.0),
            tremor: unit.script.tremor,
        })
    }

    /// The next sample; none when the script is done and does not repeat.
    pub fn next_sample(&mut self) -> Option<Sample<'_>> {
        let hand = self.hand.next_sample()?;
        for (code, channel) in self.codes.iter_mut().zip(&mut self.channels) {
            *code = quantise(self.scale, channel.read(self.n, &hand));
        }
        let t_us = self.board.time_us(self.n - self.clock_began);
        self.n += 1;
        Some(Sample {
            t_us,
            codes: &self.codes,
            hand,
        })
    }

    /// The board's power is cycled: its clock begins at 0. The control and the hand go on as they were.
    pub fn power_cycle(&mut self) {
        self.board.start_us = 0;
        self.clock_began = self.n;
    }

    /// The hand ends its movement, comes back to rest and leaves the control alone from then on.
    pub fn let_go(&mut self) {
        self.hand.let_go();
    }

    /// From the end of what it is doing on the hand wiggles the plug.
    pub fn wiggle_plug(&mut self) {
        self.hand.wiggle_plug();
    }

    /// Takes samples for at most `s` seconds of board time, with the truth as it then stands.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to what memory could hold
    pub fn run(&mut self, s: f64) -> SimRun {
        let most = (s * self.board.rate_hz).round().clamp(0.0, 4e9) as usize;
        let mut run = SimRun::empty(self, most.min(10_000_000));
        while run.t_us.len() < most {
            let Some(sample) = self.next_sample() else {
                break;
            };
            run.push(&sample);
        }
        run.truth = self.truth();
        run
    }

    /// The board.
    #[must_use]
    pub fn board(&self) -> &Board {
        &self.board
    }

    /// The board's ruler.
    #[must_use]
    pub fn scale(&self) -> Scale {
        self.scale
    }

    /// The sticker's words.
    #[must_use]
    pub fn tag(&self) -> &str {
        &self.tag
    }

    /// Names of the channels, in order.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.channels
            .iter()
            .map(|channel| channel.model().name.as_str())
    }

    /// Reading of a channel in codes at a travel, before noise and rounding, without lag or hysteresis.
    #[must_use]
    pub fn code_at(&self, channel: usize, travel: f64) -> Option<f64> {
        Some(self.channels.get(channel)?.code_at(travel))
    }

    /// The truth so far.
    #[must_use]
    pub fn truth(&self) -> Truth {
        Truth {
            channels: self
                .channels
                .iter()
                .map(|channel| self.channel_truth(channel))
                .collect(),
            returns: self.hand.returns.clone(),
            strokes: self.hand.strokes,
            release_time_s: self.release_time_s,
        }
    }

    fn channel_truth(&self, channel: &ChannelRun) -> ChannelTruth {
        let model = channel.model();
        let (rest, full) = (channel.code_at(self.returning.0), channel.code_at(1.0));
        let sensor = model.noise_rms_code * self.board.gain;
        let slope_at =
            |x: f64| (channel.code_at(x + 1e-4) - channel.code_at(x - 1e-4)).abs() / 2e-4;
        let (terminal, independent) = linearity(|x| channel.code_at(x));
        ChannelTruth {
            name: model.name.clone(),
            rest_code: rest,
            full_code: full,
            span_code: full - rest,
            noise_rms_code: (sensor * sensor
                + self.board.noise_rms_code * self.board.noise_rms_code)
                .sqrt(),
            tremor_rms_code: self.tremor * slope_at(1.0),
            hum_rms_code: model.hum.map_or(0.0, |(amplitude, _)| {
                amplitude * self.board.gain / 2f64.sqrt()
            }),
            drift_per_min: model.drift_per_min * self.board.gain,
            return_scatter_code: self.returning.1 * slope_at(self.returning.0),
            linearity_terminal_pct: terminal,
            linearity_independent_pct: independent,
            hysteresis_pct: model.hysteresis_pct,
            ratiometric_error: match model.ratiometry {
                Ratiometry::Follows { error } => error,
                Ratiometry::Independent => -1.0,
            },
            lag_ms: model.lag_ms,
            worn: model.wear.iter().map(|wear| (wear.from, wear.to)).collect(),
            dropouts: channel.dropouts.clone(),
            bursts: channel.bursts.clone(),
        }
    }
}

/// Terminal and independent linearity in % of span of a curve over 0 ..= 1, by a scan of 2001 points.
fn linearity(code_at: impl Fn(f64) -> f64) -> (f64, Option<f64>) {
    let points: Vec<f64> = (0..=2000).map(|k| code_at(f64::from(k) / 2000.0)).collect();
    let (Some(rest), Some(full)) = (points.first(), points.last()) else {
        return (0.0, None);
    };
    let span = full - rest;
    let off_chord = (0..)
        .zip(&points)
        .map(|(k, y)| (y - rest - span * f64::from(k) / 2000.0).abs());
    let terminal = off_chord.fold(0.0, f64::max) / span.abs() * 100.0;
    let grain = 1e-9 * span.abs();
    let bends = points.windows(3).map(|w| w[0] - 2.0 * w[1] + w[2]);
    let (up, down) = bends.fold((false, false), |(up, down), bend| {
        (up || bend > grain, down || bend < -grain)
    });
    (terminal, (!(up && down)).then_some(terminal / 2.0))
}

/// A recording in memory, as plain columns.
#[derive(Debug, Clone, PartialEq)]
pub struct SimRun {
    /// The sticker's words.
    pub tag: String,
    /// The board.
    pub board: Board,
    /// Name, role and track of each channel.
    pub channels: Vec<(String, Role, Track)>,
    /// Board time in microseconds, not wrapped.
    pub t_us: Vec<u64>,
    /// Codes: a column a channel.
    pub codes: Vec<Vec<Code>>,
    /// Runs of one true step, together covering every sample.
    pub passages: Vec<Passage>,
    /// Reference positions, NaN where none, if the script has a reference.
    pub reference: Option<Vec<f64>>,
    /// True travel of each sample.
    pub travel: Vec<f64>,
    /// What was really so.
    pub truth: Truth,
}

impl SimRun {
    fn empty(simulation: &Simulation, most: usize) -> Self {
        let channel = |run: &ChannelRun| {
            let model = run.model();
            (model.name.clone(), model.role, model.track)
        };
        Self {
            tag: simulation.tag.clone(),
            board: simulation.board,
            channels: simulation.channels.iter().map(channel).collect(),
            t_us: Vec::with_capacity(most),
            codes: simulation
                .channels
                .iter()
                .map(|_| Vec::with_capacity(most))
                .collect(),
            passages: Vec::new(),
            reference: simulation
                .hand
                .has_reference()
                .then(|| Vec::with_capacity(most)),
            travel: Vec::with_capacity(most),
            truth: Truth::default(),
        }
    }

    fn push(&mut self, sample: &Sample<'_>) {
        let n = self.t_us.len();
        match self.passages.last_mut() {
            Some(last) if last.step == sample.hand.step => last.range.end = n + 1,
            _ => self.passages.push(Passage {
                step: sample.hand.step,
                range: n..n + 1,
            }),
        }
        self.t_us.push(sample.t_us);
        for (column, code) in self.codes.iter_mut().zip(sample.codes) {
            column.push(*code);
        }
        if let Some(reference) = &mut self.reference {
            reference.push(sample.hand.reference.unwrap_or(f64::NAN));
        }
        self.travel.push(sample.hand.travel);
    }

    /// The passages of one step.
    pub fn passages_of(&self, step: Step) -> impl Iterator<Item = &Passage> {
        self.passages
            .iter()
            .filter(move |passage| passage.step == step)
    }
}
