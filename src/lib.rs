//! pedalproof: bench test for pedals, knobs and levers that are to command a motor.
//!
//! Knowledge flows one way; `tests/suite/house/architecture` holds the arrows:
//!
//! ```text
//! link -> bench -> capture -> measure -> judge -> report / tui / record
//!                    wiring -> constants -> firmware core <- twin
//!                    machine: what stands of all that, and what is next
//! ```
#![cfg_attr(
    test,
    allow(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::cast_possible_truncation,
        clippy::cast_precision_loss,
        clippy::cast_sign_loss,
        clippy::float_cmp,
        clippy::disallowed_methods
    )
)]
// codes and counts of tests, far inside the types they are cast to
// Text leaves through `outlet`, which nothing unseen passes and which a reader that has gone away does not end.
#![cfg_attr(not(test), deny(clippy::print_stdout, clippy::print_stderr))]
// Open to our own tests, the rooms are still no library that others read about.
#![cfg_attr(
    feature = "inside",
    allow(missing_docs, clippy::missing_errors_doc, clippy::must_use_candidate)
)]

cfg_if::cfg_if! {
    // Private in the product, so that the compiler shows what nobody uses; open to our own tests and benches.
    if #[cfg(feature = "inside")] {
        pub mod bench;
        pub mod capture;
        pub mod cli;
        pub mod constants;
        pub mod diagnose;
        pub mod files;
        pub mod firmware;
        pub mod import;
        pub mod link;
        pub mod machine;
        pub mod outlet;
        pub mod profile;
        pub mod proof;
        pub mod record;
        pub mod report;
        pub mod tui;
        pub mod twin;
        pub mod wiring;
    } else {
        mod bench;
        mod capture;
        mod cli;
        mod constants;
        mod diagnose;
        mod files;
        mod firmware;
        mod import;
        mod link;
        mod machine;
        mod outlet;
        mod profile;
        mod proof;
        mod record;
        mod report;
        mod tui;
        mod twin;
        mod wiring;
    }
}

pub use cli::run;
