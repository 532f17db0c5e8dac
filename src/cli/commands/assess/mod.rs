//! `pedalproof assess`.

mod batch;

use crate::cli::input::{self, AssessedCapture};
use crate::cli::output::{print, print_json};
use crate::cli::{Outcome, records};
use crate::record::RecordStore;
use crate::report::{self, Evidence};
use anyhow::{Context, bail};
use clap::Args;
use measure::figure::FigureName;
use std::path::{Path, PathBuf};

/// Figures, findings and verdict of one capture or of many
///
/// Several captures, or a folder, are done side by side and give a line each (with --json an assessment a line). One that
/// cannot be read does not stop the others and is named on stderr. Exit code then: 2 if any could not be assessed, else 1 if any
/// failed, else 3 if any is undecided, else 0.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof assess T1-pedal.csv\n  pedalproof assess T1-pedal.csv --profile pedal-hall-two-track --json\n  pedalproof assess captures T4-dial.csv --keep\n  pedalproof assess T1-pedal.csv --explain return_scatter\n  pedalproof assess --explain hysteresis"
)]
pub(in crate::cli) struct AssessArgs {
    /// The captures' CSV files, their metadata beside them; or folders of such
    #[arg(required_unless_present = "explain", value_name = "CAPTURE")]
    captures: Vec<PathBuf>,
    /// The profile: a file, or the name of a built-in one; without it, the one that the capture names
    #[arg(long)]
    profile: Option<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
    /// Keep the assessment as a record of the unit, for comparison with the next one
    #[arg(long)]
    keep: bool,
    /// Where records are kept [default: PEDALPROOF_RECORDS, the configuration file, the platform's data folder]
    #[arg(long, value_name = "FOLDER", requires = "keep")]
    records: Option<PathBuf>,
    /// Explain one figure instead: definition, formula, source, and what the capture used for it or lacks. Without a
    /// capture, the figure alone. No verdict: the exit code is 0
    #[arg(long, value_name = "FIGURE", conflicts_with = "json")]
    explain: Option<FigureName>,
}

pub(in crate::cli) fn run(args: &AssessArgs) -> anyhow::Result<Outcome> {
    let store = args
        .keep
        .then(|| records::store(args.records.as_deref()))
        .transpose()?;
    match (&args.captures[..], args.explain) {
        ([], name) => {
            // Refused by the arguments unless a figure is to be explained.
            let name = name.context("say which capture to assess")?;
            print(&report::explain(name, None).text())?;
            Ok(Outcome::Good)
        }
        ([capture], _) if !capture.is_dir() => one(capture, args, store.as_ref()),
        (_, None) => batch::run(args, store.as_ref()),
        (_, Some(_)) => bail!("--explain takes one capture, or none: name one file"),
    }
}

fn one(capture: &Path, args: &AssessArgs, store: Option<&RecordStore>) -> anyhow::Result<Outcome> {
    let AssessedCapture {
        opened,
        assessment,
        notes,
    } = input::assessed(capture, args.profile.as_deref())?;
    for note in notes {
        eprintln!("{}: {note}", capture.display());
    }
    if let Some(name) = args.explain {
        let evidence = Evidence {
            assessment: &assessment,
            steps: &input::steps(&opened),
        };
        print(&report::explain(name, Some(evidence)).text())?;
        return Ok(Outcome::Good);
    }
    if let Some(store) = store {
        eprintln!(
            "{}",
            records::keep(store, &opened.capture.meta, &assessment)?
        );
    }
    if args.json {
        print_json(&assessment)?;
    } else {
        print(&report::assessment(&assessment).text())?;
    }
    Ok(assessment.verdict.into())
}
