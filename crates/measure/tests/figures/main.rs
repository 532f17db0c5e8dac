//! Figures against references and simulated truth, and the coverage of their intervals.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

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
