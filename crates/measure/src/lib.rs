//! Figures of a control (pedal, dial, lever) from recorded ADC codes, and findings against limits.
//!
//! A [`Recording`] borrows columns of equal length: board time in microseconds, one column of [`units::Code`] a channel,
//! and which samples belong to which [`units::Step`] of a test. [`figures`] measures every signal channel and every pair
//! of tracks; a figure that the recording does not support is absent, never 0. Each [`figure::Figure`] carries its
//! standard uncertainty, its 95 % interval (JCGM 100, the GUM), the evidence it rests on and the method in words.
//! [`judge`] holds figures against limits.
//!
//! Units: codes are ADC counts, 0 ..= 2^bits - 1; times are microseconds in, seconds out; travel is % from rest (0)
//! to full (100); ratios are code / 2^bits. [`figure::FigureName`] lists each figure with its unit and formula.
//!
//! Slices in, figures out: no file, port, clock, thread, terminal or unseeded chance. What is missing or cannot be
//! told is `None`; nothing panics and nothing fails.
//!
//! # An array of codes, measured
//! ```
//! use measure::figure::FigureName;
//! use measure::units::{Code, Passage, Scale, Step, Track};
//! use measure::{BoardFacts, Channel, Recording, figures};
//!
//! // A second at rest, 1 kHz, 10 bits.
//! let codes: Vec<Code> = (0..1000).map(|i| Code(164 + i * 7 % 5)).collect();
//! let t_us: Vec<u64> = (0..1000).map(|i| i * 1000).collect();
//! let board = BoardFacts::new(Scale::new(10, 5000.0)?, 1000.0);
//! let passages = [Passage { step: Step::Rest, range: 0..1000 }];
//! let mut recording = Recording::new(board, &t_us, &passages);
//! recording.channels.push(Channel::signal("pedal", Track::One, &codes));
//! let rest = figures(&recording).channels[0].figures.value(FigureName::RestCode);
//! assert_eq!(rest, Some(166.0));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]
#![cfg_attr(test, allow(clippy::disallowed_methods))] // the last digit of a made-up signal is nobody's

pub mod figure;
pub mod judge;
mod measure;
pub mod units;

pub use measure::compose::{Jobs, figures, figures_by, figures_with};
pub use measure::holds::lines::{Line, Room, Rooms};
pub use measure::measured::{Measured, MeasuredChannel, MeasuredPair};
pub use measure::recording::{BoardFacts, Channel, Recording, Reference};
pub use measure::strokes::defects::{Dropout, Towards, WornZone};
pub use measure::strokes::travel_map::{BinNoise, TravelBin, TravelMap};
pub use measure::strokes::wear::shared_zones;
pub use measure::strokes::wide_codes::WideCode;
pub use measure::tracks::departures::{Departure, TrackLine};
pub use measure::travel::bins::TravelMode;
pub use measure::travel::divider::DividerModel;
pub use measure::travel::figures::{CurvePoint, DeviationCurve};

/// What [`figures`] is made of, for whoever knows the holds from elsewhere: one channel's strokes or travel, one pair.
pub mod parts {
    pub use crate::measure::strokes::figures::{
        HoldEvidence, PreparedStrokes, StrokesPart, ready, strokes_part,
    };
    pub use crate::measure::tracks::figures::pair_part;
    pub use crate::measure::travel::figures::travel_figures;
}

/// Statistics that know nothing of controls: moments, intervals, straight lines, tolerance limits.
pub mod statistics {
    pub use crate::measure::statistics::interval::{
        Budget, coverage_factor, normal_cdf, normal_quantile, sd_interval, t_tail,
    };
    pub use crate::measure::statistics::least_squares::{
        Line, LineFit, least_squares, least_squares_through,
    };
    pub use crate::measure::statistics::moments::{mean, real, sd};
    pub use crate::measure::statistics::piecewise::fewest_knots;
    pub use crate::measure::statistics::quantise::ROUNDING_RMS;
    pub use crate::measure::statistics::reference_lines::{
        BoundedLine, minimax, terminal, zero_based,
    };
    pub use crate::measure::statistics::tolerance::{one_sided_factor, two_sided_factor};
}

/// A control that stands still: its holds, its releases, and where its strokes reversed.
pub mod holds {
    pub use crate::measure::holds::hold::{Hold, Rail};
    pub use crate::measure::holds::lines_at_rest::{NoiseLines, noise_lines};
    pub use crate::measure::holds::releases::{EndLevels, Release};
    pub use crate::measure::holds::returns::{Holds, RestHold, collect};
    pub use crate::measure::holds::reversals::{Reversals, reversals};
}

/// Codes against known travel.
pub mod travel {
    pub use crate::measure::travel::divider::resistance_share;
    pub use crate::measure::travel::linearity::LineKind;
}

/// One quantity measured again: what changed, and when a trend reaches a limit.
pub mod seasons {
    pub use crate::measure::seasons::change::{Change, Estimate, change, stand_out};
    pub use crate::measure::seasons::outlook::{Meant, Outlook, Reach, outlook};
    pub use crate::measure::seasons::shape::{Shape, shape};
    pub use crate::measure::seasons::trend::{Crossing, Trend, trend};
    pub use crate::measure::seasons::visits::{chance_beyond, own_difference, usual_difference};
}
