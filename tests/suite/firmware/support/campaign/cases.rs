//! Which fault is tried where, what the board then reads, and what must come of it.
//!
//! The readings are those of the wiring table's networks with the fault in them; what must come of a fault is said by the
//! table's thresholds and the comparison of two tracks, before anything runs.

use super::controls::{Rig, Setup};
use pedalproof::wiring::faults::{Direction, FaultRow};
use pedalproof::wiring::{Curve, Fault, Hookup, Pin, corners, pair};

/// Travels of the faulty control: all on the grid of the wiring table.
pub const TRAVELS: [f64; 9] = [0.0, 0.1, 0.25, 0.4, 0.5, 0.6, 0.75, 0.9, 1.0];
/// Travels of the other control.
pub const OTHERS: &[f64] = &[0.1, 0.5, 1.0];
/// The same where the other control does not matter.
pub const ONE_OTHER: &[f64] = &[0.5];

/// What the board is doing when it happens.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Held {
    Waiting,
    /// Just pressed, the output on its way up.
    Rising,
    Running,
    Stopped,
}

impl Held {
    pub const ALL: [Self; 4] = [Self::Waiting, Self::Rising, Self::Running, Self::Stopped];
}

/// What must come of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Expect {
    /// It stops, for this cause.
    Stop(u8),
    /// It runs on, with this share of full output; never more than it was when the table calls the fault safe.
    Listed { output: f64, safe: bool },
}

impl Expect {
    pub fn stops(self) -> bool {
        matches!(self, Self::Stop(_))
    }
}

pub const BY_WINDOW: Expect = Expect::Stop(8);
pub const BY_TRACKS: Expect = Expect::Stop(9);

/// One fault at one place.
#[derive(Debug, Clone)]
pub struct Case {
    /// The faulty line, and the name of the fault.
    pub line: usize,
    pub fault: String,
    pub held: Held,
    /// Of each line.
    pub travels: Vec<f64>,
    /// Codes of single samples before the one that counts: a pin that drifts off.
    pub before: Vec<Vec<u16>>,
    /// Codes from then on.
    pub codes: Vec<u16>,
    pub expect: Expect,
}

/// The fault that is no row of one track's table.
pub const TRACKS_TOUCH: &str = "signal 1-signal 2 short";

/// Places that differ, with the faulty line at every travel: one travel for each line.
fn places(setup: &Setup, line: usize, others: &[f64]) -> Vec<Vec<f64>> {
    let is_dial = line + 1 == setup.lines.len();
    let place = move |control: f64, dial: f64| {
        let mut travels = vec![control; setup.lines.len()];
        travels[setup.lines.len() - 1] = dial;
        travels
    };
    let both = move |at: f64, other: f64| {
        if is_dial {
            place(other, at)
        } else {
            place(at, other)
        }
    };
    TRAVELS
        .iter()
        .flat_map(|at| others.iter().map(move |other| both(*at, *other)))
        .collect()
}

/// The travel that a straight track's reading says, beyond its ends too: the board compares codes, and they do not stop there.
fn straight_travel(unit: &Hookup, ratio: f64) -> f64 {
    let [rest, full] = [0.0, 1.0].map(|travel| unit.pin(travel, None).ratio().unwrap());
    (ratio - rest) / (full - rest)
}

/// What the second track says of the first, or the first of the second: more than the band apart.
fn tracks_disagree(rig: &Rig<'_>, line: usize, ratio: f64, travel: f64) -> bool {
    let apart = || (straight_travel(&rig.hookups[line], ratio) - travel).abs();
    rig.setup.two_tracks && line < 2 && apart() > pair::BAND
}

fn code(unit: &Hookup, ratio: f64) -> u16 {
    u16::try_from(unit.code(ratio)).unwrap()
}

/// Whether the table's thresholds catch a reading.
pub fn caught(setup: &Setup, line: usize, ratio: f64) -> bool {
    setup.lines[line].report.windows.thresholds().catch(ratio)
}

/// The output that a reading of one line is taken for. Of two tracks the lower counts.
fn output(rig: &Rig<'_>, line: usize, ratio: f64, travels: &[f64]) -> f64 {
    let mut said = travels.to_vec();
    said[line] = Curve::of(&rig.hookups[line]).travel_of(ratio);
    output_of(rig, &said)
}

