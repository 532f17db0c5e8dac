//! A control that moves the wrong way round, in plain words.
//!
//! Belongs here: which way a profile wants the code to go, which way it went. Does not belong here: the limits themselves,
//! which a control that is turned round breaks anyway.

use crate::profile::Profile;
use crate::record::Assessment;
use measure::figure::numbers::fixed;
use measure::figure::{FigureName, Figures, Mark};
use measure::judge::{Limit, Outcome};
use measure::units::Track;
use std::collections::BTreeMap;

const ADVICE: &str = "look which way round it is wired and mounted: on a potentiometer the two outer wires may be swapped \
                      (never on a hall sensor: that can destroy it)";

/// Says of failed ends that the control moves the wrong way round, where it does. `tracks` are those of the
/// assessment's channels, in order.
pub(super) fn advise_wrong_way(assessment: &mut Assessment, tracks: &[Track], profile: &Profile) {
    let channels = assessment.channels.iter().zip(tracks);
    let turned: BTreeMap<String, String> = channels
        .filter_map(|((name, part), track)| {
            let wanted = way(&profile.tracks.get(track)?.limits)?;
            Some((name.clone(), describe(wanted, &part.figures)?))
        })
        .collect();
    for finding in &mut assessment.findings {
        if finding.outcome == Outcome::Fail
            && finding.figure.is(Mark::OfDirection)
            && let Some(words) = turned.get(&finding.channel)
        {
            finding.reason += words;
            finding.advice = Some(ADVICE.to_owned());
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    Rises,
    Falls,
}

/// The way from rest to full that a track's limits ask for; `None` when they leave it open.
fn way(limits: &BTreeMap<FigureName, Limit>) -> Option<Way> {
    let of = |name| limits.get(&name).copied();
    let ends = |rest, full| Some((of(rest)?, of(full)?));
    let both = ends(FigureName::RestRatio, FigureName::FullRatio)
        .or_else(|| ends(FigureName::RestCode, FigureName::FullCode));
    let (rest, full) = match (both, of(FigureName::SpanCode)) {
        (Some(both), _) => both,
        (None, Some(span)) => (Limit::new(Some(0.0), Some(0.0)).ok()?, span),
        (None, None) => return None,
    };
    let above = |a: Limit, b: Limit| Some(a.min()? > b.max()?);
    if above(full, rest) == Some(true) {
        Some(Way::Rises)
    } else if above(rest, full) == Some(true) {
        Some(Way::Falls)
    } else {
        None
    }
}

/// What to add when it went the other way.
fn describe(wanted: Way, figures: &Figures) -> Option<String> {
    let (rest, full) = (
        figures.value(FigureName::RestCode)?,
        figures.value(FigureName::FullCode)?,
    );
    // A span that is not clear of 0 has no direction.
    let span = figures.get(FigureName::SpanCode)?;
    let went = if span.low? > 0.0 {
        Way::Rises
    } else if span.high? < 0.0 {
        Way::Falls
    } else {
        return None;
    };
    let (goes, should) = match wanted {
        Way::Rises => ("falls", "rise"),
        Way::Falls => ("rises", "fall"),
    };
    (went != wanted).then(|| {
        format!(
            "; it moves the wrong way round: from rest to full its code {goes} from {} to {} where it should {should}",
            fixed(rest, 0),
            fixed(full, 0)
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::figure::{Figure, Scope};

    fn limits(rest: (Option<f64>, Option<f64>), full: (Option<f64>, Option<f64>)) -> Option<Way> {
        let limit = |(min, max)| Limit::new(min, max).unwrap();
        way(&BTreeMap::from([
            (FigureName::RestRatio, limit(rest)),
            (FigureName::FullRatio, limit(full)),
        ]))
    }

    #[test]
    fn the_limits_say_which_way() {
        let (low, high) = ((Some(0.1), Some(0.2)), (Some(0.8), Some(0.9)));
        assert_eq!(limits(low, high), Some(Way::Rises));
        assert_eq!(limits(high, low), Some(Way::Falls));
        assert_eq!(limits((None, Some(0.05)), high), Some(Way::Rises));
        assert_eq!(limits((Some(0.05), None), high), None);
        assert_eq!(limits(low, low), None);
        let span = |min, max| {
            way(&BTreeMap::from([(
                FigureName::SpanCode,
                Limit::new(min, max).unwrap(),
            )]))
        };
        assert_eq!(span(Some(600.0), None), Some(Way::Rises));
        assert_eq!(span(None, Some(-600.0)), Some(Way::Falls));
        assert_eq!(span(Some(-5.0), Some(5.0)), None);
        assert_eq!(way(&BTreeMap::new()), None);
    }

    #[test]
    fn only_the_other_way_is_told_and_only_when_it_is_clear() {
        let figures = |rest: f64, full: f64, u| {
            let mut figures = Figures::new(Scope::Channel);
            figures.set(FigureName::RestCode, Figure::symmetric(rest, u, 2.0, 1, ""));
            figures.set(FigureName::FullCode, Figure::symmetric(full, u, 2.0, 1, ""));
            let span = Figure::symmetric(full - rest, u, 2.0, 1, "");
            figures.set(FigureName::SpanCode, span);
            figures
        };
        let message = describe(Way::Rises, &figures(905.0, 102.0, 1.0)).unwrap();
        assert!(
            message.contains("the wrong way round") && message.contains("falls from 905 to 102")
        );
        assert_eq!(describe(Way::Falls, &figures(905.0, 102.0, 1.0)), None);
        assert_eq!(
            describe(Way::Rises, &figures(500.0, 499.0, 1.0)),
            None,
            "no span"
        );
        assert_eq!(describe(Way::Rises, &Figures::new(Scope::Channel)), None);
    }
}
