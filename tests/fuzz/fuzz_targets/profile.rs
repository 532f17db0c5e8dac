//! The profile reader: what it takes has a wiring page or a refusal, never a panic.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pedalproof::profile::Profile;

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    if let Ok(profile) = Profile::from_json(text) {
        let _ = pedalproof::report::profile_text::profile_text(&profile);
    }
});
