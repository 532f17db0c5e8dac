//! What one track of a unit showed, as the rules need it.

use super::{ChooseError, ErrorKind, NOISE_SHARE, TOLERANCE};
use measure::figure::{FigureName as Name, Figures};
use measure::holds::{self, Hold, Holds, Reversals, reversals};
use measure::statistics::{ROUNDING_RMS, mean, normal_quantile, one_sided_factor, sd};
use measure::units::{Code, Step, seconds_from_us};
use measure::{Channel, Dropout, Recording};

/// Fewest levels that make a scatter worth a tolerance limit.
const FEWEST: usize = 3;

/// Samples at either side of a dropout that may still belong to it.
const EDGE: usize = 2;

/// What is allowed between two visits of an end when their scatter was not measured, as a share of span. Common practice,
/// no source; more than good springs and end stops show, and said with every number that rests on it.
const ALLOWANCE: f64 = 0.01;

/// Steps in which the control reads what it will read on the machine.
const IN_USE: [Step; 6] = [
    Step::Rest,
    Step::Full,
    Step::Strokes,
    Step::Release,
    Step::Stations,
    Step::Shake,
];

/// What the levels of an end are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LevelSource {
    /// Means of the holds that returns ended in.
    Returns,
    /// Means of holds, and where strokes turned round.
    Visits,
    /// Too few of any: an allowance stands for the scatter.
    Allowance,
}

/// One end of travel. All in codes.
#[derive(Debug, Clone, PartialEq)]
pub struct TravelEnd {
    pub word: &'static str,
    pub levels: Vec<f64>,
    /// Means of all holds of it, also of those that tell nothing of the scatter.
    pub held: Vec<f64>,
    pub from: LevelSource,
    /// Standard deviation of the noise there, rounding included.
    pub noise: f64,
    /// Span of the track, for the allowance.
    pub span: f64,
}

impl TravelEnd {
    pub fn level(&self) -> f64 {
        mean(&self.levels)
    }

    /// How far from the mean the level of another visit may lie: k s of a one-sided tolerance limit (95 % of visits with 95 %
    /// confidence, ISO 16269-6), or the allowance.
    pub fn spread(&self) -> f64 {
        match (self.from, self.k(0)) {
            (LevelSource::Allowance, _) | (_, None) => ALLOWANCE * self.span.abs(),
            (_, Some(k)) => k * sd(&self.levels),
        }
    }

    /// How far noise may take a single sample from its level: all but one in a million.
    pub fn noise_reach(&self) -> f64 {
        normal_quantile(NOISE_SHARE) * self.noise
    }

    /// Spread and noise together: beyond it is where this end does not read.
    pub fn reach(&self) -> f64 {
        self.spread() + self.noise_reach()
    }

    /// The factor with so many more levels.
    fn k(&self, more: usize) -> Option<f64> {
        one_sided_factor(self.levels.len() + more, TOLERANCE, TOLERANCE)
    }

    /// What [`Self::reach`] is made of, and what more evidence would do.
    pub fn describe(&self) -> String {
        let n = self.levels.len();
        let what = match self.from {
            LevelSource::Returns => format!("{n} returns"),
            LevelSource::Visits => format!("{n} visits: holds and turns of strokes"),
            LevelSource::Allowance if n == 1 => "one hold".to_owned(),
            LevelSource::Allowance => format!("{n} holds"),
        };
        let scatter = match (self.from, self.k(0)) {
            (LevelSource::Allowance, _) | (_, None) => format!(
                "no scatter known, {:.0} % of span allowed for it ({:.1} codes; common practice, no source): record strokes \
                 or at least 3 returns",
                100.0 * ALLOWANCE,
                self.spread()
            ),
            (_, Some(k)) => format!(
                "sd {:.2}, k = {k:.2} (one side, 95 %/95 %, ISO 16269-6): {:.1} codes{}",
                sd(&self.levels),
                self.spread(),
                self.more()
            ),
        };
        format!(
            "{} end at {:.1} (mean of {what}); {scatter}; noise {:.2} x {:.2} (one sample in a million beyond): {:.1} codes",
            self.word,
            self.level(),
            self.noise,
            normal_quantile(NOISE_SHARE),
            self.noise_reach()
        )
    }