/// The output of travels as they are read.
fn output_of(rig: &Rig<'_>, said: &[f64]) -> f64 {
    if rig.setup.two_tracks {
        return said[0].min(said[1]) * said[2..].iter().product::<f64>();
    }
    said.iter().product()
}

struct Place<'a> {
    rig: &'a Rig<'a>,
    line: usize,
    held: Held,
    travels: &'a [f64],
}

impl Place<'_> {
    fn case(&self, fault: &str, codes: Vec<u16>, expect: Expect) -> Case {
        Case {
            line: self.line,
            fault: fault.to_owned(),
            held: self.held,
            travels: self.travels.to_vec(),
            before: Vec::new(),
            codes,
            expect,
        }
    }

    fn with(&self, code: u16) -> Vec<u16> {
        let mut row = self.rig.row(self.travels);
        row[self.line] = code;
        row
    }

    fn expect(&self, ratio: f64, safe: bool) -> Expect {
        if caught(self.rig.setup, self.line, ratio) {
            BY_WINDOW
        } else if tracks_disagree(self.rig, self.line, ratio, self.travels[self.line]) {
            BY_TRACKS
        } else {
            Expect::Listed {
                output: output(self.rig, self.line, ratio, self.travels),
                safe,
            }
        }
    }

    /// A fault as bad as it stands there, of a row of the table.
    fn of(&self, fault: Fault, row: &FaultRow) -> Vec<Case> {
        let name = fault.to_string();
        let unit = self.rig.hookups[self.line];
        match unit.pin(self.travels[self.line], Some(fault)) {
            Pin::Collapsed => Vec::new(), // the board has no supply either
            Pin::Ratio(ratio) => {
                let safe = row.direction != Some(Direction::Unsafe);
                vec![self.case(
                    &name,
                    self.with(code(&unit, ratio)),
                    self.expect(ratio, safe),
                )]
            }
            Pin::Floats => self.floating(&name),
        }
    }

    /// A pin that nothing holds: at several levels, and drifting off to either rail.
    fn floating(&self, fault: &str) -> Vec<Case> {
        let mut cases: Vec<Case> = [0, 256, 512, 768, 1023]
            .map(|code: u16| {
                let expect = self.expect(f64::from(code) / 1024.0, false);
                self.case(fault, self.with(code), expect)
            })
            .into();
        let from = i32::from(self.rig.code(self.line, self.travels[self.line]));
        for (rail, step) in [(0, -13), (1023, 13)] {
            let drift: Vec<u16> = (1..80)
                .map(|n| (from + n * step).clamp(0, 1023) as u16)
                .take_while(|code| !caught(self.rig.setup, self.line, f64::from(*code) / 1024.0))
                .collect();
            let mut case = self.case(fault, self.with(rail), BY_WINDOW);
            case.before = drift.into_iter().map(|code| self.with(code)).collect();
            cases.push(case);
        }
        cases
    }

    /// Both tracks at the voltage that two sources behind their output resistances and pull-downs come to (Millman's theorem;
    /// the sensors' ratios and ohms are the profile's).
    fn tracks_touch(&self) -> Case {
        let (mut current, mut conductance) = (0.0, 0.0);
        for line in [0, 1] {
            let w = self.rig.hookups[line].wiring();
            let sensor = w.network.sensor().unwrap();
            let (low, high) = (sensor.low_ratio.unwrap(), sensor.high_ratio.unwrap());
            let output = 1.0 / sensor.output_ohm;
            current += (low + (high - low) * self.travels[0]) * output;
            conductance += output + 1.0 / w.pull_down_ohm.unwrap();
        }
        let ratio = current / conductance;
        let seen = |line: usize| caught(self.rig.setup, line, ratio);
        let travel = |line: usize| straight_travel(&self.rig.hookups[line], ratio);
        let expect = if seen(0) || seen(1) {
            BY_WINDOW
        } else if (travel(0) - travel(1)).abs() > pair::BAND {
            BY_TRACKS
        } else {
            let mut said = self.travels.to_vec();
            for (line, said) in said.iter_mut().enumerate().take(2) {
                *said = Curve::of(&self.rig.hookups[line]).travel_of(ratio);
            }
            Expect::Listed {
                output: output_of(self.rig, &said),
                safe: false,
            }
        };
        let mut codes = self.rig.row(self.travels);
        codes[0] = code(&self.rig.hookups[0], ratio);
        codes[1] = code(&self.rig.hookups[1], ratio);
        self.case(TRACKS_TOUCH, codes, expect)
    }
}

