//! Hum in the noise of a signal, whether or not anything failed by it.

use super::hypotheses::noise::{LINES, loudest, strongest_line};
use super::types::Hum;
use measure::Measured;
use measure::judge::{Finding, Outcome};

/// From this share of the noise's power on a line is worth a picture.
const MUCH: f64 = 0.3;
/// From this share on most of the noise is hum.
const MOST: f64 = 0.5;
/// Less than half a step of the board is no hum to speak of (common practice, no source).
const LEAST_CODE: f64 = 0.5;

/// The channels whose noise is to a large part hum, or whose hum is no clear pass.
pub(super) fn hum(measured: &Measured, findings: &[Finding]) -> Vec<Hum> {
    let channels = measured.channels.iter();
    let found = channels.filter_map(|channel| {
        let (hz, rms, share) = strongest_line(&channel.figures)?;
        let open = findings.iter().any(|finding| {
            finding.channel == channel.name
                && matches!(finding.outcome, Outcome::Fail | Outcome::Undecided)
                && LINES.iter().any(|(_, line)| finding.figure == *line)
        });
        let loud = rms > LEAST_CODE && share > MUCH;
        if !(loud || open) {
            return None;
        }
        Some(Hum {
            channel: channel.name.clone(),
            hz,
            rms,
            noise: loudest(&channel.figures)?.max(rms),
            most: rms > LEAST_CODE && share > MOST,
        })
    });
    found.collect()
}
