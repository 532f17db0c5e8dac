//! Noise of holds: `noise_rest_rms`, `noise_full_rms`, `noise_peak_to_peak`, `noise_free_bits`.

use crate::figure::{Evidence, Figure, Law, Shrink};
use crate::measure::holds::hold::Hold;
use crate::measure::holds::levels::saturation_words;
use crate::measure::statistics::interval::{
    coverage_factor, normal_cdf, normal_pdf, normal_quantile, root,
};
use crate::measure::statistics::moments::real;
use crate::measure::statistics::quantise::{self, ROUNDING_RMS};
use crate::units::maths;

/// Noise below this does not dither the rounding; its figures then say so (file 11, note).
const DITHERS: f64 = 0.5;

/// Pooled standard deviation about each hold's straight line, in codes. `None` when no hold has three samples.
///
/// Pooled with the holds' degrees of freedom, `n - 2` each. It is the noise as the codes show it: an ideal ADC's own
/// rounding (1/12 code squared) is in it. Interval: chi-square with the effective degrees of freedom, widened where
/// rounding hides or magnifies ([`quantise::noise_interval`]); where a hold sits on an end of the scale, the upper end is
/// that of the noise of which so much would be hidden ([`hidden_by_rail`]).
pub fn rms(holds: &[&Hold]) -> Option<Figure> {
    let (mut squares, mut dof, mut effective, mut samples) = (0.0, 0.0, 0.0, 0);
    for hold in holds {
        let (Some(noise), n) = (hold.noise, hold.n()) else {
            continue;
        };
        squares += noise * noise * (real(n) - 2.0);
        dof += real(n) - 2.0;
        effective += hold.noise_dof;
        samples += n;
    }
    if dof <= 0.0 {
        return None;
    }
    let value = (squares / dof).sqrt();
    let (low, high) = quantise::noise_interval(value, effective);
    let hidden = hidden_by_rail(holds);
    let high = if hidden > 1.0 {
        quantise::noise_interval(value * hidden, effective)
            .1
            .max(high)
    } else {
        high
    };
    let words = if value < DITHERS {
        "; too small to dither the rounding: the interval is what rounding could hide"
    } else {
        ""
    };
    Some(Figure {
        value,
        u: Some((high - low) / (2.0 * coverage_factor(f64::INFINITY))),
        low: Some(low),
        high: Some(high),
        n: samples as u64,
        method: format!(
            "sd about a line through each of {} holds, pooled; {:.0} effective degrees of freedom{words}{}",
            holds.len(),
            effective.min(dof),
            saturation_words(holds)
        ),
        shrink: Some(rms_shrink(value, samples, effective)),
    })
}

/// How many times larger the noise may be than it shows in holds that sit on an end of the scale; 1 when none does.
///
/// Of gaussian noise with a share `s` of its values held at the end, the standard deviation that is left is
/// `sqrt(E2 - E^2)` of `max(x, z)`, `z` the normal quantile of `s`: `E = z s + phi(z)`, `E2 = z^2 s + 1 - s + z phi(z)`
/// (moments of a censored normal; integration by parts). No signal lies beyond the end of its own supply, so that half
/// the noise at least is seen (where the reference is below the supply, what lies beyond it is never read): `s` counts up to
/// 1/2, where the factor is 1/sqrt(1/2 - 1/(2 pi)) = 1.713.
fn hidden_by_rail(holds: &[&Hold]) -> f64 {
    let share = holds.iter().map(|hold| hold.at_rail).fold(0.0, f64::max);
    if share <= 0.0 {
        return 1.0;
    }
    let s = share.min(0.5);
    let z = normal_quantile(s);
    let mean = z * s + normal_pdf(z);
    let square = z * z * s + 1.0 - s + z * normal_pdf(z);
    (square - mean * mean).sqrt().recip()
}

