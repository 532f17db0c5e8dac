//! A proof for a person at the bench: verdict, what decided it, the rounds, every figure.

use super::document::{Block, Cell, Document, FindingRow, Gauge, Section, Table, columns};
use crate::proof::{Claim, ClaimState, Finding, Proof, Round, Row, describe_claim};
use measure::figure::numbers::{fixed, limit, reading};
use measure::judge::Verdict;

/// Most settled places shown: the worst.
const MOST_PLACES: usize = 5;

/// What must be said before a board is made to run, and under every verdict.
pub const SAFETY: &str = "A throttle can move a machine that weighs a tonne: drive wheels off the ground or motor leads off, traction battery isolated while wiring, an emergency stop that does not pass through this board. A bench verdict is no type approval and replaces neither local rules nor a licensed person.";

pub fn proof(of: &Proof) -> Document<'static> {
    let findings = of.findings.iter().map(finding).collect();
    let mut sections = vec![Section::new("Checks", vec![FindingRow::block(findings)])];
    sections.extend(of.rounds.iter().map(round));
    sections.push(Section::new(
        "output",
        vec![Block::Table(figures(&of.figures))],
    ));
    sections.extend(places(of));
    sections.push(claims(&of.claims));
    sections.push(Section::untitled(vec![
        Block::paragraph(
            "95 %: the true value lies within this range in 19 of 20 cases. % = of the full output.",
        ),
        Block::paragraph(SAFETY),
    ]));
    let title = match of.verdict {
        Verdict::Pass => "PASS: the board does what its constants file says",
        Verdict::Fail => "FAIL: do not fit this board",
        Verdict::Undecided if of.needs_finer_adc() => "UNDECIDED: measure with a finer ADC",
        Verdict::Undecided => "UNDECIDED: measure more",
    };
    Document {
        title: title.to_owned(),
        intro: intro(of),
        sections,
    }
}

fn intro(of: &Proof) -> Vec<Block<'static>> {
    let (block, capture) = (&of.block, &of.capture);
    let mut blocks = vec![
        Block::line(format!(
            "{}: a number that is not shown could be wrong, and this recording would look the same",
            of.headline
        )),
        Block::line(format!(
            "constants {}: {} bits in, {} bits out, {} steps a second; inputs {}; output on {}",
            block.crc,
            block.adc_bits,
            block.dac_bits,
            block.rate_hz,
            block.inputs.join(", "),
            block.output
        )),
        Block::line(format!(
            "{}: {} samples in {} s, {} missing",
            capture.source(),
            capture.samples,
            fixed(capture.duration_s, 1),
            capture.missing
        )),
    ];
    blocks.extend(of.notes.iter().map(|note| Block::item("note: ", note)));
    blocks
}

/// Every claim with its evidence: what is contradicted first, what was not exercised last.
fn claims(of: &[Claim]) -> Section<'static> {
    let states = [
        (ClaimState::Contradicted, "CONTRADICTED"),
        (ClaimState::Shown, "shown"),
        (ClaimState::NotExercised, "not tested"),
    ];
    let rows = states.iter().flat_map(|(state, word)| {
        let claims = of.iter().filter(move |claim| claim.state == *state);
        claims.map(move |claim| {
            let what = describe_claim(&claim.claim);
            Block::item(&format!("{word}  "), format!("{what}: {}", claim.evidence))
        })
    });
    Section::new("What was shown, and what was not", rows.collect())
}

fn finding(finding: &Finding) -> FindingRow {
    FindingRow {
        outcome: finding.outcome,
        channel: match finding.input {
            Some(input) => format!("{} A{input}", finding.of),
            None if finding.of == "block" => "constants file".to_owned(),
            None => finding.of.to_owned(),
        },
        label: label(finding.figure),
        value: String::new(),
        interval: None,
        allowed: match (finding.min, finding.max) {
            (None, None) => String::new(),
            (min, max) => match finding.unit {
                Some(unit) => format!("{} {unit}", limit(min, max)),
                None => limit(min, max),
            },
        },
        gauge: Gauge::default(),
        reason: Some(finding.reason.clone()),
        advice: finding.advice.clone(),
    }
}

/// A result's name in words; its unit stands beside it.
fn label(name: &str) -> String {
    let words = match name {
        "settled_places" => "places held still",
        "covered" => "travel covered",
        "settled_departure" | "settled_departure_mv" => "off while held still",
        "moving_departure" | "moving_departure_mv" => "off while moving",
        "rest_departure_mv" => "off at rest",
        "order_breaks" => "steps the wrong way",
        "output_gain" => "gain",
        "output_offset_mv" => "offset",
        "sample_period_ms" => "sample period",
        other => {
            return other
                .trim_end_matches("_mv")
                .trim_end_matches("_ms")
                .replace('_', " ");
        }
    };
    words.to_owned()
}

fn round(round: &Round) -> Section<'static> {
    let state = match (round.seen, round.latched) {
        (false, _) if round.hidden => "the constants cannot notice it",
        (false, _) => "not measured",
        (true, Some(true)) => "stays stopped",
        (true, Some(false)) => "DOES NOT STAY STOPPED",
        (true, None) => "not seen whether it stays stopped",
    };
    let at = round
        .at_s
        .map_or_else(String::new, |s| format!(", at {} s", fixed(s, 3)));
    let notes = [&round.note, &round.foretold].into_iter().flatten();
    let mut blocks: Vec<Block<'_>> = notes.map(Block::paragraph).collect();
    if round.seen {
        blocks.push(Block::Table(figures(&round.figures)));
    }
    let input = round
        .input
        .map_or_else(String::new, |input| format!(" on A{input}"));
    Section::new(format!("fault {}{input}: {state}{at}", round.fault), blocks)
}

fn figures(rows: &[Row]) -> Table {
    let row = |(name, row): &Row| {
        let name = label(name).into();
        let Some(row) = row else {
            return vec![name, Cell::dash(), "".into(), "".into()];
        };
        let reading = reading(&row.figure);
        vec![
            name,
            reading.value.into(),
            Some(row.unit)
                .filter(|unit| *unit != "1")
                .unwrap_or_default()
                .into(),
            match row.figure.u {
                Some(_) => reading.interval.into(),
                None => Cell::dash(),
            },
        ]
    };
    Table {
        columns: columns(["result", ">value", "unit", "95 %"]),
        rows: rows.iter().map(row).collect(),
        indent: 2,
        ..Table::default()
    }
}

fn places(of: &Proof) -> Option<Section<'static>> {
    let mut worst: Vec<_> = of.places.iter().collect();
    worst.sort_by(|a, b| b.departure_mv.abs().total_cmp(&a.departure_mv.abs()));
    let range = |ends: [f64; 2]| format!("{} .. {}", fixed(ends[0], 0), fixed(ends[1], 0));
    let rows = worst.iter().take(MOST_PLACES).map(|place| {
        let travel = place.factors_pct.iter();
        let travel = travel.map(|ends| fixed(f64::midpoint(ends[0], ends[1]), 1));
        vec![
            fixed(place.from_s, 2).into(),
            travel.collect::<Vec<_>>().join(" x ").into(),
            range(place.expected_mv).into(),
            range(place.measured_mv).into(),
            fixed(place.departure_mv, 1).into(),
        ]
    });
    let table = Table {
        columns: columns([">at s", "travel", ">expected", ">measured", ">off"]),
        rows: rows.collect(),
        indent: 2,
        ..Table::default()
    };
    let title = "places held still, the worst first (travel in %, output in mV)";
    (!worst.is_empty()).then(|| Section::new(title, vec![Block::Table(table)]))
}
