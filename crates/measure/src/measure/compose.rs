//! The composition: one recording in, every figure out.

use crate::figure::{Evidence, FigureName as Name, Figures, Scope};
use crate::measure::board::{own_codes, supply};
use crate::measure::holds::lines::Rooms;
use crate::measure::holds::releases::EndLevels;
use crate::measure::holds::returns::{self, Holds};
use crate::measure::holds::{creep, drift, levels, noise, release_time, spectrum};
use crate::measure::measured::{Measured, MeasuredChannel, MeasuredPair};
use crate::measure::recording::{Channel, Recording};
use crate::measure::strokes::excursions::LocatedExcursion;
use crate::measure::strokes::figures::{
    HoldEvidence, PreparedStrokes, StrokesPart, in_every_sample, moving_part, ready,
};
use crate::measure::tracks::figures::pair_part;
use crate::measure::tracks::together::own_noise_at_full;
use crate::measure::travel::divider::{self, DividerModel};
use crate::measure::travel::figures::{DeviationCurve, travel_figures};
use crate::units::{Role, Track};

/// Measures every signal channel of a recording, and every pair of tracks.
#[must_use]
pub fn figures(recording: &Recording<'_>) -> Measured {
    figures_with(recording, &[])
}

/// The same, with what is known of the tracks that are rheostats: they get their divider's figures as well.
#[must_use]
pub fn figures_with(recording: &Recording<'_>, dividers: &[DividerModel]) -> Measured {
    figures_by(recording, dividers, &|jobs| {
        for job in jobs {
            job();
        }
    })
}

/// Work that may be done in any order, or in threads.
pub type Jobs<'a> = Vec<Box<dyn FnOnce() + Send + 'a>>;

/// The same, where `run` does all of some jobs before it comes back.
pub fn figures_by(
    recording: &Recording<'_>,
    dividers: &[DividerModel],
    run: &dyn Fn(Jobs<'_>),
) -> Measured {
    let signals: Vec<&Channel<'_>> = recording
        .channels
        .iter()
        .filter(|channel| channel.role == Role::Signal)
        .collect();
    let mut work: Vec<ChannelWork<'_>> = signals.iter().map(|_| ChannelWork::default()).collect();
    let jobs = signals.iter().zip(&mut work).map(|(channel, work)| {
        let job = || *work = ChannelWork::of(recording, channel, dividers);
        Box::new(job) as Box<dyn FnOnce() + Send + '_>
    });
    run(jobs.collect());
    let work = work.as_slice();
    let mut strokes: Vec<ChannelStrokes> = work.iter().map(ChannelStrokes::after).collect();
    let mut pairs: Vec<MeasuredPair> = pairs_of(&signals)
        .map(|(a, b)| MeasuredPair {
            a: signals[a].name.to_owned(),
            b: signals[b].name.to_owned(),
            figures: Figures::new(Scope::Pair),
            own_noise_at_full: None,
        })
        .collect();
    run(moving_jobs(
        recording,
        &signals,
        work,
        &mut strokes,
        &mut pairs,
    ));
    let channels = signals.iter().zip(work).zip(strokes);
    let channels =
        channels.map(|((channel, work), strokes)| strokes.measured(recording, channel, work));
    Measured {
        channels: channels.collect(),
        pairs,
    }
}

/// What is measured of movement, the longest job first, so that no thread is left alone with it.
fn moving_jobs<'j>(
    recording: &'j Recording<'_>,
    signals: &'j [&Channel<'_>],
    work: &'j [ChannelWork<'_>],
    strokes: &'j mut [ChannelStrokes],
    pairs: &'j mut [MeasuredPair],
) -> Jobs<'j> {
    let (mut jobs, mut short): (Jobs<'_>, Jobs<'_>) = (Vec::new(), Vec::new());
    for ((channel, work), strokes) in signals.iter().zip(work).zip(strokes) {
        let ChannelStrokes {
            figures,
            part,
            lost,
        } = strokes;
        let (held, moved) = (work.held, work.moved.as_ref());
        jobs.push(Box::new(move || {
            *part = moving_part(recording, channel, held, moved, figures);
        }));
        short.push(Box::new(move || {
            *lost = in_every_sample(recording, channel, held, moved);
        }));
    }
    for ((a, b), pair) in pairs_of(signals).zip(pairs) {
        let side = |at: usize| (signals[at], work[at].moved.as_ref());
        let (a, held_b, b) = (side(a), work[b].held, side(b));
        jobs.push(Box::new(move || {
            pair.figures = pair_part(recording, a, b, held_b);
            let gain = pair.figures.value(Name::TrackGain);
            pair.own_noise_at_full =
                gain.and_then(|gain| own_noise_at_full(recording, (a.0, b.0), gain));
        }));
    }
    jobs.extend(short);
    jobs
}

