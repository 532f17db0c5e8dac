//! The capture reader: any bytes are a capture or a refusal; cut anywhere, a capture is the beginning of itself.
//!
//! Bytes: one that chooses the metadata, then the CSV.

use pedalproof::capture::{Capture, Metadata};
use std::sync::LazyLock;

static METADATA: LazyLock<[Metadata; 4]> = LazyLock::new(|| {
    [
        r#""bits":10,"vref_mv":5000,"rate_hz":1000},"channels":{"a":{"role":"signal"}}"#,
        r#""bits":10,"vref_mv":5000,"rate_hz":1000},"channels":{"a":{"role":"signal"},"b":{"role":"signal","track":2}},
            "ref":{"unit":"deg","low":0,"high":60,"u":0.1}"#,
        r#""bits":12,"vref_mv":3300,"rate_hz":500,"clock":"host"},"channels":{"a":{"role":"signal"},"v":{"role":"supply"}}"#,
        r#""bits":24,"vref_mv":3300,"rate_hz":500},"channels":{"a, \"b\"":{"role":"signal"},"o":{"role":"output"}}"#,
    ]
    .map(|part| {
        let text = format!(r#"{{"pedalproof":{{"format":"capture/1","board":{{{part}}}}}"#);
        Metadata::from_json(&text).expect("the metadata is good")
    })
});

pub fn check(data: &[u8]) {
    let Some((choice, csv)) = data.split_first() else {
        return;
    };
    let meta = &METADATA[usize::from(choice % 4)];
    let Ok(capture) = Capture::from_csv(csv, meta.clone()) else {
        return;
    };
    whole(&capture, meta);
    // What became of a cut one is told from its bytes only where no line end can be inside quotes.
    if csv.len() > 1 && !csv.contains(&b'"') {
        let at = usize::from(*choice) * csv.len() / 256;
        cut(&capture, &csv[..at], meta);
    }
}

/// What holds for every capture that was read.
fn whole(is: &Capture, meta: &Metadata) {
    let samples = is.t_us.len();
    assert_eq!(is.meta.channels.len(), meta.channels.len());
    assert!(
        meta.channels
            .iter()
            .all(|channel| is.meta.channels.contains(channel))
    );
    assert_eq!(is.codes.len(), meta.channels.len());
    let most = (1 << meta.board.bits) - 1;
    for column in &is.codes {
        assert_eq!(column.len(), samples);
        assert!(column.iter().all(|code| code.0 <= most));
    }
    assert!(is.t_us.is_sorted());
    if let Some(reference) = &is.reference {
        assert_eq!(reference.len(), samples);
        assert!(reference.iter().all(|position| !position.is_infinite()));
    }
    let mut next = 0;
    for passage in &is.passages {
        assert_eq!(passage.range.start, next);
        assert!(passage.range.end > next, "an empty passage");
        next = passage.range.end;
    }
    assert_eq!(next, samples, "passages cover every sample");
    assert!(is.passages.windows(2).all(|two| two[0].step != two[1].step));
    assert!(is.duration_s() >= 0.0);
    is.recording().expect("the board of this metadata is good");
}

/// A capture that was cut is the beginning of the whole one, and says so if a line was lost; only a header that is not
/// whole is a refusal.
fn cut(whole: &Capture, bytes: &[u8], meta: &Metadata) {
    let Ok(part) = Capture::from_csv(bytes, meta.clone()) else {
        assert!(header_only(bytes), "a cut recording is refused");
        return;
    };
    let n = part.t_us.len();
    assert!(n <= whole.t_us.len());
    assert_eq!(part.t_us, whole.t_us[..n]);
    for (cut, all) in part.codes.iter().zip(&whole.codes) {
        assert_eq!(cut[..], all[..n]);
    }
    if bytes
        .last()
        .is_some_and(|last| matches!(last, b'\n' | b'\r'))
    {
        assert_eq!(part.lost, None);
    }
}

/// Whether there is nothing but a header, which may be cut.
fn header_only(bytes: &[u8]) -> bool {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes); // a byte order mark is no line
    let lines = bytes.split(|byte| matches!(byte, b'\n' | b'\r'));
    lines.filter(|line| !line.is_empty()).count() <= 1
}
