//! The board's part in a figure, and the words that name it.

use crate::figure::numbers::fixed;
use crate::figure::{Figure, FigureName as Name, Figures, Law, Noise};
use crate::measure::statistics::quantise::ROUNDING_RMS;

/// Share of an rms from which the board makes most of it: half of the variance is 0.71. Own choice.
const MOST: f64 = 0.7;

/// The board's own noise beside the noise that a figure is about; both rms in codes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoardShare {
    /// Of the board with its input tied.
    pub board_rms: f64,
    /// Of the figure.
    pub of_rms: f64,
}

impl BoardShare {
    pub(super) const ADVICE: &str =
        "use a quieter board, supply or reference, and measure the part again";

    /// Whether the board makes most of it.
    #[must_use]
    pub fn dominates(self) -> bool {
        self.board_rms > MOST * self.of_rms
    }

    pub(super) fn describe(self) -> String {
        format!(
            "of the noise of {} codes the board makes {} with its input tied: the board, not the part",
            fixed(self.of_rms, 2),
            fixed(self.board_rms.min(self.of_rms), 2)
        )
    }
}

/// The board's part in a figure of noise; `None` for other figures, and when the board was not measured.
///
/// An ideal board's rounding, 1/sqrt(12) code, counts as its own in any case.
#[must_use]
pub fn board_share(figures: &Figures, name: Name) -> Option<BoardShare> {
    let worse = || {
        let both = [Name::NoiseRestRms, Name::NoiseFullRms].map(|name| figures.value(name));
        both.into_iter().flatten().reduce(f64::max)
    };
    let of_rms = match name.facts().noise {
        Noise::Own => figures.value(name),
        Noise::OfEnds => worse(),
        Noise::None => None,
    }?;
    let board_rms = figures.value(Name::BoardNoiseRms)?.max(ROUNDING_RMS);
    Some(BoardShare { board_rms, of_rms })
}

/// What to add of an interval whose width more samples alone would not change: it moved, it is one hold, it is the board.
pub(super) fn floor_words(figure: &Figure) -> &'static str {
    match (figure.u, figure.shrink) {
        (_, Some(shrink)) if shrink.law == Law::Moving => {
            "; not settled yet: it was still moving while it was held"
        }
        (_, Some(shrink)) if shrink.law == Law::First => {
            "; one press does not tell how much it varies"
        }
        (Some(u), Some(shrink)) if u > 0.0 && shrink.floor_u > MOST * u => {
            "; this board is too coarse to tell more"
        }
        _ => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figure::Scope;
    use crate::judge::{Conditions, Limit, Outcome, decide, decide_on};

    fn noisy(board: Option<f64>) -> Figures {
        let mut figures = Figures::new(Scope::Channel);
        let noise = |value| Figure::symmetric(value, 0.05, 2.0, 2000, "");
        figures.set(Name::NoiseRestRms, noise(2.0));
        figures.set(Name::NoiseFullRms, noise(4.0));
        figures.set(Name::BoardNoiseRms, board.map(noise));
        figures
    }

    fn reason(board: Option<f64>, name: Name) -> (Outcome, String, Option<String>) {
        let figures = noisy(board);
        let finding = decide_on(
            "a",
            name,
            Limit::new(None, Some(1.0)).unwrap(),
            figures.get(name),
            Conditions {
                share: board_share(&figures, name),
                ..Conditions::default()
            },
        );
        (finding.outcome, finding.reason, finding.advice)
    }

    #[test]
    fn a_noisy_board_is_named_and_a_quiet_one_is_not() {
        // 1.9 of 2.0 is more than 70 %, 1.9 of 4.0 is not.
        let (outcome, words, advice) = reason(Some(1.9), Name::NoiseRestRms);
        assert_eq!(outcome, Outcome::Fail);
        assert!(
            words.ends_with(
                "; of the noise of 2.00 codes the board makes 1.90 with its input tied: the board, not the part"
            ),
            "{words}"
        );
        assert!(advice.unwrap().contains("quieter board"));
        for (board, name) in [
            (Some(1.9), Name::NoiseFullRms),
            (Some(0.3), Name::NoiseRestRms),
            (None, Name::NoiseRestRms),
        ] {
            let (_, words, advice) = reason(board, name);
            assert!(!words.contains("board") && advice.is_none(), "{words}");
        }
        assert_eq!(board_share(&noisy(Some(1.0)), Name::RestCode), None);
    }

    #[test]
    fn an_interval_that_is_rounding_names_the_board() {
        let figure = |floor_u| {
            Figure::symmetric(163.9, 0.29, 2.0, 1, "").shrinking(crate::figure::Shrink::mean(
                crate::figure::Evidence::Seconds,
                2.0,
                floor_u,
            ))
        };
        let limit = Limit::new(None, Some(164.0)).unwrap();
        let words = |floor_u| decide("a", Name::RestCode, limit, Some(&figure(floor_u))).reason;
        assert!(words(0.28).contains("this board is too coarse to tell more"));
        assert!(!words(0.05).contains("board"));
    }
}
