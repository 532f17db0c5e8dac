//! The composition: one recording in, every figure out.
//!
//! Belongs here: which module supplies which figure, in what order. Does not belong here: any formula.

use super::divider::{self, DividerModel};
use super::recording::{Channel, Measured, MeasuredChannel, MeasuredPair, Recording};
use super::releases::Ends;
use super::returns::{self, Holds};
use super::{HoldEvidence, Ready, lines_part, pair_part, ready, strokes_part};
use super::{drift, levels, noise, release_time, ruler, spectrum, supply};
use crate::figure::{FigureName as Name, Figures, Scope};
use crate::units::{Role, Track};

/// Measures every signal channel of a recording, and every pair of tracks.
#[must_use]
pub fn figures(recording: &Recording<'_>) -> Measured {
    figures_with(recording, &[])
}

/// The same, with what is known of the tracks that are rheostats: they get their divider's figures as well.
#[must_use]
pub fn figures_with(recording: &Recording<'_>, dividers: &[DividerModel]) -> Measured {
    figures_by(recording, dividers, |channels, measure| {
        channels.iter().map(|channel| measure(channel)).collect()
    })
}

/// One channel measured, and its strokes made ready for the pair.
pub struct ChannelMeasured {
    figures: MeasuredChannel,
    moved: Option<Ready>,
}

/// The same as [`figures_with`], where `each` measures the channels: it gives what its second argument makes of each of
/// the first, in that order, and may do so in threads.
#[must_use]
pub fn figures_by(
    recording: &Recording<'_>,
    dividers: &[DividerModel],
    each: impl FnOnce(
        &[&Channel<'_>],
        &(dyn Fn(&Channel<'_>) -> ChannelMeasured + Sync),
    ) -> Vec<ChannelMeasured>,
) -> Measured {
    let signals: Vec<&Channel<'_>> = recording
        .channels
        .iter()
        .filter(|channel| channel.role == Role::Signal)
        .collect();
    let (channels, moved): (Vec<_>, Vec<_>) = each(&signals, &|channel| {
        channel_figures(recording, channel, dividers)
    })
    .into_iter()
    .map(|channel| (channel.figures, channel.moved))
    .unzip();
    let measured = || signals.iter().copied().zip(channels.iter().zip(&moved));
    let pairs = measured()
        .filter(|(channel, _)| channel.track == Track::One)
        .take(1)
        .flat_map(|a| {
            measured()
                .filter(|(b, _)| b.track == Track::Two)
                .map(move |b| (a, b))
        })
        .map(
            |((a, (_, moved_a)), (b, (measured_b, moved_b)))| MeasuredPair {
                a: a.name.to_owned(),
                b: b.name.to_owned(),
                figures: pair_part(
                    recording,
                    (a, moved_a.as_ref()),
                    (b, moved_b.as_ref()),
                    evidence(&measured_b.figures),
                ),
            },
        )
        .collect();
    Measured { channels, pairs }
}

/// One channel's figures, and its strokes made ready, for the pair.
fn channel_figures(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    dividers: &[DividerModel],
) -> ChannelMeasured {
    let mut figures = Figures::new(Scope::Channel);
    let holds = returns::collect(recording, channel.codes);
    hold_figures(recording, &holds, &mut figures);
    time_figures(recording, channel, &holds, &mut figures);
    board_figures(recording, channel, &mut figures);
    let held = evidence(&figures);
    let ends = held.rest.zip(held.full);
    let curve = lines_part(recording, channel, ends, &mut figures);
    if let Some(model) = dividers.iter().find(|model| model.track == channel.track) {
        divider::divider_part(recording, channel, ends, model, &mut figures);
    }
    let moved = ready(recording, channel, held);
    let strokes = strokes_part(recording, channel, held, moved.as_ref(), &mut figures);
    let figures = MeasuredChannel {
        name: channel.name.to_owned(),
        track: channel.track,
        figures,
        worn_zones: strokes.worn_zones,
        dropouts: strokes.dropouts,
        map: strokes.map,
        curve,
    };
    ChannelMeasured { figures, moved }
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
    let rest = levels::level(&holds.rest(), board);
    let full = levels::level(&holds.full(), board);
    figures.set(
        Name::RestCode,
        rest.as_ref().map(|level| level.code(board.scale)),
    );
    figures.set(
        Name::RestRatio,
        rest.as_ref().map(|level| level.ratio(board.scale)),
    );
    figures.set(
        Name::FullCode,
        full.as_ref().map(|level| level.code(board.scale)),
    );
    figures.set(
        Name::FullRatio,
        full.as_ref().map(|level| level.ratio(board.scale)),
    );
    let span = rest
        .as_ref()
        .zip(full.as_ref())
        .and_then(|(rest, full)| levels::span(rest, full));
    let (quiet, pressed) = (holds.quiet_rest(), holds.full());
    let noises = [noise::rms(&quiet), noise::rms(&pressed)]
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
    // A line that may be none at all is left to the noise.
    let seen = [Name::Hum50Rms, Name::Hum60Rms]
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
    let measured = holds.ends.map(|ends| Ends {
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
    figures.set(
        Name::RatiometricError,
        supply::ratiometric_error(recording, codes),
    );
}

/// What the board reads with its own input tied.
fn board_figures(recording: &Recording<'_>, channel: &Channel<'_>, figures: &mut Figures) {
    let ruler = ruler::measure(recording, channel.codes);
    figures.set(Name::BoardLowCode, ruler.low);
    figures.set(Name::BoardHighCode, ruler.high);
    figures.set(Name::BoardNoiseRms, ruler.noise);
}
