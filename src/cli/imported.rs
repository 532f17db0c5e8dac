//! What was read of a file of something else, as the bench takes it: for the command and for the screen.

use crate::bench::{Recorded, StepFound};
use crate::capture::ImportedFrom;
use crate::import::{ChannelColumn, Imported};
use crate::outlet::Shown;
use measure::figure::numbers::fixed;
use measure::units::{OWN_COLUMNS, Scale};
use std::path::Path;

/// The samples as the bench takes them; what was guessed stands in the note.
pub(super) fn recorded(
    samples: Imported,
    file: &Path,
    sha256: String,
    scale: Scale,
    tag: Option<String>,
) -> Recorded {
    let name = Path::new(file.file_name().unwrap_or_default());
    let notes = samples.notes.join("; ");
    Recorded {
        t_us: samples.t_us,
        channels: samples.channels,
        codes: samples.codes,
        scale,
        rate_hz: samples.rate_hz,
        has_time: samples.has_time,
        left_out: samples.left_out,
        tag,
        note: Some(
            format!("Imported from {}. {notes}", name.shown())
                .trim()
                .to_owned(),
        ),
        from: ImportedFrom {
            file: name.shown().into_owned(),
            sha256,
        },
    }
}

/// Samples a second of a file without a time.
pub(super) fn rate_hz(text: &str) -> Result<f64, String> {
    let hz = text.parse::<f64>().ok();
    hz.filter(|hz| (0.1..=1e6).contains(hz))
        .ok_or_else(|| format!("`{text}` is no number of samples a second from 0.1 to 1000000"))
}

/// `lever=CH1`.
pub(super) fn signal(text: &str) -> Result<ChannelColumn, String> {
    let (channel, column) = text
        .split_once('=')
        .ok_or("say CHANNEL=COLUMN, e.g. lever=CH1")?;
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '-' | '.');
    if channel.is_empty() || !channel.chars().all(plain) || OWN_COLUMNS.contains(&channel) {
        return Err(format!(
            "`{channel}` cannot be a channel's name: use letters, digits, `_`, `-` and `.`"
        ));
    }
    Ok(ChannelColumn {
        channel: Some(channel.to_owned()),
        column: column.to_owned(),
    })
}

/// The channel that is named twice.
pub(super) fn twice(signals: &[ChannelColumn]) -> Option<&str> {
    let again = |(at, signal): &(usize, &ChannelColumn)| {
        let named =
            |before: &ChannelColumn| before.channel.is_some() && before.channel == signal.channel;
        signals[..*at].iter().any(named)
    };
    let found = signals.iter().enumerate().find(again);
    found.and_then(|(_, signal)| signal.channel.as_deref())
}

/// How much of a step was found.
pub(super) fn step_words(found: &StepFound) -> String {
    if found.have <= 0.0 {
        return format!("{}: {}", found.step, found.absent());
    }
    let digits = usize::from(found.unit == "s");
    format!(
        "{}: {} {}",
        found.step,
        fixed(found.have, digits),
        found.unit
    )
}
