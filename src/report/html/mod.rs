//! A report as one HTML file: style and pictures inside, no script, no network. Every text is escaped by `maud`.
//!
//! Belongs here: which element a part becomes. Does not belong here: what is said (`sections`), the look (`style.css`).

mod gauge;
mod pictures;

use super::document::{Align, Banner, Cell, Document, Found, Part, Picture, Section, Shows, Table};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use measure::figure::numbers::DASH;
use measure::judge::{Outcome, Verdict};

const STYLE: &str = include_str!("style.css");

/// Nothing may be fetched, and no script may run, whatever a capture's texts say.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'";

pub(super) fn page(document: &Document<'_>) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (document.title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header { h1 { (document.title) } (banner(&document.banner)) }
                main { @for part in &document.sections { (section(part)) } }
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
    let pictures = section.parts.iter().any(|p| matches!(p, Part::Picture(_)));
    html! {
        section id=(section.id) class=[pictures.then_some("pictures")] {
            h2 { (section.title) }
            @for one in &section.parts { (part(one)) }
        }
    }
}

fn part(part: &Part<'_>) -> Markup {
    match part {
        Part::Heading(words) => html! { h3 { (words) } },
        Part::Words(words) => html! { p { (words) } },
        Part::List(rows) => html! { ul { @for row in rows { li { (row) } } } },
        Part::Terms(terms) => html! {
            dl { @for (term, words) in terms { div { dt { (term) } dd { (words) } } } }
        },
        Part::Findings(found) => {
            html! { ol class="findings" { @for one in found { (finding(one)) } } }
        }
        Part::Table(one) => table(one),
        Part::Picture(one) => picture(one),
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

fn finding(found: &Found) -> Markup {
    html! {
        li {
            div class="row" {
                div class="what" { (outcome(found.outcome)) " " b { (found.channel) } " " code { (found.figure) } }
                div class="numbers" {
                    div { b { (found.value) } " " small { "allowed " (found.allowed) } }
                    @if let Some(interval) = &found.interval { div { small { "95 % " (interval) } } }
                }
                (gauge::picture(&found.gauge, found.outcome))
            }
            @if found.outcome != Outcome::Pass { p { (found.reason) } }
            @if let Some(advice) = &found.advice { p class="advice" { "\u{2192} " (advice) } }
        }
    }
}

fn table(table: &Table) -> Markup {
    let head = table.columns.iter();
    html! {
        div class="scroll" {
            table {
                caption { (table.caption) }
                thead { tr { @for (name, align) in head { th scope="col" class=(class(*align)) { (name) } } } }
                tbody {
                    @for row in &table.rows {
                        tr { @for (one, (name, align)) in row.iter().zip(&table.columns) { (data(one, name, *align)) } }
                    }
                }
            }
        }
    }
}

fn class(align: Align) -> &'static str {
    match align {
        Align::Numbers => "number",
        Align::Words => "words",
    }
}

/// A cell; on narrow pages it stands below its neighbour, with its column's name, and not at all when there is nothing in it.
fn data(one: &Cell, name: &str, align: Align) -> Markup {
    let words = one.words();
    let nothing = words.is_empty() || words == DASH;
    let class = format!("{}{}", class(align), if nothing { " nothing" } else { "" });
    html! { td class=(class) data-name=(name) { (cell(one)) } }
}

fn cell(cell: &Cell) -> Markup {
    match cell {
        Cell::Text(words) => html! { (words) },
        Cell::Name(name) => html! { code { (name) } },
        Cell::Outcome(of) => outcome(*of),
        Cell::Alarm(words) => html! { strong class="alarm" { (words) } },
    }
}

/// A trace is drawn twice, for wide and for narrow pages: letters in it keep their size.
fn picture(picture: &Picture<'_>) -> Markup {
    let sizes: &[(&str, (u32, u32))] = match picture.shows {
        Shows::Trace(..) => &[("wide", (940, 190)), ("narrow", (460, 190))],
        _ => &[("half", (460, 250))],
    };
    let class = match picture.shows {
        Shows::Trace(..) => "trace",
        _ => "plot",
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
