//! The catalogue: every figure of DESIGN 4.4 with its unit, the steps that supply it, definition, formula, evidence and source.

use crate::units::{Step, UnknownWord};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// Whether a figure belongs to one channel or to a pair of tracks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Scope {
    /// One channel.
    Channel,
    /// Two tracks of one control.
    Pair,
    /// The stream that the recording came through.
    Stream,
}

macro_rules! catalogue {
    ($( $variant:ident $word:literal $scope:ident $unit:literal [$($step:ident),*] $definition:literal $formula:literal $needs:literal $source:literal; )*) => {
        /// A figure's name. Order is the order in which figures are shown.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
        #[allow(clippy::doc_markdown)] // the definitions are for people at the bench, not for rustdoc
        pub enum FigureName {
            $( #[doc = $definition] #[serde(rename = $word)] $variant, )*
        }

        impl FigureName {
            /// Every figure in the order in which they are shown.
            pub const ALL: &[Self] = &[ $( Self::$variant, )* ];

            /// The name as JSON and profiles write it.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $( Self::$variant => $word, )* }
            }

            /// The unit, as JSON writes it. Percent is of span; `1` is a plain number.
            #[must_use]
            pub fn unit(self) -> &'static str {
                match self { $( Self::$variant => $unit, )* }
            }

            /// Whether it belongs to a channel or to a pair of tracks.
            #[must_use]
            pub fn scope(self) -> Scope {
                match self { $( Self::$variant => Scope::$scope, )* }
            }

            /// The steps of which at least one, and for a span both ends, must be in a capture.
            #[must_use]
            pub fn steps(self) -> &'static [Step] {
                match self { $( Self::$variant => &[ $( Step::$step, )* ], )* }
            }

            /// What it is, in one sentence.
            #[must_use]
            pub fn definition(self) -> &'static str {
                match self { $( Self::$variant => $definition, )* }
            }

            /// How it is computed, in one line of words.
            #[must_use]
            pub fn formula(self) -> &'static str {
                match self { $( Self::$variant => $formula, )* }
            }

            /// The least evidence that a capture must hold for it, beside the steps.
            #[must_use]
            pub fn needs(self) -> &'static str {
                match self { $( Self::$variant => $needs, )* }
            }

            /// Where definition and uncertainty come from.
            #[must_use]
            pub fn source(self) -> &'static str {
                match self { $( Self::$variant => $source, )* }
            }
        }

        const ALLOWED: &str = concat!($( $word, " ", )*);
    };
}

