//! `pedalproof schema`.

use super::constants;
use crate::cli::outcome::Outcome;
use crate::cli::output::print;
use crate::constants::formats;
use crate::{capture, outlet, profile, proof, record, report, wiring};
use clap::{Args, ValueEnum};

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof schema assessment/1\n  pedalproof schema profile/1 > profile.schema.json"
)]
pub(in crate::cli) struct SchemaArgs {
    /// The format, as files and answers name it
    #[arg(value_enum)]
    format: Format,
}

/// Every JSON that is written, by the name that stands in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// `assess --json`
    #[value(name = "assessment/1", alias = "assessment")]
    Assessment,
    /// `blend --json`
    #[value(name = "blend/1", alias = "blend")]
    Blend,
    /// `constants --format json`
    #[value(name = "block/2", alias = "block")]
    Block,
    /// A recording's metadata
    #[value(name = "capture/1", alias = "capture")]
    Capture,
    /// `constants --json`
    #[value(name = "constants/1", alias = "constants")]
    Constants,
    /// Machine files
    #[value(name = "machine/1", alias = "machine")]
    Machine,
    /// `history TAG --json`
    #[value(name = "history/1", alias = "history")]
    History,
    /// Profiles
    #[value(name = "profile/1", alias = "profile")]
    Profile,
    /// `prove --json`
    #[value(name = "proof/1", alias = "proof")]
    Proof,
    /// The marks beside a proof's recording
    #[value(name = "proof-marks/2", alias = "proof-marks")]
    Marks,
    /// Kept records
    #[value(name = "record/1", alias = "record")]
    Record,
    /// `machine FILE --json`
    #[value(name = "standing/1", alias = "standing")]
    Standing,
    /// `history --json`
    #[value(name = "units/1", alias = "units")]
    Units,
    /// `wiring --json`
    #[value(name = "wiring/1", alias = "wiring")]
    Wiring,
}

pub(in crate::cli) fn run(args: &SchemaArgs) -> anyhow::Result<Outcome> {
    print(&match args.format {
        Format::Assessment => record::assessment_schema_json(),
        Format::Blend => outlet::schema_json::<report::BlendJson<'_>>(),
        Format::Block => formats::schema_json(),
        Format::Capture => capture::schema_json(),
        Format::Constants => outlet::schema_json::<constants::Document<'_>>(),
        Format::Machine => crate::machine::schema_json(),
        Format::History => outlet::schema_json::<report::HistoryJson<'_>>(),
        Format::Profile => profile::schema_json(),
        Format::Proof => proof::schema_json(),
        Format::Marks => proof::marks_schema_json(),
        Format::Record => record::schema_json(),
        Format::Standing => outlet::schema_json::<report::StandingJson<'_>>(),
        Format::Units => outlet::schema_json::<report::UnitsJson<'_>>(),
        Format::Wiring => outlet::schema_json::<wiring::WiringReport>(),
    })?;
    Ok(Outcome::Good)
}
