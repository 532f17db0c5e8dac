//! Whole screens in a buffer, driven by invented runs.

mod any;
mod keys;
mod scene;
mod screens;
mod speed;
mod turns;