/// In samples, which [`Figure::at_rate`] makes seconds. What stays is what rounding hides of noise that is known well.
fn rms_shrink(value: f64, samples: usize, effective: f64) -> Shrink {
    let (low, high) = quantise::noise_interval(value, 1e9);
    let floor_u = (high - low) / (2.0 * coverage_factor(f64::INFINITY));
    let law = Law::Rms { dof: effective };
    Shrink::by(law, Evidence::Samples, real(samples), floor_u)
}

/// Largest max - min of a hold about its line, in codes. `None` when no hold has three samples.
///
/// Interval: that of the median peak-to-peak of such holds, from the distribution of the range of as many
/// independent values (Tippett 1925; correlation hardly matters to extremes), gaussian ones but for a mains line of
/// `hum_rms` codes, whose peaks come again in every period and hardly scatter; the widest of several holds follows the
/// product of their distributions. Added on both sides: half a code; where rounding is not dithered one code more,
/// because the same noise reads none or one depending on where between two codes its mean lies.
pub fn peak_to_peak(holds: &[&Hold], hum_rms: f64) -> Option<Figure> {
    let measured: Vec<&Hold> = holds
        .iter()
        .copied()
        .filter(|hold| hold.noise.is_some())
        .collect();
    let widest = measured
        .iter()
        .max_by(|a, b| a.peak_to_peak.total_cmp(&b.peak_to_peak))?;
    let noise = widest.noise?;
    let value = widest.peak_to_peak;
    let sources: Vec<(f64, f64)> = measured
        .iter()
        .filter_map(|hold| Some((hold.noise? / noise, real(hold.n()))))
        .filter(|(ratio, _)| *ratio > 0.0 && ratio.is_finite())
        .collect();
    let (low, high) = if sources.is_empty() {
        (value, value)
    } else {
        let parent = Parent::new(hum_rms / rms(holds)?.value);
        let quantile = |p| range_quantile(p, &sources, &parent);
        let middle = quantile(0.5);
        (
            value * middle / quantile(0.975),
            value * middle / quantile(0.025),
        )
    };
    let rounding = if noise < DITHERS { 1.5 } else { 0.5 };
    let (low, high) = ((low - rounding).max(0.0), high + rounding);
    // The end of the scale hides half of a symmetric noise at most.
    let high = high
        * if holds.iter().any(|hold| hold.saturated.is_some()) {
            2.0
        } else {
            1.0
        };
    Some(Figure {
        value,
        u: Some((high - low) / (2.0 * coverage_factor(f64::INFINITY))),
        low: Some(low),
        high: Some(high),
        n: measured.iter().map(|hold| hold.n() as u64).sum(),
        method: format!(
            "widest of {} holds about their lines; interval for gaussian noise{}{}",
            measured.len(),
            if hum_rms > 0.0 { " and mains hum" } else { "" },
            saturation_words(holds)
        ),
        shrink: None, // it grows with the time that is watched: the advice says so
    })
}

/// Quantile of the widest range among sources `(relative sd, number of values)`.
fn range_quantile(p: f64, sources: &[(f64, f64)], parent: &Parent) -> f64 {
    let product = |width: f64| -> f64 {
        let chances = sources
            .iter()
            .map(|(sd, n)| parent.range_cdf(width / sd, *n));
        chances.product()
    };
    let largest = sources.iter().map(|(sd, _)| *sd).fold(0.0, f64::max);
    root(0.0, 16.0 * largest, |width| product(width) - p)
}

/// Noise of unit variance, part of it a sine: its distribution function and density as tables.
struct Parent {
    cdf: Vec<f64>,
    pdf: Vec<f64>,
}

impl Parent {
    /// From here to its negative, in standard deviations.
    const FROM: f64 = -9.0;
    /// Steps of the tables in one standard deviation.
    const STEPS: u32 = 40;
    /// Phases of the sine.
    const PHASES: u32 = 16;

