//! What several of these tests share.

pub mod bench;
pub mod outside;
pub mod simulated;
pub mod workshop;
