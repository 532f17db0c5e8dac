//! The cut cable and worse: links, disks, processes and clocks that fail in the middle. What was taken is kept, or the
//! words say exactly what is and is not on the disk. The table of all of it is in docs/faults.md.
#![cfg(unix)]

mod board;
mod clock;
mod disk;
mod folder;
mod kill;
mod link;
mod replug;