catalogue! {
    RestCode "rest_code" Channel "code" [Rest, Release]
        "Mean over the rest holds of each hold's mean code; the settled tail of a release is a hold like any other, so returns that scatter widen the interval."
        "sum over holds of (sum of the hold's codes / its samples) / number of holds"
        "one rest hold, or one release that settles"
        "arithmetic mean of repeated holds, JCGM 100:2008 (GUM) 4.2; rounding and board non-linearity as bounds, 4.3.7";
    FullCode "full_code" Channel "code" [Full]
        "Mean over the full holds of each hold's mean code."
        "sum over holds of (sum of the hold's codes / its samples) / number of holds"
        "one full hold"
        "arithmetic mean of repeated holds, JCGM 100:2008 (GUM) 4.2; rounding and board non-linearity as bounds, 4.3.7";
    RestRatio "rest_ratio" Channel "1" [Rest, Release]
        "rest_code as a fraction of the reference: code / 2^bits."
        "rest_code / 2^bits"
        "what rest_code needs"
        "ideal ADC transfer, code = input / reference x 2^bits; uncertainty as rest_code";
    FullRatio "full_ratio" Channel "1" [Full]
        "full_code as a fraction of the reference: code / 2^bits."
        "full_code / 2^bits"
        "what full_code needs"
        "ideal ADC transfer, code = input / reference x 2^bits; uncertainty as full_code";
    SpanCode "span_code" Channel "code" [Rest, Full]
        "full_code minus rest_code; its sign is the direction."
        "full_code - rest_code; variances added"
        "rest and full, each with a known uncertainty"
        "difference of two independent means, JCGM 100:2008 (GUM) 5.1.2; degrees of freedom by Welch-Satterthwaite, G.4";
    NoiseRestRms "noise_rest_rms" Channel "code" [Rest]
        "Standard deviation about a straight line through each rest hold, pooled."
        "root of (sum of squares about each hold's least-squares line / sum of (samples - 2)); the ADC's own rounding is in it"
        "one rest hold of three samples"
        "pooled residual standard deviation; chi-square interval with effective degrees of freedom, widened where rounding is not dithered (Sheppard's terms)";
    NoiseFullRms "noise_full_rms" Channel "code" [Full]
        "Standard deviation about a straight line through each full hold, pooled."
        "root of (sum of squares about each hold's least-squares line / sum of (samples - 2)); the ADC's own rounding is in it"
        "one full hold of three samples"
        "pooled residual standard deviation; chi-square interval with effective degrees of freedom, widened where rounding is not dithered (Sheppard's terms)";
    NoisePeakToPeak "noise_peak_to_peak" Channel "code" [Rest, Full]
        "Largest max - min of a hold after its straight line is taken out."
        "largest over holds of (largest residual - smallest residual) about the hold's line; it grows with the hold's length"
        "one hold of three samples"
        "interval from the distribution of the range of gaussian samples (Tippett 1925)";
    NoiseFreeBits "noise_free_bits" Channel "bit" [Rest, Full]
        "log2(|span| / (6.6 x the worse noise rms)): steps that can be told apart."
        "log2(|span_code| / (6.6 x the larger of noise_rest_rms, noise_full_rms and 1/sqrt(12)))"
        "rest and full, and noise at one of them"
        "ADC textbooks; 6.6 sigma (99.9 %) is a convention";
    Hum50Rms "hum_50_rms" Channel "code" [Rest, Full]
        "RMS of the 50 Hz line in the holds, at 200 samples a second or more."
        "root of (power of a 50 Hz sine fitted to pieces of 0.5 s - power that the noise beside the line would give)"
        "a hold of 0.5 s at 200 samples a second or more"
        "three- and four-parameter sine fit at a known frequency, IEEE 1057; noise beside the line taken off";
    Hum60Rms "hum_60_rms" Channel "code" [Rest, Full]
        "RMS of the 60 Hz line in the holds, at 200 samples a second or more."
        "root of (power of a 60 Hz sine fitted to pieces of 0.5 s - power that the noise beside the line would give)"
        "a hold of 0.5 s at 200 samples a second or more"
        "three- and four-parameter sine fit at a known frequency, IEEE 1057; noise beside the line taken off";
    DriftPerMin "drift_per_min" Channel "code/min" [Rest, Full]
        "Slope of the longest hold, its uncertainty from correlated residuals."
        "60 x least-squares slope of block means over seconds, longest hold"
        "a hold of four samples, better some seconds"
        "least squares with the residuals' correlation in the uncertainty; Allan deviation after NIST SP 1065 says how long averaging pays";
    ReturnScatter "return_scatter" Channel "code" [Release]
        "Standard deviation of the rest-hold means between returns, from three returns on."
        "root of (sum of (hold mean - mean of them)^2 / (returns - 1))"
        "three returns to rest after the control was away from it"
        "sample standard deviation, JCGM 100:2008 (GUM) 4.2.2; chi-square interval";
    ReturnRange "return_range" Channel "code" [Release]
        "Largest minus smallest rest-hold mean between returns, from three returns on."
        "largest hold mean - smallest hold mean, of the returns that were seen"
        "three returns to rest after the control was away from it"
        "difference of two means, JCGM 100:2008 (GUM) 5.1.2: of these returns, not of later ones";
    ReleaseTime "release_time" Channel "s" [Release]
        "Time from 90 % to 10 % of span after letting go, the slowest release."
        "time of the 10 % crossing - time of the 90 % crossing (parabola through the samples near each), largest over releases"
        "one release from near full to near rest"
        "first-order fall: 2.197 time constants";
    LinearityIndependent "linearity_independent" Channel "%" [Stations]
        "Largest deviation from the minimax line, in % of span."
        "100 x smallest over all lines of (largest |code - line|) / |span|, of means halfway between both ways, noise taken off"
        "known travel (a ref column, or stations) at three positions or more"
        "VRCI-P-100A, IEC 60393-1 (wording from public handbooks); interval by inverting a seeded simulation, Efron and Tibshirani 1993";
    LinearityBestFit "linearity_best_fit" Channel "%" [Stations]
        "Largest deviation from the least-squares line, in % of span."
        "100 x largest |code - least-squares line| / |span|, of means halfway between both ways, noise taken off"
        "known travel (a ref column, or stations) at three positions or more"
        "least squares, JCGM 100:2008 (GUM) H.3; interval by inverting a seeded simulation, Efron and Tibshirani 1993";
    LinearityTerminal "linearity_terminal" Channel "%" [Stations]
        "Largest deviation from the line through both measured ends, in % of span."
        "100 x largest |code - line through the first and last position measured| / |span|, noise taken off"
        "known travel (a ref column, or stations) at three positions or more"
        "VRCI-P-100A, IEC 60393-1 (wording from public handbooks); interval by inverting a seeded simulation, Efron and Tibshirani 1993";
    LinearityZeroBased "linearity_zero_based" Channel "%" [Stations]
        "Largest deviation from the line through the rest end whose slope makes it smallest, in % of span."
        "100 x smallest over slopes of (largest |code - line through the first position|) / |span|, noise taken off"
        "known travel (a ref column, or stations) at three positions or more"
        "VRCI-P-100A, IEC 60393-1 (wording from public handbooks); interval by inverting a seeded simulation, Efron and Tibshirani 1993";
    Hysteresis "hysteresis" Channel "%" [Stations]
        "Largest difference between going up and coming down at the same travel, in % of span."
        "100 x largest |mean code going up - mean code coming down| at one travel / |span|, noise taken off"
        "known travel (a ref column, or stations), reached from both sides"
        "common definition of transducer hysteresis, no single source; interval by inverting a seeded simulation, Efron and Tibshirani 1993";
    DividerRatio "divider_ratio" Channel "1" [Stations]
        "Pull-up over track of a rheostat, as its readings show it."
        "q of code / 2^bits = s / (s + q), s = a + b x travel, a and q by least squares; s, q over the whole track, b from the wiring"
        "a profile that says rheostat, known travel (a ref column, or stations) at three positions or more, both ends stated"
        "voltage divider; nonlinear least squares (Gauss-Newton), linearised uncertainty after JCGM 100:2008 (GUM) 5.1, Student's t";
    LinearityElement "linearity_element" Channel "%" [Stations]
        "Largest deviation of a rheostat's recovered position from the minimax line, in % of travel."
        "100 x smallest over all lines of (largest |position - line|), position = (q r / (1 - r) - a) / b with r = code / 2^bits and q of divider_ratio"
        "what divider_ratio needs"
        "the divider's inverse, then as linearity_independent; what looks like the divider's own bend is in divider_ratio";
    Smoothness "smoothness" Channel "%" [Strokes]
        "Largest peak-to-peak of the local deviation in any window of 1 % of travel, in % of span."
        "100 x mean over strokes of (highest - lowest local deviation in 1 % of travel) / |span|, at the place that the other half of the strokes chose"
        "three strokes that show four fifths of the travel"
        "VRCI-P-100A reading of output smoothness (window from memory); Student's t over strokes";
    WornZonesCount "worn_zones_count" Channel "1" [Strokes]
        "Zones of travel where noise stands out and recurs in most strokes."
        "count of runs of 1 % bins in which most strokes show at least twice their own noise (variance ratio above 4 and above the 1 % chance), more often than chance explains (binomial tail below 1e-5)"
        "strokes slow and many enough that a zone of five times the noise on 6 % of travel would show with 99 % anywhere from 10 to 90 %: at 1000 samples a second six of 0.4 s, at 100 twelve of 2.5 s"
        "this program's own rule; chi-square after Wilson and Hilferty 1931, Poisson-binomial tail; checked by seeded simulation";
    DropoutsCount "dropouts_count" Channel "1" [Strokes, Shake]
        "Excursions of more than 2 % of span and 8 sigma that return; a bump of the track as high as that is one too, for a board sees no difference."
        "count of excursions beyond max(2 % of span, 8 x noise) from a path fitted on both sides, back within 0.4 s moving or 2 s still"
        "strokes or a shake, and a known span"
        "this program's own rule; a Hampel identifier does worse on fast strokes";
    StrokeNoiseRms "stroke_noise_rms" Channel "code" [Strokes]
        "Robust standard deviation about the smoothed stroke over all travel."
        "root of the median over blocks of 16 samples of (mean square about a parabola of 25 ms), over the median of its chi-square law"
        "one stroke that is long enough to smooth"
        "median of block variances; local parabola after Savitzky and Golay 1964";
    InterferenceShare "interference_share" Channel "%" [Strokes]
        "Share of stroke time with bursts of noise that do not recur at the same travel, in % of time."
        "100 x time in blocks of 10 ms of more than twice the stroke's noise / stroke time, worn zones left out of both"
        "one stroke that is long enough to smooth"
        "this program's own rule; interval by seeded bootstrap over strokes, or the rule of three when none was seen";
    RatiometricError "ratiometric_error" Channel "%/%" [Supply]
        "Relative change of signal / supply per relative change of the supply; 0 is truly ratiometric."
        "least-squares slope of ln(signal / supply) over ln(supply), block means"
        "a supply channel, and a supply step in which it varies clearly"
        "logarithmic sensitivity; least squares with the residuals' correlation in the uncertainty";
    BoardLowCode "board_low_code" Channel "code" [Ground]
        "What the board reads with its input tied to ground."
        "mean code of the ground holds"
        "one ground hold"
        "arithmetic mean of repeated holds, JCGM 100:2008 (GUM) 4.2";
    BoardHighCode "board_high_code" Channel "code" [Reference]
        "What the board reads with its input tied to its reference."
        "mean code of the reference holds"
        "one reference hold"
        "arithmetic mean of repeated holds, JCGM 100:2008 (GUM) 4.2";
    BoardNoiseRms "board_noise_rms" Channel "code" [Ground, Reference]
        "The board's own noise with its input tied, the larger of both ends."
        "the larger of the pooled standard deviations about each hold's line, ground and reference"
        "one ground or reference hold of three samples"
        "as noise_rest_rms";
    TrackGain "track_gain" Pair "1" [Strokes]
        "Slope of track b against track a, errors in both."
        "slope of b = gain x a + offset by least squares with errors in both, weighted by the tracks' noise variances, lag taken out first"
        "two strokes in which both tracks move together"
        "York 1966, closed form for alike weights (Pearson 1901 for equal noise); uncertainty by leaving out a stroke at a time, Tukey 1958";
    TrackOffset "track_offset" Pair "code" [Strokes]
        "Code of track b where track a would read 0."
        "mean of b - gain x mean of a, lag taken out first"
        "two strokes in which both tracks move together"
        "York 1966, closed form for alike weights (Pearson 1901 for equal noise); uncertainty by leaving out a stroke at a time, Tukey 1958";
    TrackDisagreement "track_disagreement" Pair "%" [Strokes]
        "Largest departure of track b from gain x a + offset, in % of b's span."
        "100 x largest |b - gain x a - offset| at the same instant, averaged over 1 % of travel or 10 ms / |span of b|; the place chosen by every other sample"
        "two strokes in which both tracks move together, and b's span"
        "this program's own rule: what a board that compares tracks will see";
    TrackLag "track_lag" Pair "ms" [Strokes]
        "Delay of track b behind track a."
        "delay at which b = offset + gain x a(t - delay) leaves least squares, begun at the best correlation of the overlap"
        "two strokes in which both tracks move together"
        "normalised overlap correlation, then least squares; uncertainty by leaving out a stroke at a time, Tukey 1958";
    LostShare "lost_share" Stream "%" []
        "Share of the stream's samples that were rejected or missing, in % of samples."
        "100 x lost / (samples + lost); lost is the larger of rejected lines and missing samples"
        "counts of the stream, as the recording keeps them"
        "this program's own rule";
}