/// The first channel of track 1 with each of track 2.
fn pairs_of<'a>(signals: &'a [&Channel<'_>]) -> impl Iterator<Item = (usize, usize)> + 'a {
    let of = move |track| (0..signals.len()).filter(move |&at| signals[at].track == track);
    of(Track::One)
        .take(1)
        .flat_map(move |a| of(Track::Two).map(move |b| (a, b)))
}

/// One channel's figures but for those of its strokes, which are made ready, for the pair as well.
struct ChannelWork<'a> {
    figures: Figures,
    held: HoldEvidence,
    rooms: Rooms,
    moved: Option<PreparedStrokes<'a>>,
    curve: Option<DeviationCurve>,
}

impl Default for ChannelWork<'_> {
    fn default() -> Self {
        Self {
            figures: Figures::new(Scope::Channel),
            held: HoldEvidence::default(),
            rooms: Rooms::default(),
            moved: None,
            curve: None,
        }
    }
}

impl<'a> ChannelWork<'a> {
    fn of(recording: &Recording<'a>, channel: &Channel<'a>, dividers: &[DividerModel]) -> Self {
        let mut figures = Figures::new(Scope::Channel);
        let holds = returns::collect(recording, channel.codes);
        hold_figures(recording, &holds, &mut figures);
        time_figures(recording, channel, &holds, &mut figures);
        board_figures(recording, channel, &mut figures);
        let held = evidence(&figures);
        let ends = held.rest.zip(held.full);
        let curve = travel_figures(recording, channel, ends, &mut figures);
        if let Some(model) = dividers.iter().find(|model| model.track == channel.track) {
            divider::divider_part(recording, channel, ends, model, &mut figures);
        }
        Self {
            moved: ready(recording, channel, held),
            rooms: Rooms::of(
                channel.codes,
                &holds.quiet_rest(),
                &holds.full(),
                recording.board.rate_hz,
            ),
            figures,
            held,
            curve,
        }
    }
}

/// One channel's figures with those of its strokes, and the excursions that do not count yet.
struct ChannelStrokes {
    figures: Figures,
    part: StrokesPart,
    lost: Vec<LocatedExcursion>,
}

impl ChannelStrokes {
    fn after(work: &ChannelWork<'_>) -> Self {
        Self {
            figures: work.figures.clone(),
            part: StrokesPart::default(),
            lost: Vec::new(),
        }
    }

    fn measured(
        mut self,
        recording: &Recording<'_>,
        channel: &Channel<'_>,
        work: &ChannelWork<'_>,
    ) -> MeasuredChannel {
        let moved = work.moved.is_some();
        let mut part = self.part;
        part.lose_contact((recording, channel), self.lost, moved, &mut self.figures);
        MeasuredChannel {
            name: channel.name.to_owned(),
            track: channel.track,
            figures: self.figures,
            worn_zones: part.worn_zones,
            open_zones: part.open_zones,
            uneven_zones: part.uneven_zones,
            wide_codes: part.wide_codes,
            rooms: work.rooms.clone(),
            dropouts: part.dropouts,
            bounce_pct: part.bounce_pct,
            silences: part.silences,
            map: part.map,
            curve: work.curve.clone(),
        }
    }
}

/// What the holds gave, for the strokes: both ends, and the smaller noise of both.
fn evidence(figures: &Figures) -> HoldEvidence {
    let noises = [Name::NoiseRestRms, Name::NoiseFullRms];
    HoldEvidence {
        rest: figures.value(Name::RestCode),
        full: figures.value(Name::FullCode),
        noise: noises
            .into_iter()
            .filter_map(|name| figures.value(name))
            .reduce(f64::min),
    }
}

