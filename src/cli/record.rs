//! `pedalproof record`.

use super::{Outcome, args, assess, watch};
use crate::bench::{self, EvidencePlan, Plan, Setup};
use crate::link::{SerialSettings, SerialSource, StreamOptions, WhenLost};
use anyhow::bail;
use std::path::{Path, PathBuf};
use std::sync::Arc;

pub(super) fn run(wanted: args::Record, baud: u32) -> anyhow::Result<Outcome> {
    let profile = wanted.profile.as_deref().map(assess::named).transpose()?;
    let plan = match (&wanted.steps[..], &profile) {
        ([], None) => bail!(
            "say what to take: --steps rest=2,full=2,strokes=10 (seconds), or a --profile whose card is followed"
        ),
        ([], Some(profile)) => Plan::Card(profile.card.clone(), EvidencePlan::at_first(profile)),
        (steps, _) => Plan::Timed(steps.to_vec()),
    };
    // Only a card is ended, or taken further, by what its findings say.
    let live = matches!(plan, Plan::Card(..));
    let out = csv_name(&wanted.out);
    refuse_overwriting(&out)?;
    let options = stream_options(&wanted.stream)?;
    let source = port(&wanted.port, baud, &wanted.stream)?;
    let run = bench::start(Setup {
        source: Box::new(source),
        stream: options,
        plan,
        profile: profile.map(Arc::new),
        tag: wanted.tag,
        channels: wanted.stream.channels,
        out: Some(out),
        baud: Some(baud),
        live,
    });
    let ended = watch::until_end(run)?;
    let Some(capture) = ended.capture else {
        bail!(
            "no sample arrived from {}, so there is no capture: `pedalproof ports` lists what could be a board",
            wanted.port
        );
    };
    let counts = ended.counts.unwrap_or_default();
    eprintln!(
        "{}: {} samples, {} missing",
        capture.display(),
        counts.samples,
        counts.missing
    );
    for (cause, n) in &counts.rejected {
        eprintln!("  {n} lines rejected: {cause}");
    }
    if counts.restarts > 0 {
        eprintln!("  the board began anew {} times", counts.restarts);
    }
    let verdict = ended.assessment.and_then(|a| a.verdict);
    if let Some(verdict) = verdict {
        eprintln!(
            "verdict: {verdict}; `pedalproof assess {}` says why",
            capture.display()
        );
    }
    Ok(Outcome::Good)
}

/// A capture is never overwritten; told before anything is opened.
pub(super) fn refuse_overwriting(csv: &Path) -> anyhow::Result<()> {
    if csv.exists() {
        bail!(
            "{} exists already, and a capture is never overwritten: choose another name",
            csv.display()
        );
    }
    Ok(())
}

/// `NAME` -> `NAME.csv`; a name that ends so already is kept.
pub(super) fn csv_name(name: &Path) -> PathBuf {
    if name
        .extension()
        .is_some_and(|extension| extension.eq_ignore_ascii_case("csv"))
    {
        return name.to_owned();
    }
    let mut name = name.as_os_str().to_owned();
    name.push(".csv");
    PathBuf::from(name)
}

/// A port, with what was said of a pulled cable.
pub(super) fn port(
    path: &str,
    baud: u32,
    stream: &args::StreamArgs,
) -> anyhow::Result<SerialSource> {
    Ok(SerialSource::open(SerialSettings {
        path: path.to_owned(),
        baud,
        when_lost: match stream.on_unplug {
            args::OnUnplug::Wait => WhenLost::Wait,
            args::OnUnplug::End => WhenLost::End,
        },
    })?)
}

pub(super) fn stream_options(stated: &args::StreamArgs) -> anyhow::Result<StreamOptions> {
    let options = StreamOptions {
        bits: stated.bits,
        vref_mv: stated.vref_mv,
        rate_hz: stated.rate_hz,
        columns: stated.columns.clone(),
        joined_mid_line: true,
    };
    options.check()?;
    Ok(options)
}
