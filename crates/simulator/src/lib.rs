//! The simulated board: a seeded model of a control, a scripted hand that moves it, and a board that samples it.
//!
//! Belongs here: everything that makes codes out of nothing but a seed, and the truth behind them for tests to hold
//! figures against. Does not belong here: figures, ports, clocks, threads. The same seed gives the same bytes:
//! arithmetic beyond `+ - * /` and square roots comes from `libm`, not from the platform, and all chance from `ChaCha8`.
//!
//! [`Simulation::next_sample`] and [`Simulation::run`] give samples in memory, hundreds of recordings a second.

#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]
#![cfg_attr(test, allow(clippy::disallowed_methods))] // the last digit of a made-up signal is nobody's

mod board;
mod chance;
mod channel;
mod control;
mod defects;
mod examples;
mod hand;
#[cfg(test)]
mod known_answers;
mod mechanics;
mod network;
mod plan;
mod run;
mod scenario;
mod script;
mod truth;

pub use board::{Board, Tie};
pub use chance::{Chance, Purpose};
pub use control::{ChannelModel, Control, Curve, Ratiometry, Returning, Spring};
pub use defects::{Bursts, Drop, Lift, Loose, PlacedDropout, Rail, Wear};
pub use examples::{Example, examples};
pub use network::{Network, Sensor};
pub use run::{Sample, SimError, SimRun, SimUnit, Simulation};
pub use scenario::{SCENARIO_UNITS, TRIAL_UNITS, scenario, with_script};
pub use script::{
    Card, Movement, Passages, ReferenceKind, ReferenceModel, Repeat, ReturnBy, Script,
};
pub use truth::{BurstTruth, ChannelTruth, DropoutTruth, ReturnTruth, Truth};
