//! C header: the block's bytes as an array, for a core that reads it from flash.

use super::error::FormatError;
use crate::constants::block::{Factor, Input, Task};
use crate::constants::layout;
use crate::constants::{Block, Q15_ONE};
use crate::outlet;
use measure::figure::numbers::four_digits;
use std::fmt::Write as _;

/// The array's name; the board's `main.c` knows it.
const ARRAY: &str = "pp_block";
const BYTES_A_LINE: usize = 12;

/// The block as a C header. The comment's lines stand at its top; what would end a comment is kept apart by a blank.
pub fn to_c_header(block: &Block, comment: &str) -> String {
    let bytes = layout::to_bytes(block);
    let mut text = String::from(
        "/* Constants block, version 2: see core/BLOCK.md. Made by pedalproof; do not edit.\n *\n",
    );
    for line in comment.lines().chain(describe(block).lines()) {
        let _ = writeln!(text, "{}", format!(" * {}", harmless(line)).trim_end());
    }
    text.push_str(" */\n#ifndef PP_BLOCK_H\n#define PP_BLOCK_H\n\n#include <stdint.h>\n\n");
    text.push_str(
        "/* Where the array goes, if not where the compiler puts constants: PROGMEM on AVR. */\n",
    );
    text.push_str("#ifndef PP_BLOCK_STORAGE\n#define PP_BLOCK_STORAGE\n#endif\n\n");
    let _ = writeln!(
        text,
        "static const uint8_t {ARRAY}[{}] PP_BLOCK_STORAGE = {{",
        bytes.len()
    );
    for line in bytes.chunks(BYTES_A_LINE) {
        text.push_str("   ");
        for byte in line {
            let _ = write!(text, " 0x{byte:02X},");
        }
        text.push('\n');
    }
    text.push_str("};\n\n#endif\n");
    text
}

/// A comment line that neither ends nor opens a C comment.
fn harmless(line: &str) -> String {
    line.replace("*/", "* /").replace("/*", "/ *")
}

/// The numbers in words, one line for each part of the block.
pub fn describe(block: &Block) -> String {
    let is = block.numbers();
    let mut text = format!(
        "for {} ADC bits, {} DAC bits, {} steps a second\n",
        is.board.adc_bits, is.board.dac_bits, is.board.rate_hz
    );
    for (i, input) in is.inputs.iter().enumerate() {
        let _ = writeln!(text, "input {i}: {}", describe_input(input));
    }
    let _ = writeln!(
        text,
        "output: DAC code {} to {}; from zero to full in {} s or more, back in {} s or more",
        is.output.zero_dac,
        is.output.full_dac,
        ramp(is.output.rise_q15, is.board.rate_hz),
        ramp(is.output.fall_q15, is.board.rate_hz)
    );
    let _ = writeln!(
        text,
        "starts once input {} has been at zero for {} samples; stops after {} bad samples",
        is.start.input, is.start.samples, is.persistence
    );
    let _ = writeln!(
        text,
        "waiting puts out DAC code {}, a stop 0; stops when its own reference reads outside {} to {}, or the output read back is more than {} \
         codes off",
        if is.output.waits_at_zero {
            is.output.zero_dac
        } else {
            0
        },
        is.watch.supply.low,
        is.watch.supply.high,
        is.watch.read_back
    );
    text
}

/// Seconds over the whole command at so much a step.
fn ramp(q15: u16, rate_hz: u16) -> String {
    let steps = f64::from(Q15_ONE) / f64::from(q15.max(1));
    four_digits(steps / f64::from(rate_hz.max(1)))
}

fn describe_input(input: &Input) -> String {
    let believed = format!("valid from {} to {}", input.window.low, input.window.high);
    match &input.task {
        Task::Factor(Factor {
            rest_edge,
            full_edge,
            points,
            filter_shift,
        }) => format!(
            "{believed}; zero at {rest_edge}, full at {full_edge}, {}; filter shift {filter_shift}",
            match points.len() {
                0 => "a straight line between".to_owned(),
                1 => "a curve of 1 point between".to_owned(),
                n => format!("a curve of {n} points between"),
            }
        ),
        Task::Check(check) => format!(
            "{believed}; must be {:.4} x input {} {:+} within {} codes",
            f64::from(check.gain_q12) / 4096.0,
            check.partner,
            check.offset,
            check.band
        ),
    }
}

/// Reads the block back from its header.
pub fn from_c_header(text: &str) -> Result<Block, FormatError> {
    Ok(layout::from_bytes(&bytes_of(text)?)?)
}

/// Whether a readable header is of the version before this one.
pub(super) fn is_old(text: &str) -> bool {
    bytes_of(text).is_ok_and(|bytes| layout::version_of(&bytes) == Some(layout::OLD_VERSION))
}

