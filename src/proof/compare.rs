//! A capture held against a block: everything put together.

use super::bounds::{Band, bands};
use super::claims::{Evidence, claims, contradiction, headline, not_seen};
use super::envelope::Envelope;
use super::figures::{figures, round3};
use super::findings::{of_moving, of_places, of_silence, of_stream, value, verdict};
use super::result::{BlockFacts, Finding, Proof, Row};
use super::rounds::rounds;
use super::samples::{Mismatch, Samples, Scaling};
use super::settled::places;
use super::setup::ProofSetup;
use super::trials::{blind, trials};
use crate::constants::layout;
use measure::figure::numbers::plain;

/// Holds the samples against the block.
pub fn prove(asked: ProofSetup<'_>, samples: Samples<'_>) -> Result<Proof, Mismatch> {
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
    let scaling = Scaling::new(asked.block, samples.scale, asked.conditions)?;
    let envelope = Envelope::new(asked.block, samples, scaling)?;
    let power: Vec<u64> = asked.marks.power_us().collect();
    let blind = blind(&asked);
    let bands = bands(&envelope, &power, &blind);
    let places = places(&envelope, &bands);
    let rounds = rounds(&asked, &envelope);
    let figures = figures(&envelope, &bands, &places);
    let trials = trials(&asked);
    let has_rounds = !trials.is_empty();
    let mut findings: Vec<Finding> = if has_rounds {
        rounds
            .iter()
            .flat_map(|round| round.findings(&asked, &envelope))
            .collect()
    } else {
        of_places(&figures, &asked.conditions, scaling, &places)
    };
    let seen = rounds.iter().any(|round| round.seen);
    findings.push(of_moving(&figures, &asked.conditions, &places, seen));
    if !has_rounds {
        findings.extend(of_silence(&envelope, &bands));
    }
    findings.extend(of_stream(&asked.capture));
    let claims = claims(
        &asked,
        &Evidence {
            envelope: &envelope,
            places: &places,
            rounds: &rounds,
            within_mv: asked.conditions.within_pct / scaling.percent(1.0),
            power_us: &power,
            blind: &blind,
            enable: asked.enable,
        },
    );
    findings.extend(not_seen(&trials, &claims, asked.enable.is_some()));
    findings.extend(contradiction(&claims));
    Ok(Proof {
        format: "proof/1",
        verdict: verdict(&findings),
        block: BlockFacts {
            crc: format!("{:04x}", layout::crc_of(asked.block)),
            adc_bits: numbers.board.adc_bits,
            dac_bits: numbers.board.dac_bits,
            rate_hz: numbers.board.rate_hz,
            inputs: asked.inputs.clone(),
            output: asked.output.clone(),
        },
        notes: notes(&asked, samples, scaling, &bands, &figures),
        capture: asked.capture,
        figures,
        places,
        rounds,
        headline: headline(&claims),
        claims,
        findings,
    })
}

fn notes(
    asked: &ProofSetup<'_>,
    samples: Samples<'_>,
    scaling: Scaling,
    bands: &[Band],
    figures: &[Row],
) -> Vec<String> {
    let numbers = asked.block.numbers();
    let conditions = asked.conditions;
    let mut notes = vec![
        "not tested here: what the board watches besides its inputs (supply, read-back), and its clock".to_owned(),
    ];
    let bits = samples.scale.bits();
    if bits != numbers.board.adc_bits || (scaling.ratio() - 1.0).abs() > 1e-9 {
        notes.push(format!(
            "the recording has {bits} bits on {} mV, the constants file's inputs {} bits on {} mV: {} measured codes are one code of the constants file, and what that leaves open is in the expected band",
            plain(samples.scale.vref_mv()),
            numbers.board.adc_bits,
            plain(conditions.board_vref_mv),
            plain(1.0 / scaling.ratio()),
        ));
    }
    notes.push(format!(
        "assumed: the driving board reads against {} mV, its DAC puts out up to {} mV. If not, say so with --board-vref-mv and --dac-vref-mv.",
        plain(conditions.board_vref_mv),
        plain(conditions.dac_vref_mv)
    ));
    if let Some(gain) = value(figures, "output_gain").map(|row| &row.figure)
        && !(gain.low.unwrap_or(1.0)..=gain.high.unwrap_or(1.0)).contains(&1.0)
    {
        notes.push(format!(
            "the output is {} times what it should be, as if the DAC's reference were {} mV, or the full code of another constants file {}",
            plain(round3(gain.value)),
            (conditions.dac_vref_mv * gain.value).round(),
            (f64::from(numbers.output.full_dac) * gain.value).round()
        ));
    }
    if samples.output.iter().all(|code| scaling.may_be_zero(*code)) {
        notes.push(
            "the output never left zero: that cannot be told from a board that is waiting or stopped; cycle its power, let the control rest, then press it".to_owned(),
        );
    } else if !bands.iter().any(|band| band.runs) {
        notes.push(
            "by these readings the board would have been stopped all along, and it was not: are the columns in the order of the constants file's inputs? See --inputs".to_owned(),
        );
    }
    let mut left = Vec::new();
    for (i, column) in samples.inputs.iter().enumerate() {
        let window = numbers.inputs[i].window;
        let outside = |code: &measure::units::Code| {
            let (low, high) = scaling.input(*code, 0.0);
            high < window.low || low > window.high
        };
        if column.iter().all(outside) {
            notes.push(format!(
                "column {} is outside the window of input {i} ({} to {}) from beginning to end: are the columns in the order of the constants file's inputs? See --inputs",
                asked.inputs[i], window.low, window.high
            ));
        } else if column.iter().any(outside) {
            left.push(asked.inputs[i].as_str());
        }
    }
    if asked.marks.0.is_empty() && !left.is_empty() {
        notes.push(format!(
            "an input leaves its window ({}), and no marks say that a wire was pulled: a round of faults is judged only with the file of marks beside its recording, which no pipe brings along",
            left.join(", ")
        ));
    }
    notes
}
