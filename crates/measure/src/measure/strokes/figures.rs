//! Everything that strokes (and shakes, and holds where they drop out) say about one channel.
//!
//! Belongs here: which passages feed which module, which figure needs what. Does not belong here: the formulas.

use crate::figure::{Figure, FigureName, Figures};
use crate::measure::recording::{Channel, Recording};
use crate::measure::statistics::moments::real;
use crate::measure::strokes::defects::{Dropout, Towards, WornZone};
use crate::measure::strokes::dropouts::{self, DEPTH_PCT, DEPTH_SIGMA, Motion};
use crate::measure::strokes::interference::interference_share;
use crate::measure::strokes::path::Path;
use crate::measure::strokes::segment::{Ends, Stroke, ends_of, strokes_of};
use crate::measure::strokes::smoothness;
use crate::measure::strokes::stroke_noise::{StrokeNoise, common_sd, stroke_noise};
use crate::measure::strokes::wear::{SEEN_CHANCE, TravelMap, Wear, wear};
use crate::units::Step;

/// What the holds of the same capture say about a channel.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct HoldEvidence {
    /// Code of the rest end.
    pub rest: Option<f64>,
    /// Code of the full end.
    pub full: Option<f64>,
    /// Noise in the holds in codes (standard deviation).
    pub noise: Option<f64>,
}

/// What strokes and shakes showed, besides figures.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StrokesPart {
    /// Where the channel is worn, in order of travel.
    pub worn_zones: Vec<WornZone>,
    /// When it dropped out, in order of time; from strokes, shakes and holds.
    pub dropouts: Vec<Dropout>,
    /// Noise over travel; `None` without strokes.
    pub map: Option<TravelMap>,
    /// The strokes, in order.
    pub strokes: Vec<Stroke>,
    /// The ends of travel that percentages refer to.
    pub ends: Option<Ends>,
}

/// A channel's paths in one step, dropouts already taken out: made once, used by [`strokes_part`] and `pair_part`.
pub struct Ready {
    pub(crate) paths: Vec<Path>,
    pub(crate) strokes: Vec<Vec<Stroke>>,
    pub(crate) ends: Ends,
    pub(crate) dropouts: Vec<Dropout>,
}

/// Measures strokes, wear, dropouts and interference of one channel and puts the figures in.
///
/// Figures set: `stroke_noise_rms`, `smoothness`, `worn_zones_count` and `interference_share` when there are strokes;
/// `dropouts_count` when there are strokes or shakes and the span is known. Linear in the samples. `ready` is what
/// [`ready`] gave for the same channel and holds.
#[must_use]
pub fn strokes_part(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    holds: HoldEvidence,
    ready: Option<&Ready>,
    figures: &mut Figures,
) -> StrokesPart {
    let mut part = StrokesPart::default();
    let ends = ready
        .map(|ready| ready.ends)
        .or_else(|| Ends::from_holds(holds.rest, holds.full));
    part.ends = ends;
    let mut noises = Vec::new();
    let mut profiles = Vec::new();
    if let Some(ready) = ready {
        for (path, strokes) in ready.paths.iter().zip(&ready.strokes) {
            noises.extend(
                strokes
                    .iter()
                    .filter_map(|stroke| StrokeNoise::new(path, stroke, ready.ends)),
            );
            profiles.extend(
                strokes
                    .iter()
                    .filter_map(|stroke| smoothness::profile(path, stroke, ready.ends)),
            );
            part.strokes.extend_from_slice(strokes);
        }
        part.dropouts.clone_from(&ready.dropouts);
        let told = |mut figure: Figure| {
            figure.method = format!("{}; {}", figure.method, words(&part.strokes, ready.ends));
            figure
        };
        let common = common_sd(&noises);
        if let Some(wear) = common.and_then(|(sd, _)| wear(&noises, sd)) {
            figures.set(FigureName::WornZonesCount, zones_count(&wear).map(told));
            part.worn_zones = wear.zones;
            part.map = Some(wear.map);
        }
        let noise = common.and_then(|common| stroke_noise(&noises, common));
        let noise_code = noise.as_ref().map_or(0.0, |figure| figure.value);
        figures.set(FigureName::StrokeNoiseRms, noise.map(told));
        figures.set(
            FigureName::InterferenceShare,
            common
                .and_then(|(sd, _)| interference_share(&noises, sd, &part.worn_zones))
                .map(told),
        );
        figures.set(
            FigureName::Smoothness,
            smoothness::smoothness(&profiles, ready.ends.span(), noise_code).map(told),
        );
    }
    if let Some(ends) = ends {
        let shaken = elsewhere(recording, channel, holds, ends, &mut part.dropouts);
        if ready.is_some() || shaken {
            figures.set(
                FigureName::DropoutsCount,
                dropouts_count(&part.dropouts, part.strokes.len(), ends),
            );
        }
    }
    part.dropouts.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    part
}

