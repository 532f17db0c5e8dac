//! `pedalproof import`.

use crate::bench;
use crate::cli::imported::{rate_hz, recorded, signal, step_words, twice};
use crate::cli::input;
use crate::cli::outcome::Outcome;
use crate::cli::output::{csv_name, is_piped, refuse_overwriting};
use crate::import::{
    self, Asked, Asks, ChannelColumn, SamplesError, SignalUnit, TimeColumn, TimeUnit,
};
use crate::outlet::{self, Shown, tell};
use anyhow::{Context, anyhow, bail};
use clap::Args;
use measure::figure::numbers::fixed;
use measure::units::Scale;
use std::path::{Path, PathBuf};

/// Take over a file from a scope, a logger, a spreadsheet or a serial monitor
///
/// Separators, decimal commas, headings with units, comment lines ahead and the kind of characters are seen; the steps are
/// recognised as while recording. What is guessed is said, and stands in the recording's note.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof import scope.csv --time Time --signal lever=CH1 --unit V --vref-mv 5000 --bits 10 --profile lever-shunting --tag T3-lever --out T3-lever\n  pedalproof import sheet.csv --time 1 --time-unit ms --signal pedal_a=2 --signal pedal_b=3 --unit mV --vref-mv 5000 --bits 10 --out T1-pedal\n  pedalproof import numbers.txt --rate-hz 250 --signal dial=1 --unit code --vref-mv 5000 --bits 10 --out T4-dial"
)]
pub(in crate::cli) struct ImportArgs {
    /// The file, which is only read; `-` is stdin
    file: PathBuf,
    /// The column of the time, by its heading or its number from 1; without it, the one that looks like it
    #[arg(long, value_name = "COLUMN")]
    time: Option<String>,
    /// Its unit, when the heading does not say it: s, ms or us
    #[arg(long, value_name = "UNIT")]
    time_unit: Option<TimeUnit>,
    /// Samples a second of a file without a time
    #[arg(long, value_name = "HZ", conflicts_with_all = ["time", "time_unit"], value_parser = rate_hz)]
    rate_hz: Option<f64>,
    /// A signal and its column, by heading or number: lever=CH1; without it, every other column of numbers
    #[arg(long = "signal", value_name = "CHANNEL=COLUMN", value_parser = signal)]
    signals: Vec<ChannelColumn>,
    /// The signals' unit, when the heading does not say it: V, mV or code
    #[arg(long, value_name = "UNIT")]
    unit: Option<SignalUnit>,
    /// The ADC reference of the board that the control is for, in millivolts
    #[arg(long, value_name = "MV")]
    vref_mv: f64,
    /// Its ADC resolution
    #[arg(long, value_parser = input::bits)]
    bits: u32,
    /// The profile, a file or the name of a built-in one: its test says which steps are looked for
    #[arg(long)]
    profile: Option<String>,
    /// What is written on the part's sticker
    #[arg(long, value_parser = input::one_line)]
    tag: Option<String>,
    /// Name of the recording: writes NAME.csv and NAME.csv-metadata.json
    #[arg(long, value_name = "NAME")]
    out: PathBuf,
}

pub(in crate::cli) fn run(args: ImportArgs) -> anyhow::Result<Outcome> {
    let scale = Scale::new(args.bits, args.vref_mv).context("the board (--bits, --vref-mv)")?;
    let profile = args.profile.as_deref().map(input::profile).transpose()?;
    let out = csv_name(&args.out);
    refuse_overwriting(&out)?;
    if let Some(twice) = twice(&args.signals) {
        bail!("--signal names the channel `{twice}` twice");
    }
    let asked = Asked {
        time: match (args.time, args.rate_hz) {
            (Some(column), _) => TimeColumn::Named(column),
            (None, Some(hz)) => TimeColumn::Rate(hz),
            (None, None) => TimeColumn::Guessed,
        },
        time_unit: args.time_unit,
        signals: args.signals,
        unit: args.unit,
    };
    let piped = is_piped(&args.file);
    let file = if piped {
        Path::new("standard input")
    } else {
        &args.file
    };
    let of_file = || file.shown().into_owned();
    let source = if piped {
        import::read_from(input::stdin().with_context(of_file)?)
    } else {
        import::read(file)
    };
    let source = source.with_context(of_file)?;
    let samples = import::samples(&source.sheet, &asked, scale)
        .map_err(with_option)
        .with_context(of_file)?;
    let notes = samples.notes.clone();
    let recorded = recorded(samples, file, source.sha256, scale, args.tag);
    let (capture, found) = bench::labelled(recorded, profile.as_ref());
    bench::write_capture(&capture, &out)?;
    tell!(
        "{}: {} samples, {} a second, {} s",
        out.shown(),
        capture.t_us.len(),
        fixed(capture.meta.board.rate_hz, 0),
        fixed(capture.duration_s(), 0)
    );
    for words in &notes {
        tell!("  {words}");
    }
    if notes.iter().any(|words| words.starts_with("guessed")) {
        tell!("  Guessed wrong? --time, --time-unit, --signal and --unit say it.");
    }
    if capture.meta.stream.lost() > 0 {
        let stream = &capture.meta.stream;
        let left_out: u64 = stream.rejected.values().sum();
        let count = |n: u64, one: &str| format!("{n} {one}{}", if n == 1 { "" } else { "s" });
        tell!(
            "  {} without a sample, {} missing between the others",
            count(left_out, "line"),
            count(stream.missing, "sample")
        );
    }
    for step in &found {
        tell!("  {}", step_words(step));
    }
    tell!(
        "What it says of the part: pedalproof assess {}",
        outlet::typed(&out)
    );
    Ok(Outcome::Good)
}

/// Why there are no samples, and the option that answers it.
fn with_option(why: SamplesError) -> anyhow::Error {
    if let SamplesError::UnitsDiffer {
        name,
        heading,
        asked,
    } = why
    {
        return anyhow!(
            "the heading of {name} says {heading}, --unit says {asked}. Leave --unit out, or correct the heading."
        );
    }
    let option = match why.asks() {
        Some(Asks::Time) => {
            "Say --time COLUMN, by heading or number, or --rate-hz HZ when there is none"
        }
        Some(Asks::TimeUnit) => "Say --time-unit s, ms or us",
        Some(Asks::Signals) => "Say --signal CHANNEL=COLUMN, by heading or number",
        Some(Asks::Unit) => "Say --unit V, --unit mV or --unit code; --bits is the board's",
        Some(Asks::Board) => "Say --unit V, mV or code, and --vref-mv as the board has it",
        Some(Asks::UnitOfHeading) | None => return why.into(),
    };
    anyhow!("{why}\n  {option}")
}