/// What comes by degrees, at its mildest, at its worst and half-way on a scale of ratios; and what is connected wrongly.
fn degrees_and_exchanges(setup: &Setup, line: usize) -> Vec<(Fault, &FaultRow)> {
    let rows = setup.lines[line].report.faults.iter();
    rows.filter(|row| !row.fault.places_thresholds())
        .flat_map(|row| {
            let bad: Vec<Fault> = match row.fault.severities() {
                Some(of) => [0.0, 0.5, 1.0]
                    .map(|share| {
                        row.fault
                            .as_bad_as(of.mild * (of.severe / of.mild).powf(share))
                    })
                    .into(),
                None => vec![row.fault],
            };
            bad.into_iter().map(move |fault| (fault, row))
        })
        .collect()
}

/// Broken and bridged wires and parts.
fn wires_and_parts(setup: &Setup, line: usize) -> impl Iterator<Item = &FaultRow> {
    let rows = setup.lines[line].report.faults.iter();
    rows.filter(|row| row.fault.places_thresholds())
}

/// Whether the other control stands at half its travel.
fn half_way(setup: &Setup, line: usize, travels: &[f64]) -> bool {
    let dial = setup.lines.len() - 1;
    let other = if line == dial { 0 } else { dial };
    other == line || (travels[other] - ONE_OTHER[0]).abs() < 1e-9
}

/// Every fault of one line of a rig, in these states, with the other control at these travels.
pub fn of_line(rig: &Rig<'_>, line: usize, states: &[Held], others: &[f64]) -> Vec<Case> {
    let mut cases = Vec::new();
    let nominal = states.len() > 1;
    for travels in places(rig.setup, line, others) {
        for &held in states {
            let command: f64 = travels.iter().product();
            if held == Held::Rising && command < 0.02 {
                continue; // nothing rises there
            }
            let place = Place {
                rig,
                line,
                held,
                travels: &travels,
            };
            for row in wires_and_parts(rig.setup, line) {
                cases.extend(place.of(row.fault, row));
            }
            if nominal && held != Held::Stopped && half_way(rig.setup, line, &travels) {
                for (fault, row) in degrees_and_exchanges(rig.setup, line) {
                    cases.extend(place.of(fault, row));
                }
            }
            if rig.setup.two_tracks && line == 0 {
                cases.push(place.tracks_touch());
            }
        }
    }
    cases
}

/// Units at corners of their tolerances that read least or most with some fault at some travel.
pub fn extreme_units(setup: &Setup, line: usize) -> Vec<Hookup> {
    let units = corners(&setup.lines[line].hookup);
    let mut picked: Vec<usize> = Vec::new();
    for row in wires_and_parts(setup, line) {
        for travel in TRAVELS {
            let read = |n: usize| units[n].pin(travel, Some(row.fault)).ratio();
            let at = (0..units.len()).filter_map(|n| read(n).map(|ratio| (n, ratio)));
            let least = at.clone().min_by(|a, b| a.1.total_cmp(&b.1));
            let most = at.max_by(|a, b| a.1.total_cmp(&b.1));
            picked.extend([least, most].into_iter().flatten().map(|(n, _)| n));
        }
    }
    picked.sort_unstable();
    picked.dedup();
    picked.into_iter().map(|n| units[n]).collect()
}

/// The place of a case in the table, percent of travel.
pub fn travel_pct(case: &Case) -> f64 {
    (case.travels[case.line] * 1e4).round() / 100.0
}

/// Whether the table promises, for every unit inside the tolerances, that a window catches this fault here.
pub fn promised(row: &FaultRow, travel_pct: f64) -> bool {
    row.caught_at_pct
        .iter()
        .any(|[from, to]| (*from..=*to).contains(&travel_pct))
}

/// The fault of a name.
pub fn row<'a>(setup: &'a Setup, line: usize, name: &str) -> Option<&'a FaultRow> {
    let wanted = |fault: Fault| fault.to_string() == name;
    setup.lines[line]
        .report
        .faults
        .iter()
        .find(|row| wanted(row.fault))
}
