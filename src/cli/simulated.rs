//! Simulated boards: on a pseudo-terminal, opened by the same code as a USB adapter; in memory where there is none.

use crate::bench::{Run, RunEvent, StepProgress, StepState, TellApart};
use crate::link::{
    AskedOfHand, BoardLines, LineSource, LinkError, MemoryBoard, Pace, Received, Source,
};
#[cfg(unix)]
use crate::link::{Overflow, PtyBoard, SerialSettings, SerialSource, WhenLost};
use crate::profile::{self, Kind, Profile};
use crate::wiring::{Network, Wiring};
use anyhow::anyhow;
use measure::units::Trial;
use simulator::{SCENARIO_UNITS, Sensor, Simulation, TRIAL_UNITS, scenario};
use std::sync::Arc;
use std::time::Duration;

/// What must be kept as long as the board's run lasts.
pub(super) struct SimulatedBoard {
    #[cfg(unix)]
    _board: Option<PtyBoard>,
}

/// Starts a board called `name` that prints `lines`, `speed` times as fast as life.
pub(super) fn start(
    name: &str,
    lines: impl LineSource + Clone + 'static,
    speed: f64,
) -> (Box<dyn Source>, SimulatedBoard) {
    let pace = Pace::Times(speed);
    #[cfg(unix)]
    let (source, board) = start_by(SerialSource::open, name, lines, pace);
    #[cfg(not(unix))]
    let (source, board) = in_memory(name, lines, pace);
    (marked(source), board)
}

/// Whatever is recorded from it says that it was simulated.
pub(super) fn marked(source: Box<dyn Source>) -> Box<dyn Source> {
    Box::new(Simulated(source))
}

struct Simulated(Box<dyn Source>);

impl Source for Simulated {
    fn receive(&mut self, buffer: &mut [u8], wait: Duration) -> Result<Received, LinkError> {
        self.0.receive(buffer, wait)
    }

    fn describe(&self) -> String {
        self.0.describe()
    }

    fn search(&self) -> Option<String> {
        self.0.search()
    }

    fn is_simulated(&self) -> bool {
        true
    }

    fn may_mend(&self) -> bool {
        self.0.may_mend()
    }
}

#[cfg(unix)]
type Open = fn(SerialSettings) -> Result<SerialSource, LinkError>;

/// On a terminal, and in memory where that cannot be.
#[cfg(unix)]
fn start_by(
    open: Open,
    name: &str,
    lines: impl LineSource + Clone + 'static,
    pace: Pace,
) -> (Box<dyn Source>, SimulatedBoard) {
    on_a_terminal(lines.clone(), pace, open).unwrap_or_else(|_| in_memory(name, lines, pace))
}

/// Through the code that opens a USB adapter, where the system has pseudo-terminals and lets them have a port's speed: not
/// every one does.
#[cfg(unix)]
fn on_a_terminal(
    lines: impl LineSource + 'static,
    pace: Pace,
    open: Open,
) -> Result<(Box<dyn Source>, SimulatedBoard), LinkError> {
    let board = PtyBoard::start(lines, pace, Overflow::Wait)?;
    let source = open(SerialSettings {
        path: board.path().to_string_lossy().into_owned(),
        baud: Some(1_000_000),
        when_lost: WhenLost::Wait,
    })?;
    let board = SimulatedBoard {
        _board: Some(board),
    };
    Ok((Box::new(source), board))
}

fn in_memory(
    name: &str,
    lines: impl LineSource + 'static,
    pace: Pace,
) -> (Box<dyn Source>, SimulatedBoard) {
    let board = SimulatedBoard {
        #[cfg(unix)]
        _board: None,
    };
    (Box::new(MemoryBoard::new(name, lines, pace)), board)
}

/// A simulated unit and what it is held against.
pub(super) struct DemoUnit {
    pub(super) tag: String,
    pub(super) profile: Arc<Profile>,
    simulation: Simulation,
    /// What its hand is asked; absent for a part whose world does not answer to a trial.
    asked: Option<AskedOfHand>,
}

/// Every part that can be simulated: name and a word about it.
pub(super) fn demo_units() -> impl Iterator<Item = &'static (&'static str, &'static str)> {
    SCENARIO_UNITS.iter().chain(&TRIAL_UNITS)
}

