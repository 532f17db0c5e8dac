//! The trolley's controls on one board: their wiring, their wiring table, and a block as it would be fitted.

use super::super::blocks;
use pedalproof::constants::{BlockFields, Input, Output, Q15_ONE, Start};
use pedalproof::profile;
use pedalproof::wiring::windows::Windows;
use pedalproof::wiring::{ControlWiring, Hookup, TrackReport, WiringReport, pair};

pub const ZERO_DAC: u16 = 100;
pub const FULL_DAC: u16 = 4000;
/// Of the profiles.
pub const STOP_WITHIN_MS: u32 = 50;
/// Bad samples until the stop, at 1 kHz: far below what the profiles allow.
pub const PERSISTENCE: u32 = 8;
pub const START_SAMPLES: u32 = 50;
/// Between the ends of travel and the edges, as a share of travel.
pub const DEAD_BAND: f64 = 0.02;

/// One ADC input: a track of a control.
pub struct Line {
    /// As the campaign's table names it.
    pub name: &'static str,
    /// What `pedalproof wiring` says of it.
    pub report: TrackReport,
    /// The nominal unit.
    pub hookup: Hookup,
}

/// The controls of one board.
pub struct Setup {
    pub name: &'static str,
    pub lines: Vec<Line>,
    /// The second line is the first one's second track.
    pub two_tracks: bool,
}

/// One set of units on it: the nominal ones, or one of them at a corner of its tolerances.
pub struct Rig<'a> {
    pub setup: &'a Setup,
    pub hookups: Vec<Hookup>,
}

/// The built-in profile as a 10-bit board sees it; with `bare`, without its pull-down.
fn control(name: &str, bare: bool) -> ControlWiring {
    let profile = profile::find(name).unwrap();
    assert!((profile.stop_within_ms - f64::from(STOP_WITHIN_MS)).abs() < 1e-9);
    let mut control = profile.control_wiring(10);
    if bare {
        control.tracks[0].wiring.pull_down_ohm = None;
    }
    control
}

fn lines(control: &ControlWiring, names: &[&'static str]) -> Vec<Line> {
    let report = WiringReport::of(control).unwrap();
    report
        .tracks
        .into_iter()
        .zip(names)
        .map(|(report, name)| Line {
            name,
            hookup: Hookup::new(report.wiring, control.supply_mv, control.bits).unwrap(),
            report,
        })
        .collect()
}

impl Setup {
    fn new(name: &'static str, controls: &[(&str, bool, &[&'static str])]) -> Self {
        let lines: Vec<Line> = controls
            .iter()
            .flat_map(|(profile, bare, names)| lines(&control(profile, *bare), names))
            .collect();
        Self {
            name,
            two_tracks: controls[0].2.len() == 2,
            lines,
        }
    }

    /// A pedal with two tracks and a dial: three inputs.
    pub fn two_track_pedal() -> Self {
        Self::new(
            "two-track pedal and dial",
            &[
                (
                    "pedal-hall-two-track",
                    false,
                    &["pedal track 1", "pedal track 2"],
                ),
                ("dial-rheostat", false, &["dial"]),
            ],
        )
    }

    pub fn one_track_pedal() -> Self {
        Self::new(
            "one-track pedal and dial",
            &[
                ("pedal-hall-one-track", false, &["pedal"]),
                ("dial-rheostat", false, &["dial"]),
            ],
        )
    }

    pub fn lever() -> Self {
        Self::new(
            "shunting lever and dial",
            &[
                ("lever-shunting", false, &["lever"]),
                ("dial-rheostat", false, &["dial"]),
            ],
        )
    }

    /// A pedal whose pull-down was left out: its open wires float.
    pub fn bare_pedal() -> Self {
        Self::new(
            "one-track pedal without its pull-down, and dial",
            &[
                ("pedal-hall-one-track", true, &["bare pedal"]),
                ("dial-rheostat", false, &["dial"]),
            ],
        )
    }

    pub fn nominal(&self) -> Rig<'_> {
        Rig {
            setup: self,
            hookups: self.lines.iter().map(|line| line.hookup).collect(),
        }
    }

    /// The same with one input's unit exchanged.
    pub fn with_unit(&self, line: usize, unit: &Hookup) -> Rig<'_> {
        let mut rig = self.nominal();
        rig.hookups[line] = *unit;
        rig
    }
}

