//! `pedalproof record`.

use crate::bench::{self, EvidencePlan, Plan, Setup};
use crate::cli::outcome::Outcome;
use crate::cli::output::{csv_name, refuse_overwriting};
use crate::cli::stream_args::StreamArgs;
use crate::cli::{input, progress};
use anyhow::bail;
use clap::Args;
use measure::units::Step;
use std::path::PathBuf;
use std::sync::Arc;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof record --port /dev/ttyUSB0 --out T1-pedal --steps rest=2,full=2,strokes=10,release=12\n  pedalproof record --port /dev/ttyACM0 --out knob --steps rest=3,strokes=10 --bits 12 --vref-mv 3300 --columns knob"
)]
pub(in crate::cli) struct RecordArgs {
    /// The port the board is on: see `pedalproof ports`
    #[arg(long, value_name = "PATH")]
    port: String,
    /// Name of the capture: writes NAME.csv and NAME.csv-metadata.json
    #[arg(long, value_name = "NAME")]
    out: PathBuf,
    /// Steps with their seconds; without it, the profile's card with its steps recognised from the signal
    #[arg(long, value_delimiter = ',', value_name = "STEP=SECONDS,...", value_parser = timed_step)]
    steps: Vec<(Step, f64)>,
    /// The profile: a file, or the name of a built-in one
    #[arg(long)]
    profile: Option<String>,
    /// What is written on the unit's sticker
    #[arg(long)]
    tag: Option<String>,
    #[command(flatten)]
    stream: StreamArgs,
}

fn timed_step(text: &str) -> Result<(Step, f64), String> {
    let (word, seconds) = text
        .split_once('=')
        .ok_or("say STEP=SECONDS, e.g. rest=2")?;
    let step = word.trim().parse::<Step>().map_err(|e| e.to_string())?;
    let number = seconds
        .trim()
        .parse::<f64>()
        .ok()
        .filter(|s| s.is_finite() && *s > 0.0 && *s <= 86_400.0);
    let seconds =
        number.ok_or_else(|| format!("`{seconds}` is no number of seconds between 0 and 86400"))?;
    Ok((step, seconds))
}

pub(in crate::cli) fn run(args: RecordArgs, baud: u32) -> anyhow::Result<Outcome> {
    let profile = args.profile.as_deref().map(input::profile).transpose()?;
    let plan = match (&args.steps[..], &profile) {
        ([], None) => bail!(
            "say what to take: --steps rest=2,full=2,strokes=10 (seconds), or a --profile whose card is followed"
        ),
        ([], Some(profile)) => Plan::Card(profile.card.clone(), EvidencePlan::at_first(profile)),
        (steps, _) => Plan::Timed(steps.to_vec()),
    };
    // Only a card is ended, or taken further, by what its findings say.
    let live = matches!(plan, Plan::Card(..));
    let out = csv_name(&args.out);
    refuse_overwriting(&out)?;
    let options = args.stream.options()?;
    let source = args.stream.open(&args.port, baud)?;
    let run = bench::start(Setup {
        source: Box::new(source),
        stream: options,
        plan,
        profile: profile.map(Arc::new),
        tag: args.tag,
        channels: args.stream.channels,
        out: Some(out),
        baud: Some(baud),
        live,
    });
    let ended = progress::until_end(run)?;
    let Some(capture) = ended.capture else {
        bail!(
            "no sample arrived from {}, so there is no capture: `pedalproof ports` lists what could be a board",
            args.port
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_read() {
        assert_eq!(timed_step("rest=2"), Ok((Step::Rest, 2.0)));
        assert!(
            timed_step("rest=-2").is_err()
                && timed_step("rest").is_err()
                && timed_step("nap=2").is_err()
        );
    }
}
