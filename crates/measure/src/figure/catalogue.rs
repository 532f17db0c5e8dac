//! The catalogue: one entry for each figure, with everything that is known of it beside its measuring function.
//!
//! A new figure is an entry here, a function in `measure` and a line in `compose`.

use super::facts::{Facts, Mark, Noise, Scope, Sides, Steps, Unit, Words};
use super::shared::{
    BOTH_HOLDS, BOTH_LEVELS, FULL_LEVEL, HUM, LEVEL, LONG, LOSSES, PEAK, REFERENCE, REST_LEVEL,
    RETURNS, SCATTERED, STROKES, WORN,
};
use super::shrink::Evidence;
use crate::units::Step;
use Mark::{Derived, OfDirection, OfRheostats, OfRoom, OfSample};
use Step::{Full, Ground, Reference, Release, Rest, Shake, Stations, Strokes, Supply};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What cannot be below zero.
const FROM_ZERO: (f64, f64) = (0.0, f64::INFINITY);

/// Name, word, label, definition, and the other facts where they are not those of [`Facts::PLAIN`].
macro_rules! catalogue {
    ($( $variant:ident $word:literal $label:literal $definition:literal { $( $field:ident: $value:expr, )* } )*) => {
        /// A figure's name. Order is the order in which figures are shown.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
        #[allow(clippy::doc_markdown)] // the definitions are for people at the bench, not for rustdoc
        pub enum FigureName {
            $( #[doc = $definition] #[serde(rename = $word)] $variant, )*
        }

        impl FigureName {
            /// Every figure in the order in which they are shown.
            pub const ALL: &[Self] = &[ $( Self::$variant, )* ];

            /// What is known of it.
            pub const fn facts(self) -> &'static Facts {
                match self { $( Self::$variant => const {
                    &Facts { word: $word, label: $label, definition: $definition, $( $field: $value, )* ..Facts::PLAIN }
                }, )* }
            }
        }

        /// Every word, for whom wrote another.
        pub(super) const ALLOWED: &str = concat!($( $word, " ", )*);
    };
}

