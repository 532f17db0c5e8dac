//! The metadata reader: what it takes, it writes and takes again.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pedalproof::capture::Metadata;

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    if let Ok(meta) = Metadata::from_json(text) {
        let again = Metadata::from_json(&meta.to_json("c.csv")).expect("what was written is read");
        assert_eq!(again, meta);
    }
});
