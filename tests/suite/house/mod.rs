//! The house itself: arrows between rooms, dependencies, references, and what README shows.
#[cfg(unix)] // the sources, by paths with `/`
mod architecture;
#[cfg(unix)]
mod dependencies;
mod pictures;
mod readme;
mod references_used;
mod words;
