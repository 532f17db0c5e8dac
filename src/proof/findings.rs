//! Findings on a flashed board: figures held against limits, each limit with its reason, and the verdict.

use super::bounds::Band;
use super::envelope::Envelope;
use super::figures::round3;
use super::plausibility::{Plausibility, plausibility};
use super::result::{Finding, Proof, ProofFigure, Row};
use super::samples::Scaling;
use super::settled::SettledPoint;
use super::setup::ProofConditions;
use crate::record::CaptureFacts;
use measure::figure::numbers::{fixed, plain, reading};
use measure::judge::{Limit, Outcome, Verdict, outcome};
use measure::units::seconds_from_us;

/// Fewest places for a verdict: common practice, no source; they must also cover enough of the inputs' travel.
const FEWEST_PLACES: f64 = 6.0;
/// Least share of the inputs' travel that must have been seen, percent.
const LEAST_COVERED_PCT: f64 = 50.0;
/// So long nothing must come out of a board that is asked for something for it to be silent, microseconds.
const SILENT_US: u64 = 500_000;
/// Most samples lost on the way before the verdict stays open, percent.
const MOST_LOST_PCT: f64 = 1.0;

/// A figure of the output by name.
pub(super) fn value<'a>(figures: &'a [Row], name: &str) -> Option<&'a ProofFigure> {
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
    let describe = |row: &ProofFigure| {
        let words = reading(&row.figure);
        let unit = if row.unit == "1" {
            String::new()
        } else {
            format!(" {}", row.unit)
        };
        match row.figure.u {
            None => format!("{}{unit}", words.value),
            Some(_) => format!(
                "{}{unit} (certainly between {} and {})",
                words.value, words.low, words.high
            ),
        }
    };
    let (is, reason) = match (figure, Limit::new(limit.0, limit.1)) {
        (Some(row), Ok(limit)) => {
            let is = outcome(limit, &row.figure);
            let words = match is {
                Outcome::Pass => "clearly within limits",
                Outcome::Fail => "clearly outside",
                _ => "too close to call",
            };
            (is, format!("{}: {words}", describe(row)))
        }
        _ => (
            Outcome::NotMeasured,
            "not measured in this recording".to_owned(),
        ),
    };
    Finding {
        of,
        input: None,
        unit: figure.map(|row| row.unit).filter(|unit| *unit != "1"),
        figure: name,
        min: limit.0,
        max: limit.1,
        outcome: is,
        reason,
        advice: (is != Outcome::Pass).then(|| advice.to_owned()),
    }
}

impl Finding {
    /// What to do where it fails, which is not what helps where it is open.
    fn if_failed(mut self, advice: &str) -> Self {
        if self.outcome == Outcome::Fail {
            self.advice = Some(advice.to_owned());
        }
        self
    }
}

/// What helps where the codes themselves leave the result open.
pub(super) const FINER_ADC: &str = "measure with a finer ADC (12 bits instead of 10): what one code leaves open is wider than the limit, and more samples do not narrow it";

impl Proof {
    /// Nothing is open but what the measuring board's codes are too coarse for.
    pub fn needs_finer_adc(&self) -> bool {
        let mut open = self
            .findings
            .iter()
            .filter(|finding| matches!(finding.outcome, Outcome::Undecided | Outcome::NotMeasured));
        open.all(|finding| finding.advice.as_deref() == Some(FINER_ADC))
    }
}

