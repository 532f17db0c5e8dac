//! Blocks for this room's tests.

use super::{Finding, Proof, ProofConditions};
use crate::constants::testing::{factor, numbers};
use crate::constants::{Block, Input};
use measure::figure::Figure;

impl Proof {
    pub fn figure(&self, name: &str) -> Option<&Figure> {
        let mut rows = self.figures.iter();
        let (_, row) = rows.find(|(known, _)| *known == name)?;
        row.as_ref().map(|row| &row.figure)
    }

    /// The finding on a figure of the output or of a round.
    pub fn finding(&self, of: &str, figure: &str) -> Option<&Finding> {
        let mut findings = self.findings.iter();
        findings.find(|finding| finding.of == of && finding.figure == figure)
    }
}

fn of(inputs: Vec<Input>, zero_dac: u16) -> Block {
    let mut numbers = numbers(inputs, zero_dac, 4095);
    numbers.start.samples = 3;
    numbers.persistence = 5;
    Block::new(numbers).unwrap()
}

/// One input, 164 to 860, no windows, no filter.
pub fn block() -> Block {
    of(vec![factor([0, 1023], [164, 860], &[], 0)], 0)
}

/// Pedal and falling dial with windows; zero is DAC code 100.
pub fn guarded() -> Block {
    of(
        vec![
            factor([82, 942], [170, 850], &[], 0),
            factor([10, 720], [695, 25], &[], 2),
        ],
        100,
    )
}

/// Both boards on this reference, 1 %.
pub fn on(vref_mv: f64) -> ProofConditions {
    ProofConditions {
        board_vref_mv: vref_mv,
        dac_vref_mv: vref_mv,
        within_pct: 1.0,
        stop_within_ms: None,
    }
}
