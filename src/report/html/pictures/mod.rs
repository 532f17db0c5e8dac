//! Pictures as SVG, drawn by `plotters`.
//!
//! Belongs here: colours that follow the page, letters, axes. What is drawn is in the files below. Does not belong here:
//! captions, which values there are.

mod over_time;
mod over_travel;

use crate::report::document::{Picture, Shows};
use maud::{Markup, PreEscaped, html};
use measure::figure::numbers::four_digits;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;

/// Colours that stand for the page's own: `plotters` knows numbers only, and the page is light or dark.
const INK: RGBColor = RGBColor(1, 1, 1);
const QUIET: RGBColor = RGBColor(2, 2, 2);
const GRID: RGBColor = RGBColor(3, 3, 3);
const LINE: RGBColor = RGBColor(4, 4, 4);
const BAND: RGBColor = RGBColor(5, 5, 5);
const WORN: RGBColor = RGBColor(6, 6, 6);
const PAGE: [(&str, &str); 6] = [
    ("#010101", "currentColor"),
    ("#020202", "var(--quiet)"),
    ("#030303", "var(--grid)"),
    ("#040404", "var(--line)"),
    ("#050505", "var(--band)"),
    ("#060606", "var(--fail)"),
];
/// Height of the letters in pixels.
const LETTERS: u32 = 13;

type Area<'a> = DrawingArea<SVGBackend<'a>, plotters::coord::Shift>;
type Chart<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;
/// `plotters` fails only where its file cannot be written; this one is a string.
type Drawn = Result<(), Box<dyn std::error::Error>>;

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
    match picture.shows {
        Shows::Trace(trace, at) => over_time::trace(&area, trace, at)?,
        Shows::Noise(map, zones, dropouts) => over_travel::noise(&area, map, zones, dropouts)?,
        Shows::Deviation(curve, band, needed) => {
            over_travel::deviation(&area, curve, band, needed)?;
        }
        Shows::Agreement(agreement, band) => over_travel::agreement(&area, agreement, band)?,
    }
    area.present()?;
    Ok(())
}

/// The library's file as an element: words for who cannot see it, the page's width and colours.
fn on_the_page(file: &str, words: &str, (width, height): (u32, u32)) -> String {
    let inner = file.split_once('>').map_or("", |(_, inner)| inner);
    let label = html! { (words) }.into_string();
    let mut text = format!(
        "<svg viewBox=\"0 0 {width} {height}\" role=\"img\" aria-label=\"{label}\">{inner}"
    );
    for (number, of_page) in PAGE {
        text = text.replace(number, of_page);
    }
    text
}

/// Axes with their letters; `x` and `y` are what they carry.
fn chart<'a, 'b>(
    area: &'a Area<'b>,
    (x, y): (&str, &str),
    (left, right): (f64, f64),
    (low, high): (f64, f64),
) -> Result<Chart<'a, 'b>, Box<dyn std::error::Error>> {
    let mut chart = ChartBuilder::on(area)
        .margin(4)
        .margin_right(12)
        .x_label_area_size(38)
        .y_label_area_size(58)
        .build_cartesian_2d(left..right, low..high)?;
    let letters = ("sans-serif", LETTERS).into_font().color(&INK);
    let wide = area.dim_in_pixel().0 > 600;
    chart
        .configure_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(GRID)
        .axis_style(QUIET)
        .label_style(letters.clone())
        .axis_desc_style(letters)
        .x_labels(if wide { 12 } else { 6 })
        .y_labels(5)
        .x_label_formatter(&|x| four_digits(*x))
        .y_label_formatter(&|y| four_digits(*y))
        .x_desc(x)
        .y_desc(y)
        .draw()?;
    Ok(chart)
}

/// Values that follow each other without a gap, as runs.
fn runs<T>(values: impl Iterator<Item = Option<T>>) -> Vec<Vec<T>> {
    let mut found = vec![Vec::new()];
    for value in values {
        match value {
            Some(value) => {
                if let Some(run) = found.last_mut() {
                    run.push(value);
                }
            }
            None => found.push(Vec::new()),
        }
    }
    found.retain(|run| !run.is_empty());
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_part_runs() {
        let parted = runs([None, Some(1), Some(2), None, None, Some(3)].into_iter());
        assert_eq!(parted, [vec![1, 2], vec![3]]);
        assert!(runs::<u8>(std::iter::empty()).is_empty());
    }

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
