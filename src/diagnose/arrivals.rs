//! Arriving at an end: for how much of the time a control was, and which losses of contact came just then.

use measure::units::{Code, Step, seconds_from_us};
use measure::{Dropout, Recording};

/// Travel at the ends that is no place: a control rests there.
pub(super) const END_PCT: f64 = 3.0;
/// Between these from each end it is under way, % of travel.
const UNDER_WAY_PCT: f64 = 10.0;
/// So long after it was under way it is arriving, seconds: a stroke of a second takes 0.2 for its last tenth (minimum jerk: ten times
/// the cube of what is left of its time).
const ARRIVING_S: f64 = 0.3;
/// Less than this share of the time is not told from none.
const LEAST_SHARE: f64 = 0.005;

/// An end of the travel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    Rest,
    Full,
}

/// When one control came to its ends.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Arrivals {
    /// When it was last under way, before each end that it came to; seconds from the first sample, in order.
    under_way_until: Vec<f64>,
    /// Share of the time without shaking in which it was arriving at rest, and at full.
    share: [f64; 2],
}

impl End {
    pub const BOTH: [Self; 2] = [Self::Rest, Self::Full];

    /// As people say where a control came to.
    pub fn word(self) -> &'static str {
        match self {
            Self::Rest => "rest",
            Self::Full => "full",
        }
    }

    /// From and to, % of travel.
    pub fn place(self) -> (f64, f64) {
        match self {
            Self::Rest => (0.0, END_PCT),
            Self::Full => (100.0 - END_PCT, 100.0),
        }
    }

    fn of(travel_pct: f64) -> Option<Self> {
        if travel_pct <= END_PCT {
            Some(Self::Rest)
        } else {
            (travel_pct >= 100.0 - END_PCT).then_some(Self::Full)
        }
    }
}

impl Arrivals {
    /// From a channel's codes, its ends in codes and its losses: what was lost is no movement.
    pub fn of(
        recording: &Recording<'_>,
        codes: &[Code],
        [rest, full]: [f64; 2],
        lost: &[Dropout],
    ) -> Self {
        let mut found = Self::default();
        let first = recording.t_us.first().copied().unwrap_or_default();
        let mut spans: Vec<(f64, f64)> = lost
            .iter()
            .map(|lost| (lost.t_s, lost.t_s + lost.duration_ms / 1000.0))
            .collect();
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut spans = spans.into_iter().peekable();
        let mut under_way: Option<f64> = None;
        let (mut samples, mut arriving) = (0_u32, [0_u32; 2]);
        let steady = recording.passages.iter().filter(|p| p.step != Step::Shake);
        for at in steady.flat_map(|passage| passage.range.clone()) {
            let (Some(code), Some(t_us)) = (codes.get(at), recording.t_us.get(at)) else {
                continue;
            };
            let now = seconds_from_us(t_us.saturating_sub(first));
            while spans.next_if(|(_, to)| *to < now).is_some() {}
            if spans.peek().is_some_and(|(from, _)| *from <= now) {
                continue;
            }
            samples += 1;
            let travel = 100.0 * (code.as_f64() - rest) / (full - rest);
            if (UNDER_WAY_PCT..=100.0 - UNDER_WAY_PCT).contains(&travel) {
                under_way = Some(now);
            } else if let (Some(end), Some(until)) = (End::of(travel), under_way) {
                if found.under_way_until.last() != Some(&until) {
                    found.under_way_until.push(until);
                }
                if now - until <= ARRIVING_S {
                    arriving[end as usize] += 1;
                }
            }
        }
        found.share = arriving.map(|n| (f64::from(n) / f64::from(samples.max(1))).max(LEAST_SHARE));
        found
    }

    /// The end at which the control was arriving when contact was lost.
    pub fn at(&self, lost: &Dropout) -> Option<End> {
        let end = End::of(lost.travel_pct?)?;
        let after = self
            .under_way_until
            .partition_point(|until| *until <= lost.t_s);
        let until = self.under_way_until.get(after.checked_sub(1)?)?;
        (lost.t_s - until <= ARRIVING_S).then_some(end)
    }

    pub fn share(&self, end: End) -> f64 {
        self.share[end as usize]
    }
}
