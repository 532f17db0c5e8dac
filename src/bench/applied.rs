//! Linearity of the total applied voltage, told beside that of output span; and what a meter says of the board itself.
//!
//! The figures are percent of output span, which is what a board can scale to. The standards of potentiometers that they cite
//! state linearity in percent of the total applied voltage, the voltage across the whole element: less, because the ends of
//! travel take a part of the element only.

use crate::capture::{BoardMeta, Metadata, RefMeta};
use crate::profile::Profile;
use measure::Measured;
use measure::figure::FigureName;
use measure::figure::numbers::four_digits;
use measure::units::maths;

const LINEARITIES: [FigureName; 4] = [
    FigureName::LinearityIndependent,
    FigureName::LinearityBestFit,
    FigureName::LinearityTerminal,
    FigureName::LinearityZeroBased,
];

/// Adds it to how each linearity was computed, where the voltage across the element is known.
pub(super) fn tell(measured: &mut Measured, profile: &Profile, board: &BoardMeta) {
    for channel in &mut measured.channels {
        let applied_mv = profile.applied_mv(channel.track);
        let Some((applied_mv, curve)) = applied_mv.zip(channel.curve.as_ref()) else {
            continue;
        };
        let share = share(curve.span_code, applied_mv, board);
        for name in LINEARITIES {
            let Some(mut figure) = channel.figures.get(name).cloned() else {
                continue;
            };
            figure.method += &*format!(
                "; {} % of the total applied voltage",
                four_digits(figure.value * share)
            );
            channel.figures.set(name, figure);
        }
    }
}

/// Where the positions are volts that a meter read, the curve is the board's own: its non-linearity in codes, by the line through
/// both ends, is what `--inl-codes` states. Anywhere else the board's is in the part's, and is told where nobody stated it.
pub(super) fn tell_of_board(measured: &mut Measured, meta: &Metadata) {
    let volts = |reference: &RefMeta| {
        let unit = reference.unit.trim();
        ["V", "mV"]
            .iter()
            .any(|word| unit.eq_ignore_ascii_case(word))
    };
    let against_meter = meta.reference.as_ref().is_some_and(volts);
    for channel in &mut measured.channels {
        let Some(span) = channel.curve.as_ref().map(|curve| curve.span_code.abs()) else {
            continue;
        };
        for name in LINEARITIES {
            let Some(mut figure) = channel.figures.get(name).cloned() else {
                continue;
            };
            if against_meter && name == FigureName::LinearityTerminal {
                let codes = four_digits(figure.value / 100.0 * span);
                figure.method += &*format!(
                    "; against a meter this is the board's own non-linearity: --inl-codes {codes}"
                );
            } else if meta.board.inl_code.is_none() {
                figure.method += "; the board's own non-linearity is in it and not stated";
            }
            channel.figures.set(name, figure);
        }
    }
}

/// Output span over the voltage across the element.
fn share(span_code: f64, applied_mv: f64, board: &BoardMeta) -> f64 {
    span_code.abs() / maths::exp2(f64::from(board.bits)) * board.vref_mv / applied_mv
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 700 codes of ten bits and 5 V are 3418 mV; of 4500 mV that is 0.7595. By hand.
    #[test]
    fn by_hand() {
        let board = BoardMeta::new(String::new(), 10, 5000.0, 1000.0);
        assert!((share(-700.0, 4500.0, &board) - 0.7595).abs() < 1e-4);
        let lever = crate::profile::find("lever-shunting").unwrap();
        let applied = lever.applied_mv(measure::units::Track::One).unwrap();
        assert!(applied > 3500.0 && applied < 5000.0, "{applied}");
        let hall = crate::profile::find("pedal-hall-one-track").unwrap();
        assert_eq!(hall.applied_mv(measure::units::Track::One), None);
    }
}
