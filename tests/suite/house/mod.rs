//! The house itself: arrows between rooms, dependencies, references, and what README shows.
mod architecture;
mod dependencies;
mod pictures;
mod readme;
mod references_used;
mod words;