    /// `hum` is the sine's share of the rms, 0 to 1: what is more counts as 0.99. A sine at a random time is
    /// the cosine of an even phase, so that the mean over it is Gauss-Chebyshev quadrature (DLMF 3.5(v), from memory).
    fn new(hum: f64) -> Self {
        let hum = if hum.is_finite() {
            hum.clamp(0.0, 0.99)
        } else {
            0.0
        };
        let sd = (1.0 - hum * hum).sqrt();
        let shifts: Vec<f64> = if hum > 0.0 {
            (0..Self::PHASES)
                .map(|k| {
                    let part = (f64::from(k) + 0.5) / f64::from(Self::PHASES);
                    hum * std::f64::consts::SQRT_2 * maths::cos(std::f64::consts::PI * part)
                })
                .collect()
        } else {
            vec![0.0]
        };
        let mean = |of: fn(f64) -> f64, x: f64| {
            shifts.iter().map(|shift| of((x - shift) / sd)).sum::<f64>() / real(shifts.len())
        };
        let steps = f64::from(Self::STEPS);
        let at: Vec<f64> = (0..=18 * Self::STEPS)
            .map(|i| Self::FROM + f64::from(i) / steps)
            .collect();
        Self {
            cdf: at.iter().map(|&x| mean(normal_cdf, x)).collect(),
            pdf: at.iter().map(|&x| mean(normal_pdf, x) / sd).collect(),
        }
    }

    /// Probability that the range of `n` values is at most `width`:
    /// `n * integral of pdf(x) (cdf(x + width) - cdf(x))^(n-1)` (Tippett 1925).
    fn range_cdf(&self, width: f64, n: f64) -> f64 {
        let steps = f64::from(Self::STEPS);
        // Beyond the tables everything is inside; a quiet source beside a loud one makes any width huge.
        let shift = (width * steps).clamp(0.0, real(self.cdf.len()));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // not negative
        let (whole, part) = (shift as usize, shift.fract());
        let cdf = |i: usize| self.cdf.get(i).copied().unwrap_or(1.0);
        // What is less between has a power below exp(-80) and adds nothing that a sum of this size could hold.
        let least = maths::exp(-80.0 / (n - 1.0).max(1.0));
        let first = self.cdf.partition_point(|&c| c < least);
        let first = first.saturating_sub(whole + 1) & !1;
        let last = self.cdf.partition_point(|&c| c <= 1.0 - least);
        // Of whole numbers: a tenth of what `pow` takes, and a few of its last digits.
        #[allow(clippy::cast_possible_truncation)] // a number of samples
        let others = (n - 1.0) as i32;
        let sum: f64 = (first..last)
            .step_by(2)
            .map(|i| {
                let (pdf, below) = (self.pdf[i], self.cdf[i]);
                let (a, b) = (cdf(i + whole), cdf(i + whole + 1));
                let between = (a + part * (b - a) - below).max(0.0);
                if between < least {
                    return 0.0;
                }
                pdf * between.powi(others)
            })
            .sum();
        (n * sum * 2.0 / steps).min(1.0)
    }
}

