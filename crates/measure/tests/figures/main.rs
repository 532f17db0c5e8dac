//! Figures against references and simulated truth, and the coverage of their intervals.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap
)] // codes and counts of tests, far inside the types they are cast to
#![allow(clippy::disallowed_methods)] // the last digit of a made-up signal is nobody's

mod coverage_holds;
mod coverage_time;
mod edges_and_pieces;
mod holds_and_returns;
mod lines;
mod lines_coverage;
mod simulated_coverage;
mod simulated_truth;
mod strokes_validity;
mod support;
mod workshop_wear;
