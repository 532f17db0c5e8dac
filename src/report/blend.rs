//! What a block puts out, as a table and a picture.

use super::constants::CONSTANTS_SAFETY;
use super::document::{Block, Document, Section, Table, columns};
use crate::constants::BlockFields;
use crate::twin::StepOutput;
use crate::twin::blend::{BlendCell, EdgeView, percent};
use schemars::JsonSchema;
use serde::Serialize;
use std::iter;

/// Darker is more command: nothing, then ten steps of a tenth each.
const SHADES: &[u8] = b" .:-=+*#%@M";

/// A point that was asked for.
#[derive(Debug, Clone)]
pub struct BlendPoint {
    /// Its inputs, e.g. `pedal=512, dial=300`.
    pub inputs: String,
    /// What comes out; absent where the board stops.
    pub output: Option<StepOutput>,
}

#[derive(Debug, Clone)]
pub struct Blend<'a> {
    pub description: &'a str,
    pub names: &'a [String],
    /// Indices of the factors.
    pub factors: &'a [usize],
    /// A coarse table.
    pub table: &'a [Vec<BlendCell>],
    /// A fine one, for the picture.
    pub picture: &'a [Vec<BlendCell>],
    pub edges: &'a [EdgeView],
    pub points: &'a [BlendPoint],
}

/// What a block puts out, for programs.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "blend/1")]
pub struct BlendJson<'a> {
    #[schemars(extend("const" = "blend/1"))]
    format: &'static str,
    /// Names of the board's inputs, in order.
    inputs: &'a [String],
    /// Those that the command is multiplied by, counted from 0.
    factors: &'a [usize],
    block: &'a BlockFields,
    /// A row for each code of the second factor, the first one across.
    table: &'a [Vec<BlendCell>],
    edges: &'a [EdgeView],
    /// What was asked for with --at.
    at: Vec<PointJson<'a>>,
}

#[derive(Serialize, JsonSchema)]
struct PointJson<'a> {
    /// Its inputs, as `pedal=512, dial=300`.
    at: &'a str,
    dac: Option<u16>,
    /// The command behind it, of 32768.
    command_q15: Option<u16>,
    /// Whether the board stops there.
    stops: bool,
}

pub fn blend_json<'a>(blend: &Blend<'a>, block: &'a BlockFields) -> BlendJson<'a> {
    let point = |point: &'a BlendPoint| PointJson {
        at: &point.inputs,
        dac: point.output.map(|shown| shown.dac),
        command_q15: point.output.map(|shown| shown.command_q15),
        stops: point.output.is_none(),
    };
    BlendJson {
        format: "blend/1",
        inputs: blend.names,
        factors: blend.factors,
        block,
        table: blend.table,
        edges: blend.edges,
        at: blend.points.iter().map(point).collect(),
    }
}

pub fn blend(blend: &Blend<'_>) -> Document<'static> {
    let name = |at: usize| {
        let input = blend.factors.get(at);
        input.map_or("-", |input| blend.names[*input].as_str())
    };
    let (across, down) = (name(0), name(1));
    let edges = blend.edges.iter();
    // What was asked for comes first.
    let points = blend.points.iter().map(at);
    let mut sections = vec![
        table(blend.table, across, down),
        picture(blend.picture, across, down),
    ];
    sections.extend(edges.map(|edge| edges_of(edge, &blend.names[edge.input])));
    sections.push(Section::untitled(vec![
        Block::paragraph(
            "Settled outputs by the firmware's own arithmetic: rise and fall limits and filters at their end.",
        ),
        Block::paragraph(CONSTANTS_SAFETY),
    ]));
    Document {
        intro: points
            .chain(blend.description.lines().map(Block::line))
            .collect(),
        sections,
        ..Document::default()
    }
}

fn at(point: &BlendPoint) -> Block<'static> {
    let inputs = &point.inputs;
    Block::line(match point.output {
        Some(shown) => format!(
            "at {inputs}: DAC code {}, {:.2} % of full command",
            shown.dac,
            percent(shown.command_q15)
        ),
        None => format!("at {inputs}: a fault: the board stops, output zero"),
    })
}

fn dac(code: Option<u16>) -> String {
    code.map_or_else(|| "stop".to_owned(), |code| code.to_string())
}

fn table(rows: &[Vec<BlendCell>], across: &str, down: &str) -> Section<'static> {
    let head = rows.first().map_or(&[][..], Vec::as_slice);
    let codes = iter::once(String::new()).chain(head.iter().map(|put| put.first.to_string()));
    let outputs = rows.iter().map(|row| {
        let code = row.first().and_then(|put| put.second);
        let code = code.map_or_else(String::new, |code| code.to_string());
        let outputs = row.iter().map(|put| dac(put.dac).into());
        iter::once(code.into()).chain(outputs).collect()
    });
    let table = Table {
        columns: columns(codes.clone().map(|_| ">")),
        rows: iter::once(codes.map(Into::into).collect())
            .chain(outputs)
            .collect(),
        indent: 2,
        ..Table::default()
    };
    Section::new(
        format!("DAC code: {across} across, {down} down (codes, from zero to full)"),
        vec![Block::Table(table)],
    )
}

fn shade(put: &BlendCell) -> char {
    let Some(command) = put.command_q15 else {
        return '?';
    };
    let at = usize::from(command).div_ceil(3277).min(SHADES.len() - 1);
    char::from(SHADES[at])
}

fn picture(rows: &[Vec<BlendCell>], across: &str, down: &str) -> Section<'static> {
    let line =
        |row: &Vec<BlendCell>| format!("  |{}|\n", row.iter().map(shade).collect::<String>());
    let picture: String = rows.iter().rev().map(line).collect();
    Section::new(
        format!(
            "Command: {across} from zero (left) to full (right), {down} from full (top) to zero"
        ),
        vec![
            Block::Verbatim(picture),
            Block::paragraph(
                "blank: exactly zero; each of .:-=+*#%@M a tenth more; ?: the board stops",
            ),
        ],
    )
}

fn edges_of(edge: &EdgeView, name: &str) -> Section<'static> {
    let list = |codes: &[(u16, Option<u16>)]| {
        let each = codes
            .iter()
            .map(|(code, out)| format!("{code} gives {}", dac(*out)));
        each.collect::<Vec<_>>().join(", ")
    };
    let mut blocks = vec![
        Block::item("  zero edge: ", list(&edge.zero)),
        Block::item("  full edge: ", list(&edge.full)),
    ];
    blocks.extend(edge.first_step.map(|(code, dac)| {
        Block::Paragraph(format!(
            "smallest step near zero: code {code} puts out {dac}"
        ))
    }));
    Section::new(format!("{name}, the other inputs at full:"), blocks)
}
