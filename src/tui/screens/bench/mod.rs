//! The bench: a unit's run, live or over.

mod big;
mod card;
mod explain;
mod figures;
mod found;
mod layout;
mod overlay;
mod pictures;
mod rows;
mod sees;
mod state;
mod stream;
mod update;
mod view;
mod window;

pub use state::Bench;

#[cfg(test)]
pub use rows::rows;
#[cfg(test)]
pub use state::Picture;
