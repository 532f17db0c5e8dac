//! The marks of a proof: in the order of time, a fault where one is to be, written and taken again as the same.

use pedalproof::proof::{MarkKind, Marks};

pub fn check(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    let Ok(marks) = Marks::from_json(text) else {
        return;
    };
    assert!(marks.0.is_sorted_by_key(|mark| mark.t_us));
    for mark in &marks.0 {
        assert_eq!(mark.fault.is_none(), mark.what == MarkKind::Power);
    }
    assert_eq!(
        Marks::from_json(&marks.to_json()).expect("what was written is read"),
        marks
    );
    assert!(marks.power_us().count() <= marks.0.len());
}
