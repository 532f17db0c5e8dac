//! The constants block: the numbers that the blending firmware reads.

mod block;
pub mod choose;
pub mod formats;
pub mod layout;
#[cfg(test)]
pub mod testing;

pub use block::{
    Block, BlockFields, Build, Check, Factor, Input, InvalidBlock, OWN_REFERENCE_MV, Output, Point,
    Q15_ONE, Start, TargetBoard, Task, Watch, Window,
};
pub use layout::DecodeError;
