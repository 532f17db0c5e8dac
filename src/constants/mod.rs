//! The constants block: the numbers that the blending firmware reads.
//!
//! Belongs here: what a block may say ([`Block`]), which byte is where ([`layout`]), the files that carry one
//! ([`formats`]), how each number is chosen from what was measured ([`choose`]). Does not belong here: what the firmware does with it (`twin`, `src/firmware/core`), screens.

mod block;
pub mod choose;
pub mod formats;
pub mod layout;

pub use block::{
    BitsMismatch, Block, BlockFields, Build, Check, ExceedsBuild, Factor, Input, InvalidBlock,
    Output, Point, Q15_ONE, Start, TargetBoard, Task, Window,
};
pub use layout::DecodeError;