impl DemoUnit {
    pub(super) fn named(name: &str, seed: u64) -> anyhow::Result<Self> {
        let known = || {
            demo_units()
                .map(|(name, _)| *name)
                .collect::<Vec<_>>()
                .join(", ")
        };
        let unit = scenario(name).ok_or_else(|| {
            anyhow!(
                "there is no simulated part `{name}`: choose one of {}",
                known()
            )
        })?;
        let kind = profile_of(name);
        let profile = profile::find(kind).ok_or_else(|| {
            anyhow!("the built-in profile {kind} is missing: this is a fault of the program")
        })?;
        let simulation =
            Simulation::new(&unit, seed).map_err(|e| anyhow!("simulated part {name}: {e}"))?;
        Ok(Self {
            tag: name.to_owned(),
            profile: Arc::new(profile),
            simulation,
            asked: TRIAL_UNITS
                .iter()
                .any(|(answers, _)| *answers == name)
                .then(AskedOfHand::default),
        })
    }

    /// A good part of a kind: the scenario's control of that sort, wired as the profile says.
    pub(super) fn fitting(profile: &Profile, tag: &str) -> anyhow::Result<Self> {
        let model = match profile.kind {
            Kind::Pedal => "T1-pedal",
            Kind::Dial => "T1-dial",
            Kind::Lever => "T1-lever",
        };
        let mut unit =
            scenario(model).ok_or_else(|| anyhow!("there is no simulated unit `{model}`"))?;
        tag.clone_into(&mut unit.tag);
        let like = unit.control.channels.first().cloned();
        let like = like.ok_or_else(|| anyhow!("the simulated unit `{model}` has no channel"))?;
        let name = like.name.trim_end_matches("_a").to_owned();
        let mut channels = Vec::new();
        for ((track, part), letter) in profile.tracks.iter().zip('a'..) {
            let wiring = part.wiring.ok_or_else(|| {
                anyhow!(
                    "\"{}\" does not say how it is wired, so it cannot be simulated",
                    profile.name
                )
            })?;
            let mut channel = like.clone().track(*track);
            channel.network = network(&wiring);
            channel.name = match profile.tracks.len() {
                1 => name.clone(),
                _ => format!("{name}_{letter}"),
            };
            channels.push(channel);
        }
        unit.control.channels = channels;
        unit.control.supply_mv = profile.supply_mv;
        let simulation =
            Simulation::new(&unit, 1).map_err(|e| anyhow!("simulated unit {tag}: {e}"))?;
        Ok(Self {
            tag: tag.to_owned(),
            profile: Arc::new(profile.clone()),
            simulation,
            asked: None,
        })
    }

    /// Its board, `speed` times as fast as life.
    pub(super) fn board(&self, speed: f64) -> (Box<dyn Source>, SimulatedBoard) {
        let lines = BoardLines::new(self.simulation.clone());
        let lines = lines.asked(self.asked.clone().unwrap_or_default());
        start(&format!("simulated board {}", self.tag), lines, speed)
    }
}

impl DemoUnit {
    /// Whether trials are offered: with a hand that goes through a script nothing can be tried.
    pub(super) fn tell_apart(&self) -> TellApart {
        match self.asked {
            Some(_) => TellApart::Ask,
            None => TellApart::Never,
        }
    }

    /// The run with its simulated person looking on, who does what a trial asks for.
    pub(super) fn watched(&self, run: Run) -> Run {
        match self.asked.clone() {
            None => run,
            Some(asked) => run.seen_by(move |event| {
                if let RunEvent::Progress(steps) = event {
                    obey(steps, &asked);
                }
            }),
        }
    }
}

/// Lets go as soon as a trial is offered, and wiggles the plug once it is taken.
fn obey(steps: &[StepProgress], asked: &AskedOfHand) {
    let mut steps = steps.iter();
    let Some(trial) = steps.find(|step| step.state == StepState::Current && step.trial.is_some())
    else {
        return;
    };
    asked.let_go();
    if trial.trial == Some(Trial::Plug) && !trial.asks() {
        asked.wiggle_plug();
    }
}

/// What is left between wiper and end of a good track at its stop, ohms: within what the built-in profiles allow.
const STOP_OHM: f64 = 100.0;

