//! `pedalproof blend`.

use crate::cli::input;
use crate::cli::outcome::Outcome;
use crate::cli::output::{print, print_json};
use crate::constants::{Block, formats};
use crate::report::{self, Blend, BlendPoint};
use crate::twin::blend;
use anyhow::{anyhow, bail};
use clap::Args;
use std::path::PathBuf;

/// What the board will put out: table and picture over two inputs, the first step from zero, both edges.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  pedalproof blend --block T1.hex\n  pedalproof blend --block T1.hex --at pedal=512,dial=300 --json"
)]
pub(in crate::cli) struct BlendArgs {
    /// The constants file, in any of its formats
    #[arg(long, value_name = "FILE")]
    block: PathBuf,
    /// Outputs for given input codes; factors that are not named are at full, check tracks agree
    #[arg(long, value_name = "NAME=CODE,...", value_parser = point)]
    at: Vec<Point>,
    /// Names of the inputs in the constants file's order [default: pedal, dial for what multiplies, else inputN, which always works]
    #[arg(long, value_delimiter = ',', value_name = "NAME,...")]
    names: Vec<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// Codes of named inputs.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Point(Vec<(String, u16)>);

fn point(text: &str) -> Result<Point, String> {
    let one = |part: &str| {
        let (name, code) = part
            .split_once('=')
            .ok_or("say NAME=CODE, e.g. pedal=512,dial=300")?;
        let code = code
            .trim()
            .parse()
            .map_err(|_| format!("`{code}` is no code"))?;
        Ok::<_, String>((name.trim().to_owned(), code))
    };
    text.split(',')
        .map(one)
        .collect::<Result<_, _>>()
        .map(Point)
}

/// Pieces of the table across and down, of the picture across and down.
const TABLE: (u16, u16) = (10, 10);
const PICTURE: (u16, u16) = (63, 15);

pub(in crate::cli) fn run(args: &BlendArgs) -> anyhow::Result<Outcome> {
    let block = input::block(&args.block)?.block;
    let names = names(&block, &args.names)?;
    let mut points = Vec::new();
    for point in &args.at {
        let stated = stated(&block, &names, point)?;
        let inputs: Vec<String> = stated
            .iter()
            .map(|(i, code)| format!("{}={code}", names[*i]))
            .collect();
        points.push(BlendPoint {
            inputs: inputs.join(", "),
            output: blend::at(&block, &stated),
        });
    }
    let (table, edges) = (blend::table(&block, TABLE.0, TABLE.1), blend::edges(&block));
    let factors = blend::factors(&block);
    let shown = Blend {
        description: &formats::describe(&block),
        names: &names,
        factors: &factors,
        table: &table,
        picture: &blend::table(&block, PICTURE.0, PICTURE.1),
        edges: &edges,
        points: &points,
    };
    if args.json {
        print_json(&report::blend_json(&shown, block.numbers()))?;
    } else {
        print(&report::blend(&shown).text())?;
    }
    Ok(Outcome::Good)
}

/// Names for every input: as given, else `pedal` for what must rest before a start, `dial` for what multiplies it, `inputN` for the rest.
fn names(block: &Block, given: &[String]) -> anyhow::Result<Vec<String>> {
    let inputs = &block.numbers().inputs;
    if !given.is_empty() {
        if given.len() != inputs.len() {
            bail!(
                "the constants file has {} inputs, --names gives {}: name each, in order",
                inputs.len(),
                given.len()
            );
        }
        return Ok(given.to_vec());
    }
    let name = |i| {
        block
            .usual_name(i)
            .map_or_else(|| format!("input{i}"), str::to_owned)
    };
    Ok((0..inputs.len()).map(name).collect())
}

fn stated(block: &Block, names: &[String], point: &Point) -> anyhow::Result<Vec<(usize, u16)>> {
    let bits = block.numbers().board.adc_bits;
    point
        .0
        .iter()
        .map(|(name, code)| {
            let at = (0..names.len()).find(|i| names[*i] == *name || format!("input{i}") == *name);
            let at = at.ok_or_else(|| {
                anyhow!(
                    "the constants file has no input `{name}`: it has {} (or input0 ...)",
                    names.join(", ")
                )
            })?;
            if u32::from(*code) >= 1 << bits {
                bail!(
                    "{name}={code}: the constants file is for an ADC of {bits} bits, whose codes end at {}",
                    (1_u32 << bits) - 1
                );
            }
            Ok((at, *code))
        })
        .collect()
}
