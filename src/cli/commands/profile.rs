//! `pedalproof profile`: list, check, new, write, schema.

use crate::bench::{DeriveOptions, derive};
use crate::cli::input;
use crate::cli::input::one_line;
use crate::cli::outcome::Outcome;
use crate::cli::output::{file_of, print};
use crate::outlet::{self, Shown, tell};
use crate::profile::{self, OtherParts, PartsError};
use crate::report;
use anyhow::{anyhow, bail};
use clap::{Args, Subcommand, ValueEnum};
use std::fmt::Write as _;
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof profile\n  pedalproof profile check lever-shunting\n  pedalproof profile new --from T1.csv T2.csv T4.csv --name \"our pedal\" --kind pedal --out our-pedal.json\n  pedalproof profile write dial-rheostat --track-ohm 5000 --out my-dial.json\n  pedalproof profile schema > profile.schema.json"
)]
pub(in crate::cli) struct ProfileArgs {
    #[command(subcommand)]
    what: Option<ProfileCommand>,
}

#[derive(Debug, Subcommand)]
enum ProfileCommand {
    /// Check and explain one profile
    #[command(
        after_help = "Examples:\n  pedalproof profile check lever-shunting\n  pedalproof profile check our-pedal.json"
    )]
    Check {
        /// A file, or the name of a built-in one
        profile: String,
    },
    /// Start a profile from recordings of good parts
    New(NewProfile),
    /// Write a built-in profile out, with the parts that yours has
    Write(WriteProfile),
    /// The JSON Schema of profiles, for editors
    #[command(after_help = "Examples:\n  pedalproof profile schema > profile.schema.json")]
    Schema,
}

