//! The metadata reader: what it takes can be, and is written and taken again as the same.

use pedalproof::capture::Metadata;

pub fn check(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    let Ok(meta) = Metadata::from_json(text) else {
        return;
    };
    assert!((1..=24).contains(&meta.board.bits));
    for number in [meta.board.vref_mv, meta.board.rate_hz] {
        assert!(number.is_finite() && number > 0.0, "{number}");
    }
    assert!(!meta.channels.is_empty());
    for (name, _) in &meta.channels {
        assert!(!["t_us", "step", "ref"].contains(&name.as_str()), "{name}");
    }
    // Counts may be anything that a file says: asking for sums must not overflow.
    let (lost, rejected) = (meta.stream.lost(), meta.stream.rejected_total());
    assert!(
        lost >= meta.stream.missing
            && rejected >= meta.stream.rejected.values().copied().max().unwrap_or(0)
    );
    let written = meta.to_json("c.csv");
    let again = Metadata::from_json(&written).expect("what was written is read");
    assert_eq!(again, meta);
    assert_eq!(again.to_json("c.csv"), written);
}
