//! Arguments of `pedalproof assess`.

use crate::cli::inl_args::InlArgs;
use crate::cli::output::Shape;
use clap::Args;
use measure::figure::FigureName;
use std::path::PathBuf;

/// Results and verdict of one recording or of many
///
/// Several recordings, or a folder, are done side by side and give a line each (with --json an assessment a line). One that
/// cannot be read does not stop the others and is named on stderr. Exit code then: 2 if any could not be assessed, else 1 if any
/// failed, else 3 if any is undecided, else 0.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof assess T1-pedal.csv\n  pedalproof assess T1-pedal.csv --profile pedal-hall-two-track --json\n  pedalproof assess captures --format csv > figures.csv\n  pedalproof assess captures T4-dial.csv --keep\n  pedalproof assess T1-pedal.csv --explain return_scatter\n  pedalproof assess --explain hysteresis"
)]
pub(in crate::cli) struct AssessArgs {
    /// The recordings' CSV files, their metadata beside them; or folders of such; `-` is stdin: the metadata and then the CSV
    #[arg(required_unless_present = "explain", value_name = "RECORDING")]
    pub(super) captures: Vec<PathBuf>,
    /// The profile: a file, or the name of a built-in one; without it, the one that the recording names
    #[arg(long)]
    pub(super) profile: Option<String>,
    #[command(flatten)]
    pub(super) inl: InlArgs,
    /// How to answer
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
    /// Print JSON: the same as --format json
    #[arg(long, conflicts_with = "format")]
    json: bool,
    /// Keep the assessment as a record of the part, for comparison with the next one
    #[arg(long)]
    pub(super) keep: bool,
    /// Where records are kept [default: PEDALPROOF_RECORDS, the configuration file, the platform's data folder]
    #[arg(long, value_name = "FOLDER", requires = "keep")]
    pub(super) records: Option<PathBuf>,
    /// Explain one result instead: definition, formula, source, and what the recording used for it or lacks. Without a
    /// recording, the result alone. No verdict: the exit code is 0
    #[arg(long, value_name = "RESULT", conflicts_with_all = ["json", "format"], value_parser = result)]
    pub(super) explain: Option<FigureName>,
}

impl AssessArgs {
    pub(super) fn shape(&self) -> Shape {
        if self.json { Shape::Json } else { self.format }
    }
}

/// A result by its word (`noise_rest_rms`) or by what the tables call it (`noise at rest`, `noise-at-rest`).
fn result(text: &str) -> Result<FigureName, String> {
    let word = |text: &str| text.trim().to_lowercase().replace([' ', '-'], "_");
    let wanted = word(text);
    let mut all = FigureName::ALL.iter();
    let called = all.find(|name| word(name.facts().label) == wanted);
    called.map_or_else(
        || {
            wanted
                .parse()
                .map_err(|e: measure::units::UnknownWord| e.to_string())
        },
        |name| Ok(*name),
    )
}
