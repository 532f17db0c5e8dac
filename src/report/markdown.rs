//! A document as Markdown, its plots in ASCII.

use super::document::{Align, Block, Cell, Column, Document, FindingRow, Table, columns};
use measure::figure::numbers::DASH;

/// Whether a file that begins so is a report that this program wrote: its title, and a verdict below it.
pub(super) fn is_ours(start: &str) -> bool {
    let title = start.strip_prefix("# ");
    let title = title.and_then(|title| title.strip_prefix(super::bench::TITLE));
    let below = title.and_then(|title| title.split_once("\n\n"));
    below.is_some_and(|(part, below)| !part.contains('\n') && below.starts_with("**"))
}

/// The whole text, ending in a line end.
pub(super) fn write(document: &Document<'_>) -> String {
    let mut out = String::new();
    let mut part = |text: String| {
        if !text.is_empty() {
            out.push_str(text.trim_end());
            out.push_str("\n\n");
        }
    };
    part(format!("# {}", escaped(&document.title)));
    document.intro.iter().map(block).for_each(&mut part);
    for section in &document.sections {
        part(format!("## {}", escaped(&section.title)));
        section.blocks.iter().map(block).for_each(&mut part);
    }
    format!("{}\n", out.trim_end())
}

/// A block without a line end; empty where there is nothing to say.
fn block(block: &Block<'_>) -> String {
    match block {
        Block::Banner(banner) => format!(
            "**{}**\n\n{}\n\n{}",
            escaped(&banner.headline),
            escaped(&banner.unit),
            list(&banner.why)
        ),
        Block::Heading(label, text) if text.is_empty() => format!("### {}", escaped(label)),
        Block::Heading(label, text) => format!("### {}: {}", escaped(label), escaped(text)),
        Block::Caption(text) | Block::Paragraph(text) => escaped(text),
        Block::Item(label, text) => escaped(&format!("{}{text}", label.trim_start())),
        Block::Verbatim(lines) => fenced(lines),
        Block::List(_, rows) => list(rows),
        Block::Terms(terms) => {
            let rows = terms.iter().map(|(term, text)| format!("{term}: {text}"));
            list(&rows.collect::<Vec<_>>())
        }
        Block::Findings(rows) => findings(rows),
        Block::Table(one) | Block::Folded(one) => table(one),
        Block::Picture(picture) if picture.ascii.is_empty() => String::new(),
        Block::Picture(picture) => {
            format!(
                "{}\n\n{}",
                escaped(&picture.caption),
                fenced(&picture.ascii)
            )
        }
    }
}

fn fenced(lines: &str) -> String {
    format!("```text\n{}\n```", lines.trim_matches('\n'))
}

fn list(rows: &[String]) -> String {
    let rows = rows.iter().map(|row| format!("- {}", escaped(row)));
    rows.collect::<Vec<_>>().join("\n")
}

fn findings(rows: &[FindingRow]) -> String {
    let cells = rows.iter().map(|row| {
        let interval = row.interval.as_deref().unwrap_or(DASH);
        vec![
            Cell::Outcome(row.outcome),
            row.channel.as_str().into(),
            row.label.as_str().into(),
            row.value.as_str().into(),
            interval.into(),
            row.allowed.as_str().into(),
        ]
    });
    let table = grid(
        &columns([
            "outcome",
            "channel",
            "result",
            ">value",
            ">95 % interval",
            ">allowed",
        ]),
        &cells.collect::<Vec<_>>(),
    );
    let open = rows.iter().filter_map(|row| {
        let (reason, advice) = (row.reason.as_deref()?, row.advice.as_deref()?);
        Some(format!("{} {}: {reason}; {advice}", row.channel, row.label))
    });
    format!("{table}\n\n{}", list(&open.collect::<Vec<_>>()))
}

fn table(table: &Table) -> String {
    format!(
        "{}\n\n{}",
        escaped(&table.caption),
        grid(&table.columns, &table.rows)
    )
}

fn grid(columns: &[Column], rows: &[Vec<Cell>]) -> String {
    let line = |cells: Vec<String>| format!("| {} |", cells.join(" | "));
    let names = columns.iter().map(|column| escaped(column.name));
    let rules = columns.iter().map(|column| match column.align {
        Align::Left => "---".to_owned(),
        Align::Right => "---:".to_owned(),
    });
    let rows = rows
        .iter()
        .map(|row| line(row.iter().map(|cell| escaped(&cell.text())).collect()));
    let head = [line(names.collect()), line(rules.collect())];
    head.into_iter().chain(rows).collect::<Vec<_>>().join("\n")
}

/// A text that means nothing but itself, on one line.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '\\' | '`' | '*' | '_' | '[' | ']' | '|' | '#' | '~' => {
                out.push('\\');
                out.push(c);
            }
            '\n' | '\r' => out.push(' '),
            _ => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_of_markdown_lose_their_meaning() {
        assert_eq!(
            escaped("<script>a_b|*c*\n[d](e)</script>"),
            "&lt;script>a\\_b\\|\\*c\\* \\[d\\](e)&lt;/script>"
        );
        assert_eq!(escaped("0.08 .. 0.12 %"), "0.08 .. 0.12 %");
    }
}