catalogue! {
    RestCode "rest_code" "rest code"
        "Mean over the rest holds of each hold's mean code; the settled tail of a release is a hold like any other, so returns that scatter widen the interval."
    {
        unit: Unit::Code, steps: Steps::Any(&[Rest, Release]), range: FROM_ZERO,
        more: REST_LEVEL, words: LEVEL, marks: &[OfDirection],
        formula: "sum over holds of (sum of the hold's codes / its samples) / number of holds",
        needs: "one rest hold, or one release that settles",
        source: "arithmetic mean of repeated holds, JCGM 100:2008 (GUM) 4.2; rounding and board non-linearity as bounds, 4.3.7",
    }
    FullCode "full_code" "full code"
        "Reading when pressed fully: mean over the full holds of each hold's mean code."
    {
        unit: Unit::Code, steps: Steps::Any(&[Full]), range: FROM_ZERO,
        more: FULL_LEVEL, words: LEVEL, marks: &[OfDirection],
        formula: "sum over holds of (sum of the hold's codes / its samples) / number of holds",
        needs: "one full hold",
        source: "arithmetic mean of repeated holds, JCGM 100:2008 (GUM) 4.2; rounding and board non-linearity as bounds, 4.3.7",
    }
    RestRatio "rest_ratio" "rest ratio"
        "Reading when released, as a part of the ADC range (0.16 = 0.8 V of 5 V): code / 2^bits."
    {
        unit: Unit::Number, steps: Steps::Any(&[Rest, Release]),
        more: REST_LEVEL, words: LEVEL, range: (0.0, 1.0), marks: &[OfDirection, Derived],
        formula: "rest_code / 2^bits",
        needs: "one rest hold, or one release that settles",
        source: "ideal ADC transfer, code = input / reference x 2^bits; uncertainty as rest_code",
    }
    FullRatio "full_ratio" "full ratio"
        "Reading when pressed fully, as a part of the ADC range (0.84 = 4.2 V of 5 V): code / 2^bits."
    {
        unit: Unit::Number, steps: Steps::Any(&[Full]),
        more: FULL_LEVEL, words: LEVEL, range: (0.0, 1.0), marks: &[OfDirection, Derived],
        formula: "full_code / 2^bits",
        needs: "one full hold",
        source: "ideal ADC transfer, code = input / reference x 2^bits; uncertainty as full_code",
    }
    SpanCode "span_code" "span code"
        "full_code minus rest_code; its sign is the direction."
    {
        unit: Unit::Code, steps: Steps::All(&[Rest, Full]),
        more: BOTH_LEVELS, words: LEVEL, marks: &[OfDirection],
        formula: "full_code - rest_code; variances added",
        needs: "rest and full, each with a known uncertainty",
        source: "difference of two independent means, JCGM 100:2008 (GUM) 5.1.2; degrees of freedom by Welch-Satterthwaite, G.4",
    }
    NoiseRestRms "noise_rest_rms" "noise at rest"
        "Standard deviation about a straight line through each rest hold, pooled: of noise that is faster than a hold lasts."
    {
        unit: Unit::Code, steps: Steps::Any(&[Rest]), sides: Sides::Upper,
        more: &[(Evidence::Seconds, Rest)], noise: Noise::Own, marks: &[Derived],
        formula: "root of (sum of squares about each hold's least-squares line / sum of (samples - 2)); the ADC's own rounding is in it",
        needs: "one rest hold of three samples",
        source: "pooled residual standard deviation; chi-square interval with effective degrees of freedom, widened where rounding is not dithered (Sheppard's terms)",
    }
    NoiseFullRms "noise_full_rms" "noise at full"
        "Standard deviation about a straight line through each full hold, pooled: of noise that is faster than a hold lasts."
    {
        unit: Unit::Code, steps: Steps::Any(&[Full]), sides: Sides::Upper,
        more: &[(Evidence::Seconds, Full)], noise: Noise::Own, marks: &[Derived],
        formula: "root of (sum of squares about each hold's least-squares line / sum of (samples - 2)); the ADC's own rounding is in it",
        needs: "one full hold of three samples",
        source: "pooled residual standard deviation; chi-square interval with effective degrees of freedom, widened where rounding is not dithered (Sheppard's terms)",
    }
    NoisePeakToPeak "noise_peak_to_peak" "noise peak to peak"
        "Largest max - min of a hold after its straight line is taken out."
    {
        unit: Unit::Code, steps: Steps::Any(&[Rest, Full]), sides: Sides::Upper,
        noise: Noise::OfEnds,
        words: Words { unknown: Some(PEAK), ..Words::PLAIN },
        formula: "largest over holds of (largest residual - smallest residual) about the hold's line; it grows with the hold's length",
        needs: "one hold of three samples",
        source: "interval from the distribution of the range of gaussian samples (Tippett 1925)",
    }
    NoiseFreeBits "noise_free_bits" "noise free bits"
        "log2(|span| / (6.6 x the worse noise rms)): steps that can be told apart."
    {
        unit: Unit::Bit, steps: Steps::All(&[Rest, Full]), sides: Sides::Lower,
        more: BOTH_HOLDS, noise: Noise::OfEnds,
        formula: "log2(|span_code| / (6.6 x the larger of noise_rest_rms, noise_full_rms and 1/sqrt(12)))",
        needs: "rest and full, and noise at one of them",
        source: "ADC textbooks; 6.6 sigma (99.9 %) is a convention",
    }
    Hum50Rms "hum_50_rms" "hum 50 rms"
        "RMS of the 50 Hz line in the holds, at 200 samples a second or more."
    {
        unit: Unit::Code, steps: Steps::Any(&[Rest, Full]), sides: Sides::Upper,
        more: BOTH_HOLDS, marks: &[OfRoom],
        words: HUM,
        formula: "root of (power of a 50 Hz sine fitted to pieces of 0.5 s - power that the noise beside the line would give)",
        needs: "a hold of 0.5 s at 200 samples a second or more",
        source: "three- and four-parameter sine fit at a known frequency, IEEE 1057; noise beside the line taken off",
    }
    Hum60Rms "hum_60_rms" "hum 60 rms"
        "RMS of the 60 Hz line in the holds, at 200 samples a second or more."
    {
        unit: Unit::Code, steps: Steps::Any(&[Rest, Full]), sides: Sides::Upper,
        more: BOTH_HOLDS, marks: &[OfRoom],
        words: HUM,
        formula: "root of (power of a 60 Hz sine fitted to pieces of 0.5 s - power that the noise beside the line would give)",
        needs: "a hold of 0.5 s at 200 samples a second or more",
        source: "three- and four-parameter sine fit at a known frequency, IEEE 1057; noise beside the line taken off",
    }
    Hum100Rms "hum_100_rms" "hum 100 rms"
        "RMS of the 100 Hz line in the holds: rectified mains of 50 Hz."
    {
        unit: Unit::Code, steps: Steps::Any(&[Rest, Full]), sides: Sides::Upper,
        more: BOTH_HOLDS, marks: &[OfRoom],
        words: HUM,
        formula: "root of (power of a 100 Hz sine fitted to pieces of 0.5 s - power that the noise beside the line would give)",
        needs: "a hold of 0.5 s at 210 samples a second or more",
        source: "as hum_50_rms",
    }
    Hum120Rms "hum_120_rms" "hum 120 rms"
        "RMS of the 120 Hz line in the holds: rectified mains of 60 Hz."
    {
        unit: Unit::Code, steps: Steps::Any(&[Rest, Full]), sides: Sides::Upper,
        more: BOTH_HOLDS, marks: &[OfRoom],
        words: HUM,
        formula: "root of (power of a 120 Hz sine fitted to pieces of 0.5 s - power that the noise beside the line would give)",
        needs: "a hold of 0.5 s at 252 samples a second or more",
        source: "as hum_50_rms",
    }
    DriftPerMin "drift_per_min" "drift per min"
        "Slope of the longest hold while it lasted, its uncertainty from correlated residuals; under noise slower than the hold (1/f) another hold has another slope."
    {
        unit: Unit::CodePerMinute, steps: Steps::Any(&[Rest, Full]),
        takes: LONG,
        formula: "60 x least-squares slope of block means over seconds, longest hold",
        needs: "a hold of four samples, better some seconds",
        source: "least squares with the residuals' correlation in the uncertainty; Allan deviation after NIST SP 1065 says how long averaging pays",
    }
    ReturnScatter "return_scatter" "return scatter"
        "How much the rest position varies each time you let go: standard deviation of the rests' means, from three returns on."
    {
        unit: Unit::Code, steps: Steps::Any(&[Release]), sides: Sides::Upper,
        more: RETURNS, takes: SCATTERED, marks: &[Derived],
        formula: "root of (sum of (hold mean - mean of them)^2 / (returns - 1))",
        needs: "three returns to rest after the control was away from it",
        source: "sample standard deviation, JCGM 100:2008 (GUM) 4.2.2; chi-square interval",
    }
    ReturnRange "return_range" "return range"
        "How far apart the rest positions lie that were seen: largest minus smallest mean of the rests, from three returns on."
    {
        unit: Unit::Code, steps: Steps::Any(&[Release]), sides: Sides::Upper,
        marks: &[OfSample],
        words: Words { longer: "s longer after each return", ..Words::PLAIN },
        formula: "largest hold mean - smallest hold mean, of the returns that were seen",
        needs: "three returns to rest after the control was away from it",
        source: "difference of two means, JCGM 100:2008 (GUM) 5.1.2: of these returns, not of later ones",
    }
    ReleaseTime "release_time" "release time"
        "How long it takes to come back after letting go: from 90 % to 10 % of span, the slowest release."
    {
        unit: Unit::Second, steps: Steps::Any(&[Release]), sides: Sides::Upper,
        more: RETURNS, marks: &[Derived],
        words: Words { board: "its sampling and noise alone are", ..Words::PLAIN },
        formula: "time of the 10 % crossing - time of the 90 % crossing (parabola through the samples near each), largest over releases",
        needs: "one release from near full to near rest",
        source: "first-order fall: 2.197 time constants",
    }
    RestCreep "rest_creep" "rest creep"
        "How far the rest level moves from 1 s to 10 s after a release."
    {
        unit: Unit::Code, steps: Steps::Any(&[Release]),
        more: RETURNS, quiet_s: 10.5, marks: &[Derived],
        formula: "mean over releases of (mean code from 9.5 s to 10 s after the code fell below 10 % of span - mean code from 1 s to 1.5 s)",
        needs: "ten quiet seconds after one release, without a gap",
        source: "difference of two means, JCGM 100:2008 (GUM) 5.1.2, the samples' correlation in each; over releases as repeated holds, 4.2",
    }
    LinearityIndependent "linearity_independent" "linearity independent"
        "Largest deviation from the minimax line, in % of output span."
    {
        unit: Unit::Percent, steps: Steps::Any(&[Stations]), sides: Sides::Upper,
        marks: &[Derived],
        words: REFERENCE,
        formula: "100 x smallest over all lines of (largest |code - line|) / |span|, of means halfway between both ways, noise taken off",
        needs: "known travel (a ref column, or stations) from end to end, at five positions or more, evenly spread",
        source: "VRCI-P-100A, IEC 60393-1 (wording from public handbooks); interval by inverting a seeded simulation, Efron and Tibshirani 1993",
    }
    LinearityBestFit "linearity_best_fit" "linearity best fit"
        "Largest deviation from the least-squares line, in % of output span."
    {
        unit: Unit::Percent, steps: Steps::Any(&[Stations]), sides: Sides::Upper,
        words: REFERENCE,
        formula: "100 x largest |code - least-squares line| / |span|, of means halfway between both ways, noise taken off",
        needs: "known travel (a ref column, or stations) from end to end, at five positions or more, evenly spread",
        source: "least squares, JCGM 100:2008 (GUM) H.3; interval by inverting a seeded simulation, Efron and Tibshirani 1993",
    }
    LinearityTerminal "linearity_terminal" "linearity terminal"
        "Largest deviation from the line through both measured ends, in % of output span."
    {
        unit: Unit::Percent, steps: Steps::Any(&[Stations]), sides: Sides::Upper,
        words: REFERENCE,
        formula: "100 x largest |code - line through the first and last position measured| / |span|, noise taken off",
        needs: "known travel (a ref column, or stations) from end to end, at five positions or more, evenly spread",
        source: "VRCI-P-100A, IEC 60393-1 (wording from public handbooks); interval by inverting a seeded simulation, Efron and Tibshirani 1993",
    }
    LinearityZeroBased "linearity_zero_based" "linearity zero based"
        "Largest deviation from the line through the rest end whose slope makes it smallest, in % of output span."
    {
        unit: Unit::Percent, steps: Steps::Any(&[Stations]), sides: Sides::Upper,
        words: REFERENCE,
        formula: "100 x smallest over slopes of (largest |code - line through the first position|) / |span|, noise taken off",
        needs: "known travel (a ref column, or stations) from end to end, at five positions or more, evenly spread",
        source: "VRCI-P-100A, IEC 60393-1 (wording from public handbooks); interval by inverting a seeded simulation, Efron and Tibshirani 1993",
    }
    Hysteresis "hysteresis" "hysteresis"
        "Largest difference between going up and coming down at the same travel, in % of span."
    {
        unit: Unit::Percent, steps: Steps::Any(&[Stations]), sides: Sides::Upper,
        marks: &[Derived],
        words: REFERENCE,
        formula: "100 x largest |mean code going up - mean code coming down| at one travel / |span|, noise taken off",
        needs: "known travel (a ref column, or stations) from end to end, reached from both sides",
        source: "common definition of transducer hysteresis, no single source; interval by inverting a seeded simulation, Efron and Tibshirani 1993",
    }
    DividerRatio "divider_ratio" "divider ratio"
        "Pull-up over track of a rheostat, as its readings show it."
    {
        unit: Unit::Number, steps: Steps::Any(&[Stations]), range: FROM_ZERO,
        marks: &[OfRheostats],
        formula: "q of code / 2^bits = s / (s + q), s = a + b x travel, a and q by least squares; s, q over the whole track, b from the wiring",
        needs: "a profile that says rheostat, known travel (a ref column, or stations) at three positions or more, both ends stated",
        source: "voltage divider; nonlinear least squares (Gauss-Newton), linearised uncertainty after JCGM 100:2008 (GUM) 5.1, Student's t",
    }
    LinearityElement "linearity_element" "linearity element"
        "Largest deviation of a rheostat's recovered position from the minimax line, in % of travel."
    {
        unit: Unit::Percent, steps: Steps::Any(&[Stations]), sides: Sides::Upper,
        marks: &[OfRheostats],
        formula: "100 x smallest over all lines of (largest |position - line|), position = (q r / (1 - r) - a) / b with r = code / 2^bits and q of divider_ratio",
        needs: "a profile that says rheostat, known travel (a ref column, or stations) at three positions or more, both ends stated",
        source: "the divider's inverse, then as linearity_independent; what looks like the divider's own bend is in divider_ratio",
    }
    Smoothness "smoothness" "smoothness"
        "Largest peak-to-peak of the local deviation in any window of 1 % of travel, of the contact as it moves, in % of span: its noise and its bumps belong to it, the noise of the same signal at rest does not."
    {
        unit: Unit::Percent, steps: Steps::Any(&[Strokes]), sides: Sides::Upper,
        more: STROKES, takes: WORN, marks: &[Derived],
        formula: "100 x mean over strokes of the largest (highest - lowest local deviation in 1 % of travel) / |span|, deviation from a parabola over some 5 % of travel on each side, noise at rest taken off in variance place by place",
        needs: "three strokes that show four fifths of the travel",
        source: "definition: a maker's potentiometer handbook, output smoothness; VRCI-P-100A window from memory; checked by own recordings",
    }
    WornZonesCount "worn_zones_count" "worn spots"
        "Worn spots of the track, ends included: where noise stands out from the rest or from the signal at rest and recurs in most strokes."
    {
        unit: Unit::Number, steps: Steps::Any(&[Strokes]), sides: Sides::Zero,
        takes: WORN, marks: &[Derived],
        words: Words { unseen: "; if there were some, more of them, and slower", ..Words::PLAIN },
        formula: "count of runs of 1 % bins in which most strokes show at least twice the noise of quiet contact, their own or that at rest (variance ratio above 4 and above the 1 % chance), more often than chance explains (binomial tail below 1e-5)",
        needs: "about ten slow strokes, a second each way (at 100 samples a second twelve, 2.5 s each way)",
        source: "this program's own rule; chi-square after Wilson and Hilferty 1931, Poisson-binomial tail; checked by seeded simulation",
    }
    DropoutsCount "dropouts_count" "dropouts"
        "Short jumps of the signal that come back: loose contact, dirt, a bad plug. More than 2 % of span and 8 sigma, in every sample. Those that stand at an end of the scale, come again at one place, in one direction, or while the cable is shaken belong to the part or its plug (the lower end counts them); the rest may come from outside."
    {
        unit: Unit::Number, steps: Steps::Any(&[Strokes, Shake]), sides: Sides::Zero,
        marks: &[Derived],
        words: Words { unknown: Some(LOSSES), ..Words::PLAIN },
        formula: "count of excursions beyond max(2 % of span, 8 x noise around) from a path fitted on both sides, back within 0.4 s moving or 2 s still, in every sample; whose they are by binomial tails against evenly in time",
        needs: "strokes, or a cable that is moved, and both ends",
        source: "this program's own rule; a Hampel identifier does worse on fast strokes",
    }
    SpikesPerMin "spikes_per_min" "spikes per min"
        "Short jumps that come at any place and time, a minute: of the room, not of the part."
    {
        unit: Unit::PerMinute, steps: Steps::Any(&[Rest, Full, Strokes, Shake]), sides: Sides::Upper,
        marks: &[OfRoom],
        formula: "events (excursions as for dropouts_count, less than 0.1 s apart being one) that are not the part's, as dropouts_count has it / minutes recorded",
        needs: "a known span and three seconds of samples",
        source: "this program's own rule; Poisson interval after Garwood 1936",
    }
    StrokeNoiseRms "stroke_noise_rms" "stroke noise rms"
        "Robust standard deviation about the smoothed stroke over all travel."
    {
        unit: Unit::Code, steps: Steps::Any(&[Strokes]), sides: Sides::Upper,
        more: STROKES, noise: Noise::Own,
        formula: "root of the median over blocks of 16 samples of (mean square about a parabola of 25 ms), over the median of its chi-square law",
        needs: "one stroke that is long enough to smooth",
        source: "median of block variances; local parabola after Savitzky and Golay 1964",
    }
    InterferenceShare "interference_share" "interference share"
        "Share of stroke time with bursts of noise that do not recur at the same travel, in % of time."
    {
        unit: Unit::Percent, steps: Steps::Any(&[Strokes]), sides: Sides::Upper,
        more: STROKES, marks: &[OfRoom],
        formula: "100 x time in blocks of 10 ms of more than twice the stroke's noise / stroke time, worn zones left out of both",
        needs: "one stroke that is long enough to smooth",
        source: "this program's own rule; interval by seeded bootstrap over strokes, or the rule of three when none was seen",
    }
    RatiometricError "ratiometric_error" "ratiometric error"
        "Relative change of signal / supply per relative change of the supply; 0 is truly ratiometric."
    {
        unit: Unit::PercentPerPercent, steps: Steps::Any(&[Supply]),
        marks: &[Derived],
        words: Words { longer: "s more of a supply varied as widely", ..Words::PLAIN },
        formula: "least-squares slope of ln(signal / supply) over ln(supply), block means",
        needs: "a supply channel, and a supply step in which it varies clearly",
        source: "logarithmic sensitivity; least squares with the residuals' correlation in the uncertainty",
    }
    BoardLowCode "board_low_code" "board low code"
        "What the board reads with its input tied to ground."
    {
        unit: Unit::Code, steps: Steps::Any(&[Ground]), sides: Sides::Upper,
        formula: "mean code of the ground holds",
        needs: "one ground hold",
        source: "arithmetic mean of repeated holds, JCGM 100:2008 (GUM) 4.2",
    }
    BoardHighCode "board_high_code" "board high code"
        "What the board reads with its input tied to its reference."
    {
        unit: Unit::Code, steps: Steps::Any(&[Reference]), sides: Sides::Lower, range: FROM_ZERO,
        formula: "mean code of the reference holds",
        needs: "one reference hold",
        source: "arithmetic mean of repeated holds, JCGM 100:2008 (GUM) 4.2",
    }
    BoardNoiseRms "board_noise_rms" "board noise rms"
        "The board's own noise with its input tied, the larger of both ends."
    {
        unit: Unit::Code, steps: Steps::Any(&[Ground, Reference]), sides: Sides::Upper,
        formula: "the larger of the pooled standard deviations about each hold's line, ground and reference",
        needs: "one ground or reference hold of three samples",
        source: "as noise_rest_rms",
    }
    TrackGain "track_gain" "track gain"
        "Slope of track b against track a, errors in both."
    {
        unit: Unit::Number, scope: Scope::Pair, steps: Steps::Any(&[Strokes]),
        more: STROKES, marks: &[Derived],
        formula: "slope of b = gain x a + offset by least squares with errors in both, weighted by the tracks' noise variances, lag taken out first",
        needs: "two strokes in which both tracks move together",
        source: "York 1966, closed form for alike weights (Pearson 1901 for equal noise); uncertainty by leaving out a stroke at a time, Tukey 1958",
    }
    TrackOffset "track_offset" "track offset"
        "Code of track b where track a would read 0."
    {
        unit: Unit::Code, scope: Scope::Pair, steps: Steps::Any(&[Strokes]),
        more: STROKES,
        formula: "mean of b - gain x mean of a, lag taken out first",
        needs: "two strokes in which both tracks move together",
        source: "York 1966, closed form for alike weights (Pearson 1901 for equal noise); uncertainty by leaving out a stroke at a time, Tukey 1958",
    }
    TrackDisagreement "track_disagreement" "track disagreement"
        "Largest departure of track b from gain x a + offset, averaged over 1 % of travel or 10 ms, in % of b's span: a narrower bump counts for less."
    {
        unit: Unit::Percent, scope: Scope::Pair, steps: Steps::Any(&[Strokes]), sides: Sides::Upper,
        more: STROKES, marks: &[Derived],
        formula: "100 x largest |b - gain x a - offset| at the same instant, averaged over 1 % of travel or 10 ms / |span of b|; the place chosen by every other sample",
        needs: "two strokes in which both tracks move together, and b's span",
        source: "this program's own rule: what a board that compares tracks sees of them when it averages as long",
    }
    TrackLag "track_lag" "track lag"
        "Delay of track b behind track a."
    {
        unit: Unit::Millisecond, scope: Scope::Pair, steps: Steps::Any(&[Strokes]),
        more: STROKES, marks: &[Derived],
        formula: "delay at which b = offset + gain x a(t - delay) leaves least squares, begun at the best correlation of the overlap",
        needs: "two strokes in which both tracks move together",
        source: "normalised overlap correlation, then least squares; uncertainty by leaving out a stroke at a time, Tukey 1958",
    }
    LostShare "lost_share" "lost share"
        "Share of the stream's samples that were rejected or missing, in % of samples."
    {
        unit: Unit::Percent, scope: Scope::Stream, sides: Sides::Upper,
        formula: "100 x lost / (samples + lost); lost is the larger of rejected lines and missing samples",
        needs: "counts of the stream, as the recording keeps them",
        source: "this program's own rule",
    }
}

