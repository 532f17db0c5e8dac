//! The block reader: bytes that it takes are written again as they were, and the board's arithmetic runs on them.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pedalproof::constants::{formats, layout};
use pedalproof::twin::Twin;

fuzz_target!(|data: &[u8]| {
    // With a good check sum, or the fuzzer would see nothing but that.
    let mut bytes = data.to_vec();
    if let Some(body) = bytes.len().checked_sub(2) {
        let sum = layout::check_sum(&bytes[..body]);
        bytes[body..].copy_from_slice(&sum.to_le_bytes());
    }
    if let Ok(block) = layout::from_bytes(&bytes) {
        assert_eq!(layout::to_bytes(&block), bytes);
        let mut twin = Twin::new(&block);
        for code in [0, 1, 511, 1023, u16::MAX] {
            let codes = vec![code; block.numbers().inputs.len()];
            twin.step(&codes);
        }
    }
    if let Ok(text) = std::str::from_utf8(data) {
        let _ = formats::from_json(text);
    }
});
