//! A report as one HTML file: style and pictures inside, no script, no network. Every text is escaped by `maud`.
//!
//! Belongs here: which element a part becomes. Does not belong here: what is said (`sections`), the look (`style.css`).

mod gauge;
mod pictures;
pub(super) mod sheet;

use super::document::{
    Align, Banner, Block, Cell, Column, Document, FindingRow, Picture, Plot, Section, Table,
};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use measure::figure::numbers::DASH;
use measure::judge::{Outcome, Verdict};

const STYLE: &str = include_str!("style.css");

/// Nothing may be fetched, and no script may run, whatever a capture's texts say.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'";

/// What every page of ours begins its head with.
fn head() -> Markup {
    html! {
        meta charset="utf-8";
        meta http-equiv="Content-Security-Policy" content=(POLICY);
    }
}

/// Whether a file that begins so is a page that this program wrote.
pub(super) fn is_ours(start: &str) -> bool {
    let empty = html! { (DOCTYPE) html lang="en" { head { (head()) } } }.into_string();
    let ours = empty
        .trim_end_matches("</html>")
        .trim_end_matches("</head>");
    start.starts_with(ours)
}

pub(super) fn write(document: &Document<'_>) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                (head())
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (document.title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header { h1 { (document.title) } (blocks(&document.intro)) }
                main { @for one in &document.sections { (section(one)) } }
            }
        }
    }
    .into_string()
}

fn banner(banner: &Banner) -> Markup {
    let class = match banner.verdict {
        Some(Verdict::Pass) => "pass",
        Some(Verdict::Fail) => "fail",
        Some(Verdict::Undecided) => "undecided",
        None => "none",
    };
    html! {
        div id="verdict" class=(format!("banner {class}")) {
            p class="headline" { (banner.headline) }
            p class="of" { (banner.unit) }
            ul { @for why in &banner.why { li { (why) } } }
        }
    }
}

fn section(section: &Section<'_>) -> Markup {
    let pictures = section
        .blocks
        .iter()
        .any(|b| matches!(b, Block::Picture(_)));
    html! {
        section id=(section.id) class=[pictures.then_some("pictures")] {
            h2 { (section.title) }
            (blocks(&section.blocks))
        }
    }
}

fn blocks(blocks: &[Block<'_>]) -> Markup {
    html! { @for one in blocks { (block(one)) } }
}

fn block(block: &Block<'_>) -> Markup {
    match block {
        Block::Banner(one) => banner(one),
        Block::Heading(label, text) if text.is_empty() => html! { h3 { (label) } },
        Block::Heading(label, text) => html! { h3 { (label) ": " (text) } },
        Block::Caption(text) | Block::Paragraph(text) => html! { p { (text) } },
        Block::Item(label, text) => html! { p { (label.trim_start()) (text) } },
        Block::Verbatim(lines) => html! { pre { (lines) } },
        Block::List(_, rows) if rows.is_empty() => html! {},
        Block::List(_, rows) => html! { ul { @for row in rows { li { (row) } } } },
        Block::Terms(terms) => html! {
            dl { @for (term, text) in terms { div { dt { (term) } dd { (text) } } } }
        },
        Block::Findings(rows) => {
            html! { ol class="findings" { @for row in rows { (finding(row)) } } }
        }
        Block::Table(one) => table(one, true),
        Block::Folded(one) => html! { details { summary { (one.caption) } (table(one, false)) } },
        Block::Picture(one) => picture(one),
    }
}

/// The outcome as a mark and a word: never colour alone.
fn outcome(outcome: Outcome) -> Markup {
    let (class, mark) = match outcome {
        Outcome::Pass => ("pass", "\u{25cf}"),
        Outcome::Fail => ("fail", "\u{2716}"),
        Outcome::Undecided => ("undecided", "?"),
        Outcome::NotMeasured => ("missing", "\u{2013}"),
    };
    html! { span class=(format!("outcome {class}")) { span class="mark" aria-hidden="true" { (mark) } " " (outcome) } }
}

fn finding(row: &FindingRow) -> Markup {
    html! {
        li {
            div class="row" {
                div class="what" { (outcome(row.outcome)) " " b { (row.channel) } " " (row.label) }
                div class="numbers" {
                    div { b { (row.value) } " " small { "allowed " (row.allowed) } }
                    @if let Some(interval) = &row.interval { div { small { "95 % " (interval) } } }
                }
                (gauge::picture(&row.gauge, row.outcome))
            }
            @if let Some(reason) = &row.reason { p { (reason) } }
            @if let Some(advice) = &row.advice { p class="advice" { "\u{2192} " (advice) } }
        }
    }
}

/// A table; its caption stands elsewhere when it is folded away.
fn table(table: &Table, caption: bool) -> Markup {
    html! {
        div class="scroll" {
            table {
                @if caption { caption { (table.caption) } }
                thead { tr { @for of in &table.columns { th scope="col" class=(class(of)) { (of.name) } } } }
                tbody {
                    @for row in &table.rows { tr { @for (one, of) in row.iter().zip(&table.columns) { (data(one, of)) } } }
                }
            }
        }
    }
}

fn class(column: &Column) -> &'static str {
    match column.align {
        Align::Right => "number",
        Align::Left => "words",
    }
}

/// A cell; on narrow pages it stands below its neighbour, with its column's name, and not at all when there is nothing in it.
fn data(one: &Cell, column: &Column) -> Markup {
    let text = one.text();
    let nothing = text.is_empty() || text == DASH;
    let class = format!("{}{}", class(column), if nothing { " nothing" } else { "" });
    html! { td class=(class) data-name=(column.name) { (cell(one)) } }
}

fn cell(cell: &Cell) -> Markup {
    match cell {
        Cell::Text(text) => html! { (text) },
        Cell::Name(name) => html! { code { (name) } },
        Cell::Outcome(of) => outcome(*of),
        Cell::Alarm(text) => html! { strong class="alarm" { (text) } },
    }
}

/// A trace is drawn twice, for wide and for narrow pages: letters in it keep their size.
fn picture(picture: &Picture<'_>) -> Markup {
    let (class, sizes): (_, &[(_, _)]) = match picture.plot {
        Plot::Trace(..) => ("trace", &[("wide", (940, 190)), ("narrow", (460, 190))]),
        _ => ("plot", &[("half", (460, 250))]),
    };
    html! {
        figure class=(class) {
            figcaption { (picture.caption) }
            @for (class, size) in sizes {
                div class=(class) { (pictures::svg(picture, *size)) }
            }
        }
    }
}
