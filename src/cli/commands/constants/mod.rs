//! `pedalproof constants`.

mod args;
mod units;
mod write;

pub(in crate::cli) use args::ConstantsArgs;
pub(in crate::cli) use write::{Document, for_controls};

use crate::cli::input;
use crate::cli::outcome::Outcome;
use crate::cli::output::{file_of, print, print_json};
use crate::constants::choose::{
    self, ChooseError, ChooseOptions, Chosen, ErrorKind, MeasuredControl,
};
use crate::constants::{BlockFields, Build, formats, layout};
use crate::outlet::{self, Shown, alarm, tell};
use crate::report::{self, Flash, Reasons};
use anyhow::{Context, bail};
use serde_json::json;
use std::path::Path;
use units::Unit;

pub(in crate::cli) fn run(args: &ConstantsArgs) -> anyhow::Result<Outcome> {
    if let Some(path) = &args.read {
        return read_back(path, args);
    }
    let format = write::format(args)?;
    if let Some(path) = &args.remake {
        return write::remake(args, path, format);
    }
    let units = units::open(args)?;
    let given: Vec<MeasuredControl<'_>> = units.iter().map(Unit::given).collect();
    let chosen = match choose::choose(&given, &options(args)) {
        Ok(chosen) => chosen,
        Err(refusal) => return refused(refusal),
    };
    for unit in units.iter().filter(|unit| unit.failed()) {
        tell!("{}", unit.failure());
    }
    explain(&chosen, args);
    if let Some(outcome) = against(&chosen, args.accept.as_deref())? {
        return Ok(outcome);
    }
    write::write(args, &units, &chosen, format)?;
    Ok(Outcome::Good)
}

/// On stderr, what the numbers are; where nothing is to be said, what stands against them all the same.
fn explain(chosen: &Chosen, args: &ConstantsArgs) {
    if outlet::quiet() {
        for objection in &chosen.objections {
            alarm!("AGAINST IT: {}", objection.words);
        }
        return;
    }
    let reasons = if args.why {
        Reasons::Told
    } else {
        Reasons::LeftOut
    };
    let file = file_of(args.out.as_deref());
    let flash = Flash {
        file: file.map(|file| file.shown().to_string()),
        prove: file.map(prove),
        accepted: args.accept.is_some(),
    };
    let said = report::constants(chosen, reasons, &flash);
    tell!("{}", said.text().trim_end());
}

/// The commands that prove a board flashed with this file.
fn prove(file: &Path) -> [String; 2] {
    let stem = file.with_extension("");
    [("", "board"), (" --faults", "faults")].map(|(round, name)| {
        let out = outlet::quoted(&format!("{}-{name}", stem.shown()));
        let block = outlet::typed(file);
        format!("pedalproof prove --block {block} --port PORT{round} --out {out}")
    })
}

fn options(args: &ConstantsArgs) -> ChooseOptions {
    ChooseOptions {
        board_rate_hz: args.board_rate_hz,
        board_bits: args.board_bits,
        build: build(args),
        dac_bits: args.dac_bits,
        dac_vref_mv: args.dac_vref_mv,
        zero_mv: args.output_zero_mv,
        full_mv: args.output_full_mv.unwrap_or(args.dac_vref_mv),
        waits_at_zero: args.wait_at_zero,
        own_reference_mv: args.reference_mv,
        persistence: args.persistence,
        rise_s: args.rise_s,
        fall_s: args.fall_s,
        curve_error_pct: args.curve_error,
    }
}

fn build(args: &ConstantsArgs) -> Build {
    Build {
        inputs: args.core_inputs,
        segments: args.core_segments,
    }
}

fn refused(refusal: ChooseError) -> anyhow::Result<Outcome> {
    let outcome = match refusal.kind {
        ErrorKind::BadInput => return Err(refusal.into()),
        ErrorKind::Fail => Outcome::Fail,
        ErrorKind::Open => Outcome::Undecided,
    };
    alarm!("pedalproof: no constants: {refusal}");
    Ok(outcome)
}

/// What stands against the constants file and was not accepted.
fn against(chosen: &Chosen, accepted: Option<&str>) -> anyhow::Result<Option<Outcome>> {
    if chosen.objections.is_empty() {
        if accepted.is_some() {
            tell!("nothing stood against it: --accept was not needed and is not written");
        }
        return Ok(None);
    }
    if let Some(why) = accepted {
        if why.trim().is_empty() {
            bail!("--accept needs a reason that another person can read");
        }
        return Ok(None);
    }
    let fails = chosen.objections.iter().any(|o| o.kind == ErrorKind::Fail);
    alarm!("pedalproof: No constants written; see above. To override: --accept \"your reason\".");
    Ok(Some(if fails {
        Outcome::Fail
    } else {
        Outcome::Undecided
    }))
}

fn read_back(path: &Path, args: &ConstantsArgs) -> anyhow::Result<Outcome> {
    let input::BlockFile { block, format, .. } = input::block(path)?;
    let named = || format!("{}", path.shown());
    if let Some(bits) = args.board_bits {
        block.is_for(bits).with_context(named)?;
    }
    block.fits(build(args)).with_context(named)?;
    if args.json {
        let numbers: &BlockFields = block.numbers();
        let document = json!({
            "format": "block/2", "read_as": format!("{format:?}").to_lowercase(), "check_sum": layout::sum_of(&block), "block": numbers,
        });
        print_json(&document)?;
    } else {
        print(&formats::describe(&block))?;
        print(&format!("check sum {}\n", layout::sum_of(&block)))?;
    }
    Ok(Outcome::Good)
}

#[cfg(test)]
mod tests {
    use super::args::BOARD_RATE_HZ;
    use super::*;
    use crate::firmware::FILES;

    #[test]
    fn the_boards_rate_and_build_are_the_firmwares() {
        let text = |name| FILES.iter().find(|(file, _)| *file == name).unwrap().1;
        assert!(text("boards/config.h").contains(&format!("#define RATE_HZ {BOARD_RATE_HZ}\n")));
        let core = text("core/blend.h");
        let Build { inputs, segments } = Build::default();
        assert!(
            core.contains(&format!("#define PP_MAX_INPUTS {inputs}\n")),
            "{inputs}"
        );
        assert!(
            core.contains(&format!("#define PP_MAX_SEGMENTS {segments}\n")),
            "{segments}"
        );
    }
}
