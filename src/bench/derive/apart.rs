//! The one bad unit among the good: each is held against all the others.
//!
//! Belongs here: leaving one out, and words about it. Does not belong here: limits (`spread`).
//!
//! A unit taken out, how far does it lie from the others, in their own spread? Student's t of the deleted residual with n - 2
//! degrees of freedom, its chance times n for that each was tried: the test of F. E. Grubbs, Annals of Mathematical Statistics
//! 21 (1950) 27, in the form of W. Stefansky, Technometrics 14 (1972) 469. What cannot be below zero is looked at in logarithms
//! and upwards alone. Of three or four units hardly any can stand apart in that sense; there a unit that is more than twice
//! as loud as every other is named all the same (common practice, no source).

use super::good_units::{GoodUnit, ProfilePart};
use super::spread::ASSUMED_TIMES;
use measure::figure::numbers::fixed;
use measure::figure::{Figure, FigureName, Mark, Sides};
use measure::statistics::{mean, real, sd, t_tail};
use measure::units::Step;
use measure::units::maths;

/// Chance of naming one of so many good units for a figure.
const LEVEL: f64 = 0.05;

/// A question for each unit that stands apart from the others.
pub(super) fn apart(units: &[GoodUnit], measured: &[Step]) -> Vec<String> {
    let Some(first) = units.first() else {
        return Vec::new();
    };
    let mut notes = Vec::new();
    let mut looked = 0;
    for (place, figures) in first.places() {
        let names = FigureName::of(figures.scope()).filter(|name| name.is(Mark::Derived));
        for name in names.filter(|name| name.steps().iter().any(|step| measured.contains(step))) {
            let known: Vec<(&GoodUnit, &Figure)> = units
                .iter()
                .filter_map(|unit| Some((unit, unit.figures(place)?.get(name)?)))
                .collect();
            let figures: Vec<&Figure> = known.iter().map(|(_, figure)| *figure).collect();
            looked += usize::from(known.len() > 2);
            let odd = one_apart(name, &figures);
            notes.extend(odd.map(|odd| describe(place, name, &known, odd)));
        }
    }
    if !notes.is_empty() {
        notes.push(format!(
            "each was compared with all the others in {looked} results; of good parts chance alone asks for one in about {} of 100 such sets",
            fixed((1.0 - maths::pow(1.0 - LEVEL, real(looked))) * 100.0, 0)
        ));
    }
    notes
}

fn describe(
    place: ProfilePart,
    name: FigureName,
    known: &[(&GoodUnit, &Figure)],
    odd: usize,
) -> String {
    let others = known
        .iter()
        .enumerate()
        .filter(|(at, _)| *at != odd)
        .map(|(_, (_, figure))| figure.value);
    let (least, most) = others.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), v| {
        (v.min(least), v.max(most))
    });
    let (unit, own) = known[odd];
    let shown = |x: f64| measure::figure::numbers::plain((x * 1e4).round() / 1e4);
    format!(
        "is {} a good part? {place}: its {} {} stands apart from the others' {} to {}. Measure it again, or leave it out: it widens the \
         limits",
        unit.name,
        name.word(),
        shown(own.value),
        shown(least),
        shown(most)
    )
}

