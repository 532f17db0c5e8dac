//! Simulated boards: on a pseudo-terminal, opened by the same code as a USB adapter; in memory where there is none.

use crate::link::{BoardLines, LineSource, Pace, Source};
use crate::profile::{self, Profile};
use anyhow::anyhow;
use simulator::{SCENARIO_UNITS, Simulation, scenario};
use std::sync::Arc;

/// What must be kept as long as the board's run lasts.
pub(super) struct SimulatedBoard {
    #[cfg(unix)]
    _board: crate::link::PtyBoard,
}

/// Starts a board called `name` that prints `lines`, `speed` times as fast as life.
pub(super) fn start(
    name: &str,
    lines: impl LineSource + 'static,
    speed: f64,
) -> anyhow::Result<(Box<dyn Source>, SimulatedBoard)> {
    let pace = Pace::Times(speed);
    #[cfg(unix)]
    {
        use crate::link::{Overflow, PtyBoard, SerialSettings, SerialSource, WhenLost};
        let _ = name; // the port's path stands for it
        let board = PtyBoard::start(lines, pace, Overflow::Wait)?;
        let source = SerialSource::open(SerialSettings {
            path: board.path().to_string_lossy().into_owned(),
            baud: Some(1_000_000),
            when_lost: WhenLost::Wait,
        })?;
        Ok((Box::new(source), SimulatedBoard { _board: board }))
    }
    #[cfg(not(unix))]
    {
        let source = crate::link::MemoryBoard::new(name, lines, pace);
        Ok((Box::new(source), SimulatedBoard {}))
    }
}

/// A simulated unit and what it is held against.
pub(super) struct DemoUnit {
    pub(super) tag: String,
    pub(super) profile: Arc<Profile>,
    simulation: Simulation,
}

impl DemoUnit {
    pub(super) fn named(name: &str, seed: u64) -> anyhow::Result<Self> {
        let known = || {
            SCENARIO_UNITS
                .iter()
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
        })
    }

    /// Its board, `speed` times as fast as life.
    pub(super) fn board(&self, speed: f64) -> anyhow::Result<(Box<dyn Source>, SimulatedBoard)> {
        let lines = BoardLines::new(self.simulation.clone());
        start(&format!("simulated board {}", self.tag), lines, speed)
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