impl FigureName {
    /// Whether only a rheostat, known as one, can have it.
    #[must_use]
    pub fn of_rheostats(self) -> bool {
        matches!(self, Self::DividerRatio | Self::LinearityElement)
    }

    /// The figures of one scope, in the order in which they are shown.
    pub fn of(scope: Scope) -> impl Iterator<Item = Self> {
        Self::ALL
            .iter()
            .copied()
            .filter(move |name| name.scope() == scope)
    }
}

impl fmt::Display for FigureName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}

impl FromStr for FigureName {
    type Err = UnknownWord;

    fn from_str(word: &str) -> Result<Self, UnknownWord> {
        Self::ALL
            .iter()
            .copied()
            .find(|name| name.word() == word)
            .ok_or_else(|| UnknownWord {
                what: "figure",
                word: word.to_owned(),
                allowed: ALLOWED,
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_figure_is_explained_and_supplied() {
        for name in FigureName::ALL {
            for words in [
                name.definition(),
                name.formula(),
                name.needs(),
                name.source(),
            ] {
                assert!(words.len() >= 10 && words.is_ascii(), "{name}: {words}");
                assert!(!words.contains("DESIGN"), "{name}: {words}");
            }
            assert_eq!(
                name.steps().is_empty(),
                name.scope() == Scope::Stream,
                "{name}"
            );
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
