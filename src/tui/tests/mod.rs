//! Whole screens in a buffer, driven by invented runs.

mod any;
mod beside;
mod big;
mod blocks;
mod import;
mod keys;
mod machine;
mod pictures;
mod scene;
mod screens;
mod small;
mod turns;
