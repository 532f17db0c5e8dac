//! `pedalproof record`.

mod typed;

use crate::bench::{self, Asking, EvidencePlan, Plan, Presence, Setup, StationPlan, TellApart};
use crate::capture::{ChannelMeta, StreamCounts};
use crate::cli::input::one_line;
use crate::cli::outcome::Outcome;
use crate::cli::output::{csv_name, refuse_overwriting};
use crate::cli::stream_args::StreamArgs;
use crate::cli::{input, progress};
use crate::outlet::{self, Shown, alarm, tell};
use crate::profile::Profile;
use anyhow::bail;
use clap::Args;
use measure::units::{Role, Step};
use std::path::PathBuf;
use std::sync::Arc;
use typed::Typed;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof record --port /dev/ttyUSB0 --out T1-pedal --steps rest=2,full=2,strokes=10,release=12\n  pedalproof record --port /dev/ttyACM0 --out knob --steps rest=3,strokes=10 --bits 12 --vref-mv 3300 --columns knob\n  pedalproof record --port /dev/ttyUSB0 --out T1-dial --steps rest=2,full=2 --stations \"0,10,...,100,...,0\"\n\nKnown positions:\n  Linearity and hysteresis need positions that you know: the marks of a scale, a protractor, gauge blocks.\n  --stations names them in order; ... goes on in the same step: 0,10,...,100,...,0 is up in tenths and down again.\n  A unit and how far a mark may be off can follow: \"0,30,...,270,...,0 deg ±1\" (without: percent).\n  Begin with the control at the first one. Each is taken once the control has moved and stood still for a second.\n  Meanwhile Enter says that it stands where asked, a number that it stands there, `back` takes the last one back,\n  `end` ends. Without --stations a test with known positions reads them from the keyboard.\n  A good sensor on the same shaft does it alone: --channel angle=reference"
)]
pub(in crate::cli) struct RecordArgs {
    /// The port the board is on: see `pedalproof ports`; `-` takes the stream from the standard input
    #[arg(long, value_name = "PATH", value_parser = one_line)]
    port: String,
    /// Name of the recording: writes NAME.csv and NAME.csv-metadata.json
    #[arg(long, value_name = "NAME")]
    out: PathBuf,
    /// Steps with their seconds; without it, the profile's test with its steps recognised from the signal
    #[arg(long, value_delimiter = ',', value_name = "STEP=SECONDS,...", value_parser = timed_step)]
    steps: Vec<(Step, f64)>,
    /// Known positions to be set one after the other, e.g. 0,10,...,100,...,0 (see below)
    #[arg(long, value_name = "LIST", allow_hyphen_values = true)]
    stations: Option<StationPlan>,
    /// The profile: a file, or the name of a built-in one
    #[arg(long)]
    profile: Option<String>,
    /// What is written on the part's sticker
    #[arg(long, value_parser = one_line)]
    tag: Option<String>,
    /// When two causes fit at the end, go on with the short test that tells them apart
    #[arg(long, requires = "profile", conflicts_with = "steps")]
    tell_apart: bool,
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
        .filter(|s| (0.01..=86_400.0).contains(s));
    let seconds = number
        .ok_or_else(|| format!("`{seconds}` is no number of seconds between 0.01 and 86400"))?;
    Ok((step, seconds))
}

/// The steps to take, and that known positions are stated once and no more.
fn plan(args: &RecordArgs, profile: Option<&Profile>) -> anyhow::Result<Plan> {
    let is_reference = |(_, channel): &(_, ChannelMeta)| channel.role == Role::Reference;
    let sensor = args.stream.channels.iter().any(is_reference);
    if sensor && args.stations.is_some() {
        bail!(
            "a channel with role reference says where the control stands, so --stations has nothing to state: leave one of them out"
        );
    }
    let timed = args.steps.iter().any(|(step, _)| *step == Step::Stations);
    if timed && !sensor {
        bail!(
            "known positions are not taken by the clock: say them with --stations 0,10,...,100,...,0 in place of `stations` in --steps"
        );
    }
    Ok(match (&args.steps[..], profile) {
        ([], None) if args.stations.is_some() => {
            Plan::Card(vec![Step::Stations], EvidencePlan::default())
        }
        ([], None) => bail!(
            "say what to take: --steps rest=2,full=2,strokes=10 (seconds), --stations 0,10,...,100,...,0, or a --profile whose test is followed"
        ),
        ([], Some(profile)) => {
            let mut steps = profile.card.clone();
            if args.stations.is_some() && !steps.contains(&Step::Stations) {
                let before = |step: &Step| matches!(step, Step::Release | Step::Shake);
                let at = steps.iter().position(before).unwrap_or(steps.len());
                steps.insert(at, Step::Stations);
            }
            Plan::Card(steps, EvidencePlan::at_first(profile))
        }
        (steps, _) => Plan::Timed(steps.to_vec()),
    })
}