/// A wiring as the simulator has it.
fn network(wiring: &Wiring) -> simulator::Network {
    let (rest_at, full_at) = (wiring.rest_position(), wiring.full_position());
    let sensor = match wiring.network {
        Network::Buffered { sensor, .. } => {
            let (low, high) = sensor.drive_ends();
            let at = |position: f64| low + position * (high - low);
            Sensor::Source {
                rest_ratio: at(rest_at),
                full_ratio: at(full_at),
                output_ohm: sensor.output_ohm,
            }
        }
        Network::ThreeWire {
            track,
            end_high_ohm,
            ..
        } => Sensor::Potentiometer {
            track_ohm: track.ohm,
            low_end_ohm: track.end_low_ohm.unwrap_or(0.0),
            high_end_ohm: end_high_ohm.unwrap_or(0.0),
            rest_at,
            full_at,
        },
        Network::Rheostat { track, .. } => Sensor::Rheostat {
            track_ohm: track.ohm,
            end_ohm: track.end_low_ohm.unwrap_or(STOP_OHM),
            rest_at,
            full_at,
        },
    };
    let divided = wiring.divider.map(|of| (of.top_ohm, of.bottom_ohm));
    simulator::Network {
        pull_up_ohm: wiring.network.pull_up_ohm(),
        pull_down_ohm: wiring.pull_down_ohm,
        series_ohm: divided.map_or(wiring.series_ohm.unwrap_or(0.0), |(top, _)| top),
        load_ohm: divided.map(|(_, bottom)| bottom).or(wiring.load_ohm),
        ..simulator::Network::bare(sensor)
    }
}

/// The built-in profile of a scenario unit.
pub(super) fn profile_of(unit: &str) -> &'static str {
    if unit.ends_with("dial") {
        "dial-rheostat"
    } else if unit.ends_with("lever") {
        "lever-shunting"
    } else {
        "pedal-hall-two-track"
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use crate::bench::{self, Asking, Setup};
    use crate::diagnose::CauseWord;

    /// The whole way: the card, the trial that it adds, the simulated person who wiggles the plug, and what that settles.
    #[test]
    fn the_trial_of_a_demo_finds_the_loose_plug() {
        let unit = DemoUnit::named("T2-dial", 1).unwrap();
        assert_eq!(unit.tell_apart(), TellApart::Ask);
        let dir = tempfile::tempdir().unwrap();
        let (source, _board) = unit.board(40.0);
        let profile = Some(Arc::clone(&unit.profile));
        let run = bench::start(Setup {
            asking: Asking {
                tell_apart: TellApart::Take,
                ..Asking::default()
            },
            ..Setup::card(
                source,
                profile,
                Some(unit.tag.clone()),
                dir.path().join("x.csv"),
            )
        });
        let run = unit.watched(run);
        let mut last = None;
        for event in &run.events {
            match event {
                RunEvent::Finished { assessment, .. } => last = assessment,
                RunEvent::Failed(why) => panic!("{why}"),
                _ => {}
            }
        }
        run.join();
        let diagnosis = &last.unwrap().diagnosis;
        let words = format!("{diagnosis:?}");
        assert_eq!(
            diagnosis.causes[0].cause,
            CauseWord::LooseConnection,
            "{words}"
        );
        assert!(
            words.contains("of wiggling only the plug")
                && words.contains("trial: contact was lost"),
            "{words}"
        );
        let good = DemoUnit::named("T1-dial", 1).unwrap();
        assert_eq!(good.tell_apart(), TellApart::Never);
    }

    fn first_bytes(open: Open) -> (String, String) {
        let unit = DemoUnit::named("T1-dial", 1).unwrap();
        let lines = BoardLines::new(unit.simulation.clone());
        let (mut source, _board) = start_by(open, "simulated board", lines, Pace::Times(50.0));
        let mut buffer = [0; 4096];
        let mut heard = String::new();
        for _ in 0..500 {
            if heard.lines().count() > 3 {
                break;
            }
            if let Received::Bytes(n) = source
                .receive(&mut buffer, Duration::from_millis(20))
                .unwrap()
            {
                heard += &String::from_utf8_lossy(&buffer[..n]);
            }
        }
        (source.describe(), heard)
    }

    /// As the serial crate does where a pseudo-terminal may not have the speed that is asked for.
    #[allow(clippy::needless_pass_by_value)] // as the one it stands for
    fn refused(settings: SerialSettings) -> Result<SerialSource, LinkError> {
        Err(LinkError {
            what: format!("{} cannot be opened: not a typewriter", settings.path),
            next: String::new(),
        })
    }

    #[test]
    fn a_speed_that_is_refused_leaves_the_board_in_memory() {
        let (name, heard) = first_bytes(refused);
        assert_eq!(name, "simulated board");
        assert!(heard.starts_with("# pedalproof 1 "), "{heard}");
        let (name, heard) = first_bytes(SerialSource::open);
        assert!(name.starts_with("serial port "), "{name}");
        assert!(
            heard.contains("# pedalproof 1 ") || heard.contains(','),
            "{heard}"
        );
    }
}
