//! The catalogue: every figure of DESIGN 4.4 with its unit, the steps that supply it, definition and source.

use crate::units::{Step, UnknownWord};
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
    ($( $variant:ident $word:literal $scope:ident $unit:literal [$($step:ident),*] $definition:literal $source:literal; )*) => {
        /// A figure's name. Order is the order in which figures are shown.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
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

            /// Where the definition comes from.
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
        "Mean over the rest holds of each hold's mean code; the settled tail of a release is a hold." "DESIGN 4.4";
    FullCode "full_code" Channel "code" [Full]
        "Mean over the full holds of each hold's mean code." "DESIGN 4.4";
    RestRatio "rest_ratio" Channel "1" [Rest, Release]
        "rest_code as a fraction of the reference: code / 2^bits." "DESIGN 4.4";
    FullRatio "full_ratio" Channel "1" [Full]
        "full_code as a fraction of the reference: code / 2^bits." "DESIGN 4.4";
    SpanCode "span_code" Channel "code" [Rest, Full]
        "full_code minus rest_code; its sign is the direction." "DESIGN 4.4";
    NoiseRestRms "noise_rest_rms" Channel "code" [Rest]
        "Standard deviation about a straight line through each rest hold, pooled." "DESIGN 4.4";
    NoiseFullRms "noise_full_rms" Channel "code" [Full]
        "Standard deviation about a straight line through each full hold, pooled." "DESIGN 4.4";
    NoisePeakToPeak "noise_peak_to_peak" Channel "code" [Rest, Full]
        "Largest max - min of a hold after its straight line is taken out." "DESIGN 4.4";
    NoiseFreeBits "noise_free_bits" Channel "bit" [Rest, Full]
        "log2(|span| / (6.6 x the worse noise rms)): steps that can be told apart." "ADC textbooks; 6.6 sigma (99.9 %) is a convention";
    Hum50Rms "hum_50_rms" Channel "code" [Rest, Full]
        "RMS of the 50 Hz line in the holds, at 200 samples a second or more." "IEEE 1057 sine fit";
    Hum60Rms "hum_60_rms" Channel "code" [Rest, Full]
        "RMS of the 60 Hz line in the holds, at 200 samples a second or more." "IEEE 1057 sine fit";
    DriftPerMin "drift_per_min" Channel "code/min" [Rest, Full]
        "Slope of the longest hold, its uncertainty from correlated residuals." "generalised least squares; NIST SP 1065 for the averaging";
    ReturnScatter "return_scatter" Channel "code" [Release]
        "Standard deviation of the rest-hold means between returns, from three returns on." "DESIGN 4.4";
    ReturnRange "return_range" Channel "code" [Release]
        "Largest minus smallest rest-hold mean between returns, from three returns on." "DESIGN 4.4";
    ReleaseTime "release_time" Channel "s" [Release]
        "Time from 90 % to 10 % of span after letting go, the slowest release." "first-order fall: 2.197 time constants";
    LinearityIndependent "linearity_independent" Channel "%" [Stations]
        "Largest deviation from the minimax line, in % of span." "VRCI-P-100A, IEC 60393-1 (wording from public handbooks)";
    LinearityBestFit "linearity_best_fit" Channel "%" [Stations]
        "Largest deviation from the least-squares line, in % of span." "DESIGN 4.4";
    LinearityTerminal "linearity_terminal" Channel "%" [Stations]
        "Largest deviation from the line through both measured ends, in % of span." "VRCI-P-100A, IEC 60393-1 (wording from public handbooks)";
    LinearityZeroBased "linearity_zero_based" Channel "%" [Stations]
        "Largest deviation from the line through the rest end whose slope makes it smallest, in % of span." "VRCI-P-100A, IEC 60393-1 (wording from public handbooks)";
    Hysteresis "hysteresis" Channel "%" [Stations]
        "Largest difference between going up and coming down at the same travel, in % of span." "DESIGN 4.4";
    Smoothness "smoothness" Channel "%" [Strokes]
        "Largest peak-to-peak of the local deviation in any window of 1 % of travel, in % of span." "VRCI-P-100A reading of output smoothness (window from memory)";
    WornZonesCount "worn_zones_count" Channel "1" [Strokes]
        "Zones of travel where noise stands out and recurs in most strokes." "DESIGN 4.4";
    DropoutsCount "dropouts_count" Channel "1" [Strokes, Shake]
        "Excursions of more than 2 % of span and 8 sigma that return." "DESIGN 4.4";
    StrokeNoiseRms "stroke_noise_rms" Channel "code" [Strokes]
        "Robust standard deviation about the smoothed stroke over all travel." "DESIGN 4.4";
    InterferenceShare "interference_share" Channel "%" [Strokes]
        "Share of stroke time with bursts of noise that do not recur at the same travel, in % of time." "DESIGN 4.4";
    RatiometricError "ratiometric_error" Channel "%/%" [Supply]
        "Relative change of signal / supply per relative change of the supply; 0 is truly ratiometric." "DESIGN 4.4";
    BoardLowCode "board_low_code" Channel "code" [Ground]
        "What the board reads with its input tied to ground." "DESIGN 4.4";
    BoardHighCode "board_high_code" Channel "code" [Reference]
        "What the board reads with its input tied to its reference." "DESIGN 4.4";
    BoardNoiseRms "board_noise_rms" Channel "code" [Ground, Reference]
        "The board's own noise with its input tied, the larger of both ends." "DESIGN 4.4";
    TrackGain "track_gain" Pair "1" [Strokes]
        "Slope of track b against track a, errors in both." "Pearson 1901, York 1966 weights";
    TrackOffset "track_offset" Pair "code" [Strokes]
        "Code of track b where track a would read 0." "Pearson 1901, York 1966 weights";
    TrackDisagreement "track_disagreement" Pair "%" [Strokes]
        "Largest departure of track b from gain x a + offset, in % of b's span." "DESIGN 4.4";
    TrackLag "track_lag" Pair "ms" [Strokes]
        "Delay of track b behind track a." "normalised overlap correlation";
    LostShare "lost_share" Stream "%" []
        "Share of the stream's samples that were rejected or missing, in % of samples." "DESIGN 4.1";
}

impl FigureName {
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
