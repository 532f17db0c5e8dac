//! What a block puts out, as a table and a picture: ASCII, at most 80 columns.
//!
//! Belongs here: columns, shades, words. Does not belong here: the arithmetic (`twin`).

use super::constants_text::SAFETY;
use super::page::Page;
use crate::twin::Shown;
use crate::twin::blend::{EdgeView, Put, percent};

/// Darker is more command: nothing, then ten steps of a tenth each.
const SHADES: &[u8] = b" .:-=+*#%@M";

/// A point that was asked for.
#[derive(Debug, Clone)]
pub struct Asked {
    /// In words, e.g. `pedal=512, dial=300`.
    pub words: String,
    /// What comes out; absent where the board stops.
    pub shown: Option<Shown>,
}

/// What there is to show of a block.
#[derive(Debug, Clone)]
pub struct Preview<'a> {
    /// The block in words.
    pub words: &'a str,
    /// Names of the inputs, in order.
    pub names: &'a [String],
    /// Indices of the factors.
    pub factors: &'a [usize],
    /// A coarse table.
    pub table: &'a [Vec<Put>],
    /// A fine one, for the picture.
    pub picture: &'a [Vec<Put>],
    /// The edges.
    pub edges: &'a [EdgeView],
    /// Points that were asked for.
    pub asked: &'a [Asked],
}

/// The whole preview, ending in a newline.
#[must_use]
pub fn render(preview: &Preview<'_>) -> String {
    let mut page = Page::default();
    for line in preview.words.lines() {
        page.hang("", "    ", line);
    }
    page.gap();
    let name = |at: usize| {
        let input = preview.factors.get(at);
        input.map_or("-", |input| preview.names[*input].as_str())
    };
    table(&mut page, preview.table, name(0), name(1));
    page.gap();
    picture(&mut page, preview.picture, name(0), name(1));
    for edge in preview.edges {
        page.gap();
        edges(&mut page, edge, &preview.names[edge.input]);
    }
    for asked in preview.asked {
        page.gap();
        page.line(&match asked.shown {
            Some(shown) => format!(
                "at {}: DAC code {}, {:.2} % of full command",
                asked.words,
                shown.dac,
                percent(shown.command_q15)
            ),
            None => format!("at {}: a fault: the board stops, output zero", asked.words),
        });
    }
    page.gap();
    page.words("Settled outputs by the firmware's own arithmetic: rise and fall limits and filters at their end.");
    page.words(SAFETY);
    page.text()
}

fn dac(put: &Put) -> String {
    put.dac
        .map_or_else(|| "stop".to_owned(), |dac| dac.to_string())
}

fn table(page: &mut Page, rows: &[Vec<Put>], across: &str, down: &str) {
    page.line(&format!(
        "DAC code: {across} across, {down} down (codes, from zero to full)"
    ));
    let Some(first) = rows.first() else {
        return;
    };
    let cells = |words: Vec<String>| words.concat();
    let codes = first.iter().map(|put| format!("{:>6}", put.first));
    page.line(&format!("  {:>6}{}", "", cells(codes.collect())));
    for row in rows {
        let outputs = row.iter().map(|put| format!("{:>6}", dac(put)));
        let head = row.first().and_then(|put| put.second);
        let head = head.map_or_else(String::new, |code| code.to_string());
        page.line(&format!("  {head:>6}{}", cells(outputs.collect())));
    }
}

fn shade(put: &Put) -> char {
    let Some(command) = put.command_q15 else {
        return '?';
    };
    let at = usize::from(command).div_ceil(3277).min(SHADES.len() - 1);
    char::from(SHADES[at])
}

fn picture(page: &mut Page, rows: &[Vec<Put>], across: &str, down: &str) {
    page.line(&format!(
        "Command: {across} from zero (left) to full (right), {down} from full (top) to zero"
    ));
    for row in rows.iter().rev() {
        let line: String = row.iter().map(shade).collect();
        page.line(&format!("  |{line}|"));
    }
    page.line("  blank: exactly zero; each of .:-=+*#%@M a tenth more; ?: the board stops");
}

fn edges(page: &mut Page, edge: &EdgeView, name: &str) {
    let list = |codes: &[(u16, Option<u16>)]| {
        let each: Vec<String> = codes
            .iter()
            .map(|(code, dac)| {
                let dac = dac.map_or_else(|| "stop".to_owned(), |dac| dac.to_string());
                format!("{code} gives {dac}")
            })
            .collect();
        each.join(", ")
    };
    page.line(&format!("{name}, the other inputs at full:"));
    page.hang("  zero edge: ", "    ", &list(&edge.zero));
    page.hang("  full edge: ", "    ", &list(&edge.full));
    if let Some((code, dac)) = edge.first_step {
        page.words(&format!(
            "smallest step near zero: code {code} puts out {dac}"
        ));
    }
}