/// Levels, noise and returns.
fn hold_figures(recording: &Recording<'_>, holds: &Holds, figures: &mut Figures) {
    let board = &recording.board;
    let span = holds.ends.map(|ends| ends.full - ends.rest);
    let visits = |evidence, others| levels::Visits {
        evidence,
        others,
        span,
    };
    let pressed = holds.pressed();
    let rest = levels::of_part(&holds.rest(), board, visits(Evidence::Holds, &[]));
    let full = levels::of_part(&holds.full(), board, visits(Evidence::Presses, &pressed));
    for (level, code, ratio) in [
        (&rest, Name::RestCode, Name::RestRatio),
        (&full, Name::FullCode, Name::FullRatio),
    ] {
        figures.set(code, level.as_ref().map(|level| level.code(board.scale)));
        figures.set(ratio, level.as_ref().map(|level| level.ratio(board.scale)));
    }
    let span = rest
        .as_ref()
        .zip(full.as_ref())
        .and_then(|(rest, full)| levels::span(rest, full));
    let noises = [noise::rms(&holds.quiet_rest()), noise::rms(&holds.full())]
        .map(|noise| noise.map(|noise| noise.at_rate(board.rate_hz)));
    let present: Vec<_> = noises.iter().flatten().collect();
    figures.set(
        Name::NoiseFreeBits,
        span.as_ref()
            .and_then(|span| noise::free_bits(span, &present)),
    );
    let [noise_rest, noise_full] = noises;
    figures.set(Name::NoiseRestRms, noise_rest);
    figures.set(Name::NoiseFullRms, noise_full);
    figures.set(Name::SpanCode, span);
    let returned = holds.returned();
    figures.set(Name::ReturnScatter, returns::scatter(&returned));
    let range = returns::range(&returned).map(|range| range.at_rate(board.rate_hz));
    figures.set(Name::ReturnRange, range);
}

/// Figures that need the order of samples in time: release time, hum, drift, supply.
fn time_figures(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    holds: &Holds,
    figures: &mut Figures,
) {
    let codes = channel.codes;
    let still = [holds.quiet_rest(), holds.full()].concat();
    let hum = |mains_hz| spectrum::hum(recording, codes, &still, mains_hz);
    figures.set(Name::Hum50Rms, hum(50.0));
    figures.set(Name::Hum60Rms, hum(60.0));
    figures.set(Name::Hum100Rms, hum(100.0));
    figures.set(Name::Hum120Rms, hum(120.0));
    // A line that may be none at all is left to the noise.
    let seen = [
        Name::Hum50Rms,
        Name::Hum60Rms,
        Name::Hum100Rms,
        Name::Hum120Rms,
    ]
    .into_iter()
    .filter_map(|name| figures.get(name))
    .filter(|line| line.low.is_some_and(|low| low > 0.0))
    .map(|line| line.value)
    .fold(0.0, f64::max);
    figures.set(Name::NoisePeakToPeak, noise::peak_to_peak(&still, seen));
    figures.set(
        Name::DriftPerMin,
        drift::per_minute(recording, codes, &still),
    );
    let u_ends = [Name::RestCode, Name::FullCode]
        .into_iter()
        .filter_map(|name| figures.get(name)?.u)
        .fold(0.0, f64::max);
    // The span that the figures state, where they do.
    let stated = |name, provisional| figures.value(name).unwrap_or(provisional);
    let measured = holds.ends.map(|ends| EndLevels {
        rest: stated(Name::RestCode, ends.rest),
        full: stated(Name::FullCode, ends.full),
        // Releases are looked for with the noise rounded up; a crossing is as uncertain as the noise really is.
        noise: [Name::NoiseRestRms, Name::NoiseFullRms]
            .into_iter()
            .filter_map(|name| figures.value(name))
            .reduce(f64::max)
            .unwrap_or(ends.noise),
    });
    let release = measured
        .and_then(|ends| release_time::slowest(recording, codes, &holds.returns, ends, u_ends));
    figures.set(Name::ReleaseTime, release);
    figures.set(Name::RestCreep, creep::at_rest(recording, codes, holds));
    figures.set(
        Name::RatiometricError,
        supply::ratiometric_error(recording, codes),
    );
}

/// What the board reads with its own input tied.
fn board_figures(recording: &Recording<'_>, channel: &Channel<'_>, figures: &mut Figures) {
    let own_codes = own_codes::measure(recording, channel.codes);
    figures.set(Name::BoardLowCode, own_codes.low);
    figures.set(Name::BoardHighCode, own_codes.high);
    figures.set(Name::BoardNoiseRms, own_codes.noise);
}