/// Start a profile from recordings of good parts.
///
/// Limits are tolerance limits (ISO 16269-6): they are to hold 95 % of good parts with 95 % confidence, and are wide when the
/// parts are few. Recordings of one tag count as one part. The test is the steps that all recordings have. A limit of the base is never
/// opened without --widen, and a side of it is never dropped.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof profile new --from T1.csv T2.csv T4.csv --name \"our pedal\" --kind pedal --out our-pedal.json\n  pedalproof profile new --from T1.csv T2.csv --base pedal-hall-two-track --name \"our pedal\""
)]
struct NewProfile {
    /// Recordings of good parts; from one alone the limits are assumed, and said so
    #[arg(long, required = true, num_args = 1.., value_name = "CAPTURE")]
    from: Vec<PathBuf>,
    /// What this kind of control is called
    #[arg(long, value_parser = one_line)]
    name: String,
    /// What sort of control [default: that of the base]
    #[arg(long, value_enum, required_unless_present = "base")]
    kind: Option<KindArg>,
    /// A profile that gives wiring, supply, start rule, test, and limits that the recordings may only tighten
    #[arg(long, value_name = "PROFILE")]
    base: Option<String>,
    /// Let the parts open limits of the base; each opened one is named
    #[arg(long, requires = "base")]
    widen: bool,
    /// The file to write, never over another [default: stdout]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Write a built-in profile out, with the parts that yours has.
///
/// The limits on both ends move with the readings, as wide as they were and at least as wide as the tolerances.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof profile write dial-rheostat --track-ohm 5000 --out my-dial.json\n  pedalproof profile write dial-rheostat --track-ohm 5000 --pull-up-ohm 2200 --name \"limit dial, 5k\" --out my-dial.json\n  pedalproof profile write pedal-hall-two-track --rest-mv 500 --full-mv 4500 --out my-pedal.json\n  pedalproof profile write lever-shunting > lever.json"
)]
struct WriteProfile {
    /// The name of a built-in profile, or a file
    profile: String,
    /// What it is called then [default: as before, with what is other]
    #[arg(long)]
    name: Option<String>,
    /// Resistance of the track from end to end: measure it with a meter, nothing connected
    #[arg(long, value_name = "OHM", value_parser = ohms)]
    track_ohm: Option<f64>,
    /// How far a track of this kind may be off
    #[arg(long, value_name = "PCT", value_parser = percent)]
    track_tolerance_pct: Option<f64>,
    /// A fixed resistor between the track's ground end and the ground wire
    #[arg(long, value_name = "OHM", value_parser = ohms)]
    end_low_ohm: Option<f64>,
    /// The pull-up at the board
    #[arg(long, value_name = "OHM", value_parser = ohms)]
    pull_up_ohm: Option<f64>,
    /// The pull-down at the board
    #[arg(long, value_name = "OHM", value_parser = ohms)]
    pull_down_ohm: Option<f64>,
    /// What the first signal wire of a sensor gives let go, millivolts; a second goes with it
    #[arg(long, value_name = "MV", value_parser = millivolts)]
    rest_mv: Option<f64>,
    /// The same fully pressed
    #[arg(long, value_name = "MV", value_parser = millivolts)]
    full_mv: Option<f64>,
    /// The file to write, never over another [default: stdout]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

fn ohms(text: &str) -> Result<f64, String> {
    profile::ohms(text).ok_or_else(|| {
        format!(
            "`{}` is no resistance in ohms, e.g. 5000 or 5k",
            outlet::line(text)
        )
    })
}

fn millivolts(text: &str) -> Result<f64, String> {
    let mv = text.trim().parse::<f64>().ok();
    mv.filter(|mv| mv.is_finite() && *mv >= 0.0).ok_or_else(|| {
        format!(
            "`{}` is no voltage in millivolts, e.g. 800",
            outlet::line(text)
        )
    })
}

fn percent(text: &str) -> Result<f64, String> {
    let pct = text.trim().parse::<f64>().ok();
    pct.filter(|pct| (0.0..100.0).contains(pct)).ok_or_else(|| {
        format!(
            "`{}` is no percentage from 0 to below 100",
            outlet::line(text)
        )
    })
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum KindArg {
    /// Worked by foot
    Pedal,
    /// Turned by hand
    Dial,
    /// Moved by hand
    Lever,
}

impl From<KindArg> for crate::profile::Kind {
    fn from(kind: KindArg) -> Self {
        match kind {
            KindArg::Pedal => Self::Pedal,
            KindArg::Dial => Self::Dial,
            KindArg::Lever => Self::Lever,
        }
    }
}

pub(in crate::cli) fn run(args: &ProfileArgs) -> anyhow::Result<Outcome> {
    match &args.what {
        None => print(&list())?,
        Some(ProfileCommand::Check { profile }) => {
            print(&report::profile(&input::profile(profile)?).text())?;
        }
        Some(ProfileCommand::New(new)) => start(new)?,
        Some(ProfileCommand::Write(write)) => write_out(write)?,
        Some(ProfileCommand::Schema) => print(&profile::schema_json())?,
    }
    Ok(Outcome::Good)
}

/// The built-in kinds, a line each.
pub(super) fn list() -> String {
    let mut list = String::new();
    for short in profile::built_in_names() {
        let name = profile::find(short)
            .map(|profile| profile.name)
            .unwrap_or_default();
        let _ = writeln!(list, "{short:<26} {name}");
    }
    list
}

fn write_out(write: &WriteProfile) -> anyhow::Result<()> {
    let base = input::profile(&write.profile)?;
    let few = |ohm| profile::too_few_ohms(ohm, base.kind);
    if let Some(asked) = write.track_ohm.and_then(few) {
        bail!("--track-ohm: {asked}");
    }
    let parts = OtherParts {
        track_ohm: write.track_ohm,
        track_tolerance_pct: write.track_tolerance_pct,
        end_low_ohm: write.end_low_ohm,
        pull_up_ohm: write.pull_up_ohm,
        pull_down_ohm: write.pull_down_ohm,
        rest_mv: write.rest_mv,
        full_mv: write.full_mv,
    };
    let name = write
        .name
        .clone()
        .unwrap_or_else(|| match parts.describe() {
            words if words.is_empty() => base.name.clone(),
            words => format!("{}, {words}", base.name),
        });
    let written = base.with_parts(&parts, &name).map_err(|why| match why {
        PartsError::NoTrack(_) => anyhow!("{why}: give its volts with --rest-mv and --full-mv"),
        PartsError::NoSensor(_) => {
            anyhow!(
                "{why}: give its resistance with --track-ohm, its end resistor with --end-low-ohm"
            )
        }
        why => why.into(),
    })?;
    match file_of(write.out.as_deref()) {
        None => print(&written.to_json())?,
        Some(path) => {
            profile::create(path, &written)?;
            tell!(
                "wrote {}; explained by: pedalproof profile check {1}; its wiring: pedalproof wiring {1}",
                path.shown(),
                outlet::typed(path)
            );
        }
    }
    for note in written.cautions() {
        tell!("note: {note}");
    }
    Ok(())
}

fn start(new: &NewProfile) -> anyhow::Result<()> {
    let base = new.base.as_deref().map(input::profile).transpose()?;
    let mut opened = Vec::new();
    for path in &new.from {
        let capture = input::opened(path, "profile new --from")?;
        if let Some(lost) = &capture.capture.lost {
            tell!("{}: {lost}", path.shown());
        }
        opened.push((path.shown().to_string(), capture));
    }
    let captures: Vec<_> = opened.iter().map(|(file, o)| (file.as_str(), o)).collect();
    let options = DeriveOptions {
        name: &new.name,
        kind: new.kind.map(Into::into),
        base: base.as_ref(),
        widen: new.widen,
    };
    let derived = derive(&captures, &options)?;
    match file_of(new.out.as_deref()) {
        None => print(&derived.profile.to_json())?,
        Some(path) => {
            profile::create(path, &derived.profile)?;
            tell!(
                "wrote {}; explained by: pedalproof profile check {}",
                path.shown(),
                outlet::typed(path)
            );
        }
    }
    for note in derived.notes.iter().chain(&derived.profile.cautions()) {
        tell!("note: {note}");
    }
    Ok(())
}
