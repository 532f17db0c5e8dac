//! The output: DAC codes, limits of change, the start condition.

use super::{Choice, ChooseError, ChooseOptions, Margin, bad};
use crate::constants::{Output, Q15_ONE, Watch};
use measure::units::REFERENCE_MV;

/// Seconds at zero command before the board runs. Common practice, no source: longer than a bounce of the pedal.
const START_S: f64 = 0.1;

/// The output and its choices.
pub(super) fn output(options: &ChooseOptions) -> Result<(Output, [Choice; 4]), ChooseError> {
    if !(8..=16).contains(&options.dac_bits) {
        return Err(bad(format!(
            "a DAC of {} bits cannot be: the core takes 8 to 16",
            options.dac_bits
        )));
    }
    if !REFERENCE_MV.contains(&options.dac_vref_mv) {
        return Err(bad(format!(
            "a DAC full scale of {} mV cannot be: state millivolts from 1 to 1000000 with --dac-vref-mv",
            options.dac_vref_mv
        )));
    }
    let codes = f64::from(1_u32 << options.dac_bits);
    let top = super::to_code(codes - 1.0, u16::MAX);
    let code = |mv: f64, option: &str| {
        if (0.0..=options.dac_vref_mv).contains(&mv) {
            Ok(super::to_code(
                (mv / options.dac_vref_mv * codes).round(),
                top,
            ))
        } else {
            Err(bad(format!(
                "{option} {mv} is outside what the DAC can put out, 0 to {} mV",
                options.dac_vref_mv
            )))
        }
    };
    let zero_dac = code(options.zero_mv, "--output-zero-mv")?;
    let full_dac = code(options.full_mv, "--output-full-mv")?;
    let rate = f64::from(options.board_rate_hz);
    let rise = per_step(options.rise_s, rate, "--rise-s", f64::floor)?;
    let fall = per_step(options.fall_s, rate, "--fall-s", f64::ceil)?;
    let choice = |place: &str, what, value: u16, unit, reason: String, margin: String| Choice {
        place: place.to_owned(),
        channel: String::new(),
        what,
        value: f64::from(value),
        unit,
        reason,
        margin: Margin::words(margin),
    };
    let volts = |dac: u16| f64::from(dac) / codes * options.dac_vref_mv;
    let dac = |place, what, dac: u16, mv: f64, command: u8| {
        let reason = format!(
            "{mv} mV asked for at command {command}, DAC full scale {} mV",
            options.dac_vref_mv
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
        dac(
            "output.zero_dac",
            "zero output",
            zero_dac,
            options.zero_mv,
            0,
        ),
        dac(
            "output.full_dac",
            "full output",
            full_dac,
            options.full_mv,
            1,
        ),
        limit("output.rise_q15", "rise limit", rise, options.rise_s, ""),
        limit(
            "output.fall_q15",
            "fall limit",
            fall,
            options.fall_s,
            "; a stop is not limited",
        ),
    ];
    let output = Output {
        zero_dac,
        full_dac,
        rise_q15: rise,
        fall_q15: fall,
        waits_at_zero: options.waits_at_zero,
    };
    Ok((output, choices))
}

/// Q15 a step for so many seconds from end to end; 0 seconds is no limit.
fn per_step(
    seconds: f64,
    rate: f64,
    option: &str,
    round: fn(f64) -> f64,
) -> Result<u16, ChooseError> {
    let one = f64::from(Q15_ONE);
    let longest = one / rate;
    if !(0.0..=longest).contains(&seconds) {
        return Err(bad(format!(
            "{option} {seconds} cannot be: 0 (no limit) to {longest:.1} s at {rate} steps a second"
        )));
    }
    let exact = if seconds > 0.0 {
        one / (seconds * rate)
    } else {
        one
    };
    Ok(super::to_code(round(exact).max(1.0), Q15_ONE))
}

/// What is watched besides the inputs, on a board with this reference.
pub(super) fn watch(
    bits: u8,
    vref_mv: f64,
    options: &ChooseOptions,
) -> Result<(Watch, [Choice; 3]), ChooseError> {
    let own_mv = options.own_reference_mv;
    if !(own_mv.is_finite() && (900.0..=1300.0).contains(&own_mv)) {
        return Err(bad(format!(
            "--reference-mv {own_mv} cannot be: the reference inside the part is 1000 to 1200 mV (its data sheet; from memory)"
        )));
    }
    let watch = Watch::usual((bits, options.dac_bits), vref_mv, own_mv);
    let choice = |place: &str, what, value: u16, reason: String, margin: &str| Choice {
        place: place.to_owned(),
        channel: String::new(),
        what,
        value: f64::from(value),
        unit: "codes",
        reason,
        margin: Margin::words(margin),
    };
    let supply = |place, what, value, side| {
        choice(
            place,
            what,
            value,
            format!("supply 10 % {side} {vref_mv} mV, read against {own_mv} mV inside the part"),
            "the part's own reference is off by up to 10 % itself: say what it is with --reference-mv when a good supply is refused",
        )
    };
    let choices = [
        supply("watch.supply.low", "supply too high", watch.supply.low, "above"),
        supply("watch.supply.high", "supply too low", watch.supply.high, "below"),
        choice(
            "watch.read_back",
            "read-back",
            watch.read_back,
            "3 % of full scale and 2 codes: the DAC's gain error and its load (its data sheet; from memory)".to_owned(),
            "a DAC that stands still by less is not seen",
        ),
    ];
    Ok((watch, choices))
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
        let options = ChooseOptions {
            zero_mv: 1000.0,
            ..ChooseOptions::default()
        };
        let (output, choices) = output(&options).unwrap();
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
        let chosen = |change: fn(&mut ChooseOptions)| {
            let mut options = ChooseOptions::default();
            change(&mut options);
            output(&options).map(|(output, _)| output)
        };
        let refused = |change| chosen(change).unwrap_err().words;
        assert!(refused(|o| o.full_mv = 6000.0).contains("0 to 5000 mV"));
        assert!(refused(|o| o.rise_s = 40.0).contains("32.8 s"));
        assert!(refused(|o| o.rise_s = f64::NAN).contains("--rise-s"));
        assert!(refused(|o| o.dac_bits = 20).contains("20 bits"));
        assert!(refused(|o| o.dac_vref_mv = 0.0).contains("0 mV"));
        let none: [fn(&mut ChooseOptions); 4] = [
            |o| o.dac_vref_mv = 1e-320,
            |o| o.dac_vref_mv = 0.999,
            |o| o.dac_vref_mv = 1.1e6,
            |o| o.dac_vref_mv = f64::NAN,
        ];
        for change in none {
            assert!(refused(change).contains("from 1 to 1000000"));
        }
        assert_eq!(chosen(|o| o.rise_s = 0.0).unwrap().rise_q15, Q15_ONE);
    }
}
