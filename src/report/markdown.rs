//! A report as Markdown: the same sections, pictures in letters.
//!
//! Belongs here: marks and escapes of Markdown with tables. Does not belong here: what is said (`sections`).

use super::document::{Align, Document, Found, Part, Section, Table};
use measure::figure::numbers::DASH;
use std::fmt::Write as _;

/// The whole text, ending in a line end.
pub(super) fn text(document: &Document<'_>) -> String {
    let mut out = format!("# {}\n\n", escaped(&document.title));
    let banner = &document.banner;
    // Writing to a String cannot fail, here and below.
    let _ = writeln!(
        out,
        "**{}**\n\n{}\n",
        escaped(&banner.headline),
        escaped(&banner.unit)
    );
    list(&mut out, &banner.why);
    for one in &document.sections {
        section(&mut out, one);
    }
    format!("{}\n", out.trim_end())
}

fn section(out: &mut String, section: &Section<'_>) {
    let _ = writeln!(out, "## {}\n", section.title);
    for part in &section.parts {
        match part {
            Part::Heading(words) => {
                let _ = writeln!(out, "### {}\n", escaped(words));
            }
            Part::Words(words) => {
                let _ = writeln!(out, "{}\n", escaped(words));
            }
            Part::List(rows) => list(out, rows),
            Part::Terms(terms) => {
                let rows = terms.iter();
                let rows = rows.map(|(term, words)| format!("{term}: {words}"));
                list(out, &rows.collect::<Vec<_>>());
            }
            Part::Findings(found) => findings(out, found),
            Part::Table(one) => table(out, one),
            Part::Picture(picture) if picture.letters.is_empty() => {}
            Part::Picture(picture) => {
                let letters = picture.letters.trim_matches('\n');
                let _ = writeln!(
                    out,
                    "{}\n\n```text\n{letters}\n```\n",
                    escaped(&picture.caption)
                );
            }
        }
    }
}

fn list(out: &mut String, rows: &[String]) {
    for row in rows {
        let _ = writeln!(out, "- {}", escaped(row));
    }
    out.push('\n');
}

fn findings(out: &mut String, findings: &[Found]) {
    out.push_str("| outcome | channel | figure | value | 95 % interval | allowed |\n");
    out.push_str("| --- | --- | --- | ---: | ---: | ---: |\n");
    for found in findings {
        let cells = [
            &found.outcome.to_string(),
            &found.channel,
            found.figure,
            &found.value,
            found.interval.as_deref().unwrap_or(DASH),
            &found.allowed,
        ];
        row(out, &cells.map(str::to_owned));
    }
    out.push('\n');
    let open = findings.iter().filter(|found| found.advice.is_some());
    let told = open.map(|found| {
        let advice = found.advice.as_deref().unwrap_or_default();
        format!(
            "{} {}: {}; {advice}",
            found.channel, found.figure, found.reason
        )
    });
    list(out, &told.collect::<Vec<_>>());
}

fn table(out: &mut String, table: &Table) {
    let _ = writeln!(out, "{}\n", escaped(&table.caption));
    let names: Vec<String> = table
        .columns
        .iter()
        .map(|(name, _)| (*name).to_owned())
        .collect();
    row(out, &names);
    let rules: Vec<&str> = table
        .columns
        .iter()
        .map(|(_, align)| match align {
            Align::Words => "---",
            Align::Numbers => "---:",
        })
        .collect();
    let _ = writeln!(out, "| {} |", rules.join(" | "));
    for cells in &table.rows {
        row(
            out,
            &cells
                .iter()
                .map(super::document::Cell::words)
                .collect::<Vec<_>>(),
        );
    }
    out.push('\n');
}

fn row(out: &mut String, cells: &[String]) {
    let cells: Vec<String> = cells.iter().map(|cell| escaped(cell)).collect();
    let _ = writeln!(out, "| {} |", cells.join(" | "));
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
