//! Figures and findings of a capture against a block.
//!
//! Belongs here: what is made of the places and of the band, the limits and their reasons. Does not belong here: how
//! either was found.

use super::envelope::{Band, Envelope};
use super::marks::{Marks, What};
use super::places::{Place, apart, places};
use super::result::{BlockFacts, Finding, Proof, ProofFigure, Row};
use super::rounds::rounds;
use super::samples::{Bench, Mismatch, Ruler, Samples};
use crate::constants::{Block, layout};
use crate::figure::Figure;
use crate::figure::numbers::{plain, reading};
use crate::judge::{Limit, Outcome, Verdict, outcome};
use crate::measure::interval::normal_quantile;
use crate::measure::stats::{mean, real};
use crate::record::CaptureFacts;

/// Fewest places for a verdict: common practice, no source; they must also cover enough of the inputs' travel.
const FEWEST_PLACES: f64 = 6.0;
/// Places whose inputs are not further apart than this, measuring codes, are one stand.
const SAME_CODES: f64 = 2.0;
/// Least share of the inputs' travel that must have been seen, percent.
const LEAST_COVERED_PCT: f64 = 50.0;
/// Bands of travel for each factor when coverage is counted: quarters, and two halves from three factors on.
const QUARTERS: usize = 4;
/// Most samples lost on the way before the verdict stays open, percent.
const MOST_LOST_PCT: f64 = 1.0;
/// Fewest places for a fit of gain and offset, and how much of the output they must span, percent.
const FIT_PLACES: usize = 3;
const FIT_SPAN_PCT: f64 = 20.0;

/// What is asked of one capture.
#[derive(Debug, Clone)]
pub struct Asked<'a> {
    /// The block that the board was flashed with.
    pub block: &'a Block,
    /// Names of the columns taken as inputs, in the block's order.
    pub inputs: Vec<String>,
    /// Name of the column taken as output.
    pub output: String,
    /// The two boards.
    pub bench: Bench,
    /// Which faults were made when; none: no rounds.
    pub marks: Marks,
    /// The recording's facts.
    pub capture: CaptureFacts,
    /// What the profile says beforehand of the faults, as (fault, sentence).
    pub foretold: Vec<(super::Fault, String)>,
}

/// Holds the samples against the block.
///
/// # Errors
/// When block and samples do not go together.
pub fn prove(asked: Asked<'_>, samples: Samples<'_>) -> Result<Proof, Mismatch> {
    let numbers = asked.block.numbers();
    if samples.inputs.len() != numbers.inputs.len() {
        return Err(Mismatch::Inputs {
            block: numbers.inputs.len(),
            capture: samples.inputs.len(),
            columns: asked.inputs.join(", "),
        });
    }
    if samples.t_us.len() < 2 {
        return Err(Mismatch::TooShort(samples.t_us.len()));
    }
    let ruler = Ruler::new(asked.block, samples.scale, asked.bench)?;
    let Ok(envelope) = Envelope::new(asked.block, samples, ruler) else {
        // A block without its windows is possible whenever the block is.
        return Err(Mismatch::TooShort(0));
    };
    let power: Vec<u64> = asked.marks.power_us().collect();
    let bands = envelope.bands(&power);
    let places = places(numbers, samples, ruler, &envelope, &bands);
    let rounds = rounds(&asked, samples, ruler, &envelope);
    let figures = figures(samples, ruler, &envelope, &bands, &places);
    let has_rounds = asked.marks.0.iter().any(|mark| mark.what != What::Power);
    let mut findings = if has_rounds {
        rounds
            .iter()
            .flat_map(|round| round.findings(&asked, &envelope))
            .collect()
    } else {
        of_places(&figures, &asked.bench, ruler)
    };
    findings.push(of_moving(&figures, &asked.bench, &places, has_rounds));
    findings.extend(of_stream(&asked.capture));
    Ok(Proof {
        verdict: verdict(&findings),
        block: BlockFacts {
            crc: format!("{:04x}", crc_of(asked.block)),
            adc_bits: numbers.board.adc_bits,
            dac_bits: numbers.board.dac_bits,
            rate_hz: numbers.board.rate_hz,
            inputs: asked.inputs.clone(),
            output: asked.output.clone(),
        },
        notes: notes(&asked, samples, ruler, &bands, &figures),
        capture: asked.capture,
        figures,
        places,
        rounds,
        findings,
    })
}

