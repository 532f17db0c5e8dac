//! What all cases came to: one line for each fault of each control.

use super::Outcome;
use super::cases::{self, BY_TRACKS, BY_WINDOW, Case, Held};
use super::controls::{FULL_DAC, Setup, ZERO_DAC};
use pedalproof::wiring::faults::{Class, Direction};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

#[derive(Default)]
struct Row {
    cases: u32,
    by_window: u32,
    by_tracks: u32,
    as_listed: u32,
    surprises: u32,
    slowest_us: u64,
    /// Highest output above what it was and what the control asks for, DAC codes.
    above: u16,
}

/// A place in the wiring table where not every unit is caught, or where every unit is.
type Spot = (usize, String, i64);

pub struct Tally<'a> {
    setup: &'a Setup,
    parts: BTreeSet<&'static str>,
    rows: BTreeMap<(usize, String), Row>,
    /// Travels at which some unit was missed by the windows.
    missed_at: BTreeSet<Spot>,
    tried_at: BTreeSet<Spot>,
    pub surprises: Vec<String>,
}

impl<'a> Tally<'a> {
    pub fn new(setup: &'a Setup) -> Self {
        Self {
            setup,
            parts: BTreeSet::new(),
            rows: BTreeMap::new(),
            missed_at: BTreeSet::new(),
            tried_at: BTreeSet::new(),
            surprises: Vec::new(),
        }
    }

    pub fn cases(&self) -> u32 {
        self.rows.values().map(|row| row.cases).sum()
    }

    pub fn add(&mut self, part: &'static str, cases: &[Case], outcomes: &[Outcome]) {
        assert_eq!(cases.len(), outcomes.len());
        self.parts.insert(part);
        for (case, outcome) in cases.iter().zip(outcomes) {
            self.count(case, outcome);
            let spot = (
                case.line,
                case.fault.clone(),
                cases::travel_pct(case).round() as i64,
            );
            if case.expect != BY_WINDOW {
                self.missed_at.insert(spot.clone());
            }
            self.tried_at.insert(spot);
            if let Some(surprise) = &outcome.surprise {
                self.surprises
                    .push(format!("{part}, {}: {surprise}", self.setup.name));
            }
        }
    }

    /// The output that the true travels ask for.
    fn asked(&self, case: &Case) -> u16 {
        let is_check = |line: usize| self.setup.two_tracks && line == 1;
        let factors = case
            .travels
            .iter()
            .enumerate()
            .filter(|(line, _)| !is_check(*line));
        let share: f64 = factors.map(|(_, travel)| travel).product();
        ZERO_DAC + (share * f64::from(FULL_DAC - ZERO_DAC)).round() as u16
    }

    fn count(&mut self, case: &Case, outcome: &Outcome) {
        let asked = if case.expect.stops() {
            0
        } else {
            self.asked(case)
        };
        let row = self
            .rows
            .entry((case.line, case.fault.clone()))
            .or_default();
        row.cases += 1;
        row.surprises += u32::from(outcome.surprise.is_some());
        match case.expect {
            BY_WINDOW => row.by_window += 1,
            BY_TRACKS => row.by_tracks += 1,
            _ => row.as_listed += 1,
        }
        if matches!(case.held, Held::Rising | Held::Running) {
            row.above = row.above.max(
                outcome
                    .fault
                    .peak
                    .saturating_sub(outcome.fault.was.max(asked)),
            );
            if case.expect.stops() {
                row.slowest_us = row
                    .slowest_us
                    .max(outcome.fault.zero_us.unwrap_or(u64::MAX));
            }
        }
    }

    /// The wiring table's promises against what was done: where it says caught, every unit was; where it does not, and the
    /// reading is not a true one either, some unit was missed. The second only with units at the corners.
    pub fn hold_table(&mut self, with_corners: bool) {
        for (line, fault, pct) in &self.tried_at {
            let row = cases::row(self.setup, *line, fault);
            // What comes by degrees is caught or not as bad as it is; the table says what holds for all of them.
            let Some(row) = row.filter(|row| row.fault.places_thresholds()) else {
                continue;
            };
            let promised = cases::promised(row, *pct as f64);
            let missed = self.missed_at.contains(&(*line, fault.clone(), *pct));
            if promised == missed && (promised || with_corners) {
                self.surprises.push(format!(
                    "{}, {}: {fault} at {pct} %: the table says {}",
                    self.setup.name,
                    self.setup.lines[*line].name,
                    if promised {
                        "caught, and a unit is missed"
                    } else {
                        "missed, and every unit is caught"
                    }
                ));
            }
        }
    }

    /// What the wiring table says of a fault.
    fn foretold(&self, line: usize, fault: &str) -> String {
        let Some(row) = cases::row(self.setup, line, fault) else {
            return "caught: window or tracks".to_owned();
        };
        let mut words = row.class.to_string();
        if row.class == Class::CaughtInPart {
            let runs: Vec<String> = row
                .caught_at_pct
                .iter()
                .map(|[a, b]| format!("{a:.0}..{b:.0}"))
                .collect();
            let _ = write!(words, " {} %", runs.join(", "));
        }
        match row.direction {
            Some(Direction::Safe) if row.missed() => words.push_str(", safe"),
            Some(Direction::Unsafe) if row.missed() => words.push_str(", unsafe"),
            _ => {}
        }
        words
    }

    pub fn to_markdown(&self) -> String {
        let parts: Vec<&str> = self.parts.iter().copied().collect();
        let mut text = format!("### {}: {}\n\n", capital(self.setup.name), parts.join(", "));
        text.push_str(
            "| fault | the wiring table says | cases | stopped by window | by tracks | ran on as listed | slowest to zero | most \
             above what is asked | surprises |\n| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |\n",
        );
        let faults = (0..self.setup.lines.len()).flat_map(|line| {
            let listed = self.setup.lines[line]
                .report
                .faults
                .iter()
                .filter(|row| row.fault.places_thresholds())
                .map(|row| row.fault.to_string());
            let both = (self.setup.two_tracks && line == 0).then(|| cases::TRACKS_TOUCH.to_owned());
            listed.chain(both).map(move |fault| (line, fault))
        });
        for (line, fault) in faults {
            let none = Row::default();
            let row = self.rows.get(&(line, fault.clone())).unwrap_or(&none);
            let of_full = 100.0 * f64::from(row.above) / f64::from(FULL_DAC - ZERO_DAC);
            let zero = if row.by_window + row.by_tracks > 0 {
                format!("{:.1} ms", row.slowest_us as f64 / 1000.0)
            } else {
                "-".to_owned()
            };
            let _ = writeln!(
                text,
                "| {}: {fault} | {} | {} | {} | {} | {} | {zero} | {of_full:.0} % | {} |",
                self.setup.lines[line].name,
                self.foretold(line, &fault),
                row.cases,
                row.by_window,
                row.by_tracks,
                row.as_listed,
                row.surprises
            );
        }
        text.push('\n');
        text
    }
}

fn capital(words: &str) -> String {
    words[..1].to_uppercase() + &words[1..]
}
