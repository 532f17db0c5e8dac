//! The way from captures to a flashed board: constants, the C core and its twin, AVR boards and proofs.
mod avr_board;
mod avr_campaign;
mod avr_prove;
mod avr_record;
mod avr_sketch;
mod avr_streamer;
mod block_formats;
mod block_layout;
mod constants;
mod constants_avr;
mod constants_truth;
mod core_blocks;
mod firmware_core;
mod prove;
mod stops;
mod support;
mod twin_host;
