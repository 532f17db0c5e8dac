//! Everything that strokes (and shakes, and holds where they drop out) say about one channel.

use crate::figure::{Figure, FigureName, Figures};
use crate::measure::recording::{Channel, Recording};
use crate::measure::statistics::moments::real;
use crate::measure::strokes::bounce::Bounces;
use crate::measure::strokes::contact_loss;
use crate::measure::strokes::defects::{Dropout, WornZone};
use crate::measure::strokes::dropouts::Motion;
use crate::measure::strokes::excursions::{self, LocatedExcursion, Scale};
use crate::measure::strokes::interference::{interference_share, loudest};
use crate::measure::strokes::losses::{self, Exposure};
use crate::measure::strokes::path::Path;
use crate::measure::strokes::segment::{Direction, Ends, Stroke, ends_of, strokes_of};
use crate::measure::strokes::silences::silences;
use crate::measure::strokes::smoothness::{self, Contact, Profile, UnevenCodes};
use crate::measure::strokes::still::Still;
use crate::measure::strokes::stroke_noise::{Residuals, StrokeNoise, common_sd, stroke_noise};
use crate::measure::strokes::travel_map::{BINS, TravelMap};
use crate::measure::strokes::wear::{FLOOR_CODE, SEEN_CHANCE, StrokeEnergy, Wear, wear};
use crate::measure::strokes::wide_codes::{self, WideCode, ZoneOrigin};
use crate::units::Step;
use std::ops::Range;

/// How near to where a stroke turned it still dwells: % of travel, and noise standard deviations beside it.
const NEAR_PCT: f64 = 0.3;
const NEAR_SIGMA: f64 = 0.6;
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

/// Fewest pauses without samples that may be lost contact: gaps that come evenly in time meet strokes that do, too.
const FEWEST_SILENT: usize = 5;

/// What strokes and shakes showed, besides figures.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StrokesPart {
    /// Where the channel is worn, in order of travel.
    pub worn_zones: Vec<WornZone>,
    /// When it dropped out, in order of time; from strokes, shakes and holds.
    pub dropouts: Vec<Dropout>,
    /// Those of them that may be codes of the board and no wear.
    pub open_zones: Vec<WornZone>,
    /// Those of these in which strokes repeat the same steps.
    pub uneven_zones: Vec<WornZone>,
    /// Codes of the board that are wide, where they looked like wear.
    pub wide_codes: Vec<WideCode>,
    /// Noise over travel; `None` without strokes.
    pub map: Option<TravelMap>,
    /// The highest bounce of a stop in strokes, % of travel; it is none of the dropouts.
    pub bounce_pct: Option<f64>,
    /// How often samples are missing as if contact of the part were lost there.
    pub silences: usize,
    /// The strokes, in order.
    pub strokes: Vec<Stroke>,
    /// The ends of travel that percentages refer to.
    pub ends: Option<Ends>,
    /// Samples of all strokes in each bin of travel, up and down.
    pub(crate) taken: [Vec<usize>; 2],
}

/// A channel's paths in one step, dropouts already taken out: made once, used by [`strokes_part`] and `pair_part`.
pub struct PreparedStrokes<'a> {
    pub(crate) paths: Vec<Path<'a>>,
    pub(crate) strokes: Vec<Vec<Stroke>>,
    pub(crate) ends: Ends,
    pub(crate) dropouts: Vec<LocatedExcursion>,
    /// The highest bounce of a stop, % of travel.
    pub(crate) bounce_pct: Option<f64>,
    /// Noise in codes.
    pub(crate) sigma: f64,
}

/// Measures strokes, wear, dropouts and interference of one channel and puts the figures in.
///
/// Figures set: `stroke_noise_rms`, `smoothness`, `worn_zones_count` and `interference_share` when there are strokes;
/// `dropouts_count` when there are strokes or shakes and the span is known. Linear in the samples. `ready` is what
/// [`ready`] gave for the same channel and holds.
pub fn strokes_part(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    holds: HoldEvidence,
    ready: Option<&PreparedStrokes<'_>>,
    figures: &mut Figures,
) -> StrokesPart {
    let found = in_every_sample(recording, channel, holds, ready);
    let mut part = moving_part(recording, channel, holds, ready, figures);
    part.lose_contact((recording, channel), found, ready.is_some(), figures);
    part
}

/// Excursions of one channel in all of its samples; none while its ends are not known.
pub(crate) fn in_every_sample(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    holds: HoldEvidence,
    ready: Option<&PreparedStrokes<'_>>,
) -> Vec<LocatedExcursion> {
    let in_strokes = ready.map_or_else(Vec::new, |ready| ready.dropouts.clone());
    let sigma = ready.map_or(0.0, |ready| ready.sigma);
    ends(holds, ready).map_or_else(Vec::new, |ends| {
        let scale = Scale {
            ends,
            sigma: sigma.max(holds.noise.unwrap_or(0.0)),
            top: recording.board.scale.max_code(),
        };
        excursions::elsewhere(recording, channel, scale, in_strokes)
    })
}

