//! A channel at work: from the control's travel to a reading in codes, one sample at a time.

use super::board::{Board, Tie};
use super::chance::{Chance, Purpose};
use super::control::{ChannelModel, Ratiometry};
use super::defects::{Drop, Rail, Wear};
use super::hand::HandSample;
use super::mechanics::{Delay, Play, Surface};
use super::truth::{BurstTruth, DropoutTruth};
use std::f64::consts::TAU;

/// A loss of signal under way.
#[derive(Debug, Clone, Copy)]
struct OngoingLoss {
    until: u64,
    drop: Drop,
}

/// A channel at work.
#[derive(Debug, Clone)]
pub(super) struct ChannelRun {
    model: ChannelModel,
    codes_per_supply: f64,
    full_scale: f64,
    span_code: f64,
    rate_hz: f64,
    board: Board,
    delay: Option<Delay>,
    play: Option<Play>,
    surface: Option<Surface>,
    noise: Chance,
    events: Chance,
    sensor_noise: f64,
    /// Placed dropouts yet to come, as (first sample, what), last first.
    placed: Vec<(u64, Drop)>,
    losing: Option<OngoingLoss>,
    bursting: (u64, u64),
    wiper_before: f64,
    pub dropouts: Vec<DropoutTruth>,
    pub bursts: Vec<BurstTruth>,
}

impl ChannelRun {
    pub(super) fn new(model: ChannelModel, board: Board, full_scale: f64, place: &Place) -> Self {
        let codes_per_supply = place.supply_mv / board.vref_mv * full_scale;
        let at = |travel| codes_per_supply * model.network.ratio(model.curve.output(travel));
        let span_code = at(1.0) - at(0.0);
        let mut placed: Vec<_> = model
            .dropouts
            .iter()
            .map(|dropout| (first_sample(dropout.at_s, board.rate_hz), dropout.drop))
            .collect();
        placed.sort_by_key(|(sample, _)| std::cmp::Reverse(*sample));
        let mut run = Self {
            delay: Delay::new(model.lag_ms * 1e-3 * board.rate_hz),
            play: (model.hysteresis_pct > 0.0).then(|| Play::of_loop(model.hysteresis_pct)),
            surface: (!model.wear.is_empty()).then(|| Surface::new(place.serial, place.channel)),
            noise: Chance::new(place.seed, Purpose::Noise(place.channel)),
            events: Chance::new(place.seed, Purpose::Events(place.channel)),
            codes_per_supply,
            full_scale,
            span_code,
            rate_hz: board.rate_hz,
            board,
            sensor_noise: 0.0,
            placed,
            losing: None,
            bursting: (u64::MAX, 0),
            wiper_before: f64::NAN,
            dropouts: Vec::new(),
            bursts: Vec::new(),
            model,
        };
        run.sensor_noise = run.model.noise_rms_code * run.noise.normal();
        run.bursting = run.next_burst(0);
        run
    }

    /// The reading of sample `n` in codes, before rounding.
    pub(super) fn read(&mut self, n: u64, hand: &HandSample) -> f64 {
        let wiper = self.wiper(hand.travel);
        let clean = self.signal(wiper, hand.supply)
            + self.model.drift_per_min * real(n) / self.rate_hz / 60.0;
        let lost = self.lose(n, wiper, clean, hand);
        let noisy = lost + self.noises(n, wiper);
        let input = match hand.tie {
            None => noisy,
            Some(Tie::Ground) => 0.0,
            Some(Tie::Reference) => self.full_scale,
        };
        let board_noise = if self.board.noise_rms_code > 0.0 {
            self.board.noise_rms_code * self.noise.normal()
        } else {
            0.0
        };
        self.board.bends(input) + board_noise
    }

    /// Codes at a travel without hysteresis, lag, drift or noise, board errors included; the supply at its nominal value.
    pub(super) fn code_at(&self, travel: f64) -> f64 {
        self.board.bends(self.signal(travel, 1.0))
    }

    pub(super) fn model(&self) -> &ChannelModel {
        &self.model
    }

    fn wiper(&mut self, travel: f64) -> f64 {
        let delayed = self
            .delay
            .as_mut()
            .map_or(travel, |delay| delay.push(travel));
        self.play
            .as_mut()
            .map_or(delayed, |play| play.push_stretched(delayed))
    }

    fn signal(&self, wiper: f64, supply: f64) -> f64 {
        let nominal =
            self.codes_per_supply * self.model.network.ratio(self.model.curve.output(wiper));
        match self.model.ratiometry {
            Ratiometry::Follows { error } => nominal * supply * (1.0 + error * (supply - 1.0)),
            Ratiometry::Independent => nominal,
        }
    }

