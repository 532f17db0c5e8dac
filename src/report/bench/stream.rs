//! How well the recording came through.

use super::source::BenchReport;
use crate::capture::Clock;
use crate::report::assessment::brief;
use crate::report::document::{Block, Section};
use measure::figure::numbers::{fixed, plain};

pub(super) fn section(report: &BenchReport<'_>) -> Section<'static> {
    let (facts, meta) = (&report.assessment.capture, report.meta);
    let rejected = brief::causes(&meta.stream.rejected, |n, cause| format!("{n} {cause}"));
    let rejected = if rejected.is_empty() {
        "none".to_owned()
    } else {
        rejected.join(", ")
    };
    let clock = match meta.board.clock {
        Some(Clock::Host) => "arrival at the host: times are as good as the cable's delay",
        Some(Clock::Board) | None => "the board's",
    };
    let terms = [
        ("samples", facts.samples.to_string()),
        ("duration", format!("{} s", fixed(facts.duration_s, 1))),
        ("lines received", meta.stream.lines.to_string()),
        ("lines left out", rejected),
        ("samples lost", facts.missing.to_string()),
        (
            "clock",
            match meta.stream.restarts {
                0 => clock.to_owned(),
                n => format!("{clock}; board resets while recording: {n}"),
            },
        ),
        (
            "board",
            format!(
                "{}{}, {} bits, reference {} mV, {} samples/s",
                if meta.board.name.is_empty() {
                    "unnamed"
                } else {
                    &meta.board.name
                },
                if meta.simulated { ", simulated" } else { "" },
                meta.board.bits,
                plain(meta.board.vref_mv),
                plain(meta.board.rate_hz)
            ),
        ),
    ];
    Section::new("Recording quality", vec![Block::terms(terms)]).at("stream")
}
