//! The ruler first: what the board reads with its own input tied to ground and to its reference.

use crate::figure::Figure;
use crate::measure::holds::hold::{self, Hold};
use crate::measure::holds::{levels, noise};
use crate::measure::recording::{BoardFacts, Recording};
use crate::units::{Code, Step};

/// The board's own ends and noise, as far as the capture has passages for them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BoardCheck {
    /// Mean code with the input tied to ground.
    pub low: Option<Figure>,
    /// Mean code with the input tied to the reference.
    pub high: Option<Figure>,
    /// The larger noise of both.
    pub noise: Option<Figure>,
}

/// Measures the ruler on one channel.
pub fn measure(recording: &Recording<'_>, codes: &[Code]) -> BoardCheck {
    let board = &recording.board;
    let of = |step| -> Vec<Hold> {
        hold::passages_of(recording.passages, step)
            .filter_map(|range| hold::measure(recording.t_us, codes, range.clone(), board.scale))
            .collect()
    };
    let (ground, reference) = (of(Step::Ground), of(Step::Reference));
    BoardCheck {
        low: end(&ground, board),
        high: end(&reference, board),
        noise: larger(
            own_noise(&ground, "ground"),
            own_noise(&reference, "reference"),
        ),
    }
}

fn end(holds: &[Hold], board: &BoardFacts) -> Option<Figure> {
    let holds: Vec<&Hold> = holds.iter().collect();
    // The board's stated non-linearity is about the middle of its scale; its ends are what is measured here.
    let board = BoardFacts {
        inl_code: None,
        inl_stated: true,
        ..*board
    };
    levels::level(&holds, &board).map(|level| level.code(board.scale))
}

fn own_noise(holds: &[Hold], tied_to: &str) -> Option<Figure> {
    let holds: Vec<&Hold> = holds.iter().collect();
    let mut figure = noise::rms(&holds)?;
    // A board whose offset lies beyond its own end hides all of its noise.
    if holds.iter().any(|hold| hold.saturated.is_some()) {
        figure.high = None;
    }
    figure.method = format!("input tied to {tied_to}: {}", figure.method);
    Some(figure)
}

fn larger(a: Option<Figure>, b: Option<Figure>) -> Option<Figure> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if b.value > a.value { b } else { a }),
        (a, b) => a.or(b),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Passage, Scale};

    fn ruler(passages: &[(Step, Vec<u32>)]) -> BoardCheck {
        let mut codes = Vec::new();
        let mut runs = Vec::new();
        for (step, values) in passages {
            let start = codes.len();
            codes.extend(values.iter().copied().map(Code));
            runs.push(Passage {
                step: *step,
                range: start..codes.len(),
            });
        }
        let t_us: Vec<u64> = (0..codes.len() as u64).map(|i| i * 1000).collect();
        let board = BoardFacts {
            inl_code: Some(2.0),
            ..BoardFacts::new(Scale::new(10, 5000.0).unwrap(), 1000.0)
        };
        measure(&Recording::new(board, &t_us, &runs), &codes)
    }

    #[test]
    fn both_ends() {
        let noisy: Vec<u32> = (0..300).map(|i| 1018 + u32::from(i % 2 == 0) * 2).collect();
        let got = ruler(&[(Step::Ground, vec![3; 300]), (Step::Reference, noisy)]);
        assert!((got.low.unwrap().value - 3.0).abs() < 1e-12);
        assert!((got.high.unwrap().value - 1019.0).abs() < 1e-12);
        let noise = got.noise.clone().unwrap();
        // +-1 about the mean: sd 1.
        assert!((noise.value - 1.0).abs() < 0.01 && noise.method.contains("reference"));
    }

    #[test]
    fn no_passages_no_ruler() {
        assert_eq!(ruler(&[(Step::Rest, vec![3; 300])]), BoardCheck::default());
        let tied = ruler(&[(Step::Ground, vec![0; 300])]);
        assert!(tied.low.unwrap().method.contains("saturated"));
        assert_eq!(tied.noise.unwrap().high, None);
    }
}
