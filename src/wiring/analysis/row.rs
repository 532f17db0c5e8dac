//! One fault over the whole travel.

use super::super::faults::{Class, Direction, FaultPoint, FaultRow, list, percent, runs, travels};
use super::super::hookup::Pin;
use super::super::parts::Fault;
use super::super::sweep::FaultSweep;
use super::degrees::Degrees;
use super::{FaultAnalysis, FaultReading, HARMLESS};

/// What a fault does at one travel.
#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    /// Indistinguishable from the truth.
    True,
    /// Outside the valid range at every corner.
    Caught,
    /// Inside at some corner: taken for commands between these two, 0 to 1.
    Inside(f64, f64),
    /// Nothing holds the pin, at some corner.
    Floats,
    Down,
}

/// Steps of travel that are looked at; between them what changes is looked for.
const STEPS: u32 = 40;

/// How finely a place of travel is found: 2^-16 of a step.
const HALVINGS: u32 = 16;

/// Beside a crack.
const BESIDE: f64 = 1e-6;

/// One fault, so bad, on every unit.
struct Track<'a> {
    analysis: &'a FaultAnalysis,
    swept: &'a [FaultSweep],
    severity: f64,
}

impl FaultAnalysis {
    /// What becomes of a fault; of one that comes by degrees, at its most dangerous.
    pub fn judge(&self, fault: Fault) -> FaultRow {
        let swept = self.swept(fault);
        let degrees = fault.severities().map(|of| Degrees::of(self, &swept, of));
        let (fault, severity) = match &degrees {
            Some(degrees) => (fault.as_bad_as(degrees.worst), degrees.worst),
            None => (fault, 1.0),
        };
        let mut row = self.row(fault, &swept, severity);
        row.at_zero_pct = self
            .at_zero_of(fault, &swept, |seen| {
                let noticed = self.thresholds.catch(seen.ratio);
                (!noticed).then(|| self.zero.command(seen.travel))
            })
            .map(|command| command * 100.0);
        if let Some(degrees) = degrees {
            row.dangerous_from = degrees.dangerous_from;
        }
        row
    }

    pub fn judge_all(&self) -> Vec<FaultRow> {
        self.judge_those(|_| true)
    }

    /// Some of the faults.
    pub(in super::super) fn judge_those(&self, wanted: impl Fn(&Fault) -> bool) -> Vec<FaultRow> {
        let faults = list(self.hookup().wiring()).into_iter().filter(wanted);
        faults.map(|fault| self.judge(fault)).collect()
    }

    /// The most that comes out with a fault, however bad, while the control stands at its zero end: `output` gives what a reading is
    /// made of, `None` where it is noticed. `None` when it always is.
    pub fn at_zero(
        &self,
        fault: Fault,
        output: impl Fn(FaultReading) -> Option<f64>,
    ) -> Option<f64> {
        self.at_zero_of(fault, &self.swept(fault), output)
    }

    pub(super) fn row(&self, fault: Fault, swept: &[FaultSweep], severity: f64) -> FaultRow {
        let track = Track {
            analysis: self,
            swept,
            severity,
        };
        let states = track.states(fault);
        let inside = states.iter().filter_map(|(t, state)| match state {
            State::Inside(low, high) => Some((*t, *low, *high)),
            _ => None,
        });
        let reads_as = widest(
            inside
                .clone()
                .map(|(_, low, high)| [low * 100.0, high * 100.0]),
        );
        let error = widest(
            inside.map(|(t, low, high)| [low, high].map(|c| (c - self.zero.command(t)) * 100.0)),
        );
        let points: Vec<FaultPoint> = travels().map(|t| track.point(t)).collect();
        let read = track.readings(&states);
        FaultRow {
            fault,
            class: class(&states),
            direction: self.direction(&states, &track),
            caught_at_pct: runs(
                states
                    .iter()
                    .map(|(t, state)| (*t, *state == State::Caught)),
            ),
            reads_as_pct: reads_as,
            error_pct: error,
            ratio_range: widest(read.iter().map(|ratio| [*ratio, *ratio])),
            nearest: self.nearest(&read),
            points,
            pair_shows_at_pct: None,
            at_zero_pct: None,
            dangerous_from: None,
        }
    }