    /// What more levels would do.
    fn more(&self) -> String {
        let n = self.levels.len();
        let Some(goal) = [6, 10, 20, 40].into_iter().find(|goal| *goal >= 2 * n) else {
            return String::new();
        };
        let saved = |k: f64| self.spread() - k * sd(&self.levels);
        match self.k(goal - n) {
            Some(k) if saved(k) >= 1.0 => format!(
                " ({} more would make k {k:.2} and, with this sd, it {:.1} codes narrower)",
                goal - n,
                saved(k)
            ),
            _ => String::new(),
        }
    }
}

/// What one track showed.
#[derive(Debug, Clone, PartialEq)]
pub struct TrackEvidence {
    pub channel: String,
    pub rest: TravelEnd,
    pub full: TravelEnd,
    /// The loudest noise of it anywhere: at rest, at full, along strokes.
    pub noise: f64,
    /// Lowest and highest code read in use.
    pub read: [u16; 2],
}

impl TrackEvidence {
    pub fn span(&self) -> f64 {
        self.full.level() - self.rest.level()
    }

    /// Gathers one channel. Where contact was lost no end was visited.
    pub fn of(
        recording: &Recording<'_>,
        channel: &Channel<'_>,
        (figures, lost): (&Figures, &[Dropout]),
        file: &str,
    ) -> Result<Self, ChooseError> {
        let holds = holds::collect(recording, channel.codes);
        let (rest, full) = (means(&holds.rest()), means(&holds.full()));
        for (step, means) in [("rest", &rest), ("full", &full)] {
            if means.is_empty() {
                return Err(ChooseError::new(
                    ErrorKind::Open,
                    format!(
                        "{file}, {}: the {step} end was not measured: record with a `{step}` step",
                        channel.name
                    ),
                ));
            }
        }
        let span = mean(&full) - mean(&rest);
        if span.abs() < 1.0 {
            return Err(ChooseError::new(
                ErrorKind::Fail,
                format!(
                    "{file}, {}: rest reads {:.1} and full {:.1}: it does not move",
                    channel.name,
                    mean(&rest),
                    mean(&full)
                ),
            ));
        }
        let connected = without(lost, recording.t_us, channel.codes);
        let turned = reversals(recording.passages, &connected, mean(&rest), mean(&full));
        let noise = |name| figures.value(name).unwrap_or(0.0).max(ROUNDING_RMS);
        let noises = [Name::NoiseRestRms, Name::NoiseFullRms, Name::StrokeNoiseRms].map(noise);
        let [rest, full] = ends(&holds, turned, [rest, full], span);
        Ok(Self {
            channel: channel.name.to_owned(),
            rest: TravelEnd {
                noise: noises[0],
                ..rest
            },
            full: TravelEnd {
                noise: noises[1],
                ..full
            },
            noise: noises.into_iter().fold(0.0, f64::max),
            read: range_in_use(recording, &connected),
        })
    }
}

/// The codes with the last one before each loss of contact in place of what was read during it.
fn without(lost: &[Dropout], t_us: &[u64], codes: &[Code]) -> Vec<Code> {
    let mut codes = codes.to_vec();
    let first = t_us.first().copied().unwrap_or_default();
    for dropout in lost {
        let at =
            |t_s: f64| t_us.partition_point(|t| seconds_from_us(t.saturating_sub(first)) < t_s);
        let from = at(dropout.t_s).saturating_sub(EDGE);
        let to = (at(dropout.t_s + dropout.duration_ms / 1000.0) + EDGE).min(codes.len());
        if let Some(before) = from.checked_sub(1).and_then(|i| codes.get(i).copied()) {
            codes[from.min(to)..to].fill(before);
        }
    }
    codes
}

