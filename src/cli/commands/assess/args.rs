//! Arguments of `pedalproof assess`.

use crate::cli::output::Shape;
use clap::Args;
use measure::figure::FigureName;
use std::path::PathBuf;

/// Figures, findings and verdict of one capture or of many
///
/// Several captures, or a folder, are done side by side and give a line each (with --json an assessment a line). One that
/// cannot be read does not stop the others and is named on stderr. Exit code then: 2 if any could not be assessed, else 1 if any
/// failed, else 3 if any is undecided, else 0.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof assess T1-pedal.csv\n  pedalproof assess T1-pedal.csv --profile pedal-hall-two-track --json\n  pedalproof assess captures --format csv > figures.csv\n  pedalproof assess captures T4-dial.csv --keep\n  pedalproof assess T1-pedal.csv --explain return_scatter\n  pedalproof assess --explain hysteresis"
)]
pub(in crate::cli) struct AssessArgs {
    /// The captures' CSV files, their metadata beside them; or folders of such
    #[arg(required_unless_present = "explain", value_name = "CAPTURE")]
    pub(super) captures: Vec<PathBuf>,
    /// The profile: a file, or the name of a built-in one; without it, the one that the capture names
    #[arg(long)]
    pub(super) profile: Option<String>,
    /// How far the board's ADC may read off a straight line, in codes; without it, what the capture states or such boards
    /// usually have
    #[arg(long, value_name = "CODES", value_parser = crate::cli::input::inl_codes)]
    pub(super) inl_codes: Option<f64>,
    /// How to answer
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
    /// Print JSON: the same as --format json
    #[arg(long, conflicts_with = "format")]
    json: bool,
    /// Keep the assessment as a record of the unit, for comparison with the next one
    #[arg(long)]
    pub(super) keep: bool,
    /// Where records are kept [default: PEDALPROOF_RECORDS, the configuration file, the platform's data folder]
    #[arg(long, value_name = "FOLDER", requires = "keep")]
    pub(super) records: Option<PathBuf>,
    /// Explain one figure instead: definition, formula, source, and what the capture used for it or lacks. Without a
    /// capture, the figure alone. No verdict: the exit code is 0
    #[arg(long, value_name = "FIGURE", conflicts_with_all = ["json", "format"])]
    pub(super) explain: Option<FigureName>,
}

impl AssessArgs {
    pub(super) fn shape(&self) -> Shape {
        if self.json { Shape::Json } else { self.format }
    }
}