    /// From the reading taken as a command, caught or not: before it is confirmed a caught fault acts too.
    fn direction(&self, states: &[(f64, State)], track: &Track<'_>) -> Option<Direction> {
        if states.iter().any(|(_, state)| *state == State::Floats) {
            return Some(Direction::Unsafe);
        }
        let mut seen = false;
        for (travel, state) in states {
            let nominal = track.pins(*travel).next().and_then(Pin::ratio);
            let nominal = nominal.map(|ratio| self.command_of(ratio));
            let most = match state {
                State::True | State::Floats | State::Down => continue,
                State::Inside(_, high) => Some(nominal.map_or(*high, |n| n.max(*high))),
                State::Caught => nominal,
            };
            seen = true;
            if most.is_some_and(|most| most > self.zero.command(*travel) + HARMLESS) {
                return Some(Direction::Unsafe);
            }
        }
        seen.then_some(Direction::Safe)
    }

    /// Of readings that are caught, the nearest to the valid range below it and above.
    fn nearest(&self, read: &[f64]) -> [Option<f64>; 2] {
        let caught = read.iter().filter(|ratio| self.thresholds.catch(**ratio));
        let (below, above): (Vec<f64>, Vec<f64>) =
            caught.partition(|ratio| **ratio < self.valid.low);
        [
            below.into_iter().reduce(f64::max),
            above.into_iter().reduce(f64::min),
        ]
    }
}

