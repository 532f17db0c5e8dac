#![no_main]
#[path = "../../suite/files/fuzzed/mod.rs"]
mod fuzzed;

libfuzzer_sys::fuzz_target!(|data: &[u8]| fuzzed::machine::check(data));
