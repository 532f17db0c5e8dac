//! Captures of good units, gathered by unit.
//!
//! Belongs here: which captures are one unit, its figures, the steps that all captures have. Does not belong here:
//! limits (`derive`).

use super::error::DeriveError;
use crate::capture::Opened;
use measure::figure::{Figure, FigureName, Figures, Scope};
use measure::units::{Role, Step, Track};
use std::collections::BTreeMap;
use std::fmt;

/// A capture with the name of its file.
pub type NamedCapture<'a> = (&'a str, &'a Opened);

/// Where in a profile limits stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum ProfilePart {
    Track(Track),
    Pair,
}

impl fmt::Display for ProfilePart {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Track(track) => write!(f, "track {track}"),
            Self::Pair => f.write_str("both tracks"),
        }
    }
}

/// One unit with its figures, of one capture or the mean of several.
#[derive(Debug, Clone)]
pub(super) struct GoodUnit {
    /// Its tag, or its file where it has none.
    pub name: String,
    figures: BTreeMap<ProfilePart, Figures>,
}

impl GoodUnit {
    /// What it showed at a place.
    pub fn figures(&self, place: ProfilePart) -> Option<&Figures> {
        self.figures.get(&place)
    }

    /// What it showed, place by place.
    pub fn places(&self) -> impl Iterator<Item = (ProfilePart, &Figures)> {
        self.figures
            .iter()
            .map(|(place, figures)| (*place, figures))
    }

    pub fn tracks(&self) -> Vec<Track> {
        let track = |place: &ProfilePart| match place {
            ProfilePart::Track(track) => Some(*track),
            ProfilePart::Pair => None,
        };
        self.figures.keys().filter_map(track).collect()
    }
}