impl Track<'_> {
    fn pins(&self, travel: f64) -> impl Iterator<Item = Pin> {
        let units = self.analysis.units.iter().zip(self.swept);
        units.map(move |(unit, sweep)| FaultAnalysis::pin(unit, sweep, travel, self.severity))
    }

    /// One travel, over all units.
    fn state(&self, travel: f64) -> State {
        let mut all_true = true;
        let mut commands: Option<(f64, f64)> = None;
        for (unit, pin) in self.analysis.units.iter().zip(self.pins(travel)) {
            let ratio = match pin {
                Pin::Floats => return State::Floats,
                Pin::Collapsed => return State::Down,
                Pin::Ratio(ratio) => ratio,
            };
            if self.analysis.thresholds.catch(ratio) {
                all_true = false;
            } else {
                let good = unit.curve.at(travel);
                let near = HARMLESS * unit.span;
                let command = self.analysis.zero.command(unit.curve.travel_of(ratio));
                // Where the curve is flat a reading that is hardly off commands much else.
                all_true &= good.is_some_and(|good| (ratio - good).abs() <= near)
                    && (command - self.analysis.zero.command(travel)).abs() <= HARMLESS;
                commands = Some(commands.map_or((command, command), |(low, high)| {
                    (low.min(command), high.max(command))
                }));
            }
        }
        match commands {
            _ if all_true => State::True,
            Some((low, high)) => State::Inside(low, high),
            None => State::Caught,
        }
    }

    /// States over travel: at every step, on both sides of a crack, on both sides of each place where being caught begins or
    /// ends, and where the error is largest either way.
    fn states(&self, fault: Fault) -> Vec<(f64, State)> {
        let mut travels: Vec<f64> = (0..=STEPS)
            .map(|k| f64::from(k) / f64::from(STEPS))
            .collect();
        if let Fault::TrackOpen(at) = fault {
            let wiring = self.analysis.hookup().wiring();
            let (rest, full) = (wiring.rest_position(), wiring.full_position());
            let crack = (at - rest) / (full - rest);
            travels.extend([crack - BESIDE, crack, crack + BESIDE]);
            travels.retain(|travel| (0.0..=1.0).contains(travel));
            travels.sort_by(f64::total_cmp);
        }
        let mut states: Vec<(f64, State)> = travels.iter().map(|t| (*t, self.state(*t))).collect();
        let caught = |state: &State| *state == State::Caught;
        let mut found = Vec::new();
        for pair in states.windows(2) {
            let [(mut from, a), (mut to, b)] = [pair[0], pair[1]];
            if caught(&a) == caught(&b) || to - from <= 2.0 * BESIDE {
                continue;
            }
            for _ in 0..HALVINGS {
                let middle = f64::midpoint(from, to);
                if caught(&self.state(middle)) == caught(&a) {
                    from = middle;
                } else {
                    to = middle;
                }
            }
            found.extend([from, to]);
        }
        for way in [1.0, -1.0] {
            found.extend(self.worst_between(&states, way));
        }
        states.extend(found.into_iter().map(|t| (t, self.state(t))));
        states.sort_by(|a, b| a.0.total_cmp(&b.0));
        states
    }

    /// Command above the one asked (or below it, with `way` -1) that is not noticed.
    fn error(&self, travel: f64, state: State, way: f64) -> Option<f64> {
        match state {
            State::Inside(low, high) => {
                let asked = self.analysis.zero.command(travel);
                Some(way * (if way > 0.0 { high } else { low } - asked))
            }
            _ => None,
        }
    }

    /// Where the error is largest, between the neighbours of the worst step.
    fn worst_between(&self, states: &[(f64, State)], way: f64) -> Option<f64> {
        let error = |(travel, state): &(f64, State)| self.error(*travel, *state, way);
        let (worst, _) = states
            .iter()
            .enumerate()
            .filter_map(|(k, at)| Some((k, error(at)?)))
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        let (mut from, mut to) = (
            states[worst.saturating_sub(1)].0,
            states[(worst + 1).min(states.len() - 1)].0,
        );
        let at = |travel: f64| {
            self.error(travel, self.state(travel), way)
                .unwrap_or(f64::NEG_INFINITY)
        };
        for _ in 0..HALVINGS {
            let third = (to - from) / 3.0;
            if at(from + third) < at(to - third) {
                from += third;
            } else {
                to -= third;
            }
        }
        Some(f64::midpoint(from, to))
    }

    /// Every reading over travel and units, with the extremes of each unit between the steps.
    fn readings(&self, states: &[(f64, State)]) -> Vec<f64> {
        let mut read = Vec::new();
        for (unit, sweep) in self.analysis.units.iter().zip(self.swept) {
            let at = |travel: f64| FaultAnalysis::pin(unit, sweep, travel, self.severity).ratio();
            let ratios: Vec<(f64, f64)> = states
                .iter()
                .filter_map(|(travel, _)| Some((*travel, at(*travel)?)))
                .collect();
            for three in ratios.windows(3) {
                let [before, here, after] = [three[0], three[1], three[2]];
                let way = if here.1 > before.1 && here.1 > after.1 {
                    1.0
                } else if here.1 < before.1 && here.1 < after.1 {
                    -1.0
                } else {
                    continue;
                };
                let (mut from, mut to) = (before.0, after.0);
                for _ in 0..HALVINGS {
                    let third = (to - from) / 3.0;
                    let [low, high] =
                        [from + third, to - third].map(|t| at(t).map(|ratio| way * ratio));
                    if low < high {
                        from += third;
                    } else {
                        to -= third;
                    }
                }
                read.extend(at(f64::midpoint(from, to)));
            }
            read.extend(ratios.into_iter().map(|(_, ratio)| ratio));
        }
        read
    }

    fn point(&self, travel: f64) -> FaultPoint {
        let analysis = self.analysis;
        let ratio = self.pins(travel).next().and_then(Pin::ratio);
        FaultPoint {
            travel_pct: percent(travel),
            ratio,
            code: ratio.map(|ratio| analysis.hookup().code(ratio)),
            command_pct: ratio.map(|ratio| analysis.command_of(ratio) * 100.0),
        }
    }
}

fn widest(ranges: impl Iterator<Item = [f64; 2]>) -> Option<[f64; 2]> {
    ranges.reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])
}

/// The class over all travels. Where the supply is down or the reading is true there is nothing to catch.
fn class(states: &[(f64, State)]) -> Class {
    let count = |wanted: fn(&State) -> bool| states.iter().filter(|(_, s)| wanted(s)).count();
    let caught = count(|s| *s == State::Caught);
    let floats = count(|s| *s == State::Floats);
    let inside = count(|s| matches!(s, State::Inside(..)));
    if caught > 0 {
        if inside + floats > 0 {
            Class::CaughtInPart
        } else {
            Class::Caught
        }
    } else if inside > 0 {
        Class::Hidden
    } else if floats > 0 {
        Class::Floats
    } else if count(|s| *s == State::Down) == states.len() {
        Class::SupplyDown
    } else {
        Class::ReadsTrue
    }
}
