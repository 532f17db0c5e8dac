//! The capture reader: any bytes are a capture or a refusal with its line; a capture that was read can be assessed.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pedalproof::capture::{Capture, Metadata};

const METADATA: &str = r#"{"pedalproof":{"format":"capture/1","board":{"bits":10,"vref_mv":5000,"rate_hz":1000},
"channels":{"a":{"role":"signal"},"b":{"role":"signal","track":2}},"ref":{"unit":"deg","low":0,"high":60,"u":0.1},"stream":{"lines":0,"samples":0,"missing":0}}}"#;

fuzz_target!(|data: &[u8]| {
    let meta = Metadata::from_json(METADATA).expect("the metadata is good");
    if let Ok(capture) = Capture::from_csv(data, meta) {
        let assessment = pedalproof::bench::assess(&capture, None).expect("the board is good");
        assert_eq!(assessment.capture.samples, capture.t_us.len() as u64);
    }
});