pub(in crate::cli) fn run(args: RecordArgs, baud: Option<u32>) -> anyhow::Result<Outcome> {
    let profile = args.profile.as_deref().map(input::profile).transpose()?;
    let plan = plan(&args, profile.as_ref())?;
    let has_stations = match &plan {
        Plan::Card(steps, _) => steps.contains(&Step::Stations),
        Plan::Timed(_) => args.stations.is_some(),
    };
    // Only a card is ended, or taken further, by what its findings say.
    let live = matches!(plan, Plan::Card(..));
    let out = csv_name(&args.out);
    refuse_overwriting(&out)?;
    let options = args.stream.options()?;
    let piped = args.port == "-";
    if piped && has_stations && args.stations.is_none() {
        bail!(
            "the stream comes through the standard input, so positions cannot be typed there: say them with --stations"
        );
    }
    let source = args.stream.open(&args.port, baud)?;
    let run = bench::start(Setup {
        source,
        stream: options,
        plan,
        stations: args.stations,
        profile: profile.map(Arc::new),
        tag: args.tag,
        channels: args.stream.channels,
        out: Some(out),
        baud: baud.filter(|_| !piped),
        live,
        asking: Asking {
            presence: Presence::Unheard,
            tell_apart: if args.tell_apart {
                TellApart::Take
            } else {
                TellApart::Never
            },
        },
    });
    let ended = if has_stations && !piped {
        let mut typed = Typed::new(run.commands.clone());
        progress::until_end_with(run, &mut typed)?
    } else {
        progress::until_end(run)?
    };
    let Some(capture) = ended.capture else {
        if piped {
            bail!(
                "no sample arrived from the standard input, so there is no recording: look at the program that brings the stream"
            );
        }
        bail!(
            "no sample arrived from {}, so there is no recording: `pedalproof ports` lists what could be a board",
            args.port
        );
    };
    if ended.went_away {
        alarm!(
            "{} before the test was over: what was taken until then is kept",
            if piped {
                "the stream ended".to_owned()
            } else {
                format!("{} went away", args.port)
            }
        );
    }
    let counts = ended.counts.unwrap_or_default();
    tell!(
        "{}: {} samples, {} lost",
        capture.shown(),
        counts.samples,
        counts.missing
    );
    for line in rejected(&counts) {
        tell!("  {line}");
    }
    if counts.restarts > 0 {
        tell!("  board resets: {}", counts.restarts);
    }
    let verdict = ended.assessment.and_then(|a| a.verdict);
    if let Some(verdict) = verdict {
        tell!(
            "verdict: {verdict}; `pedalproof assess {}` says why",
            outlet::typed(&capture)
        );
    }
    Ok(Outcome::Good)
}

/// What came and is no sample, a line for each kind.
fn rejected(counts: &StreamCounts) -> Vec<String> {
    let lines = |n: u64| if n == 1 { "line" } else { "lines" };
    let (joining, damaged): (Vec<_>, Vec<_>) = counts
        .rejected
        .iter()
        .partition(|(cause, _)| matches!(cause.as_str(), "cut" | "before header"));
    let skipped: u64 = joining.into_iter().map(|(_, n)| n).sum();
    let skipped = (skipped > 0).then(|| {
        format!(
            "{skipped} {} skipped while connecting (normal)",
            lines(skipped)
        )
    });
    let damaged = damaged
        .into_iter()
        .map(|(cause, n)| format!("{n} damaged {} left out: {cause}", lines(*n)));
    skipped.into_iter().chain(damaged).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_skipped_is_said_once_and_in_the_right_number() {
        let said = |causes: &[(&str, u64)]| {
            let causes = causes.iter().map(|(cause, n)| ((*cause).to_owned(), *n));
            rejected(&StreamCounts {
                rejected: causes.collect(),
                ..StreamCounts::default()
            })
        };
        let joined = said(&[("before header", 216), ("cut", 1), ("bad sum", 1)]);
        let want = [
            "217 lines skipped while connecting (normal)",
            "1 damaged line left out: bad sum",
        ];
        assert_eq!(joined, want);
        let one = ["1 line skipped while connecting (normal)"];
        assert_eq!(said(&[("cut", 1)]), one);
        assert!(said(&[]).is_empty());
    }

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