/// What strokes show of the contact while it moves, lost contact aside.
pub(crate) fn moving_part(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    holds: HoldEvidence,
    ready: Option<&PreparedStrokes<'_>>,
    figures: &mut Figures,
) -> StrokesPart {
    let mut part = StrokesPart {
        ends: ends(holds, ready),
        ..StrokesPart::default()
    };
    if let Some(ready) = ready {
        part.taken = moving_figures(recording, channel, ready, &mut part, figures);
    }
    part
}

fn ends(holds: HoldEvidence, ready: Option<&PreparedStrokes<'_>>) -> Option<Ends> {
    let ready = ready.map(|ready| ready.ends);
    ready.or_else(|| Ends::from_holds(holds.rest, holds.full))
}

impl StrokesPart {
    /// Counts what was found lost in every sample, but for what wear explains.
    pub(crate) fn lose_contact(
        &mut self,
        (recording, channel): (&Recording<'_>, &Channel<'_>),
        found: Vec<LocatedExcursion>,
        strokes: bool,
        figures: &mut Figures,
    ) {
        let Some(ends) = self.ends else { return };
        let taken = Exposure {
            bins: std::mem::take(&mut self.taken),
            ..Exposure::of_steps(recording)
        };
        let quiet = self.map.as_ref().map_or(0.0, |map| map.overall);
        let found = contact_loss::without_wear(found, &self.worn_zones, quiet, ends);
        let lost = contact_loss::in_steps(recording, &found, &self.strokes);
        let own = losses::of_the_part(&lost, &taken);
        let silent = silences(recording, channel, ends);
        let silent = contact_loss::in_steps(recording, &silent, &self.strokes);
        let silent = losses::of_the_part(&silent, &taken);
        let silent = silent.into_iter().filter(|own| *own).count();
        self.silences = if silent < FEWEST_SILENT { 0 } else { silent };
        self.dropouts = lost.iter().map(|lost| lost.dropout).collect();
        // Without movement there is no evidence that contact is never lost; where it was, that is evidence.
        if strokes || taken.shaken > 0 || !own.is_empty() {
            let count =
                contact_loss::dropouts_count((&own, self.silences), self.strokes.len(), ends);
            figures.set(FigureName::DropoutsCount, count);
        }
        let spikes = contact_loss::spikes_per_min(recording, &lost, &own);
        figures.set(FigureName::SpikesPerMin, spikes);
    }
}

/// What each stroke of a channel leaves, in order.
#[derive(Default)]
struct StrokeContact {
    /// The path's index and the stroke of each entry below.
    places: Vec<(usize, Range<usize>)>,
    noises: Vec<StrokeNoise>,
    energies: Vec<StrokeEnergy>,
    loudest: Vec<f64>,
    /// Local deviations over the travel, of the strokes that have any.
    profiles: Vec<Profile>,
}

impl StrokeContact {
    /// A stroke at a time: its samples are copied out once and forgotten.
    fn of(ready: &PreparedStrokes<'_>) -> Self {
        let mut contact = Self::default();
        for (at, (path, strokes)) in ready.paths.iter().zip(&ready.strokes).enumerate() {
            for stroke in strokes {
                let range = stroke.range.start - path.first..stroke.range.end - path.first;
                let whole = with_dwell(stroke);
                let core = stroke.range.start - whole.start..stroke.range.end - whole.start;
                let whole = whole.start - path.first..whole.end - path.first;
                let residuals = Residuals::of(
                    &path.piece(whole.clone()),
                    &path.runs(whole),
                    core,
                    ready.ends,
                );
                if let Some(residuals) = residuals
                    && let Some(noise) = StrokeNoise::of(&residuals)
                {
                    contact.places.push((at, range.clone()));
                    contact.noises.push(noise);
                    let near =
                        NEAR_PCT + 100.0 * NEAR_SIGMA * ready.sigma / ready.ends.span().abs();
                    let energy = StrokeEnergy::of(stroke, &residuals, near);
                    contact.energies.push(energy);
                    contact.loudest.push(loudest(&residuals));
                }
                let profile = smoothness::profile(path, range, ready.ends);
                contact.profiles.extend(profile);
            }
        }
        contact
    }
}

/// A stroke with the dwell at both ends, at most half as long as the stroke each: its ends move slowly, which the stroke
/// proper leaves out.
fn with_dwell(stroke: &Stroke) -> Range<usize> {
    let most = stroke.range.len() / 2;
    let before = stroke.range.start - stroke.turns.start;
    let after = stroke.turns.end - stroke.range.end;
    stroke.range.start - before.min(most)..stroke.range.end + after.min(most)
}