/// The units behind some captures, in order of their first capture. Captures of one tag are one unit: what they differ by is
/// not how units differ.
///
/// Figures in codes are those of a board of `code_bits`, whatever the captures' boards have.
pub(super) fn good_units(
    captures: &[NamedCapture<'_>],
    code_bits: u32,
) -> Result<Vec<GoodUnit>, DeriveError> {
    let mut units: Vec<(String, Vec<BTreeMap<ProfilePart, Figures>>)> = Vec::new();
    let mut first: Option<String> = None;
    for (file, opened) in captures {
        let figures = figures_of(file, opened, code_bits)?;
        let has = tracks_in_words(&figures);
        let first = first.get_or_insert_with(|| has.clone());
        if *first != has {
            return Err(DeriveError::TracksDiffer {
                file: (*file).to_owned(),
                has,
                first: first.clone(),
            });
        }
        let tag = opened.capture.meta.unit.tag.clone();
        let name = tag.unwrap_or_else(|| (*file).to_owned());
        match units.iter_mut().find(|(known, _)| *known == name) {
            Some((_, all)) => all.push(figures),
            None => units.push((name, vec![figures])),
        }
    }
    let joined = |(name, all): (String, Vec<BTreeMap<ProfilePart, Figures>>)| GoodUnit {
        name,
        figures: together(all),
    };
    Ok(units.into_iter().map(joined).collect())
}

fn tracks_in_words(figures: &BTreeMap<ProfilePart, Figures>) -> String {
    let words = figures.keys().filter_map(|place| match place {
        ProfilePart::Track(track) => Some(track.to_string()),
        ProfilePart::Pair => None,
    });
    words.collect::<Vec<_>>().join(" and ")
}

fn figures_of(
    file: &str,
    opened: &Opened,
    code_bits: u32,
) -> Result<BTreeMap<ProfilePart, Figures>, DeriveError> {
    let recording = opened.capture.recording();
    let recording = recording.map_err(|source| DeriveError::Board {
        file: file.to_owned(),
        source,
    })?;
    if recording.channels.iter().all(|c| c.role != Role::Signal) {
        return Err(DeriveError::NoSignal {
            file: file.to_owned(),
        });
    }
    let measured = measure::figures(&recording);
    let bits = opened.capture.meta.board.bits;
    let mut figures = BTreeMap::new();
    for channel in measured.channels {
        figures
            .entry(ProfilePart::Track(channel.track))
            .or_insert_with(|| in_codes_of(code_bits, bits, &channel.figures));
    }
    if let Some(pair) = measured.pairs.into_iter().next() {
        let pair = in_codes_of(code_bits, bits, &pair.figures);
        figures.insert(ProfilePart::Pair, pair);
    }
    Ok(figures)
}

/// Figures of a board of `bits`, those in codes as a board of `code_bits` would have them.
fn in_codes_of(code_bits: u32, bits: u32, figures: &Figures) -> Figures {
    let mut scaled = Figures::new(figures.scope());
    for (name, figure) in figures.iter() {
        let factor = name.unit().scale_between(bits, code_bits);
        scaled.set(name, figure.map(|figure| figure.clone().scaled(factor)));
    }
    scaled
}

/// The figures of several captures of one unit: the mean of the values, the widest of the intervals.
fn together(mut all: Vec<BTreeMap<ProfilePart, Figures>>) -> BTreeMap<ProfilePart, Figures> {
    if all.len() == 1 {
        return all.pop().unwrap_or_default();
    }
    let places: Vec<ProfilePart> = all.iter().flat_map(|f| f.keys().copied()).collect();
    places
        .into_iter()
        .map(|place| {
            let scope = match place {
                ProfilePart::Track(_) => Scope::Channel,
                ProfilePart::Pair => Scope::Pair,
            };
            let mut figures = Figures::new(scope);
            for name in FigureName::of(scope) {
                let own: Vec<&Figure> = all
                    .iter()
                    .filter_map(|one| one.get(&place)?.get(name))
                    .collect();
                figures.set(name, mean_of(&own));
            }
            (place, figures)
        })
        .collect()
}

fn mean_of(figures: &[&Figure]) -> Option<Figure> {
    let first = figures.first()?;
    let values: Vec<f64> = figures.iter().map(|f| f.value).collect();
    let value = measure::statistics::mean(&values);
    let reach = |way: fn(&Figure) -> Option<f64>| {
        figures
            .iter()
            .map(|f| way(f))
            .try_fold(0.0, |most: f64, reach| Some(most.max(reach?)))
    };
    Some(Figure {
        value,
        low: reach(|f| f.low.map(|low| f.value - low)).map(|down| value - down),
        high: reach(|f| f.high.map(|high| high - f.value)).map(|up| value + up),
        method: format!("mean of {} recordings", figures.len()),
        ..(*first).clone()
    })
}

/// The steps that every capture has, in the first one's order, and words about the others.
pub(super) fn steps_of_all(
    captures: &[NamedCapture<'_>],
) -> Result<(Vec<Step>, Vec<String>), DeriveError> {
    let steps = |opened: &Opened| -> Vec<Step> {
        let mut steps = Vec::new();
        for passage in &opened.capture.passages {
            if passage.step != Step::Idle && !steps.contains(&passage.step) {
                steps.push(passage.step);
            }
        }
        steps
    };
    let all: Vec<Vec<Step>> = captures.iter().map(|(_, opened)| steps(opened)).collect();
    let card: Vec<Step> = all
        .first()
        .into_iter()
        .flatten()
        .copied()
        .filter(|step| all.iter().all(|steps| steps.contains(step)))
        .collect();
    if card.is_empty() {
        return Err(DeriveError::NoCommonStep);
    }
    let mut notes = Vec::new();
    for step in Step::ALL {
        let with = all.iter().filter(|steps| steps.contains(&step)).count();
        if with > 0 && !card.contains(&step) {
            notes.push(format!(
                "{step} is in {with} of {} recordings: left out of the test, with the results that only it supplies",
                captures.len()
            ));
        }
    }
    Ok((card, notes))
}