fn crc_of(block: &Block) -> u16 {
    let bytes = layout::to_bytes(block);
    layout::check_sum(&bytes[..bytes.len().saturating_sub(2)])
}

fn notes(
    asked: &Asked<'_>,
    samples: Samples<'_>,
    ruler: Ruler,
    bands: &[Band],
    figures: &[Row],
) -> Vec<String> {
    let numbers = asked.block.numbers();
    let bench = asked.bench;
    let mut notes = Vec::new();
    let bits = samples.scale.bits();
    if bits != numbers.board.adc_bits || (ruler.ratio() - 1.0).abs() > 1e-9 {
        notes.push(format!(
            "the capture has {bits} bits on {} mV, the block's inputs {} bits on {} mV: {} measured codes are one code of the block, and what that leaves open is in the expected band",
            plain(samples.scale.vref_mv()),
            numbers.board.adc_bits,
            plain(bench.board_vref_mv),
            plain(1.0 / ruler.ratio()),
        ));
    }
    notes.push(format!(
        "taken as given: the blending board reads against {} mV, its DAC puts out up to {} mV; a difference shows as output_gain",
        plain(bench.board_vref_mv),
        plain(bench.dac_vref_mv)
    ));
    if let Some(gain) = value(figures, "output_gain").map(|row| &row.figure)
        && !(gain.low.unwrap_or(1.0)..=gain.high.unwrap_or(1.0)).contains(&1.0)
    {
        notes.push(format!(
            "the output is {} times what it should be, as if the DAC's reference were {} mV, or the full code of another block {}",
            plain(round3(gain.value)),
            (bench.dac_vref_mv * gain.value).round(),
            (f64::from(numbers.output.full_dac) * gain.value).round()
        ));
    }
    if !bands.iter().any(|band| band.runs) {
        notes.push(
            "the output never left zero where it could be told from a board that is waiting or stopped: cycle its power, let the control rest, then press it".to_owned(),
        );
    }
    for (i, column) in samples.inputs.iter().enumerate() {
        let window = numbers.inputs[i].window;
        let outside = |code: &crate::units::Code| {
            let (low, high) = ruler.input(*code, 0.0);
            high < window.low || low > window.high
        };
        if column.iter().all(outside) {
            notes.push(format!(
                "column {} is outside the window of input {i} ({} to {}) from beginning to end: are the columns in the order of the block's inputs? See --inputs",
                asked.inputs[i], window.low, window.high
            ));
        }
    }
    notes
}