/// A share as Q15.
fn q15(share: f64) -> u16 {
    (share.clamp(0.0, 1.0) * f64::from(Q15_ONE)).round() as u16
}

/// The codes that are believed.
pub fn believed(windows: &Windows) -> (u16, u16) {
    let code = |edge: &Option<pedalproof::wiring::windows::WindowEdge>, none| {
        edge.as_ref()
            .map_or(none, |edge| u16::try_from(edge.code).unwrap())
    };
    (code(&windows.low, 0), code(&windows.high, 1023))
}

impl Rig<'_> {
    /// What a good unit reads at a travel.
    pub fn code(&self, line: usize, travel: f64) -> u16 {
        let ratio = self.hookups[line].pin(travel, None).ratio().unwrap();
        u16::try_from(self.hookups[line].code(ratio)).unwrap()
    }

    /// Good codes of every input.
    pub fn row(&self, travels: &[f64]) -> Vec<u16> {
        travels
            .iter()
            .enumerate()
            .map(|(line, t)| self.code(line, *t))
            .collect()
    }

    /// The block that a bench would choose for these units: edges and curve from their readings, windows from the table.
    pub fn draft(&self) -> BlockFields {
        let inputs = (0..self.hookups.len())
            .map(|line| {
                if self.setup.two_tracks && line == 1 {
                    self.check()
                } else {
                    self.factor(line)
                }
            })
            .collect();
        let mut draft = blocks::draft(inputs);
        draft.output = Output {
            zero_dac: ZERO_DAC,
            full_dac: FULL_DAC,
            rise_q15: 1024,
            fall_q15: 2048,
            waits_at_zero: false,
        };
        draft.start = Start {
            input: 0,
            samples: u16::try_from(START_SAMPLES).unwrap(),
        };
        draft.persistence = u16::try_from(PERSISTENCE).unwrap();
        draft
    }

    fn factor(&self, line: usize) -> Input {
        let (low, high) = believed(&self.setup.lines[line].report.windows);
        // The dial's curve is bent, the lever's a little; a hall sensor's is straight.
        let places: &[f64] = match self.setup.lines[line].name {
            "dial" => &[0.05, 0.1, 0.16, 0.24, 0.35, 0.5, 0.7],
            "lever" => &[0.2, 0.4, 0.6, 0.8],
            _ => &[],
        };
        let points: Vec<(u16, u16)> = places
            .iter()
            .map(|t| {
                (
                    self.code(line, *t),
                    q15((t - DEAD_BAND) / (1.0 - 2.0 * DEAD_BAND)),
                )
            })
            .collect();
        let edges = [DEAD_BAND, 1.0 - DEAD_BAND].map(|t| self.code(line, t));
        blocks::factor(low, high, edges[0], edges[1], &points, 2)
    }

    /// The second track must read what the first one foretells, within the band of `wiring::pair`.
    fn check(&self) -> Input {
        let (low, high) = believed(&self.setup.lines[1].report.windows);
        let ends = |line| [0.0, 1.0].map(|t| f64::from(self.code(line, t)));
        let ([rest, full], [second_rest, second_full]) = (ends(0), ends(1));
        let gain = (second_full - second_rest) / (full - rest);
        let offset = (second_rest - gain * rest).round() as i16;
        let band = (pair::BAND * (second_full - second_rest)).round() as u16;
        blocks::check(low, high, 0, gain, offset, band)
    }
}
