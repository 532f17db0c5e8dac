//! What every picture is drawn with: colours, letters, axes.

use measure::figure::numbers::four_digits;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;

/// Colours that stand for the page's own: `plotters` knows numbers only, and the page is light or dark.
pub(super) const INK: RGBColor = RGBColor(1, 1, 1);
pub(super) const QUIET: RGBColor = RGBColor(2, 2, 2);
pub(super) const GRID: RGBColor = RGBColor(3, 3, 3);
pub(super) const LINE: RGBColor = RGBColor(4, 4, 4);
pub(super) const BAND: RGBColor = RGBColor(5, 5, 5);
pub(super) const WORN: RGBColor = RGBColor(6, 6, 6);
/// Height of the letters in pixels.
pub(super) const LETTERS: u32 = 13;

pub(super) type Area<'a> = DrawingArea<SVGBackend<'a>, plotters::coord::Shift>;
pub(super) type Chart<'a, 'b> =
    ChartContext<'a, SVGBackend<'b>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;
/// `plotters` fails only where its file cannot be written; this one is a string.
pub(super) type Drawn = Result<(), Box<dyn std::error::Error>>;

/// Axes with their letters; `x` and `y` are what they carry.
pub(super) fn chart<'a, 'b>(
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
pub(super) fn runs<T>(values: impl Iterator<Item = Option<T>>) -> Vec<Vec<T>> {
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
}
