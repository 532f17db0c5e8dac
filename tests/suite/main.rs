//! All tests of the program from outside, one binary: `cargo test --test suite report::`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap
)] // codes and counts of tests, far inside the types they are cast to
#![allow(clippy::disallowed_methods)] // the last digit of a made-up signal is nobody's
#![cfg_attr(not(target_os = "linux"), allow(dead_code))] // helpers of tests that need Linux

mod assess;
mod diagnose;
mod files;
mod firmware;
mod hostile;
mod house;
mod import;
mod link;
mod machine;
mod person;
mod seasons;
mod support;
mod wiring;