/// The unit that stands apart from the others, if one does.
fn one_apart(name: FigureName, figures: &[&Figure]) -> Option<usize> {
    if figures.len() < 3 || name.facts().sides == Sides::Zero {
        return None;
    }
    let upward = name.facts().sides == Sides::Upper;
    let logs = upward && figures.iter().all(|figure| figure.value > 0.0);
    let scale = |x: f64| if logs { maths::ln(x) } else { x };
    let values: Vec<f64> = figures.iter().map(|figure| scale(figure.value)).collect();
    // Units cannot be told to be more alike than each is known.
    let own = figures
        .iter()
        .filter_map(|f| Some((scale(f.high?) - scale(f.value)).abs() / 1.96));
    let floor = own.fold(0.0, f64::max) / 2.0;
    let chance = |at: usize| {
        let others: Vec<f64> = values
            .iter()
            .enumerate()
            .filter(|(i, _)| *i != at)
            .map(|(_, v)| *v)
            .collect();
        let n = real(values.len());
        let away = values[at] - mean(&others);
        let t = away / (sd(&others).max(floor) * (n / (n - 1.0)).sqrt());
        if upward {
            n * t_tail(t, n - 2.0)
        } else {
            2.0 * n * t_tail(t.abs(), n - 2.0)
        }
    };
    let least = (0..values.len())
        .map(|at| (chance(at), at))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let by_spread = least
        .filter(|(chance, _)| *chance < LEVEL)
        .map(|(_, at)| at);
    by_spread.or_else(|| upward.then(|| twice_as_loud(figures)).flatten())
}

/// A unit of more than so many times every other, and surely above them.
fn twice_as_loud(figures: &[&Figure]) -> Option<usize> {
    (0..figures.len()).find(|&at| {
        let own = figures[at];
        figures
            .iter()
            .enumerate()
            .filter(|(i, _)| *i != at)
            .all(|(_, other)| {
                own.value > ASSUMED_TIMES * other.value
                    && own
                        .low
                        .zip(other.high)
                        .is_some_and(|(low, high)| low > high)
            })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn odd(name: FigureName, values: &[f64], u: f64) -> Option<usize> {
        let figures: Vec<Figure> = values
            .iter()
            .map(|v| Figure::symmetric(*v, u, 1.96, 9, ""))
            .collect();
        one_apart(name, &figures.iter().collect::<Vec<_>>())
    }

    /// By hand: of 1 .. 5 none; with 20 for the 5 the others have mean 2.5 and sd 1.291, t = 17.5 / (1.291 x 1.118) = 12.1, against
    /// Student's 5.84 for 1 - 0.05/10 and 3 degrees of freedom (any t table).
    #[test]
    fn one_that_lies_apart_is_found_and_an_even_row_has_none() {
        assert_eq!(
            odd(FigureName::TrackLag, &[1.0, 2.0, 3.0, 4.0, 5.0], 0.01),
            None
        );
        assert_eq!(
            odd(FigureName::TrackLag, &[1.0, 2.0, 3.0, 4.0, 20.0], 0.01),
            Some(4)
        );
        assert_eq!(odd(FigureName::TrackLag, &[1.0, 20.0], 0.01), None);
    }

    /// NIST/SEMATECH handbook 1.3.5.17.1, from memory: G = 2.4687 of eight, beyond the critical 2.032 of the one-sided 5 % test. The edge of
    /// the two-sided one is 2.126 (table of ASTM E178 at 2.5 %, from memory): a row just within and one just beyond.
    #[test]
    fn the_edge_is_that_of_the_tables() {
        let row = [
            199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57,
        ];
        assert_eq!(odd(FigureName::TrackLag, &row, 1e-9), Some(7));
        for (g, found) in [(2.120, None), (2.132, Some(7))] {
            let row = |x: f64| [0.3, -0.3, 1.0, -1.0, 0.6, -0.6, 0.0, x];
            let (mut low, mut high): (f64, f64) = (0.0, 100.0);
            for _ in 0..200 {
                let x = f64::midpoint(low, high);
                let beyond = (x - mean(&row(x))) / sd(&row(x)) > g;
                (low, high) = if beyond { (low, x) } else { (x, high) };
            }
            assert_eq!(odd(FigureName::TrackLag, &row(low), 1e-9), found, "{g}");
        }
    }

    #[test]
    fn of_three_one_thrice_as_loud_is_named() {
        assert_eq!(
            odd(FigureName::NoiseRestRms, &[0.8, 1.0, 3.0], 0.02),
            Some(2)
        );
        assert_eq!(odd(FigureName::NoiseRestRms, &[0.8, 1.0, 1.5], 0.02), None);
    }
}