fn figures(
    samples: Samples<'_>,
    ruler: Ruler,
    envelope: &Envelope<'_>,
    bands: &[Band],
    places: &[Place],
) -> Vec<Row> {
    let all: Vec<&Place> = places.iter().collect();
    let at_rest: Vec<&Place> = places.iter().filter(|place| place.at_rest).collect();
    let gain = fit(places, ruler);
    let moving = moving(samples, ruler, bands);
    let percent = |figure: Option<Figure>| figure.map(|figure| scaled(&figure, ruler.percent(1.0)));
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
fn stands(places: &[Place]) -> usize {
    let other = |pair: &&[Place]| {
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
fn worst(places: &[&Place], of: &str) -> Option<Figure> {
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

fn round3(x: f64) -> f64 {
    (x * 1000.0).round() / 1000.0
}

/// How far the output left the band, at any sample, mV. 0 when it never did.
fn moving(samples: Samples<'_>, ruler: Ruler, bands: &[Band]) -> Option<Figure> {
    let n = samples.output.len();
    // The largest of n values of noise is below this many standard deviations with 95 % (Bonferroni's inequality).
    let sds = normal_quantile(1.0 - 0.05 / (2.0 * real(n.max(1))));
    let noise = super::envelope::noise_sd(samples.output);
    let outside = |i: usize| {
        let band = bands[i];
        let expected = [
            ruler.dac(f64::from(band.low)),
            ruler.dac(f64::from(band.high)),
        ];
        apart(expected, ruler.output(samples.output[i].as_f64()))
    };
    let (at, value) = (0..n)
        .map(|i| (i, outside(i)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    let judged = bands
        .iter()
        .filter(|band| band.runs || band.stopped)
        .count();
    let (u, reach) = (noise * ruler.code_mv(), sds * noise * ruler.code_mv());
    Some(Figure {
        value,
        u: Some(u),
        low: Some((value - reach).max(0.0)),
        high: Some(value + reach),
        n: judged as u64,
        method: format!(
            "largest distance from the band that the block allows, over {n} samples ({judged} with the board's state beyond doubt); at {} s",
            plain(round3(crate::units::seconds_from_us(
                samples.t_us[at] - samples.t_us[0]
            )))
        ),
        shrink: None,
    })
}

/// Share of the cells of travel that a place lies in beyond doubt, percent.
fn covered(places: &[Place]) -> Figure {
    let factors = places
        .first()
        .map_or(1, |place| place.factors_pct.len().max(1));
    let bands = if factors > 2 { 2 } else { QUARTERS };
    let cell = |place: &Place| {
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
fn order(places: &[Place]) -> Option<Figure> {
    if places.len() < 2 {
        return None;
    }
    let above = |a: &Place, b: &Place| {
        let pairs = a.factors_pct.iter().zip(&b.factors_pct);
        pairs.clone().all(|(a, b)| a[0] >= b[0] && a[1] >= b[1])
            && pairs.clone().any(|(a, b)| a[0] > b[1])
    };
    let lower =
        |a: &Place, b: &Place| a.measured_mv[1] + 2.0 * a.u_mv < b.measured_mv[0] - 2.0 * b.u_mv;
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
fn fit(places: &[Place], ruler: Ruler) -> Option<(Figure, Figure)> {
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
    if places.len() < FIT_PLACES || ruler.percent(span) < FIT_SPAN_PCT {
        return None;
    }
    let (x0, y0) = (mean(&xs), mean(&ys));
    let sxx: f64 = xs.iter().map(|x| (x - x0).powi(2)).sum();
    let sxy: f64 = xs.iter().zip(&ys).map(|(x, y)| (x - x0) * (y - y0)).sum();
    let gain = sxy / sxx;
    let offset = y0 - gain * x0;
    let rest: f64 = xs
        .iter()
        .zip(&ys)
        .map(|(x, y)| (y - offset - gain * x).powi(2))
        .sum();
    let noise = (rest / (real(places.len()) - 2.0)).sqrt();
    // What every code may be off by does not average out: half-widths as rectangular bounds (GUM 4.3.7).
    let half = |place: &Place| {
        (place.expected_mv[1] - place.expected_mv[0] + place.measured_mv[1] - place.measured_mv[0])
            / 2.0
    };
    let bound = mean(&places.iter().map(half).collect::<Vec<_>>()) / 3_f64.sqrt();
    let u_gain = (noise.powi(2) / sxx + (bound / span * 2.0).powi(2)).sqrt();
    let u_offset = (noise.powi(2) / real(places.len()) + bound.powi(2)).sqrt();
    let method = "least squares, measured over expected, over the settled places";
    Some((
        Figure::symmetric(gain, u_gain, 2.0, places.len(), method),
        Figure::symmetric(offset, u_offset, 2.0, places.len(), method),
    ))
}

fn value<'a>(figures: &'a [Row], name: &str) -> Option<&'a ProofFigure> {
    let row = figures.iter().find(|(known, _)| *known == name);
    row.and_then(|(_, figure)| figure.as_ref())
}

/// A finding after JCGM 106, as `judge` decides: the whole interval inside passes, the whole interval outside fails.
pub(super) fn decided(
    of: &'static str,
    name: &'static str,
    limit: (Option<f64>, Option<f64>),
    figure: Option<&ProofFigure>,
    advice: &str,
) -> Finding {
    let told = |row: &ProofFigure| {
        let words = reading(&row.figure);
        let unit = if row.unit == "1" {
            String::new()
        } else {
            format!(" {}", row.unit)
        };
        match row.figure.u {
            None => format!("{}{unit}", words.value),
            Some(_) => format!(
                "{}{unit}, between {} and {}",
                words.value, words.low, words.high
            ),
        }
    };
    let (is, reason) = match (figure, Limit::new(limit.0, limit.1)) {
        (Some(row), Ok(limit)) => {
            let is = outcome(limit, &row.figure);
            let words = match is {
                Outcome::Pass => "all of it is inside",
                Outcome::Fail => "all of it is outside",
                _ => "the limit lies in it",
            };
            (is, format!("{}: {words}", told(row)))
        }
        _ => (
            Outcome::NotMeasured,
            "the capture has no evidence for it".to_owned(),
        ),
    };
    Finding {
        of,
        figure: name,
        min: limit.0,
        max: limit.1,
        outcome: is,
        reason,
        advice: (is != Outcome::Pass).then(|| advice.to_owned()),
    }
}

fn of_places(figures: &[Row], bench: &Bench, ruler: Ruler) -> Vec<Finding> {
    let within = (None, Some(bench.within_pct));
    let stand = "move the inputs to other positions, stand still at each for a second, and go through all of pedal x dial";
    let mut findings = vec![
        decided(
            "output",
            "settled_departure",
            within,
            value(figures, "settled_departure"),
            "see output_gain and output_offset_mv for how it is off; is this the block that was flashed, and are the references those stated?",
        ),
        decided(
            "output",
            "rest_departure_mv",
            (None, Some(2.0 * ruler.code_mv().max(ruler.dac(1.0)))),
            value(figures, "rest_departure_mv"),
            "let the control rest for a second after the board has run",
        ),
        decided(
            "output",
            "order_breaks",
            (None, Some(0.0)),
            value(figures, "order_breaks"),
            stand,
        ),
    ];
    for (name, least) in [
        ("settled_places", FEWEST_PLACES),
        ("covered", LEAST_COVERED_PCT),
    ] {
        let mut finding = decided(
            "output",
            name,
            (Some(least), None),
            value(figures, name),
            stand,
        );
        if finding.outcome == Outcome::Fail {
            // Too little was looked at: that is no fault of the board.
            finding.outcome = Outcome::Undecided;
            finding.reason += "; too little to judge the board by";
        }
        findings.push(finding);
    }
    findings
}

/// Only where something was known of the board's state does being inside the band mean anything.
fn of_moving(figures: &[Row], bench: &Bench, places: &[Place], has_rounds: bool) -> Finding {
    let figure = value(figures, "moving_departure");
    let mut finding = decided(
        "output",
        "moving_departure",
        (None, Some(bench.within_pct)),
        figure,
        "see the time in the figure's method; a peak of one sample may be the measuring board's",
    );
    let blind = figure.is_none_or(|row| row.figure.n == 0);
    if blind && places.is_empty() && !has_rounds && finding.outcome == Outcome::Pass {
        finding.outcome = Outcome::NotMeasured;
        "the board was never seen to run".clone_into(&mut finding.reason);
        finding.advice =
            Some("cycle the board's power, let the control rest, then press it".to_owned());
    }
    finding
}

#[allow(clippy::cast_precision_loss)] // counts of lines
fn of_stream(capture: &CaptureFacts) -> Option<Finding> {
    let lost = capture.missing as f64;
    let pct = lost / (lost + capture.samples as f64).max(1.0) * 100.0;
    (pct > MOST_LOST_PCT).then(|| Finding {
        of: "stream",
        figure: "lost_share",
        min: None,
        max: Some(MOST_LOST_PCT),
        outcome: Outcome::Undecided,
        reason: format!(
            "{} % of the samples were lost on the way: what they showed is not known",
            plain(round3(pct))
        ),
        advice: Some(
            "use a shorter cable, a higher baud rate or a slower board, and record again"
                .to_owned(),
        ),
    })
}

fn verdict(findings: &[Finding]) -> Verdict {
    let any = |outcome| findings.iter().any(|finding| finding.outcome == outcome);
    if any(Outcome::Fail) {
        Verdict::Fail
    } else if any(Outcome::Undecided) || any(Outcome::NotMeasured) {
        Verdict::Undecided
    } else {
        Verdict::Pass
    }
}
