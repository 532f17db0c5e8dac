//! What a figure is, and the catalogue of every figure with all that is known of it.
//!
//! Belongs here: names, units, words that explain, what a card takes for it. Does not belong here: how a figure is computed
//! (`measure`), held against a limit (`judge`) or shown (`report`, `tui`).

mod catalogue;
mod facts;
mod name;
pub mod numbers;
pub mod scale;
mod shared;
mod shrink;

pub use catalogue::FigureName;
pub use facts::{Amount, Facts, Mark, Noise, Scope, Sides, Steps, USUAL_QUIET_S, Unit, Words};
pub use shrink::{Evidence, Law, Shrink};

use serde::ser::SerializeMap;
use serde::{Deserialize, Serialize, Serializer};
use std::collections::BTreeMap;

/// The coverage probability of every interval that the program states.
pub const COVERAGE: f64 = 0.95;

/// One measured quantity, in the unit of its [`FigureName`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Figure {
    /// The best estimate.
    pub value: f64,
    /// Standard uncertainty, in the figure's unit; `None` when it has no meaning (a count).
    pub u: Option<f64>,
    /// Lower end of the 95 % coverage interval.
    pub low: Option<f64>,
    /// Upper end of the 95 % coverage interval.
    pub high: Option<f64>,
    /// Pieces of evidence used (samples, holds, strokes: `method` says which).
    pub n: u64,
    /// How it was computed and from what, in one line.
    pub method: String,
    /// How its uncertainty shrinks with more evidence, where that is known. Not written to JSON.
    #[serde(skip)]
    pub shrink: Option<Shrink>,
}

impl Figure {
    /// A figure with a symmetric interval `value ± k u`.
    pub fn symmetric(value: f64, u: f64, k: f64, n: usize, method: impl Into<String>) -> Self {
        Self {
            value,
            u: Some(u),
            low: Some(value - k * u),
            high: Some(value + k * u),
            n: n as u64,
            method: method.into(),
            shrink: None,
        }
    }

    /// The same figure, with how its uncertainty shrinks.
    #[must_use]
    pub fn shrinking(self, shrink: Shrink) -> Self {
        Self {
            shrink: Some(shrink),
            ..self
        }
    }

    /// The same figure, its evidence in seconds where it was counted in samples.
    #[must_use]
    pub fn at_rate(self, rate_hz: f64) -> Self {
        let shrink = self.shrink.map(|shrink| shrink.at_rate(rate_hz));
        Self { shrink, ..self }
    }

    /// The same, its interval kept to what the figure can be: no rms, time or share below zero, no ratio above one, nothing that
    /// is not a number. An interval never leaves its value out.
    #[must_use]
    pub fn possible(self, name: FigureName) -> Self {
        let (least, most) = name.possible();
        let finite = |x: Option<f64>| x.filter(|x| x.is_finite());
        Self {
            u: finite(self.u),
            low: finite(self.low).map(|low| low.max(least).min(self.value)),
            high: finite(self.high).map(|high| high.min(most).max(self.value)),
            ..self
        }
    }

    /// The same in a unit that is so many times smaller; `factor > 0`.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        let times = |x: f64| x * factor;
        Self {
            value: times(self.value),
            u: self.u.map(times),
            low: self.low.map(times),
            high: self.high.map(times),
            shrink: self.shrink.map(|shrink| Shrink {
                floor_u: times(shrink.floor_u),
                ..shrink
            }),
            ..self
        }
    }

    /// A figure that is counted, not measured: no uncertainty of its own.
    pub fn counted(value: f64, n: usize, method: impl Into<String>) -> Self {
        Self {
            value,
            u: None,
            low: Some(value),
            high: Some(value),
            n: n as u64,
            method: method.into(),
            shrink: None,
        }
    }
}

/// The figures of one channel or pair. A figure that the capture cannot support is absent.
///
/// Serialised, every figure of the scope appears; absent ones as `null` (DESIGN 4.4).
#[derive(Debug, Clone, PartialEq)]
pub struct Figures {
    scope: Scope,
    present: BTreeMap<FigureName, Figure>,
}

impl Figures {
    /// No figures yet, for a channel or a pair.
    #[must_use]
    pub fn new(scope: Scope) -> Self {
        Self {
            scope,
            present: BTreeMap::new(),
        }
    }

    /// Puts a figure in, or leaves the place empty. A figure whose value is not a number is left out:
    /// missing is missing.
    pub fn set(&mut self, name: FigureName, figure: impl Into<Option<Figure>>) {
        match figure.into() {
            Some(figure) if figure.value.is_finite() => {
                self.present.insert(name, figure.possible(name));
            }
            _ => {
                self.present.remove(&name);
            }
        }
    }

    /// The figure, if the capture supports it.
    #[must_use]
    pub fn get(&self, name: FigureName) -> Option<&Figure> {
        self.present.get(&name)
    }

    /// The value alone, if the capture supports it.
    #[must_use]
    pub fn value(&self, name: FigureName) -> Option<f64> {
        self.get(name).map(|figure| figure.value)
    }

    /// Every figure of the scope in catalogue order, present or not.
    pub fn iter(&self) -> impl Iterator<Item = (FigureName, Option<&Figure>)> {
        FigureName::of(self.scope).map(|name| (name, self.get(name)))
    }

    /// Whether these belong to a channel or a pair.
    #[must_use]
    pub fn scope(&self) -> Scope {
        self.scope
    }
}

impl Serialize for Figures {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Row<'a> {
            value: f64,
            unit: &'static str,
            u: Option<f64>,
            low: Option<f64>,
            high: Option<f64>,
            n: u64,
            method: &'a str,
        }
        let mut map = serializer.serialize_map(None)?;
        for (name, figure) in self.iter() {
            let row = figure.map(|f| Row {
                value: f.value,
                unit: name.unit().word(),
                u: f.u,
                low: f.low,
                high: f.high,
                n: f.n,
                method: &f.method,
            });
            map.serialize_entry(name.word(), &row)?;
        }
        map.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn absent_figures_are_null_and_in_catalogue_order() {
        let mut figures = Figures::new(Scope::Pair);
        figures.set(
            FigureName::TrackGain,
            Figure::symmetric(0.5, 0.01, 2.0, 6, "test"),
        );
        figures.set(
            FigureName::TrackLag,
            Figure::symmetric(f64::NAN, 0.0, 2.0, 0, "test"),
        );
        let text = serde_json::to_string(&figures).unwrap();
        assert_eq!(
            text,
            r#"{"track_gain":{"value":0.5,"unit":"1","u":0.01,"low":0.48,"high":0.52,"n":6,"method":"test"},"track_offset":null,"track_disagreement":null,"track_lag":null}"#
        );
    }
}
