//! Supply: `ratiometric_error`, whether the signal follows its supply.

use crate::figure::{Evidence, Figure, Law, Shrink};
use crate::measure::holds::hold as holds;
use crate::measure::recording::Recording;
use crate::measure::statistics::blocks;
use crate::measure::statistics::interval::Budget;
use crate::measure::statistics::moments::{mean, real, sd};
use crate::measure::statistics::quantise;
use crate::units::maths;
use crate::units::{Code, Role, Step, seconds_from_us};

/// Least spread (sd of log) of the supply, over the noise left in its block means, from which a slope is given. The slope
/// is drawn towards -1 by that noise, by less than 1/100 at this ratio.
const CLEAR: f64 = 10.0;

/// `ratiometric_error`: relative change of signal/supply per relative change of the supply, in %/%. Zero is truly
/// ratiometric, -1 a signal that ignores its supply. `None` without a supply channel or a supply that varied.
///
/// Slope of `ln(signal) - ln(supply)` over `ln(supply)` of block means, all supply passages together; uncertainty from
/// correlated residuals, and the rounding of both channels where it is not dithered. The control stands still.
pub fn ratiometric_error(recording: &Recording<'_>, codes: &[Code]) -> Option<Figure> {
    let supply = recording
        .channels
        .iter()
        .find(|channel| channel.role == Role::Supply)?;
    let (mut signal_log, mut supply_log) = (Vec::new(), Vec::new());
    let (mut signal_noise, mut supply_noise, mut block) = (0.0_f64, 0.0_f64, 1);
    let mut seconds = 0.0;
    for range in holds::passages_of(recording.passages, Step::Supply) {
        let times = recording.t_us.get(range.clone())?;
        let (own, feeding) = (codes.get(range.clone())?, supply.codes.get(range.clone())?);
        if let (Some(first), Some(last)) = (times.first(), times.last()) {
            seconds += seconds_from_us(last.saturating_sub(*first));
        }
        signal_noise = signal_noise.max(noise(own));
        supply_noise = supply_noise.max(noise(feeding));
        let (own, feeding) = (
            blocks::block_means(times, own)?,
            blocks::block_means(times, feeding)?,
        );
        block = own.length;
        for (own, feeding) in own.mean.iter().zip(&feeding.mean) {
            if *own >= 1.0 && *feeding >= 1.0 {
                signal_log.push(maths::ln(*own));
                supply_log.push(maths::ln(*feeding));
            }
        }
    }
    let spread = sd(&supply_log);
    let (signal_mean, supply_mean) = (maths::exp(mean(&signal_log)), maths::exp(mean(&supply_log)));
    // Half widths of what rounding leaves in a block mean, relative.
    let rounding = |noise: f64, level: f64| {
        quantise::mean_error_bound(quantise::least_input_sd(noise)) / level
    };
    let (of_signal, of_supply) = (
        rounding(signal_noise, signal_mean),
        rounding(supply_noise, supply_mean),
    );
    let own = maths::hypot(
        supply_noise / real(block).sqrt() / supply_mean,
        of_supply / 3.0_f64.sqrt(),
    );
    if spread.is_nan() || spread <= CLEAR * own {
        return None;
    }
    let relative: Vec<f64> = signal_log
        .iter()
        .zip(&supply_log)
        .map(|(s, v)| s - v)
        .collect();
    let line = blocks::fit_slope(&supply_log, &relative)?;
    // Rounding repeats itself code by code: it averages over the codes that the sweep crosses, not over the blocks.
    let crossed = (spread * signal_mean.min(supply_mean)).clamp(1.0, real(supply_log.len()));
    let bound = (of_signal + of_supply) / spread / crossed.sqrt();
    let budget = Budget {
        scatter: vec![(line.u, line.dof)],
        bounds: vec![bound],
    };
    let method = format!(
        "slope of log(signal/{}) over log({}) in {} blocks; supply spread {:.1} % sd",
        supply.name,
        supply.name,
        supply_log.len(),
        100.0 * spread
    );
    // A sweep as wide, for longer: the slope's scatter goes down as its root, rounding stays.
    let law = Law::Mean { dof: line.dof };
    let shrink = Shrink::by(law, Evidence::Seconds, seconds, budget.floor_u());
    Some(
        budget
            .figure(line.slope, supply_log.len(), method)
            .shrinking(shrink),
    )
}

/// Noise of codes that also drift: second differences `a - 2 b + c` carry 6 times its variance.
fn noise(codes: &[Code]) -> f64 {
    let bends = codes
        .windows(3)
        .map(|w| w[0].as_f64() - 2.0 * w[1].as_f64() + w[2].as_f64());
    let squares: f64 = bends.map(|bend| bend * bend).sum();
    (squares / (6.0 * real(codes.len().max(3) - 2))).sqrt()
}

#[cfg(test)]
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // test data
mod tests {
    use super::*;
    use crate::measure::recording::{BoardFacts, Channel};
    use crate::units::{Passage, Scale, Track};

    /// The error of a signal `signal(v)` whose supply sweeps 0.9 to 1.1 of 3000 codes, no noise, 16 bits.
    fn error(signal: impl Fn(f64) -> f64, swing: f64, role: Role) -> Option<Figure> {
        let at = |i: u32| 1.0 + swing * (f64::from(i) / 1500.0).sin();
        let codes: Vec<Code> = (0..9000)
            .map(|i| Code(signal(at(i)).round() as u32))
            .collect();
        let supply: Vec<Code> = (0..9000)
            .map(|i| Code((30_000.0 * at(i)).round() as u32))
            .collect();
        let t_us: Vec<u64> = (0..9000).map(|i| i * 1000).collect();
        let board = BoardFacts::new(Scale::new(16, 5000.0).unwrap(), 1000.0);
        let (step, range) = (Step::Supply, 0..9000);
        let passages = [Passage { step, range }];
        let mut recording = Recording::new(board, &t_us, &passages);
        let channel = |name, role, codes| Channel {
            role,
            ..Channel::signal(name, Track::One, codes)
        };
        recording.channels = vec![
            channel("lever", Role::Signal, &codes),
            channel("supply", role, &supply),
        ];
        ratiometric_error(&recording, &codes)
    }

    #[test]
    fn by_construction() {
        // Follows its supply: 0. Ignores it: -1. Follows its square root: -1/2.
        for (signal, wanted) in [
            ((|v| 20_000.0 * v) as fn(f64) -> f64, 0.0),
            (|_| 20_000.0, -1.0),
            (|v| 20_000.0 * v.sqrt(), -0.5),
        ] {
            let figure = error(signal, 0.1, Role::Supply).unwrap();
            assert!(
                (figure.value - wanted).abs() < 1e-3,
                "{} for {wanted}",
                figure.value
            );
            assert!(figure.low.unwrap() <= wanted && wanted <= figure.high.unwrap());
        }
    }

    #[test]
    fn none_without_a_supply_channel_or_a_change_of_it() {
        assert!(error(|v| 20_000.0 * v, 0.1, Role::Signal).is_none());
        assert!(error(|v| 20_000.0 * v, 0.0, Role::Supply).is_none());
        assert!(error(|_| 0.0, 0.1, Role::Supply).is_none());
    }
}
