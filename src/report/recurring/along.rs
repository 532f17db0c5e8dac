//! Readings along the travel, with what is allowed at its ends and what counts as a wiring fault.

use super::sampled::Sampled;
use crate::record::ChannelPart;
use measure::figure::FigureName;

/// Where the travel is known from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Way {
    /// So many positions that were stated, or a reference on the same shaft.
    Known(usize),
    /// The travel is that of the other track, named.
    Track(String),
    /// Only the ends were measured: what lies between is not known.
    Ends,
}

/// What was read at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    pub travel_pct: f64,
    /// Lowest and highest code.
    pub low: f64,
    pub high: f64,
}

/// The readings of a channel along its travel. All in codes; pairs are rest and full.
#[derive(Debug, Clone, PartialEq)]
pub struct Along {
    pub way: Way,
    pub seen: Vec<Seen>,
    pub ends: [Option<f64>; 2],
    /// What the profile allows at either end.
    pub allowed: [Option<(f64, f64)>; 2],
    /// Below the first and above the second a reading is a wiring fault.
    pub faults: (Option<f64>, Option<f64>),
}

impl Along {
    /// Of one channel; `lead` is the track that the other one is seen against. Nothing where no end was measured.
    pub fn of(
        sampled: &Sampled,
        (channel, part): (&str, &ChannelPart),
        lead: Option<(&str, &ChannelPart)>,
    ) -> Option<Self> {
        let ends = ends(part);
        if ends == [None, None] {
            return None;
        }
        let over = lead.and_then(|(lead, of)| {
            let [rest, full] = self::ends(of);
            let over = sampled.over(lead, [rest?, full?], channel);
            (!over.is_empty()).then_some((lead, over))
        });
        let seen = |(travel_pct, low, high)| Seen {
            travel_pct,
            low,
            high,
        };
        let (way, seen) = match (&part.curve, over) {
            (Some(curve), _) => {
                let points = curve
                    .points
                    .iter()
                    .map(|p| seen((p.travel_pct, p.code, p.code)));
                (Way::Known(curve.points.len()), points.collect())
            }
            (None, Some((lead, over))) => (
                Way::Track(lead.to_owned()),
                over.into_iter().map(seen).collect(),
            ),
            (None, None) => (Way::Ends, Vec::new()),
        };
        Some(Self {
            way,
            seen,
            ends,
            allowed: [None, None],
            faults: (None, None),
        })
    }

    /// The same with what is allowed and what is a fault.
    #[must_use]
    pub fn within(
        self,
        allowed: [Option<(f64, f64)>; 2],
        faults: (Option<f64>, Option<f64>),
    ) -> Self {
        Self {
            allowed,
            faults,
            ..self
        }
    }

    /// What is drawn, in words: `reading along the travel, at 11 known positions`.
    pub fn describe(&self) -> String {
        let how = match &self.way {
            Way::Known(n) => format!("at {n} known positions"),
            Way::Track(lead) => format!("in strokes, by the travel of {lead}"),
            Way::Ends => "its ends only (known positions show more)".to_owned(),
        };
        format!("reading along the travel, {how}")
    }

    /// The lowest and the highest of everything, with a margin.
    pub fn range(&self) -> (f64, f64) {
        let seen = self.seen.iter().flat_map(|seen| [seen.low, seen.high]);
        let allowed = self
            .allowed
            .iter()
            .flatten()
            .flat_map(|(low, high)| [*low, *high]);
        let faults = [self.faults.0, self.faults.1].into_iter().flatten();
        let ends = self.ends.iter().flatten().copied();
        let all: Vec<f64> = seen.chain(allowed).chain(faults).chain(ends).collect();
        let low = all.iter().copied().fold(f64::INFINITY, f64::min);
        let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let margin = ((high - low) * 0.08).max(4.0);
        ((low - margin).max(0.0), high + margin)
    }
}

fn ends(part: &ChannelPart) -> [Option<f64>; 2] {
    [FigureName::RestCode, FigureName::FullCode].map(|name| part.figures.value(name))
}
