//! What tests of several rooms share.

pub mod program;
pub mod recording;
pub mod terminal;
pub mod tools;
