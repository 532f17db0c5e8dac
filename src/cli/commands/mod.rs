//! One module a command: its arguments and what it does.
#![allow(clippy::doc_markdown)] // doc comments of arguments are help texts for the terminal

pub(super) mod assess;
pub(super) mod blend;
pub(super) mod board;
pub(super) mod constants;
pub(super) mod demo;
pub(super) mod examples;
pub(super) mod history;
pub(super) mod import;
pub(super) mod machine;
pub(super) mod man_pages;
pub(super) mod ports;
pub(super) mod profile;
pub(super) mod prove;
pub(super) mod record;
pub(super) mod report;
pub(super) mod schema;
pub(super) mod wiring;