/// The best evidence for each end: for rest the returns where there are three; else all visits where there are three; else
/// an allowance.
fn ends(
    holds: &Holds,
    turned: Reversals,
    [rest, full]: [Vec<f64>; 2],
    span: f64,
) -> [TravelEnd; 2] {
    let end = |word, returned: Vec<f64>, held: Vec<f64>, turned: Vec<f64>| {
        let visits = [held.clone(), turned].concat();
        let all = held.clone();
        let (from, levels) = if returned.len() >= FEWEST {
            (LevelSource::Returns, returned)
        } else if visits.len() >= FEWEST {
            (LevelSource::Visits, visits)
        } else {
            (LevelSource::Allowance, held)
        };
        TravelEnd {
            word,
            levels,
            held: all,
            from,
            noise: ROUNDING_RMS,
            span,
        }
    };
    [
        end("rest", means(&holds.returned()), rest, turned.rest),
        end("full", Vec::new(), full, turned.full),
    ]
}

fn means(holds: &[&Hold]) -> Vec<f64> {
    holds.iter().map(|hold| hold.mean).collect()
}

/// Lowest and highest code of the steps in which the control is used.
fn range_in_use(recording: &Recording<'_>, codes: &[Code]) -> [u16; 2] {
    let used = recording
        .passages
        .iter()
        .filter(|passage| IN_USE.contains(&passage.step))
        .filter_map(|passage| codes.get(passage.range.clone()))
        .flatten()
        .map(|code| u16::try_from(code.0).unwrap_or(u16::MAX));
    used.fold([u16::MAX, 0], |[low, high], code| {
        [low.min(code), high.max(code)]
    })
}

#[cfg(test)]
impl TravelEnd {
    pub(super) fn example(word: &'static str, levels: &[f64], noise: f64, span: f64) -> Self {
        Self {
            word,
            levels: levels.to_vec(),
            held: levels.to_vec(),
            from: if levels.len() < FEWEST {
                LevelSource::Allowance
            } else {
                LevelSource::Returns
            },
            noise,
            span,
        }
    }
}

#[cfg(test)]
impl TrackEvidence {
    pub(super) fn example(channel: &str, rest: &[f64], full: &[f64], noise: f64) -> Self {
        let span = full[0] - rest[0];
        Self {
            channel: channel.to_owned(),
            rest: TravelEnd::example("rest", rest, noise, span),
            full: TravelEnd::example("full", full, noise, span),
            noise,
            read: [0, 1023],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reference file 24: one side, p = 0.95, c = 0.95: k = 7.655900 for 3, 2.910963 for 10. sd of 163, 164, 165 is 1. The normal
    /// quantile of 1 - 1e-6 is 4.753424 (tables).
    #[test]
    fn three_returns_reach_far_and_say_what_more_would_do() {
        let end = TravelEnd::example("rest", &[163.0, 164.0, 165.0], 0.5, 700.0);
        assert!((end.level() - 164.0).abs() < 1e-12);
        assert!((end.spread() - 7.655_900).abs() < 1e-5);
        assert!((end.noise_reach() - 2.376_712).abs() < 1e-5);
        let words = end.describe();
        // Three more: k = 3.7077 (file 24), 3.9 codes narrower.
        assert!(
            words.contains("k = 7.66") && words.contains("3 more would make k 3.71"),
            "{words}"
        );
        assert!(words.contains("3.9 codes narrower"), "{words}");
    }

    #[test]
    fn ten_returns_and_none() {
        let ten: Vec<f64> = (0..10).map(f64::from).collect();
        let end = TravelEnd::example("rest", &ten, 0.5, 700.0);
        // sd of 0 .. 9 is sqrt(82.5 / 9) = 3.027650.
        assert!((end.spread() - 2.910_963 * 3.027_650).abs() < 1e-4);
        let one = TravelEnd::example("full", &[860.0], 0.5, -700.0);
        assert!(
            (one.spread() - 7.0).abs() < 1e-12,
            "1 % of span, common practice"
        );
        assert!(one.describe().contains("one hold") && one.describe().contains("allowed"));
        let still = TravelEnd::example("rest", &[5.0, 5.0, 5.0], 0.5, 700.0);
        assert!(still.spread().abs() < 1e-12 && still.reach() > 2.0);
    }
}
