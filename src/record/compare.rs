//! What an earlier run of the same unit showed, held against what is being seen now.
//!
//! Belongs here: which figure is held against which. Does not belong here: the arithmetic of a change (`measure`), files.

use super::kept::{FiguresKept, Record};
use super::{Assessment, FigureKept};
use measure::figure::{Figure, FigureName, Mark};
use measure::seasons::{Change, Estimate, chance_beyond, change, stand_out, usual_difference};

/// The figures of an earlier run.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Earlier {
    /// Resolution of the board that it was taken with.
    pub bits: u32,
    /// Channel (or `a/b` for a pair), figure, what it was. Each at most once.
    pub figures: Vec<(String, FigureName, Figure)>,
}

/// One figure now and then.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// The channel, or `a/b`.
    pub channel: String,
    pub name: FigureName,
    pub before: Figure,
    /// From then to now; absent where either is counted, open on a side, missing, or describes its sample alone.
    pub change: Option<Change>,
    /// Whether that change stands out among those of all figures.
    pub stands_out: bool,
}

impl Earlier {
    pub fn of_record(record: &Record) -> Self {
        let parts = record.assessment.parts();
        Self {
            bits: record.board.bits,
            figures: parts.flat_map(|(name, kept)| known(name, kept)).collect(),
        }
    }

    /// The figures of an assessment made with a board of so many bits.
    pub fn of(assessment: &Assessment, bits: u32) -> Self {
        let figures = assessment
            .parts()
            .flat_map(|(channel, figures)| {
                FigureName::ALL.iter().filter_map(move |name| {
                    Some((channel.to_owned(), *name, figures.get(*name)?.clone()))
                })
            })
            .collect();
        Self { bits, figures }
    }

    /// Each earlier figure against the same figure now, where now is measured with a board of `bits`. Figures in codes are
    /// compared only between boards of the same resolution.
    pub fn against(&self, now: &Assessment, bits: u32) -> Vec<Compared> {
        let comparable = |name: FigureName| {
            !name.is(Mark::OfSample) && (name.unit().on_any_board() || bits == self.bits)
        };
        let mut all: Vec<Compared> = self
            .figures
            .iter()
            .map(|(channel, name, before)| Compared {
                channel: channel.clone(),
                name: *name,
                before: before.clone(),
                change: now
                    .figures(channel)
                    .and_then(|figures| figures.get(*name))
                    .filter(|_| comparable(*name))
                    .and_then(|figure| Some(change(Estimate::of(before)?, Estimate::of(figure)?))),
                stands_out: false,
            })
            .collect();
        let chances: Vec<f64> = all
            .iter()
            .filter_map(|one| {
                // Another day is another visit: what visits differ by anyway is no change.
                let anyway = usual_difference(one.name, one.before.value, bits, bits != self.bits);
                one.change.map(|change| chance_beyond(&change, anyway))
            })
            .collect();
        let changed = all.iter_mut().filter(|one| one.change.is_some());
        for (one, marked) in changed.zip(stand_out(&chances)) {
            one.stands_out = marked;
        }
        all
    }
}

/// The figures that this program knows by name.
fn known(channel: &str, kept: &FiguresKept) -> Vec<(String, FigureName, Figure)> {
    FigureName::ALL
        .iter()
        .filter_map(|name| {
            let figure = kept.get(name.word())?.as_ref()?;
            Some((channel.to_owned(), *name, figure.figure()))
        })
        .collect()
}

impl FigureKept {
    /// The figure as it was.
    pub fn figure(&self) -> Figure {
        Figure {
            value: self.value,
            u: self.u,
            low: self.low,
            high: self.high,
            n: self.n,
            method: self.method.clone(),
            shrink: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{CaptureFacts, ChannelPart, UnitFacts};
    use measure::figure::{Figures, Scope};

    fn seen(rest_code: f64, rest_ratio: f64) -> Assessment {
        let mut figures = Figures::new(Scope::Channel);
        let figure = |value: f64, u: f64| Figure::symmetric(value, u, 1.96, 9, "by hand");
        figures.set(FigureName::RestCode, figure(rest_code, 0.1));
        figures.set(FigureName::RestRatio, figure(rest_ratio, 0.001));
        figures.set(
            FigureName::DropoutsCount,
            Figure::counted(2.0, 9, "counted"),
        );
        let part = ChannelPart {
            figures,
            worn_zones: Vec::new(),
            dropouts: Vec::new(),
            map: None,
            curve: None,
        };
        Assessment {
            verdict: None,
            capture: CaptureFacts::default(),
            unit: UnitFacts::default(),
            channels: vec![("a".to_owned(), part)],
            pairs: Vec::new(),
            findings: Vec::new(),
            diagnosis: crate::diagnose::Diagnosis::default(),
        }
    }

    /// By hand: 10 codes between two values of u 0.1 are 71 standard uncertainties; 0.001 between two of u 0.001 are 0.7.
    #[test]
    fn a_step_of_many_uncertainties_stands_out_and_a_small_one_does_not() {
        let earlier = Earlier::of(&seen(100.0, 0.100), 10);
        let compared = earlier.against(&seen(110.0, 0.101), 10);
        let told: Vec<(FigureName, bool)> =
            compared.iter().map(|c| (c.name, c.stands_out)).collect();
        assert!(told.contains(&(FigureName::RestCode, true)), "{told:?}");
        assert!(told.contains(&(FigureName::RestRatio, false)), "{told:?}");
        let by = compared[0].change.map(|c| c.by);
        assert_eq!((compared[0].name, by), (FigureName::RestCode, Some(10.0)));
    }

    #[test]
    fn codes_of_another_board_and_counts_have_no_change() {
        let compared = Earlier::of(&seen(100.0, 0.1), 12).against(&seen(110.0, 0.1), 10);
        let changed = |name| {
            compared
                .iter()
                .find(|c| c.name == name)
                .is_some_and(|c| c.change.is_some())
        };
        assert!(!changed(FigureName::RestCode) && !changed(FigureName::DropoutsCount));
        assert!(changed(FigureName::RestRatio));
        assert_eq!(compared.len(), 3, "what it was is told all the same");
    }
}
