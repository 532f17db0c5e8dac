//! `pedalproof assess`.

mod args;
mod batch;

pub(in crate::cli) use args::AssessArgs;

use crate::cli::input::{self, AssessedCapture};
use crate::cli::outcome::Outcome;
use crate::cli::output::{Shape, print, print_json};
use crate::cli::{progress, records};
use crate::outlet::{Shown, tell};
use crate::record::RecordStore;
use crate::report::{self, Evidence};
use anyhow::{Context, bail};
use jiff::Timestamp;
use std::path::Path;

pub(in crate::cli) fn run(args: &AssessArgs) -> anyhow::Result<Outcome> {
    let store = args
        .keep
        .then(|| records::store(args.records.as_deref()))
        .transpose()?;
    match (&args.captures[..], args.explain) {
        ([], name) => {
            // Refused by the arguments unless a figure is to be explained.
            let name = name.context("say which recording to assess")?;
            print(&report::explain(name, None).text())?;
            Ok(Outcome::Good)
        }
        ([capture], _) if !capture.is_dir() => one(capture, args, store.as_ref()),
        (_, None) if args.inl.is_stated() => {
            bail!("--inl-codes is of one board: give one recording, or state it when recording")
        }
        (_, None) => batch::run(args, store.as_ref()),
        (_, Some(_)) => bail!("--explain takes one recording, or none: name one file"),
    }
}

fn one(capture: &Path, args: &AssessArgs, store: Option<&RecordStore>) -> anyhow::Result<Outcome> {
    let AssessedCapture {
        opened,
        assessment,
        notes,
    } = progress::counted("reading the recording and working it out", || {
        input::assessed_with(capture, args.profile.as_deref(), args.inl)
    })?;
    for note in notes {
        tell!("{}: {note}", capture.shown());
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
        tell!(
            "{}",
            records::keep(
                store,
                capture,
                &opened.capture.meta,
                &assessment,
                Timestamp::now()
            )?
        );
    }
    match args.shape() {
        Shape::Text => print(&report::assessment(&assessment).text())?,
        Shape::Json => print_json(&assessment)?,
        Shape::Csv => {
            let rows = report::assessment_csv(&capture.shown(), &assessment);
            print(&format!("{}{rows}", report::ASSESSMENT_COLUMNS))?;
        }
    }
    Ok(assessment.verdict.into())
}