/// Figures of the contact as it moves.
fn moving_figures(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    ready: &PreparedStrokes<'_>,
    part: &mut StrokesPart,
    figures: &mut Figures,
) -> [Vec<usize>; 2] {
    let StrokeContact {
        places,
        noises,
        energies,
        loudest,
        profiles,
    } = StrokeContact::of(ready);
    part.strokes = ready.strokes.concat();
    part.bounce_pct = ready.bounce_pct;
    let strokes = describe(&part.strokes, ready.ends);
    let told = |mut figure: Figure| {
        figure.method = format!("{}; {strokes}", figure.method);
        figure
    };
    let again = |stroke: usize| {
        let (at, range) = places.get(stroke)?.clone();
        let path = &ready.paths[at];
        let core = 0..range.len();
        Residuals::of(
            &path.piece(range.clone()),
            &path.runs(range),
            core,
            ready.ends,
        )
    };
    let common = common_sd(&noises);
    let taken = samples_in_bins(&energies);
    let still = Still::of(recording, channel, ready.ends, &energies, FLOOR_CODE);
    let own = common
        .map_or(FLOOR_CODE, |(sd, _)| sd.max(FLOOR_CODE))
        .powi(2);
    let quiet = |bin, samples| {
        still
            .as_ref()
            .map_or(own, |still| still.variance(bin, samples))
    };
    let moving = Contact::of(&profiles, quiet);
    if let Some((sd, _)) = common {
        let at_rest = still
            .as_ref()
            .map(|still| |bin, samples| still.variance(bin, samples));
        let at_rest = at_rest.as_ref().map(|f| f as &dyn Fn(usize, usize) -> f64);
        if let Some(mut wear) = wear(&noises, energies, sd, at_rest) {
            // An end that is loud as it stands is no measure for what is beside it.
            let quietest = |_, samples| quiet(0, samples).min(quiet(BINS - 1, samples));
            let uneven = UnevenCodes::of(&moving, ready.ends, quietest);
            without_the_boards(ready, &mut wear, &uneven, part);
            let count = zones_count(&wear, &part.wide_codes);
            figures.set(FigureName::WornZonesCount, count.map(told));
            part.worn_zones = wear.zones;
            part.map = Some(wear.map);
        }
        let share = interference_share(&noises, &loudest, again, sd, &part.worn_zones);
        figures.set(FigureName::InterferenceShare, share.map(told));
    }
    let smoothness = smoothness::smoothness(&profiles, moving, ready.ends, &recording.board);
    let noise = common.and_then(|common| stroke_noise(&noises, common));
    figures.set(FigureName::StrokeNoiseRms, noise.map(told));
    figures.set(FigureName::Smoothness, smoothness.map(told));
    taken
}

/// Samples of all strokes in each bin of travel, up and down.
fn samples_in_bins(energies: &[StrokeEnergy]) -> [Vec<usize>; 2] {
    let mut bins = [vec![0; BINS], vec![0; BINS]];
    for energy in energies {
        let way = usize::from(energy.direction == Direction::Down);
        for (all, own) in bins[way].iter_mut().zip(&energy.count) {
            *all += own;
        }
    }
    bins
}

/// Takes zones that wide codes of the board explain from the worn ones, and notes these codes; notes the zones of which codes of the
/// board may be all that is seen.
fn without_the_boards(
    ready: &PreparedStrokes<'_>,
    wear: &mut Wear,
    uneven: &UnevenCodes,
    part: &mut StrokesPart,
) {
    for zone in std::mem::take(&mut wear.zones) {
        let unclear = match wide_codes::whose(&ready.paths, &ready.strokes, ready.ends, &zone) {
            ZoneOrigin::Board(codes) => {
                part.wide_codes.extend(codes);
                continue;
            }
            ZoneOrigin::Open => true,
            ZoneOrigin::Track => false,
        };
        let repeats = uneven.may_be(&zone);
        // What strokes of one direction alone show is no code of the board: those of the other would show it, too.
        if (unclear || repeats) && !wear.open.contains(&zone) {
            part.uneven_zones.extend(repeats.then_some(zone));
            part.open_zones.push(zone);
        }
        wear.zones.push(zone);
    }
    wear.open.extend_from_slice(&part.open_zones);
}

