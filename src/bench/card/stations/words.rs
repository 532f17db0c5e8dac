//! What is told of the known positions: to the person, and to the capture.

use super::{Phase, Stations, Taken, USUAL_STATIONS};
use crate::capture::RefMeta;
use measure::units::seconds_from_us;

/// Seconds after which it is told how to go on without a movement.
const PATIENCE_S: f64 = 10.0;

impl Stations {
    /// What to do now, in a sentence.
    pub fn instruction(&self) -> String {
        if self.sensor {
            let words = "Move it on by about a tenth and let it stand; to the full end, then back.";
            return words.to_owned();
        }
        let Some(asked) = self.asked() else {
            return match self.plan {
                Some(_) => "All positions are taken.".to_owned(),
                None => format!("Which positions has its scale? E.g. {USUAL_STATIONS}"),
            };
        };
        let way = self
            .taken
            .last()
            .and_then(|last| Some(self.target()? - last.position?));
        match way {
            Some(way) if way > 0.0 => format!("Up to {asked}, and let it stand."),
            Some(_) => format!("Down to {asked}, and let it stand."),
            None => format!("Set it to {asked}, and let it stand."),
        }
    }

    /// What is seen, or what was not right.
    pub fn remark(&self) -> Option<String> {
        let since_s = |us: u64| seconds_from_us(self.now_us.saturating_sub(us));
        if let Some(words) = self.spoken() {
            return Some(words.to_owned());
        }
        if let Phase::Held { .. } = self.phase {
            return Some("still, good".to_owned());
        }
        if let Phase::Stated { surely, .. } = self.phase {
            let words = match (surely || self.left, self.before()) {
                (true, _) => "waiting for it to stand still".to_owned(),
                (false, Some(before)) => {
                    format!("it has not moved since {before}: say it again if it does stand there")
                }
                (false, None) => {
                    "it has not moved since: say it again if it does stand there".to_owned()
                }
            };
            return Some(words);
        }
        if self.is_unstated() {
            return None;
        }
        let waited_s = self.asked_us.map_or(0.0, since_s);
        if waited_s >= PATIENCE_S {
            let waited_s = (waited_s / PATIENCE_S).floor() * PATIENCE_S;
            let way_out = if self.sensor {
                ""
            } else {
                "; if it stands there, press enter"
            };
            return Some(format!("waiting for {waited_s:.0} s{way_out}"));
        }
        let last = self.before()?;
        Some(format!("{last} taken"))
    }

    /// What the capture says of the positions.
    pub fn reference(&self, ends: Option<(f64, f64)>) -> Option<RefMeta> {
        let plan = self.plan.as_ref()?;
        let reference = plan.reference();
        let (Some(first), Some(other)) = (plan.positions().first().copied(), plan.other_end())
        else {
            return Some(reference);
        };
        let of = |position: f64| {
            let same = |taken: &&Taken| {
                taken
                    .position
                    .is_some_and(|at| (at - position).abs() <= 0.0)
            };
            self.taken.iter().find(same).map(|taken| taken.level)
        };
        // A series begins at rest, unless the codes say that it began at the full end.
        let turned = match (of(first), of(other), ends) {
            (Some(a), Some(b), Some((rest, full))) => (b - a) * (full - rest) < 0.0,
            _ => false,
        };
        let (low, high) = if turned {
            (other, first)
        } else {
            (first, other)
        };
        Some(RefMeta {
            low: Some(low),
            high: Some(high),
            ..reference
        })
    }
}
