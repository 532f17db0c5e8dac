//! The pictures of a run: codes over time, noise and deviation along the travel.

mod along;
mod at_rest;
mod cloud;
pub mod deviation;
pub mod overlaid;
mod plot;
pub mod scale;
pub mod trace;
pub mod travel;
mod underlay;
