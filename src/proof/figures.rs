//! Figures of a flashed board's output, from places and bands.

use super::bounds::Band;
use super::envelope::{Envelope, noise_sd};
use super::result::{ProofFigure, Row};
use super::samples::{Samples, Scaling};
use super::settled::{SettledPoint, apart};
use measure::figure::Figure;
use measure::figure::numbers::plain;
use measure::statistics::{Budget, least_squares, mean, normal_quantile, real};
use measure::units::seconds_from_us;

/// Places whose inputs are not further apart than this, measuring codes, are one stand.
const SAME_CODES: f64 = 2.0;
/// Bands of travel for each factor when coverage is counted: quarters, and two halves from three factors on.
const QUARTERS: usize = 4;
/// Fewest places for a fit of gain and offset, and how much of the output they must span, percent.
const FIT_PLACES: usize = 3;
const FIT_SPAN_PCT: f64 = 20.0;

/// Every figure of the output, in order.
pub(super) fn figures(
    envelope: &Envelope<'_>,
    bands: &[Band],
    places: &[SettledPoint],
) -> Vec<Row> {
    let (samples, scaling) = (envelope.samples, envelope.scaling);
    let all: Vec<&SettledPoint> = places.iter().collect();
    let at_rest: Vec<&SettledPoint> = places.iter().filter(|place| place.at_rest).collect();
    let gain = fit(places, scaling);
    let moving = moving(samples, scaling, bands);
    let percent =
        |figure: Option<Figure>| figure.map(|figure| scaled(&figure, scaling.percent(1.0)));
    let mv = |figure: Option<Figure>| unit("mV", figure);
    let worst = worst(&all, "settled places");
    let rest = self::worst(&at_rest, "settled places at or before the rest edge");
    vec![
        (
            "settled_places",
            unit(
                "1",
                Some(Figure::counted(
                    real(stands(places)),
                    samples.t_us.len(),
                    "places where the inputs stood still until filters and limits were at their end",
                )),
            ),
        ),
        ("covered", unit("%", Some(covered(places)))),
        ("settled_departure", unit("%", percent(worst.clone()))),
        ("settled_departure_mv", mv(worst)),
        ("moving_departure", unit("%", percent(moving.clone()))),
        ("moving_departure_mv", mv(moving)),
        ("rest_departure_mv", mv(rest)),
        ("order_breaks", unit("1", order(places))),
        (
            "output_gain",
            unit("1", gain.as_ref().map(|fit| fit.0.clone())),
        ),
        ("output_offset_mv", mv(gain.map(|fit| fit.1))),
        (
            "sample_period_ms",
            unit(
                "ms",
                Some(Figure::counted(
                    envelope_gap_ms(envelope),
                    samples.t_us.len(),
                    "middle time between samples",
                )),
            ),
        ),
    ]
}

/// Places, those that follow each other at the same inputs counted once.
fn stands(places: &[SettledPoint]) -> usize {
    let other = |pair: &&[SettledPoint]| {
        let inputs = pair[0].inputs.iter().zip(&pair[1].inputs);
        inputs.into_iter().any(|(a, b)| (a - b).abs() > SAME_CODES)
    };
    usize::from(!places.is_empty()) + places.windows(2).filter(other).count()
}

#[allow(clippy::cast_precision_loss)] // microseconds
fn envelope_gap_ms(envelope: &Envelope<'_>) -> f64 {
    envelope.gap_us as f64 / 1000.0
}

pub(super) fn unit(unit: &'static str, figure: Option<Figure>) -> Option<ProofFigure> {
    figure
        .filter(|figure| figure.value.is_finite())
        .map(|figure| ProofFigure { unit, figure })
}

fn scaled(figure: &Figure, by: f64) -> Figure {
    Figure {
        value: figure.value * by,
        u: figure.u.map(|u| u * by),
        low: figure.low.map(|low| low * by),
        high: figure.high.map(|high| high * by),
        ..figure.clone()
    }
}

/// The worst amount of departure over places, mV. Its interval is from the most that some place must have to the most that
/// some place can have: the bands are bounds, not spreads, and are not reduced by how many there are.
fn worst(places: &[&SettledPoint], of: &str) -> Option<Figure> {
    let first = places
        .iter()
        .max_by(|a, b| a.departure_mv.abs().total_cmp(&b.departure_mv.abs()))?;
    let most = |side: usize| {
        let ends = places.iter().map(|place| place.departure_range_mv[side]);
        ends.fold(0.0, f64::max)
    };
    let half = |range: [f64; 2]| (range[1] - range[0]) / 2.0;
    // Rectangular bounds as standard uncertainties: half-width / sqrt 3 (GUM 4.3.7).
    let bounds = (half(first.expected_mv).powi(2) + half(first.measured_mv).powi(2)) / 3.0;
    Some(Figure {
        value: first.departure_mv.abs(),
        u: Some((bounds + first.u_mv.powi(2)).sqrt()),
        low: Some(most(0)),
        high: Some(most(1)),
        n: places.len() as u64,
        method: format!(
            "largest |measured - expected| over {} {of}; worst at {} s; interval: what codes, DAC step and noise leave open",
            places.len(),
            plain(round3(first.from_s))
        ),
        shrink: None,
    })
}