/// How many zones are worn. Where strokes were too fast or too few for a zone to show, no zones are no evidence: `None`;
/// zones that showed all the same, and zones while an end of the travel was not reached, are the least that there are.
fn zones_count(wear: &Wear, wide: &[WideCode]) -> Option<Figure> {
    let found = real(wear.zones.len());
    let codes: Vec<String> = wide.iter().map(|wide| format!("{}", wide.code)).collect();
    let board = if codes.is_empty() {
        String::new()
    } else {
        format!(
            " (wide codes of the board, {}, left out)",
            codes.join(" and ")
        )
    };
    let what = format!(
        "zones of travel with at least twice the noise of quiet contact (the stroke's own, and the signal's at rest) in most \
         strokes, beyond chance{board}"
    );
    let both_ways = wear.zones.iter().filter(|zone| !wear.open.contains(zone));
    let sure = real(both_ways.count());
    let least = |why: &str| Figure {
        low: Some(sure),
        high: None,
        ..Figure::counted(
            found,
            wear.strokes,
            format!("{what}; at least these: {why}"),
        )
    };
    if wear.seeing < SEEN_CHANCE {
        let why = "the strokes are too fast or too few for others to show";
        return (found > 0.0).then(|| least(why));
    }
    if !wear.unseen.is_empty() {
        let ends = wear.unseen.iter();
        let ends: Vec<String> = ends
            .map(|end| format!("{} to {} %", end.start, end.end))
            .collect();
        let why = format!("the strokes did not reach {} of travel", ends.join(" and "));
        return Some(least(&why));
    }
    let method = format!(
        "{what}; one of five times the noise on 6 % of travel would show in {:.1} of 100 such recordings or more",
        100.0 * SEEN_CHANCE
    );
    let one_way = if sure < found {
        "; the others are seen in one direction alone, as what comes in step with the hand is, or are as narrow as a wide code of the board, with too few samples to tell, or no rougher than a board's codes may be uneven"
    } else {
        ""
    };
    Some(Figure {
        low: Some(sure),
        ..Figure::counted(found, wear.strokes, method + one_way)
    })
}

fn describe(strokes: &[Stroke], ends: Ends) -> String {
    let whole = strokes.iter().filter(|stroke| stroke.complete).count();
    let incomplete = strokes.len() - whole;
    if incomplete == 0 {
        format!("{whole} strokes; {}", ends.describe())
    } else {
        format!(
            "{whole} complete strokes and {incomplete} incomplete ones for the travel they cover; {}",
            ends.describe()
        )
    }
}

/// The strokes of a channel with dropouts found and bridged. `None` when there are no strokes.
pub fn ready<'a>(
    recording: &Recording<'a>,
    channel: &Channel<'a>,
    holds: HoldEvidence,
) -> Option<PreparedStrokes<'a>> {
    let mut paths: Vec<Path<'_>> = stroke_paths(recording, channel);
    let sigma = paths
        .iter()
        .map(Path::noise_sd)
        .chain(holds.noise.filter(|noise| noise.is_finite()))
        .fold(0.0, f64::max);
    let held = Ends::from_holds(holds.rest, holds.full);
    let rough = held.or_else(|| ends_of(&paths, sigma))?;
    let mut found = Vec::new();
    let scale = Scale {
        ends: rough,
        sigma,
        top: recording.board.scale.max_code(),
    };
    for path in &mut paths {
        found.extend(excursions::of_path(path, scale, Motion::Moving));
    }
    // Ends taken from strokes are taken again where no dropout can be one.
    let ends = held.or_else(|| ends_of(&paths, sigma))?;
    let mut strokes: Vec<Vec<Stroke>> = Vec::new();
    let mut bounce_pct = None;
    for path in &paths {
        // A bounce of the stop is neither wear nor contact loss.
        let bounces = Bounces::of(path, ends);
        let all = strokes_of(path, ends, sigma).into_iter();
        strokes.push(
            all.filter_map(|stroke| bounces.without(path, stroke))
                .collect(),
        );
        found.retain(|one| !bounces.hold(path, ends, &one.range));
        bounce_pct = [bounce_pct, bounces.highest_pct(path, ends)]
            .into_iter()
            .flatten()
            .reduce(f64::max);
    }
    strokes
        .iter()
        .any(|strokes| !strokes.is_empty())
        .then_some(PreparedStrokes {
            paths,
            strokes,
            ends,
            dropouts: found,
            bounce_pct,
            sigma,
        })
}

/// The strokes passages of a channel, dropouts still in.
pub(crate) fn stroke_paths<'a>(recording: &Recording<'a>, channel: &Channel<'a>) -> Vec<Path<'a>> {
    paths(recording, channel, &[Step::Strokes])
}

fn paths<'a>(recording: &Recording<'a>, channel: &Channel<'a>, steps: &[Step]) -> Vec<Path<'a>> {
    recording
        .passages
        .iter()
        .filter(|passage| steps.contains(&passage.step))
        .filter_map(|passage| Path::new(recording, channel, passage))
        .collect()
}
