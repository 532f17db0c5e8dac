//! The record reader, and what several records say together.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pedalproof::record::{Head, Record, unit_history};

fuzz_target!(|data: &[u8]| {
    let head = Head::from_json(data);
    if let Ok(record) = Record::from_json(data) {
        assert!(head.is_ok());
        let _ = unit_history("T1", vec![record.clone(), record.clone(), record]);
    }
});