pub(super) fn round3(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}

/// How far the output left the band, at any sample, mV. 0 when it never did.
pub(super) fn moving(samples: Samples<'_>, scaling: Scaling, bands: &[Band]) -> Option<Figure> {
    let n = samples.output.len();
    // The largest of n values of noise is below this many standard deviations with 95 % (Bonferroni's inequality).
    let sds = normal_quantile(1.0 - 0.05 / (2.0 * real(n.max(1))));
    let noise = noise_sd(samples.output);
    let outside = |i: usize| {
        let band = bands[i];
        let expected = [
            scaling.dac(f64::from(band.low)),
            scaling.dac(f64::from(band.high)),
        ];
        apart(expected, scaling.output(samples.output[i].as_f64()))
    };
    let (at, value) = (0..n)
        .map(|i| (i, outside(i)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    let judged = bands
        .iter()
        .filter(|band| band.runs || band.stopped)
        .count();
    let (u, reach) = (noise * scaling.code_mv(), sds * noise * scaling.code_mv());
    Some(Figure {
        value,
        u: Some(u),
        low: Some((value - reach).max(0.0)),
        high: Some(value + reach),
        n: judged as u64,
        method: format!(
            "largest distance from the band that the constants file allows, over {n} samples ({judged} with the board's state beyond doubt); at {} s",
            plain(round3(seconds_from_us(samples.t_us[at] - samples.t_us[0])))
        ),
        shrink: None,
    })
}

/// Share of the cells of travel that a place lies in beyond doubt, percent.
fn covered(places: &[SettledPoint]) -> Figure {
    let factors = places
        .first()
        .map_or(1, |place| place.factors_pct.len().max(1));
    let bands = if factors > 2 { 2 } else { QUARTERS };
    let cell = |place: &SettledPoint| {
        place.factors_pct.iter().fold(0, |cell, range| {
            cell * bands + band_of(f64::midpoint(range[0], range[1]), bands)
        })
    };
    let mut seen: Vec<usize> = places.iter().map(cell).collect();
    seen.sort_unstable();
    seen.dedup();
    let cells = bands.pow(u32::try_from(factors).unwrap_or(1));
    Figure::counted(
        real(seen.len()) / real(cells) * 100.0,
        places.len(),
        format!(
            "{} of {cells} cells of the inputs' travel, {bands} bands each, were stood still in",
            seen.len()
        ),
    )
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 to 100
fn band_of(pct: f64, bands: usize) -> usize {
    ((pct / 100.0 * real(bands)) as usize).min(bands - 1)
}

/// Pairs of places where every factor was higher and the output lower, each beyond doubt.
fn order(places: &[SettledPoint]) -> Option<Figure> {
    if places.len() < 2 {
        return None;
    }
    let above = |a: &SettledPoint, b: &SettledPoint| {
        let pairs = a.factors_pct.iter().zip(&b.factors_pct);
        pairs.clone().all(|(a, b)| a[0] >= b[0] && a[1] >= b[1])
            && pairs.clone().any(|(a, b)| a[0] > b[1])
    };
    let lower = |a: &SettledPoint, b: &SettledPoint| {
        a.measured_mv[1] + 2.0 * a.u_mv < b.measured_mv[0] - 2.0 * b.u_mv
    };
    let breaks = places
        .iter()
        .map(|a| places.iter().filter(|b| above(a, b) && lower(a, b)).count())
        .sum::<usize>();
    Some(Figure::counted(
        real(breaks),
        places.len(),
        "pairs of settled places where the inputs were higher and the output lower",
    ))
}

/// Gain and offset (mV) of measured over expected by least squares over the places.
fn fit(places: &[SettledPoint], scaling: Scaling) -> Option<(Figure, Figure)> {
    let middle = |range: [f64; 2]| f64::midpoint(range[0], range[1]);
    let xs: Vec<f64> = places
        .iter()
        .map(|place| middle(place.expected_mv))
        .collect();
    let ys: Vec<f64> = places
        .iter()
        .map(|place| middle(place.measured_mv))
        .collect();
    let span = xs.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - xs.iter().copied().fold(f64::INFINITY, f64::min);
    if places.len() < FIT_PLACES || scaling.percent(span) < FIT_SPAN_PCT {
        return None;
    }
    let fit = least_squares(&xs, &ys)?;
    // What every code may be off by does not average out: half-widths as rectangular bounds (GUM 4.3.7).
    let half = |place: &SettledPoint| {
        (place.expected_mv[1] - place.expected_mv[0] + place.measured_mv[1] - place.measured_mv[0])
            / 2.0
    };
    let bound = mean(&places.iter().map(half).collect::<Vec<_>>());
    let figure = |value: f64, u: f64, bound: f64| {
        let budget = Budget {
            scatter: vec![(u, real(fit.dof))],
            bounds: vec![bound],
        };
        let method = "least squares, measured over expected, over the settled places";
        budget.figure(value, places.len(), method)
    };
    Some((
        figure(fit.line.slope, fit.u_slope()?, bound / span * 2.0),
        figure(fit.line.at(0.0), fit.u_at(0.0)?, bound),
    ))
}
