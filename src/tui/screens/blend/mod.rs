//! What a block puts out over two controls, with the point where they stand now.

mod state;
mod view;

pub use state::Blend;
