//! `pedalproof machine`: one machine's page, from bare parts to a proven board, and everything that can go wrong on the way.

mod damaged;
mod dates;
mod links;
mod replaced;
#[cfg(unix)]
mod screen;
#[cfg(unix)]
mod sheet;
mod simulated;
pub mod support;
mod writers;
mod wrongly_ready;
