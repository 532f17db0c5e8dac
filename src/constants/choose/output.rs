//! The output: DAC codes, limits of change, the start condition.
//!
//! Belongs here: from millivolts and seconds to what the block has. Does not belong here: inputs.

use super::{Choice, Kind, Margin, Options, Refusal};
use crate::constants::{Output, Q15_ONE};

/// Seconds at zero command before the board runs. Common practice, no source: longer than a bounce of the pedal.
const START_S: f64 = 0.1;

fn bad<T>(words: String) -> Result<T, Refusal> {
    Err(Refusal::new(Kind::BadInput, words))
}

/// The output and its choices.
///
/// # Errors
/// When the wish cannot be.
pub(super) fn output(wish: &Options) -> Result<(Output, [Choice; 4]), Refusal> {
    if !(8..=16).contains(&wish.dac_bits) {
        return bad(format!(
            "a DAC of {} bits cannot be: the core takes 8 to 16",
            wish.dac_bits
        ));
    }
    if !(wish.dac_vref_mv.is_finite() && wish.dac_vref_mv > 0.0) {
        return bad(format!(
            "a DAC full scale of {} mV cannot be",
            wish.dac_vref_mv
        ));
    }
    let codes = f64::from(1_u32 << wish.dac_bits);
    let top = super::to_code(codes - 1.0, u16::MAX);
    let code = |mv: f64, option: &str| {
        if (0.0..=wish.dac_vref_mv).contains(&mv) {
            Ok(super::to_code((mv / wish.dac_vref_mv * codes).round(), top))
        } else {
            bad(format!(
                "{option} {mv} is outside what the DAC can put out, 0 to {} mV",
                wish.dac_vref_mv
            ))
        }
    };
    let zero_dac = code(wish.zero_mv, "--output-zero-mv")?;
    let full_dac = code(wish.full_mv, "--output-full-mv")?;
    let rate = f64::from(wish.board_rate_hz);
    let rise = per_step(wish.rise_s, rate, "--rise-s", f64::floor)?;
    let fall = per_step(wish.fall_s, rate, "--fall-s", f64::ceil)?;
    let choice = |place: &str, what, value: u16, unit, reason: String, margin: String| Choice {
        place: place.to_owned(),
        channel: String::new(),
        what,
        value: f64::from(value),
        unit,
        reason,
        margin: Margin::words(margin),
    };
    let volts = |dac: u16| f64::from(dac) / codes * wish.dac_vref_mv;
    let dac = |place, what, dac: u16, mv: f64, command: u8| {
        let reason = format!(
            "{mv} mV asked for at command {command}, DAC full scale {} mV",
            wish.dac_vref_mv
        );
        choice(
            place,
            what,
            dac,
            "DAC code",
            reason,
            format!("puts out {:.1} mV", volts(dac)),
        )
    };
    let takes = |per_step: u16| f64::from(Q15_ONE) / f64::from(per_step) / rate;
    let limit = |place, what, value: u16, asked: f64, note: &str| {
        let reason = format!("{asked} s asked for over the whole command, {rate} steps a second");
        choice(
            place,
            what,
            value,
            "1/32768 a step",
            reason,
            format!("takes {:.3} s{note}", takes(value)),
        )
    };
    let choices = [
        dac("output.zero_dac", "zero output", zero_dac, wish.zero_mv, 0),
        dac("output.full_dac", "full output", full_dac, wish.full_mv, 1),
        limit("output.rise_q15", "rise limit", rise, wish.rise_s, ""),
        limit(
            "output.fall_q15",
            "fall limit",
            fall,
            wish.fall_s,
            "; a stop is not limited",
        ),
    ];
    let output = Output {
        zero_dac,
        full_dac,
        rise_q15: rise,
        fall_q15: fall,
    };
    Ok((output, choices))
}

/// Q15 a step for so many seconds from end to end; 0 seconds is no limit.
fn per_step(seconds: f64, rate: f64, option: &str, round: fn(f64) -> f64) -> Result<u16, Refusal> {
    let one = f64::from(Q15_ONE);
    let longest = one / rate;
    if !(0.0..=longest).contains(&seconds) {
        return bad(format!(
            "{option} {seconds} cannot be: 0 (no limit) to {longest:.1} s at {rate} steps a second"
        ));
    }
    let exact = if seconds > 0.0 {
        one / (seconds * rate)
    } else {
        one
    };
    Ok(super::to_code(round(exact).max(1.0), Q15_ONE))
}

/// Samples at zero command before the board runs.
pub(super) fn start_samples(rate_hz: u16, channel: &str, end: &str) -> (u16, Choice) {
    let samples = super::to_code((START_S * f64::from(rate_hz)).ceil().max(1.0), u16::MAX);
    let choice = Choice {
        place: "start.samples".to_owned(),
        channel: channel.to_owned(),
        what: "start condition",
        value: f64::from(samples),
        unit: "samples",
        reason: format!(
            "{START_S} s in a row at the {end} end, which the profile says commands zero (length: common practice, no source)"
        ),
        margin: Margin::words("until then the output is zero"),
    };
    (samples, choice)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 5000 mV of 5000 is code 4096, cut to 4095; 1 V of 5 V 819.2; 32768 / 1000 steps = 32.8, down to 32.
    #[test]
    fn by_hand() {
        let wish = Options {
            zero_mv: 1000.0,
            ..Options::default()
        };
        let (output, choices) = output(&wish).unwrap();
        assert_eq!((output.zero_dac, output.full_dac), (819, 4095));
        assert_eq!((output.rise_q15, output.fall_q15), (32, 164));
        assert!(
            choices[2].margin.words.contains("1.024 s"),
            "{:?}",
            choices[2]
        );
        assert_eq!(start_samples(1000, "x", "rest").0, 100);
        assert_eq!(start_samples(1, "x", "rest").0, 1);
    }

    #[test]
    fn what_cannot_be() {
        let refused = |wish: Options| output(&wish).unwrap_err().words;
        assert!(
            refused(Options {
                full_mv: 6000.0,
                ..Options::default()
            })
            .contains("0 to 5000 mV")
        );
        assert!(
            refused(Options {
                rise_s: 40.0,
                ..Options::default()
            })
            .contains("32.8 s")
        );
        assert!(
            refused(Options {
                rise_s: f64::NAN,
                ..Options::default()
            })
            .contains("--rise-s")
        );
        assert!(
            refused(Options {
                dac_bits: 20,
                ..Options::default()
            })
            .contains("20 bits")
        );
        assert!(
            refused(Options {
                dac_vref_mv: 0.0,
                ..Options::default()
            })
            .contains("0 mV")
        );
        let free = output(&Options {
            rise_s: 0.0,
            ..Options::default()
        })
        .unwrap()
        .0;
        assert_eq!(free.rise_q15, Q15_ONE);
    }
}