/// How many zones are worn. Where strokes were too fast or too few for a zone to show, no zones are no evidence: `None`;
/// and zones that showed all the same are the least that there are.
fn zones_count(wear: &Wear) -> Option<Figure> {
    let all_would_show = wear.seeing >= SEEN_CHANCE;
    let found = real(wear.zones.len());
    let what =
        "zones of travel with at least twice the stroke's noise in most strokes, beyond chance";
    if all_would_show {
        let method = format!(
            "{what}; one of five times the noise on 6 % of travel would show in {:.1} of 100 such captures or more",
            100.0 * SEEN_CHANCE
        );
        return Some(Figure::counted(found, wear.strokes, method));
    }
    let method =
        format!("{what}; at least these: the strokes are too fast or too few for others to show");
    (found > 0.0).then(|| Figure {
        high: None,
        ..Figure::counted(found, wear.strokes, method)
    })
}

fn dropouts_count(dropouts: &[Dropout], strokes: usize, ends: Ends) -> Figure {
    Figure::counted(
        real(dropouts.len()),
        strokes,
        format!(
            "excursions above {DEPTH_PCT} % of span and {DEPTH_SIGMA} sigma that return to the path, in strokes, shakes and \
             holds; {}",
            ends.words()
        ),
    )
}

fn words(strokes: &[Stroke], ends: Ends) -> String {
    let whole = strokes.iter().filter(|stroke| stroke.complete).count();
    let incomplete = strokes.len() - whole;
    if incomplete == 0 {
        format!("{whole} strokes; {}", ends.words())
    } else {
        format!(
            "{whole} complete strokes and {incomplete} incomplete ones for the travel they cover; {}",
            ends.words()
        )
    }
}

/// The strokes of a channel with dropouts found and bridged. `None` when there are no strokes.
#[must_use]
pub fn ready(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    holds: HoldEvidence,
) -> Option<Ready> {
    let mut paths: Vec<Path> = stroke_paths(recording, channel);
    let sigma = paths
        .iter()
        .map(Path::noise_sd)
        .chain(holds.noise.filter(|noise| noise.is_finite()))
        .fold(0.0, f64::max);
    let held = Ends::from_holds(holds.rest, holds.full);
    let rough = held.or_else(|| ends_of(&paths, sigma))?;
    let mut found = Vec::new();
    for path in &mut paths {
        found.extend(dropouts_of(path, rough, sigma, Motion::Moving));
    }
    // Ends taken from strokes are taken again where no dropout can be one.
    let ends = held.or_else(|| ends_of(&paths, sigma))?;
    let strokes: Vec<Vec<Stroke>> = paths
        .iter()
        .map(|path| strokes_of(path, ends, sigma))
        .collect();
    strokes
        .iter()
        .any(|strokes| !strokes.is_empty())
        .then_some(Ready {
            paths,
            strokes,
            ends,
            dropouts: found,
        })
}

/// Adds dropouts of shakes and holds; says whether there was a shake.
fn elsewhere(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    holds: HoldEvidence,
    ends: Ends,
    found: &mut Vec<Dropout>,
) -> bool {
    for mut path in paths(recording, channel, &[Step::Shake, Step::Rest, Step::Full]) {
        let sigma = path.noise_sd().max(holds.noise.unwrap_or(0.0));
        found.extend(dropouts_of(&mut path, ends, sigma, Motion::Still));
    }
    recording
        .passages
        .iter()
        .any(|passage| passage.step == Step::Shake)
}

fn dropouts_of(path: &mut Path, ends: Ends, sigma: f64, motion: Motion) -> Vec<Dropout> {
    let span = ends.span().abs();
    let threshold = (DEPTH_PCT / 100.0 * span).max(DEPTH_SIGMA * sigma);
    dropouts::find(path, threshold, sigma, motion)
        .into_iter()
        .map(|excursion| {
            let (start, end) = (excursion.range.start, excursion.range.end);
            let back = path
                .time
                .get(end)
                .copied()
                .unwrap_or(path.time[end - 1] + path.period);
            Dropout {
                t_s: path.time[start],
                duration_ms: (back - path.time[start]) * 1000.0,
                depth_pct: 100.0 * excursion.depth.abs() / span,
                travel_pct: Some(ends.travel_pct(excursion.level)),
                towards: if excursion.depth < 0.0 {
                    Towards::Ground
                } else {
                    Towards::Supply
                },
            }
        })
        .collect()
}

/// The strokes passages of a channel, dropouts still in.
pub(crate) fn stroke_paths(recording: &Recording<'_>, channel: &Channel<'_>) -> Vec<Path> {
    paths(recording, channel, &[Step::Strokes])
}

fn paths(recording: &Recording<'_>, channel: &Channel<'_>, steps: &[Step]) -> Vec<Path> {
    recording
        .passages
        .iter()
        .filter(|passage| steps.contains(&passage.step))
        .filter_map(|passage| Path::new(recording, channel, passage))
        .collect()
}
