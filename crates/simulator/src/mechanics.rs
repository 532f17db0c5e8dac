//! What stands between the hand and the signal: slack, delay, and the surface of the track.

use super::chance::{Chance, Purpose};

/// The play operator: what is driven follows only when the slack is used up. It starts at the lower end of its slack.
#[derive(Debug, Clone, Copy)]
pub(super) struct Play {
    half_width: f64,
    at: Option<f64>,
}

impl Play {
    pub(super) fn new(width: f64) -> Self {
        Self {
            half_width: width / 2.0,
            at: None,
        }
    }

    /// The play whose loop is `pct` percent of its own span, for an input that runs from 0 to 1: gap / (1 - gap) = pct.
    pub(super) fn of_loop(pct: f64) -> Self {
        let part = pct / 100.0;
        Self::new(part / (1.0 + part))
    }

    pub(super) fn push(&mut self, x: f64) -> f64 {
        let low = x - self.half_width;
        let at = self.at.unwrap_or(low).clamp(low, x + self.half_width);
        self.at = Some(at);
        at
    }

    /// As [`Play::push`], stretched so that inputs of 0 and 1 come out as 0 and 1.
    pub(super) fn push_stretched(&mut self, x: f64) -> f64 {
        (self.push(x) - self.half_width) / (1.0 - 2.0 * self.half_width)
    }
}

/// A pure delay by a number of samples that need not be whole.
#[derive(Debug, Clone)]
pub(super) struct Delay {
    past: Vec<f64>,
    newest: usize,
    part: f64,
}

impl Delay {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to a minute at 10 kHz
    pub(super) fn new(samples: f64) -> Option<Self> {
        let samples = samples.clamp(0.0, 600_000.0);
        (samples > 0.0).then(|| Self {
            past: vec![f64::NAN; samples.floor() as usize + 2],
            newest: 0,
            part: samples - samples.floor(),
        })
    }

    pub(super) fn push(&mut self, x: f64) -> f64 {
        self.newest = (self.newest + 1) % self.past.len();
        if self.past[0].is_nan() {
            self.past.fill(x);
        }
        self.past[self.newest] = x;
        let oldest = self.past[(self.newest + 1) % self.past.len()];
        let newer = self.past[(self.newest + 2) % self.past.len()];
        newer + self.part * (oldest - newer)
    }
}

/// The fixed surface of a worn track: unit variance at every travel.
#[derive(Debug, Clone)]
pub(super) struct Surface(Vec<f64>);

impl Surface {
    /// Bumps are 0.1 % of travel apart.
    const CELLS: usize = 1000;

    pub(super) fn new(serial: u64, channel: usize) -> Self {
        let mut chance = Chance::new(serial, Purpose::Surface(channel));
        Self((0..=Self::CELLS).map(|_| chance.normal()).collect())
    }

    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss
    )] // clamped to 0 ..= CELLS
    pub(super) fn height(&self, travel: f64) -> f64 {
        let place = (travel * Self::CELLS as f64).clamp(0.0, Self::CELLS as f64 - 1.0);
        let cell = place as usize;
        let part = place - cell as f64;
        let joined = self.0[cell] * (1.0 - part) + self.0[cell + 1] * part;
        joined / ((1.0 - part) * (1.0 - part) + part * part).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    #[test]
    fn the_play_operator_of_the_reference_loops() {
        // Source: reference file 19, textbook play operator in closed form; output = 10 play + 500.
        let file = include_str!(concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../tests/reference/19-backlash-hysteresis.json"
        ));
        let file: Value = serde_json::from_str(file).unwrap();
        let mut checked = 0;
        for (width, case) in file["expected"]["play_by_width"].as_object().unwrap() {
            let mut play = Play::new(width.parse().unwrap());
            let inputs = case["input_travel"].as_array().unwrap();
            for (x, want) in inputs.iter().zip(case["output"].as_array().unwrap()) {
                let got = 10.0 * play.push(x.as_f64().unwrap()) + 500.0;
                assert!(
                    (got - want.as_f64().unwrap()).abs() < 1e-9,
                    "width {width} at {x}: {got}"
                );
                checked += 1;
            }
        }
        assert!(checked >= 200, "{checked}");
    }

    #[test]
    fn a_stretched_play_keeps_the_ends_and_has_the_gap_asked_for() {
        // By hand: a loop of 5 % has its branches 5 % apart in the middle.
        let mut play = Play::of_loop(5.0);
        let mut ends = Vec::new();
        let mut middle = Vec::new();
        for hundredth in (0..=100).chain((0..100).rev()).chain(1..=100) {
            let x = f64::from(hundredth) / 100.0;
            let y = play.push_stretched(x);
            match hundredth {
                0 | 100 => ends.push((x - y).abs()),
                50 => middle.push(y),
                _ => {}
            }
        }
        assert!(ends.iter().skip(1).all(|e| *e < 1e-12), "{ends:?}");
        assert!((middle[1] - middle[0] - 0.05).abs() < 1e-12, "{middle:?}");
        assert!((middle[2] - middle[0]).abs() < 1e-12);
    }

    #[test]
    fn a_delay_need_not_be_whole() {
        // By hand: a ramp of 1 a sample, 2.25 samples late, reads 2.25 less once it is under way.
        let mut delay = Delay::new(2.25).unwrap();
        let late: Vec<f64> = (0..8).map(|n| delay.push(f64::from(n))).collect();
        assert!(
            late[0].abs() < 1e-12 && (late[6] - 3.75).abs() < 1e-12,
            "{late:?}"
        );
        assert!(Delay::new(0.0).is_none());
    }

    #[test]
    fn the_surface_has_unit_variance_and_belongs_to_the_unit() {
        let surface = Surface::new(7, 0);
        let heights: Vec<f64> = (0..5000)
            .map(|k| surface.height((f64::from(k) + 0.37) / 5000.0))
            .collect();
        let mean = heights.iter().sum::<f64>() / 5000.0;
        let variance = heights.iter().map(|h| (h - mean) * (h - mean)).sum::<f64>() / 5000.0;
        // 1000 independent bumps: sd of the variance is sqrt(2/1000) = 0.045; four of them.
        assert!((variance - 1.0).abs() < 0.18, "{variance}");
        assert!((Surface::new(7, 0).height(0.3) - surface.height(0.3)).abs() < 1e-15);
        assert!((Surface::new(8, 0).height(0.3) - surface.height(0.3)).abs() > 1e-6);
    }
}
