//! The assessment: of any capture that can be read there are figures, none of them impossible, and a record that is
//! read again.
//!
//! Bytes: one of the board, one of the channels, one of the profile; then for each passage its step, how many samples, how fast, where the codes
//! begin and end, how they scatter, and what the clock does.

use super::Bytes;
use jiff::Timestamp;
use measure::units::Step;
use pedalproof::bench::assess;
use pedalproof::capture::{Capture, Metadata};
use pedalproof::profile::{self, Profile};
use pedalproof::record::{BoardKept, FigureKept, NewRecord, Record};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::LazyLock;

/// Most samples of a capture, so that one takes a few milliseconds.
const MOST: usize = 600;

const CHANNELS: [&str; 4] = [
    r#""a":{"role":"signal"}"#,
    r#""a":{"role":"signal"},"b":{"role":"signal","track":2}"#,
    r#""a":{"role":"signal"},"b":{"role":"supply"}"#,
    r#""a":{"role":"signal","track":2},"b":{"role":"output"}"#,
];

static PROFILES: LazyLock<Vec<Profile>> = LazyLock::new(|| {
    let read = |(_, text): &(&str, &str)| Profile::from_json(text).expect("built in");
    profile::BUILT_IN.iter().map(read).collect()
});

pub fn check(data: &[u8]) {
    let mut plan = Bytes(data);
    let (board, channels, judged) = (
        plan.byte(),
        usize::from(plan.byte()),
        usize::from(plan.byte()),
    );
    let bits = [10, 10, 8, 12, 16, 1, 24, 2][usize::from(board & 7)];
    let rate = [250.0, 1000.0, 100.0, 0.5][usize::from(board >> 3 & 3)];
    let (reference, host) = (board & 32 != 0, board & 64 != 0);
    let text = format!(
        r#"{{"pedalproof":{{"format":"capture/1","board":{{"bits":{bits},"vref_mv":5000,"rate_hz":{rate}{}}},"channels":{{{}}}{}{}}}}}"#,
        if host { r#","clock":"host""# } else { "" },
        CHANNELS[channels % 4],
        if reference {
            r#","ref":{"unit":"deg","low":0,"high":60,"u":0.1}"#
        } else {
            ""
        },
        if board & 128 != 0 {
            r#","stream":{"lines":9,"samples":18446744073709551615,"missing":7,"rejected":{"bad sum":18446744073709551615}}"#
        } else {
            ""
        }
    );
    let meta = Metadata::from_json(&text).expect("good metadata");
    let csv = csv(&mut plan, &meta, f64::from(bits), rate);
    let capture = Capture::from_csv(csv.as_bytes(), meta).expect("a good recording");
    let profile = PROFILES.get(judged % (PROFILES.len() + 1));
    let assessment = assess(&capture, profile).expect("a good board");
    assert_eq!(assessment.capture.samples, capture.t_us.len() as u64);
    assert_eq!(assessment.verdict.is_some(), profile.is_some());
    let board = BoardKept::default();
    let record = NewRecord::new(&assessment, &board, None, Timestamp::UNIX_EPOCH);
    let kept = serde_json::to_vec(&record).expect("a record is written");
    let read = Record::from_json(&kept)
        .unwrap_or_else(|e| panic!("{e}\n{}", String::from_utf8_lossy(&kept)));
    let channels = read
        .assessment
        .channels
        .iter()
        .map(|(name, part)| (name, &part.figures));
    let pairs = read
        .assessment
        .pairs
        .iter()
        .map(|(name, part)| (name, &part.figures));
    for (name, figures) in channels.chain(pairs) {
        possible(name, figures);
    }
}

/// No figure is a number that cannot be.
fn possible(channel: &str, figures: &BTreeMap<String, Option<FigureKept>>) {
    for (name, figure) in figures {
        let Some(figure) = figure else { continue };
        assert!(
            figure.u.is_none_or(|u| u >= 0.0),
            "{channel} {name}: {figure:?}"
        );
        if let (Some(low), Some(high)) = (figure.low, figure.high) {
            assert!(low <= high, "{channel} {name}: {figure:?}");
        }
        if name.ends_with("_count") {
            assert!(
                figure.value >= 0.0 && figure.value.fract() == 0.0,
                "{channel} {name}: {figure:?}"
            );
        }
    }
}

#[allow(clippy::cast_precision_loss)] // a few hundred samples, 24 random bits
fn csv(plan: &mut Bytes<'_>, meta: &Metadata, bits: f64, rate: f64) -> String {
    let with_ref = meta.reference.is_some();
    let names: Vec<&str> = meta
        .channels
        .iter()
        .map(|(name, _)| name.as_str())
        .collect();
    let mut text = format!(
        "t_us,step,{}{}\n",
        names.join(","),
        if with_ref { ",ref" } else { "" }
    );
    let (top, period) = (bits.exp2() - 1.0, 1e6 / rate);
    let (mut t_us, mut samples, mut random) = (0.0, 0, 1_u64);
    while !plan.is_empty() && samples < MOST && t_us < 9e18 {
        let step = Step::ALL[usize::from(plan.byte()) % Step::ALL.len()];
        let length = usize::from(plan.byte()).min(MOST - samples);
        let (way, from, to) = (plan.byte(), f64::from(plan.byte()), f64::from(plan.byte()));
        // A known position says which: without one it would be no good recording.
        let known = meta.reference_channel().is_some() || (with_ref && way & 16 == 0);
        let step = if step == Step::Stations && !known {
            Step::Idle
        } else {
            step
        };
        let scatter = [0.0, 0.3, 1.0, 4.0][usize::from(way & 3)];
        let pause = if way & 4 == 0 { 1.0 } else { f64::from(way) };
        // Now and then a clock that stands still, or one that leaps by up to half a million years.
        let period = if way & 128 == 0 { period } else { 0.0 };
        t_us += if way & 64 == 0 {
            0.0
        } else {
            10_f64.powi(i32::from(plan.byte() % 19))
        };
        for n in 0..length {
            let travel = (from + (to - from) * n as f64 / length as f64) / 255.0;
            let _ = write!(text, "{t_us:.0},{}", step.word());
            for track in 0..names.len() {
                random = random
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                let noise = scatter * ((random >> 40) as f64 / f64::from(1 << 23) - 1.0);
                let share = if track == 1 && way & 8 != 0 { 0.5 } else { 1.0 };
                let code = (travel * top * share + noise).round().clamp(0.0, top) + 0.0;
                let _ = write!(text, ",{code:.0}");
            }
            if with_ref && way & 16 != 0 {
                text.push(',');
            } else if with_ref {
                let _ = write!(
                    text,
                    ",{}",
                    if way & 32 != 0 {
                        (travel * 6.0).round() * 10.0
                    } else {
                        travel * 60.0
                    }
                );
            }
            text.push('\n');
            t_us += if n % 64 == 63 { period * pause } else { period };
        }
        samples += length;
    }
    text
}