#[cfg(test)]
mod tests {
    use super::super::facts::Amount;
    use super::*;

    #[test]
    fn every_figure_is_explained_and_supplied() {
        for name in FigureName::ALL {
            let facts = name.facts();
            for words in [facts.definition, facts.formula, facts.needs, facts.source] {
                assert!(words.len() >= 10 && words.is_ascii(), "{name}: {words}");
                assert!(!words.contains("DESIGN"), "{name}: {words}");
            }
            assert!(
                !facts.label.is_empty() && !facts.label.contains('_'),
                "{name}"
            );
            assert_eq!(
                name.steps().is_empty(),
                name.scope() == Scope::Stream,
                "{name}"
            );
        }
    }

    #[test]
    fn what_a_card_takes_is_of_steps_that_supply_the_figure() {
        for name in FigureName::ALL {
            let facts = name.facts();
            for (step, amount) in facts.takes {
                assert!(name.steps().contains(step), "{name}: {step}");
                assert!(amount.first <= amount.most, "{name}: {amount:?}");
                let usual = Amount::usual(*step).unwrap();
                assert!(amount.first >= usual.first && amount.most >= usual.most);
            }
            for (evidence, step) in facts.more {
                assert!(
                    name.steps().contains(step) || *step == Step::Release,
                    "{name}: {evidence}"
                );
                assert!(
                    Amount::usual(*step).is_some(),
                    "{name}: {step} is taken once"
                );
            }
        }
    }

    #[test]
    fn every_name_reads_back() {
        for name in FigureName::ALL {
            assert_eq!(name.word().parse::<FigureName>().unwrap(), *name);
            assert_eq!(serde_json::to_string(name).unwrap(), format!("\"{name}\""));
        }
        assert!(
            "loudness"
                .parse::<FigureName>()
                .unwrap_err()
                .to_string()
                .contains("rest_code")
        );
    }
}