    fn noises(&mut self, n: u64, wiper: f64) -> f64 {
        let mut sum = self.sensor_noise();
        if let Some((amplitude, hz)) = self.model.hum {
            sum += amplitude * libm::sin(TAU * (hz * real(n) / self.rate_hz).fract());
        }
        if let Some(surface) = &self.surface {
            for wear in &self.model.wear {
                if wiper >= wear.from && wiper <= wear.to {
                    sum += worn(wear, surface.height(wiper), self.noise.normal());
                }
            }
        }
        if n >= self.bursting.0 {
            if let Some(bursts) = self.model.bursts {
                sum += bursts.rms_code * self.events.normal();
            }
            if n + 1 >= self.bursting.1 {
                self.bursting = self.next_burst(n + 1);
            }
        }
        sum
    }

    fn sensor_noise(&mut self) -> f64 {
        let rms = self.model.noise_rms_code;
        if rms > 0.0 {
            let kept = self.model.noise_correlation;
            let fresh = rms * self.noise.normal();
            self.sensor_noise =
                kept * self.sensor_noise + (1.0 - kept * kept).max(0.0).sqrt() * fresh;
            self.sensor_noise
        } else {
            0.0
        }
    }

    /// First sample of the next burst and the first after it.
    fn next_burst(&mut self, from: u64) -> (u64, u64) {
        let Some(bursts) = self.model.bursts.filter(|b| b.rate_per_s > 0.0) else {
            return (u64::MAX, u64::MAX);
        };
        let begin = from + first_sample(self.events.wait_s(bursts.rate_per_s), self.rate_hz);
        let samples = first_sample(bursts.duration_ms * 1e-3, self.rate_hz).max(1);
        self.bursts.push(BurstTruth {
            t_s: real(begin) / self.rate_hz,
            samples,
        });
        (begin, begin + samples)
    }

    /// Starts what is due and gives the signal as the loss under way leaves it.
    fn lose(&mut self, n: u64, wiper: f64, clean: f64, hand: &HandSample) -> f64 {
        if let Some(drop) = self.due(n, wiper, hand.shaking) {
            let until = n + first_sample(drop.duration_ms * 1e-3, self.rate_hz).max(1);
            self.losing = Some(OngoingLoss { until, drop });
            let depth = (self.dropped(clean, &drop, hand.supply) - clean).abs();
            self.dropouts.push(DropoutTruth {
                t_s: real(n) / self.rate_hz,
                samples: until - n,
                depth_pct: depth / self.span_code.abs() * 100.0,
                travel: hand.travel,
                towards: drop.rail,
            });
        }
        match self.losing {
            Some(losing) if n < losing.until => self.dropped(clean, &losing.drop, hand.supply),
            _ => clean,
        }
    }

    /// The loss that begins at this sample; none begins while another lasts.
    fn due(&mut self, n: u64, wiper: f64, shaking: bool) -> Option<Drop> {
        let before = std::mem::replace(&mut self.wiper_before, wiper);
        let busy = self.losing.is_some_and(|losing| n < losing.until);
        let mut found = None;
        if self.placed.last().is_some_and(|(sample, _)| *sample <= n) {
            found = self.placed.pop().map(|(_, drop)| drop);
        }
        for lift in &self.model.lifts {
            let (low, high) = (
                lift.travel - lift.width / 2.0,
                lift.travel + lift.width / 2.0,
            );
            let outside = before < low || before > high;
            let enters = outside && wiper.min(before) <= high && wiper.max(before) >= low;
            if enters && self.events.happens(lift.probability) {
                found = found.or(Some(lift.drop));
            }
        }
        if let Some(loose) = self.model.loose.filter(|_| shaking)
            && self.events.happens(loose.rate_per_s / self.rate_hz)
        {
            found = found.or(Some(loose.drop));
        }
        found.filter(|_| !busy)
    }

    fn dropped(&self, clean: f64, drop: &Drop, supply: f64) -> f64 {
        let depth = drop.depth_pct / 100.0 * self.span_code.abs();
        match drop.rail {
            Rail::Ground => (clean - depth).max(clean.min(0.0)),
            Rail::Supply => (clean + depth).min(clean.max(self.codes_per_supply * supply)),
        }
    }
}

/// Where a channel stands: what its chance and its surface come from, and its supply.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub seed: u64,
    pub serial: u64,
    pub channel: usize,
    pub supply_mv: f64,
}

fn worn(wear: &Wear, height: f64, fresh: f64) -> f64 {
    let share = wear.pattern_share.clamp(0.0, 1.0);
    wear.rms_code * (share.sqrt() * height + (1.0 - share).sqrt() * fresh)
}

/// The first sample at or after a time; a billionth of a sample is no lateness.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped
fn first_sample(s: f64, rate_hz: f64) -> u64 {
    (s * rate_hz - 1e-9).ceil().clamp(0.0, 9e15) as u64
}

#[allow(clippy::cast_precision_loss)] // below 2^53
fn real(samples: u64) -> f64 {
    samples as f64
}
