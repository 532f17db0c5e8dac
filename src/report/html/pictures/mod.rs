//! Pictures as SVG, drawn by `plotters`.
//!
//! Belongs here: how a drawing becomes part of the page. What is drawn is in the files below. Does not belong here: captions,
//! which values there are.

mod at_rest;
mod axes;
mod laid_over;
mod over_time;
mod over_travel;

use self::axes::Drawn;
use crate::report::document::{Picture, Plot};
use maud::{Markup, PreEscaped, html};
use plotters::prelude::*;

/// The colours of `axes`, and what they are on the page.
const PAGE: [(&str, &str); 6] = [
    ("#010101", "currentColor"),
    ("#020202", "var(--quiet)"),
    ("#030303", "var(--grid)"),
    ("#040404", "var(--line)"),
    ("#050505", "var(--band)"),
    ("#060606", "var(--fail)"),
];
/// One picture at a size in pixels, as an element of the page.
pub(super) fn svg(picture: &Picture<'_>, size: (u32, u32)) -> Markup {
    let mut text = String::new();
    match draw(picture, size, &mut text) {
        Ok(()) => PreEscaped(on_the_page(&text, &picture.caption, size)),
        Err(e) => html! { p { "This picture could not be drawn: " (e) } },
    }
}

fn draw(picture: &Picture<'_>, size: (u32, u32), text: &mut String) -> Drawn {
    let area = SVGBackend::with_string(text, size).into_drawing_area();
    match picture.plot {
        Plot::Trace(trace, at, part) => over_time::trace(&area, trace, at, part)?,
        Plot::Noise(map, part) => over_travel::noise(&area, map, part)?,
        Plot::Along(along) => over_travel::along(&area, along)?,
        Plot::Returns(curves, allowed) => laid_over::returns(&area, curves, allowed)?,
        Plot::Strokes(curves) => laid_over::strokes(&area, curves)?,
        Plot::AtRest(counts) => at_rest::readings(&area, counts)?,
        Plot::Lines(lines, hz) => at_rest::lines(&area, lines, hz)?,
        Plot::Deviation(curve, band, needed) => {
            over_travel::deviation(&area, curve, band, needed)?;
        }
        Plot::Agreement(agreement, band) => over_travel::agreement(&area, agreement, band)?,
    }
    area.present()?;
    Ok(())
}

/// The library's file as an element: words for who cannot see it, the page's width and colours.
fn on_the_page(file: &str, caption: &str, (width, height): (u32, u32)) -> String {
    let inner = file.split_once('>').map_or("", |(_, inner)| inner);
    let label = html! { (caption) }.into_string();
    let mut text = format!(
        "<svg viewBox=\"0 0 {width} {height}\" role=\"img\" aria-label=\"{label}\">{inner}"
    );
    for (number, of_page) in PAGE {
        text = text.replace(number, of_page);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_gives_the_colours_and_no_address_is_left() {
        let text = on_the_page(
            "<svg width=\"4\" height=\"3\" xmlns=\"http://www.w3.org/2000/svg\">\n<rect fill=\"#040404\"/></svg>",
            "a < b",
            (4, 3),
        );
        assert_eq!(
            text,
            "<svg viewBox=\"0 0 4 3\" role=\"img\" aria-label=\"a &lt; b\">\n<rect fill=\"var(--line)\"/></svg>"
        );
    }
}
