//! A proof as text for a person at the bench: verdict, what decided it, the rounds, every figure. 80 columns.

use super::page::Page;
use crate::proof::{Finding, Proof, Round, Row};
use measure::figure::numbers::{DASH, fixed, limit, reading};
use measure::judge::{Outcome, Verdict};

/// Most settled places told one by one: the worst.
const MOST_PLACES: usize = 5;

/// What must be said before a board is made to run, and under every verdict.
pub const SAFETY: &str = "A throttle can move a machine that weighs a tonne: drive wheels off the ground or motor leads off, traction battery isolated while wiring, an emergency stop that does not pass through this board. A bench verdict is no type approval and replaces neither local rules nor a licensed person.";

/// The whole text. Ends with a line end.
#[must_use]
pub fn proof_text(proof: &Proof) -> String {
    let mut page = Page::default();
    page.line(match proof.verdict {
        Verdict::Pass => "PASS: the board does what its block says",
        Verdict::Fail => "FAIL: do not fit this board",
        Verdict::Undecided => "UNDECIDED: measure more",
    });
    let block = &proof.block;
    page.hang(
        "",
        "  ",
        &format!(
            "block {}: {} bits in, {} bits out, {} steps a second; inputs {}; output {}",
            block.crc,
            block.adc_bits,
            block.dac_bits,
            block.rate_hz,
            block.inputs.join(", "),
            block.output
        ),
    );
    let capture = &proof.capture;
    page.hang(
        "",
        "  ",
        &format!(
            "{}: {} samples in {} s, {} missing",
            capture.file.as_deref().unwrap_or("not yet in a file"),
            capture.samples,
            fixed(capture.duration_s, 1),
            capture.missing
        ),
    );
    for note in &proof.notes {
        page.hang("note: ", "  ", note);
    }
    page.gap();
    page.line("What decided it");
    for outcome in [
        Outcome::Fail,
        Outcome::Undecided,
        Outcome::NotMeasured,
        Outcome::Pass,
    ] {
        for finding in proof
            .findings
            .iter()
            .filter(|finding| finding.outcome == outcome)
        {
            self::finding(&mut page, finding);
        }
    }
    for round in &proof.rounds {
        self::round(&mut page, round);
    }
    page.gap();
    page.line("output");
    table(&mut page, &proof.figures);
    places(&mut page, proof);
    page.gap();
    page.words("The column 95 % is the interval that the figure lies in; % is of the full output.");
    page.words(SAFETY);
    page.text()
}

fn finding(page: &mut Page, finding: &Finding) {
    let allowed = match (finding.min, finding.max) {
        (None, None) => String::new(),
        (min, max) => format!(": allowed {}", limit(min, max)),
    };
    page.line(&format!(
        "  {:<12} {} {}{allowed}",
        finding.outcome, finding.of, finding.figure
    ));
    let indent = " ".repeat(15);
    page.hang(&indent, &indent, &finding.reason);
    if let Some(advice) = &finding.advice {
        page.hang(&format!("{indent}-> "), &format!("{indent}   "), advice);
    }
}

fn round(page: &mut Page, round: &Round) {
    page.gap();
    let state = match (round.seen, round.latched) {
        (false, _) => "not measured",
        (true, Some(true)) => "stays stopped",
        (true, Some(false)) => "DOES NOT STAY STOPPED",
        (true, None) => "not seen whether it stays stopped",
    };
    let at = round
        .at_s
        .map_or_else(String::new, |s| format!(", at {} s", fixed(s, 3)));
    page.line(&format!("fault {}: {state}{at}", round.fault));
    for words in [&round.note, &round.foretold].into_iter().flatten() {
        page.words(words);
    }
    if round.seen {
        table(page, &round.figures);
    }
}

fn table(page: &mut Page, rows: &[Row]) {
    page.line(&format!(
        "  {:<22} {:>10}  {:<4} {}",
        "figure", "value", "unit", "95 %"
    ));
    for (name, row) in rows {
        let Some(row) = row else {
            page.line(&format!("  {name:<22} {DASH:>10}"));
            continue;
        };
        let told = reading(&row.figure);
        let interval = if row.figure.u.is_some() {
            told.interval
        } else {
            DASH.to_owned()
        };
        page.line(&format!(
            "  {name:<22} {:>10}  {:<4} {interval}",
            told.value, row.unit
        ));
    }
}

fn places(page: &mut Page, proof: &Proof) {
    let mut worst: Vec<_> = proof.places.iter().collect();
    if worst.is_empty() {
        return;
    }
    worst.sort_by(|a, b| b.departure_mv.abs().total_cmp(&a.departure_mv.abs()));
    page.gap();
    page.line("settled places, the worst first (travel in %, output in mV)");
    page.line(&format!(
        "  {:>8}  {:<24} {:>17} {:>17} {:>7}",
        "at s", "travel", "expected", "measured", "off"
    ));
    let range = |ends: [f64; 2]| format!("{} .. {}", fixed(ends[0], 0), fixed(ends[1], 0));
    for place in worst.iter().take(MOST_PLACES) {
        let travel: Vec<String> = place
            .factors_pct
            .iter()
            .map(|ends| fixed(f64::midpoint(ends[0], ends[1]), 1))
            .collect();
        page.line(&format!(
            "  {:>8}  {:<24} {:>17} {:>17} {:>7}",
            fixed(place.from_s, 2),
            travel.join(" x "),
            range(place.expected_mv),
            range(place.measured_mv),
            fixed(place.departure_mv, 1)
        ));
    }
}