/// What the settled places showed, against the limits.
pub(super) fn of_places(
    figures: &[Row],
    conditions: &ProofConditions,
    scaling: Scaling,
    places: &[SettledPoint],
) -> Vec<Finding> {
    let within = (None, Some(conditions.within_pct));
    let stand = "hold more positions for a second each: the pedal at several places, with the dial at several places";
    let mut findings = vec![
        decided(
            "output",
            "settled_departure",
            within,
            value(figures, "settled_departure"),
            "see gain and offset for how it is off. Is this the constants file that was flashed? Are the reference voltages right (--board-vref-mv, --dac-vref-mv)?",
        ),
        decided(
            "output",
            "rest_departure_mv",
            (None, Some(2.0 * scaling.code_mv().max(scaling.dac(1.0)))),
            value(figures, "rest_departure_mv"),
            "let the control rest for a second after the board has run",
        )
        .if_failed("the motor would run with the control let go: do not connect it. Is this the constants file that was flashed? Flash it again and prove again; then look at the DAC's supply and wires"),
        decided(
            "output",
            "order_breaks",
            (None, Some(0.0)),
            value(figures, "order_breaks"),
            stand,
        )
        .if_failed("more was asked and less came out: is this the constants file that was flashed? Look at the DAC's wires"),
    ];
    if let [first, ..] = &mut findings[..]
        && first.outcome == Outcome::Undecided
        && places.iter().all(SettledPoint::noise_is_small)
    {
        first.advice = Some(FINER_ADC.to_owned());
    }
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

/// Only where something was known of the board's state does being inside the band mean anything; `stopped`: some fault was seen
/// to stop it.
pub(super) fn of_moving(
    figures: &[Row],
    conditions: &ProofConditions,
    places: &[SettledPoint],
    stopped: bool,
) -> Finding {
    let figure = value(figures, "moving_departure");
    let mut finding = decided(
        "output",
        "moving_departure",
        (None, Some(conditions.within_pct)),
        figure,
        "record it again: a peak of one sample may be the measuring board's",
    )
    .if_failed("is this the constants file that was flashed? If it is, record again: a peak of one sample may be the measuring board's");
    let blind = figure.is_none_or(|row| row.figure.n == 0);
    if blind && places.is_empty() && !stopped && finding.outcome == Outcome::Pass {
        finding.outcome = Outcome::NotMeasured;
        "the board was never seen to run".clone_into(&mut finding.reason);
        finding.advice =
            Some("cycle the board's power, let the control rest, then press it".to_owned());
    }
    finding
}

/// A board that ran and then puts out nothing, although it is asked to and no input was bad: the band allows it where samples were lost,
/// for what they held may have stopped it.
pub(super) fn of_silence(envelope: &Envelope<'_>, bands: &[Band]) -> Option<Finding> {
    let samples = envelope.samples;
    let (zero_dac, scaling) = (envelope.numbers.output.zero_dac, envelope.scaling);
    let zero = |i: usize| scaling.may_be_zero(samples.output[i]);
    let asks = |i: usize| {
        let reach = envelope.reach_of_one(i);
        let (low, _) = envelope.ends(&reach);
        plausibility(envelope.numbers, &reach) == Plausibility::Good
            && scaling.dac(envelope.settled(&low)) > scaling.zero_band_mv()
    };
    let ran = (0..bands.len()).find(|i| !zero(*i))?;
    let mut silent_us = 0;
    let from = (ran + 1..bands.len()).find_map(|i| {
        let may_run = bands[i].high > zero_dac && !bands[i].runs;
        silent_us = if may_run && zero(i) && envelope.follows(i) && asks(i) {
            silent_us + samples.t_us[i] - samples.t_us[i - 1]
        } else {
            0
        };
        (silent_us >= SILENT_US).then(|| samples.t_us[i] - silent_us)
    })?;
    let at_s = seconds_from_us(from - samples.t_us[0]);
    Some(Finding {
        of: "output",
        input: None,
        figure: "silent_while_asked",
        unit: None,
        min: None,
        max: None,
        outcome: Outcome::Undecided,
        reason: format!(
            "from {} s on nothing came out although it was asked for, and no reading says why it should have stopped",
            fixed(at_s, 2)
        ),
        advice: Some(
            "record it again without losing samples; if it goes silent again, do not fit the board"
                .to_owned(),
        ),
    })
}

/// Too much lost on the way leaves the verdict open.
#[allow(clippy::cast_precision_loss)] // counts of lines
pub(super) fn of_stream(capture: &CaptureFacts) -> Option<Finding> {
    let lost = capture.missing as f64;
    let pct = lost / (lost + capture.samples as f64).max(1.0) * 100.0;
    (pct > MOST_LOST_PCT).then(|| Finding {
        of: "stream",
        input: None,
        figure: "lost_share",
        unit: Some("%"),
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

/// Any fail fails; else anything open leaves it undecided.
pub(super) fn verdict(findings: &[Finding]) -> Verdict {
    let any = |outcome| findings.iter().any(|finding| finding.outcome == outcome);
    if any(Outcome::Fail) {
        Verdict::Fail
    } else if any(Outcome::Undecided) || any(Outcome::NotMeasured) {
        Verdict::Undecided
    } else {
        Verdict::Pass
    }
}
