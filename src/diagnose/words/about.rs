//! What words need to know of the part at hand, and what is said of a cause.

use crate::diagnose::evidence::Evidence;
use crate::diagnose::predicted::TrackModel;
use crate::diagnose::weigh::Suspicion;
use crate::profile::Kind;
use measure::figure::numbers::four_digits;

/// A factor above this is another voltage, and two within this of each other are one.
const FACTOR: f64 = 1.06;
const ALIKE: f64 = 0.04;

/// What is said of a cause.
pub(in crate::diagnose) struct Explanation {
    /// In one clause, for the headline.
    pub clause: String,
    /// The cheapest first.
    pub remedies: Vec<String>,
    /// The test that tells it from what else fits, when something does.
    pub settles: String,
}

impl Explanation {
    pub(super) fn new(
        clause: impl Into<String>,
        remedies: &[&str],
        settles: impl Into<String>,
    ) -> Self {
        Self {
            clause: clause.into(),
            remedies: remedies.iter().map(|remedy| (*remedy).to_owned()).collect(),
            settles: settles.into(),
        }
    }
}

/// What words need to know of the part at hand.
pub(super) struct About<'a> {
    pub evidence: &'a Evidence<'a>,
    pub suspicion: &'a Suspicion,
}

impl About<'_> {
    pub(super) fn detail(&self) -> &str {
        self.suspicion.detail.as_deref().unwrap_or_default()
    }

    /// `pedal`.
    pub(super) fn noun(&self) -> &'static str {
        match self.evidence.profile.kind {
            Kind::Pedal => "pedal",
            Kind::Dial => "dial",
            Kind::Lever => "lever",
        }
    }

    /// Whether its output is a sensor's own: its supply wires must never be changed over.
    pub(super) fn is_sensor(&self) -> bool {
        let mut signals = self.evidence.signals.iter();
        signals.any(|signal| signal.model.as_ref().is_some_and(TrackModel::is_sensor))
    }

    /// Whether it is a potentiometer on two wires: it has one outer wire.
    pub(super) fn is_rheostat(&self) -> bool {
        let mut signals = self.evidence.signals.iter();
        signals.any(|signal| signal.model.as_ref().is_some_and(TrackModel::is_rheostat))
    }

    /// `the track`, or `track 2 (pedal_b)` where there are several.
    pub(super) fn track(&self) -> String {
        match self.suspicion.place.channels[..] {
            [at] if self.evidence.signals.len() > 1 => {
                let signal = &self.evidence.signals[at];
                format!("track {} ({})", signal.track, signal.name)
            }
            _ => "the track".to_owned(),
        }
    }

    /// The inputs it is about: `A0`, `A0 and A1`.
    pub(super) fn pins(&self) -> String {
        let places = &self.suspicion.place.channels;
        let signals = self.evidence.signals.iter().enumerate();
        let pins = signals
            .filter(|(at, _)| places.is_empty() || places.contains(at))
            .map(|(_, signal)| signal.pin.clone());
        pins.collect::<Vec<_>>().join(" and ")
    }

    /// Whether the board's reference is below the part's supply, and that is the factor by which everything reads too high.
    pub(super) fn needs_a_divider(&self) -> bool {
        let factor = self.evidence.profile.supply_mv / self.evidence.vref_mv;
        let reads: Option<f64> = self.detail().parse().ok();
        factor > FACTOR && reads.is_some_and(|reads| (reads / factor - 1.0).abs() < ALIKE)
    }

    /// `5 V`.
    pub(super) fn supply(&self) -> String {
        format!(
            "{} V",
            four_digits(self.evidence.profile.supply_mv / 1000.0)
        )
    }
}