/// log2(|span| / (6.6 x the worse rms)), in bits. `None` when no noise was measured or the span is 0.
///
/// 6.6 standard deviations hold 99.9 % of gaussian noise, a convention of ADC textbooks. Noise below 1/sqrt(12) code
/// counts as that: the rounding itself. The interval takes the wider of the noises' ends and of the span's.
pub fn free_bits(span: &Figure, noises: &[&Figure]) -> Option<Figure> {
    let worst = |end: fn(&Figure) -> Option<f64>| {
        noises
            .iter()
            .map(|figure| end(figure))
            .try_fold(ROUNDING_RMS, |most, x| x.map(|x| most.max(x)))
    };
    if noises.is_empty() || span.value == 0.0 {
        return None;
    }
    let rms = worst(|figure| Some(figure.value))?;
    let bits = |rms: f64| maths::log2(span.value.abs() / (6.6 * rms));
    let value = bits(rms);
    let span_part = span.high.zip(span.low).map_or(0.0, |(high, low)| {
        (high - low) / 2.0 / span.value.abs() / std::f64::consts::LN_2
    });
    let low =
        worst(|figure| figure.high).map(|rms| value - maths::hypot(value - bits(rms), span_part));
    let high =
        worst(|figure| figure.low).map(|rms| value + maths::hypot(bits(rms) - value, span_part));
    let limited = if rms <= ROUNDING_RMS {
        "; limited by the board's rounding, 1/sqrt(12) code"
    } else {
        ""
    };
    Some(Figure {
        value,
        u: low
            .zip(high)
            .map(|(low, high)| (high - low) / (2.0 * coverage_factor(f64::INFINITY))),
        low,
        high,
        n: noises.iter().map(|figure| figure.n).sum(),
        method: format!(
            "log2(|span| / (6.6 x {rms:.3})), the worse of {} noises{limited}",
            noises.len()
        ),
        shrink: noises
            .iter()
            .find(|figure| figure.value >= rms)
            .and_then(|worst| {
                let shrink = worst.shrink?;
                let floor_u = shrink.floor_u / rms / std::f64::consts::LN_2;
                let law = Law::Mean { dof: f64::INFINITY };
                Some(Shrink {
                    floor_u,
                    law,
                    ..shrink
                })
            }),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::holds::hold::Rail;
    use crate::measure::reference_file::reference;

    /// A range is surely smaller than a huge width, even one that is no number of table steps.
    #[test]
    fn a_width_beyond_the_tables_holds_every_range() {
        let parent = Parent::new(0.0);
        for width in [18.0, 1e18, 1e300, f64::INFINITY] {
            let chance = parent.range_cdf(width, 2.0);
            assert!((chance - 1.0).abs() < 1e-6, "{width}: {chance}");
        }
    }

    fn hold(noise: f64, n: usize, peak_to_peak: f64) -> Hold {
        Hold {
            range: 0..n,
            mean: 164.0,
            slope: 0.0,
            noise: Some(noise),
            noise_dof: real(n) - 2.0,
            u_mean: Some(0.1),
            u_dof: 30.0,
            peak_to_peak,
            lasted_s: 0.001 * real(n - 1),
            saturated: None,
            at_rail: 0.0,
            trimmed: false,
        }
    }

    #[test]
    fn pooled_by_hand() {
        // 9 degrees at 2, 3 degrees at 4: (9 x 4 + 3 x 16) / 12 = 7
        let (a, b) = (hold(2.0, 11, 6.0), hold(4.0, 5, 9.0));
        let figure = rms(&[&a, &b]).unwrap();
        assert!((figure.value - 7.0_f64.sqrt()).abs() < 1e-12);
        assert_eq!(figure.n, 16);
    }

    /// max(x, 0) of a standard normal x: E = 1/sqrt(2 pi), E2 = 1/2, sd = sqrt(1/2 - 1/(2 pi)) = 0.5838, 1/0.5838 = 1.7129.
    /// At z = -1: s = 0.158655, phi = 0.241971: E = 0.083315, E2 = 0.758010 (tables), sd 0.866643: 1.1539. By hand.
    #[test]
    fn what_an_end_of_the_scale_hides_of_the_noise_is_in_the_upper_end() {
        let mut on_it = hold(1.0, 5000, 6.0);
        let free = rms(&[&on_it]).unwrap().high.unwrap();
        on_it.saturated = Some(Rail::Low);
        for (share, factor) in [(0.158_655, 1.1539), (0.5, 1.7129), (0.9, 1.7129)] {
            on_it.at_rail = share;
            assert!((hidden_by_rail(&[&on_it]) - factor).abs() < 2e-4, "{share}");
            let figure = rms(&[&on_it]).unwrap();
            let high = figure.high.unwrap();
            assert!(
                high > 0.9 * factor * free && high < 1.3 * factor * free,
                "{high}"
            );
            assert!(figure.low.unwrap() < 1.0 && figure.method.contains("saturated"));
        }
        assert!((hidden_by_rail(&[&hold(1.0, 500, 6.0)]) - 1.0).abs() < 1e-12);
        let mut still = hold(0.0, 500, 0.0);
        (still.saturated, still.at_rail) = (Some(Rail::High), 1.0);
        assert!(rms(&[&still]).unwrap().high.unwrap() < 0.6);
        assert_eq!(peak_to_peak(&[&still], 0.0).unwrap().high, Some(3.0));
    }

    #[test]
    fn none_and_constant() {
        assert!(rms(&[]).is_none() && peak_to_peak(&[], 0.0).is_none());
        let still = hold(0.0, 500, 0.0);
        let figure = rms(&[&still]).unwrap();
        assert!(figure.value.abs() < 1e-12 && (0.5..0.53).contains(&figure.high.unwrap()));
        let figure = peak_to_peak(&[&still], 0.0).unwrap();
        assert_eq!(
            (figure.value, figure.low, figure.high),
            (0.0, Some(0.0), Some(1.5))
        );
    }

    /// Mean range of n normal values, d2 of the control-chart tables: 2.326 (5), 3.078 (10), 5.015 (100); from memory.
    /// The mean is the integral of 1 - cdf.
    #[test]
    fn the_range_of_gaussian_values() {
        let parent = Parent::new(0.0);
        for (n, d2) in [(5.0, 2.326), (10.0, 3.078), (100.0, 5.015)] {
            let mean: f64 = (0..1600)
                .map(|i| (1.0 - parent.range_cdf((f64::from(i) + 0.5) * 0.01, n)) * 0.01)
                .sum();
            assert!((mean - d2).abs() < 1e-3, "{n}: {mean} for {d2}");
        }
    }

    /// By hand: two values of a sine of unit variance with a hair of noise differ by
    /// 2 sqrt 2 sin(a) sin(b) with even phases a and b: on average 2 sqrt 2 (2 / pi)^2 = 1.1463. And the range of very many is the
    /// sine's own, 2 sqrt 2, and not the 6.5 of 1000 gaussian values (control-chart tables, from memory).
    #[test]
    fn the_range_of_a_sine() {
        let parent = Parent::new(0.99);
        let mean: f64 = (0..1600)
            .map(|i| (1.0 - parent.range_cdf((f64::from(i) + 0.5) * 0.01, 2.0)) * 0.01)
            .sum();
        // A hair is 14 %: it adds about a hundredth.
        assert!((mean - 1.1463).abs() < 0.015, "{mean}");
        let middle = range_quantile(0.5, &[(1.0, 1000.0)], &parent);
        assert!((2.8..3.5).contains(&middle), "{middle}");
        let gaussian = range_quantile(0.5, &[(1.0, 1000.0)], &Parent::new(0.0));
        assert!((gaussian - 6.45).abs() < 0.1, "{gaussian}");
    }

    /// Noise-free bits: closed form (file 11).
    #[test]
    fn noise_free_bits_of_the_reference() {
        let file = reference("11-adc.json");
        for row in file["expected"]["noise_free"].as_array().unwrap() {
            let number = |name: &str| row[name].as_f64().unwrap();
            let span = Figure::counted(number("bits").exp2(), 1, "");
            let noise = Figure::counted(number("noise_rms_lsb"), 1, "");
            let got = free_bits(&span, &[&noise]).unwrap();
            assert!((got.value / number("noise_free_bits") - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn bits_are_limited_by_rounding_and_by_what_it_hides() {
        let still = rms(&[&hold(0.0, 500, 0.0)]).unwrap();
        let span = Figure::counted(-700.0, 1, "");
        let got = free_bits(&span, &[&still]).unwrap();
        // log2(700 x sqrt 12 / 6.6) = 8.521; half a code of noise: log2(700 / 3.3) = 7.729
        assert!((got.value - 8.5213).abs() < 1e-3, "{}", got.value);
        assert!((got.low.unwrap() - 7.72).abs() < 0.05, "{:?}", got.low);
        assert!((got.high.unwrap() - got.value).abs() < 1e-9);
        assert!(free_bits(&span, &[]).is_none());
        assert!(free_bits(&Figure::counted(0.0, 1, ""), &[&still]).is_none());
    }
}