fn bytes_of(text: &str) -> Result<Vec<u8>, FormatError> {
    let code = without_comments(text)?;
    let wrong = |at: usize, what: String| FormatError::Text {
        line: 1 + code[..at].matches('\n').count(),
        what,
    };
    plain_directives(&code).map_err(|(at, what)| wrong(at, what))?;
    let mut arrays = arrays(&code);
    let Some((name, size)) = arrays.next() else {
        return Err(wrong(
            0,
            format!("there is no array {ARRAY}[] in this file"),
        ));
    };
    if let Some((second, _)) = arrays.next() {
        return Err(wrong(
            second,
            format!(
                "a second array {ARRAY}[] stands here: which of them the compiler takes cannot be told. Keep one"
            ),
        ));
    }
    let after = |start: usize, mark: char| code[start..].find(mark).map(|at| start + at);
    let bounds = after(name, '{').and_then(|open| Some((open, after(open, '}')?)));
    let Some((open, close)) = bounds else {
        return Err(wrong(name, format!("the array {ARRAY} does not end")));
    };
    let bytes = read_array(&code[open + 1..close])
        .map_err(|(at, word)| wrong(open + 1 + at, format!("`{}` is no byte", quoted(&word))))?;
    let size = code[size..open].split(']').next().unwrap_or_default();
    let size = size.trim();
    if !size.is_empty() && size.parse() != Ok(bytes.len()) {
        return Err(wrong(
            name,
            format!("{ARRAY}[{}] has {} bytes", quoted(size), bytes.len()),
        ));
    }
    Ok(bytes)
}

/// A word of the file on one line, and no longer than a person reads.
fn quoted(word: &str) -> String {
    let mut short: String = word.chars().take(40).collect();
    if short.len() < word.len() {
        short += "...";
    }
    outlet::line(&short).into_owned()
}

/// Where the array's name stands before a bracket, and where its size begins.
fn arrays(code: &str) -> impl Iterator<Item = (usize, usize)> {
    let part_of_name = |c: char| c.is_ascii_alphanumeric() || c == '_';
    code.match_indices(ARRAY).filter_map(move |(at, name)| {
        let behind = &code[at + name.len()..];
        if code[..at].ends_with(part_of_name) || behind.starts_with(part_of_name) {
            return None;
        }
        let bracket = behind.trim_start().strip_prefix('[')?;
        Some((at, code.len() - bracket.len()))
    })
}

/// Refuses what lets the compiler see another text than stands here: conditions but for the guards, and names for other things.
fn plain_directives(code: &str) -> Result<(), (usize, String)> {
    let mut at = 0;
    for line in code.split_inclusive('\n') {
        let directive = line.trim().strip_prefix('#').map(str::trim_start);
        let mut words = directive.into_iter().flat_map(str::split_whitespace);
        let plain = match words.next() {
            None | Some("endif" | "include" | "pragma") => true,
            Some("ifndef" | "define") => words.next().is_some_and(|name| name.starts_with("PP_")),
            Some(_) => false,
        };
        if !plain {
            let what = format!(
                "`{}` may give the compiler another array than stands here: keep the file as it was written",
                quoted(line.trim())
            );
            return Err((at, what));
        }
        if line.trim_end().ends_with('\\') || line.contains("??/") {
            return Err((
                at,
                "a line goes on behind its end: keep the file as it was written".to_owned(),
            ));
        }
        at += line.len();
    }
    Ok(())
}

/// Bytes between commas; on an error the word and where it lies.
fn read_array(text: &str) -> Result<Vec<u8>, (usize, String)> {
    let mut bytes = Vec::new();
    let mut at = 0;
    let mut words = text.split(',').peekable();
    while let Some(word) = words.next() {
        let number = word.trim();
        if !(number.is_empty() && words.peek().is_none()) {
            let byte = match number.strip_prefix("0x").or(number.strip_prefix("0X")) {
                Some(hex) if !hex.starts_with('+') => u8::from_str_radix(hex, 16),
                _ => number.parse(),
            };
            let from = at + word.len() - word.trim_start().len();
            bytes.push(byte.map_err(|_| (from, number.to_owned()))?);
        }
        at += word.len() + 1;
    }
    Ok(bytes)
}

/// The text with its comments blanked out, line by line as long as it was.
fn without_comments(text: &str) -> Result<String, FormatError> {
    let mut code = String::new();
    let mut rest = text;
    while let Some(open) = rest.find("/*").into_iter().chain(rest.find("//")).min() {
        code.push_str(&rest[..open]);
        let is_line = rest[open..].starts_with("//");
        let length = if is_line {
            let line = rest[open..].find('\n').unwrap_or(rest.len() - open);
            Some(line).filter(|line| !rest[open..open + line].trim_end().ends_with('\\'))
        } else {
            rest[open + 2..].find("*/").map(|length| length + 4)
        };
        let Some(length) = length else {
            let what = if is_line {
                "the comment that begins here goes on in the next line: end it with its line"
            } else {
                "the comment that begins here does not end"
            };
            return Err(FormatError::Text {
                line: 1 + code.matches('\n').count(),
                what: what.to_owned(),
            });
        };
        let blank = |c: char| if c == '\n' { c } else { ' ' };
        code.extend(rest[open..open + length].chars().map(blank));
        rest = &rest[open + length..];
    }
    code.push_str(rest);
    Ok(code)
}
