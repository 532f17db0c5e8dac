//! Faults that come by degrees: how bad they must be to be dangerous, and how bad they are at their worst.

use super::super::faults::SMALL_PCT;
use super::super::hookup::Pin;
use super::super::parts::{Fault, Severities};
use super::super::sweep::FaultSweep;
use super::{FaultAnalysis, FaultReading, Unit};
use measure::units::maths;

/// Travels at which severities are tried: what changes with the severity changes little between them.
const TRAVELS: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];

/// Severities tried in a decade.
const PER_DECADE: f64 = 4.0;

/// Steps of a search for a place between two severities.
const STEPS: u32 = 30;

pub(super) struct Degrees {
    /// From this on it may command more than is small without being noticed; `None` when it never does.
    pub dangerous_from: Option<f64>,
    /// Where it does most.
    pub worst: f64,
}

/// Most command above the one asked that is not noticed, and most below, over units and travels.
#[derive(Clone, Copy)]
struct Errors {
    above: f64,
    below: f64,
}

impl Errors {
    /// What makes one severity worse than another.
    fn harm(self) -> f64 {
        if self.above > super::HARMLESS {
            1.0 + self.above
        } else {
            self.below
        }
    }
}

impl Degrees {
    pub(super) fn of(analysis: &FaultAnalysis, swept: &[FaultSweep], of: Severities) -> Self {
        let errors = |severity: f64| analysis.errors(swept, severity);
        let tried = between(of);
        let all: Vec<(f64, Errors)> = tried.iter().map(|s| (*s, errors(*s))).collect();
        let dangerous = |errors: &Errors| errors.above * 100.0 > SMALL_PCT;
        let first = all.iter().position(|(_, errors)| dangerous(errors));
        let dangerous_from = first.map(|k| {
            let mut to = all[k].0;
            if k > 0 {
                let mut from = all[k - 1].0;
                for _ in 0..STEPS {
                    let middle = middle(from, to);
                    if dangerous(&errors(middle)) {
                        to = middle;
                    } else {
                        from = middle;
                    }
                }
            }
            to
        });
        let harm = |severity: f64| errors(severity).harm();
        Self {
            dangerous_from,
            worst: most(&all, |(_, errors)| errors.harm(), harm),
        }
    }
}

/// The severity of most `value`, looked for between the neighbours of the best of those tried.
fn most<T>(all: &[(f64, T)], value: impl Fn(&(f64, T)) -> f64, at: impl Fn(f64) -> f64) -> f64 {
    let best = (0..all.len())
        .max_by(|a, b| value(&all[*a]).total_cmp(&value(&all[*b])).then(b.cmp(a)))
        .unwrap_or(0);
    let (mut from, mut to) = (
        all[best.saturating_sub(1)].0,
        all[(best + 1).min(all.len() - 1)].0,
    );
    let mut found = (all[best].0, value(&all[best]));
    // Narrowed around the best: right of a smooth top and of one that ends where the fault is noticed.
    for _ in 0..STEPS {
        let [a, b] = [middle(from, found.0), middle(found.0, to)];
        let [at_a, at_b] = [at(a), at(b)];
        if at_a > found.1 && at_a >= at_b {
            (to, found) = (found.0, (a, at_a));
        } else if at_b > found.1 {
            (from, found) = (found.0, (b, at_b));
        } else {
            (from, to) = (a, b);
        }
    }
    found.0
}

/// Half-way between two severities of one sign, in decades.
fn middle(a: f64, b: f64) -> f64 {
    (a * b).sqrt().copysign(a)
}

/// The severities tried, from the mildest.
fn between(of: Severities) -> Vec<f64> {
    let decades = maths::log10(of.severe / of.mild);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a few decades
    let steps = (decades.abs() * PER_DECADE).round() as u32;
    (0..=steps)
        .map(|k| of.mild * maths::pow(10.0, decades * f64::from(k) / f64::from(steps)))
        .collect()
}

impl FaultAnalysis {
    fn seen(unit: &Unit, ratio: f64) -> FaultReading {
        FaultReading {
            ratio,
            share: unit.curve.share(ratio),
            travel: unit.curve.travel_of(ratio),
        }
    }

    fn errors(&self, swept: &[FaultSweep], severity: f64) -> Errors {
        // A code of room: what lies on the threshold is noticed by one board and not by the next.
        let room = 2.0 * self.hookup().half_code();
        let inside = self.thresholds.narrower(room);
        let mut errors = Errors {
            above: 0.0,
            below: 0.0,
        };
        for travel in TRAVELS {
            let asked = self.zero.command(travel);
            for (unit, sweep) in self.units.iter().zip(swept) {
                let Pin::Ratio(ratio) = Self::pin(unit, sweep, travel, severity) else {
                    continue;
                };
                if !inside.catch(ratio) {
                    let off = self.zero.command(unit.curve.travel_of(ratio)) - asked;
                    errors.above = errors.above.max(off);
                    errors.below = errors.below.max(-off);
                }
            }
        }
        errors
    }

    pub(super) fn at_zero_of(
        &self,
        fault: Fault,
        swept: &[FaultSweep],
        output: impl Fn(FaultReading) -> Option<f64>,
    ) -> Option<f64> {
        /// Levels at which a pin that floats is looked at.
        const LEVELS: u32 = 200;
        let travel = self.zero.travel();
        let at = |severity: f64| {
            let units = self.units.iter().zip(swept);
            units
                .flat_map(|(unit, sweep)| {
                    let ratios = match Self::pin(unit, sweep, travel, severity) {
                        Pin::Ratio(ratio) => vec![ratio],
                        Pin::Floats => (0..=LEVELS)
                            .map(|k| f64::from(k) / f64::from(LEVELS))
                            .collect(),
                        Pin::Collapsed => Vec::new(),
                    };
                    ratios
                        .into_iter()
                        .filter_map(|ratio| output(Self::seen(unit, ratio)))
                        .collect::<Vec<_>>()
                })
                .reduce(f64::max)
        };
        let Some(of) = fault.severities() else {
            return at(1.0);
        };
        let value = |severity: f64| at(severity).unwrap_or(-1.0);
        let all: Vec<(f64, f64)> = between(of).iter().map(|s| (*s, value(*s))).collect();
        at(most(&all, |(_, value)| *value, value))
    }
}
