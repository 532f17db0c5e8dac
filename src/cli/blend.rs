//! `pedalproof blend`.

use super::{Outcome, args, constants, print};
use crate::constants::{Block, Task, formats};
use crate::report::blend_text::{self, Asked, Preview};
use crate::twin::blend;
use anyhow::{anyhow, bail};
use serde_json::json;

/// Pieces of the table across and down, of the picture across and down.
const TABLE: (u16, u16) = (10, 10);
const PICTURE: (u16, u16) = (63, 15);

pub(super) fn run(wanted: &args::Blend) -> anyhow::Result<Outcome> {
    let block = constants::read(&wanted.block)?.block;
    let names = names(&block, &wanted.names)?;
    let mut asked = Vec::new();
    for point in &wanted.at {
        let stated = stated(&block, &names, point)?;
        let words: Vec<String> = stated
            .iter()
            .map(|(i, code)| format!("{}={code}", names[*i]))
            .collect();
        asked.push(Asked {
            words: words.join(", "),
            shown: blend::at(&block, &stated),
        });
    }
    let (table, edges) = (blend::table(&block, TABLE.0, TABLE.1), blend::edges(&block));
    let factors = blend::factors(&block);
    if wanted.json {
        let points: Vec<serde_json::Value> = asked
            .iter()
            .map(|a| json!({
                "at": a.words, "dac": a.shown.map(|s| s.dac), "command_q15": a.shown.map(|s| s.command_q15),
                "stops": a.shown.is_none(),
            }))
            .collect();
        let told = json!({
            "format": "blend/1", "inputs": names, "factors": factors, "block": block.numbers(), "table": table, "edges": edges,
            "at": points,
        });
        print(&format!("{told:#}\n"))?;
        return Ok(Outcome::Good);
    }
    print(&blend_text::render(&Preview {
        words: &formats::describe(&block),
        names: &names,
        factors: &factors,
        table: &table,
        picture: &blend::table(&block, PICTURE.0, PICTURE.1),
        edges: &edges,
        asked: &asked,
    }))?;
    Ok(Outcome::Good)
}

/// Names for every input: as given, else `pedal`, `dial` for what multiplies and `inputN` for the rest.
fn names(block: &Block, given: &[String]) -> anyhow::Result<Vec<String>> {
    let inputs = &block.numbers().inputs;
    if !given.is_empty() {
        if given.len() != inputs.len() {
            bail!(
                "the block has {} inputs, --names gives {}: name each, in order",
                inputs.len(),
                given.len()
            );
        }
        return Ok(given.to_vec());
    }
    let mut usual = ["pedal", "dial"].into_iter();
    let name = |(i, input): (usize, &crate::constants::Input)| match input.task {
        Task::Factor(_) => usual
            .next()
            .map_or_else(|| format!("input{i}"), str::to_owned),
        Task::Check(_) => format!("input{i}"),
    };
    Ok(inputs.iter().enumerate().map(name).collect())
}

fn stated(
    block: &Block,
    names: &[String],
    point: &args::Point,
) -> anyhow::Result<Vec<(usize, u16)>> {
    let bits = block.numbers().board.adc_bits;
    point
        .0
        .iter()
        .map(|(name, code)| {
            let at = (0..names.len()).find(|i| names[*i] == *name || format!("input{i}") == *name);
            let at = at.ok_or_else(|| {
                anyhow!(
                    "the block has no input `{name}`: it has {} (or input0 ...)",
                    names.join(", ")
                )
            })?;
            if u32::from(*code) >= 1 << bits {
                bail!(
                    "{name}={code}: the block is for an ADC of {bits} bits, whose codes end at {}",
                    (1_u32 << bits) - 1
                );
            }
            Ok((at, *code))
        })
        .collect()
}
