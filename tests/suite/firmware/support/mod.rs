//! Boards, blocks and harnesses that several of these tests use.

pub mod avr;
pub mod bench;
pub mod blocks;
pub mod campaign;
pub mod captures;
pub mod claims;
pub mod core_host;
pub mod proofs;
pub mod stream_lines;
