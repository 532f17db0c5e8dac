//! The second track as a check of the first: gain, offset, band.

use super::evidence::TrackEvidence;
use super::{Choice, ChooseError, ErrorKind, Margin};
use crate::constants::Check;
use crate::wiring::pair::BAND;
use measure::Recording;
use measure::figure::{FigureName as Name, Figures};
use measure::units::Code;
use measure::units::maths;

#[derive(Clone, Copy)]
pub(super) struct TrackPair<'a> {
    pub recording: &'a Recording<'a>,
    pub first: (&'a TrackEvidence, &'a [Code]),
    pub second: (&'a TrackEvidence, &'a [Code]),
    /// Index of the first track's input.
    pub partner: u8,
    /// Share of travel at which the first track would put out more than a fault may at rest: beyond it the tracks must disagree.
    pub most_at_rest: f64,
}

/// A check with its choices, and sigmas from the largest good departure to the band.
pub(super) struct TrackCheck {
    pub check: Check,
    pub choices: [Choice; 3],
    pub sigma: f64,
}

/// Gain and offset as measured; the band half-way between the largest departure of this unit, at its fastest stroke and
/// with its noise, and 10 % of the second track's travel, from which two tracks are taken to disagree. Refused when the unit
/// departs by more than that already.
pub(super) fn check(
    pair: &TrackPair<'_>,
    figures: Option<&Figures>,
) -> Result<TrackCheck, ChooseError> {
    let (a, b) = (pair.first.0, pair.second.0);
    let both = format!("{}/{}", a.channel, b.channel);
    let measured = figures.and_then(|f| Some((f.get(Name::TrackGain)?, f.get(Name::TrackOffset)?)));
    let refuse = |kind, words: String| Err(ChooseError::new(kind, format!("{both}: {words}")));
    let Some((gain, offset)) = measured else {
        return refuse(
            ErrorKind::Open,
            "the tracks were not compared: record with a `strokes` step and both tracks connected"
                .to_owned(),
        );
    };
    let scaled = (gain.value * 4096.0).round();
    if !(1.0..=32_767.0).contains(&scaled.abs()) || offset.value.abs() > 32_767.0 {
        return refuse(
            ErrorKind::Fail,
            format!(
                "a gain of {} and an offset of {:.1} codes cannot be written: the constants file takes a gain of at most 8",
                gain.value, offset.value
            ),
        );
    }
    let (gain_q12, offset_code) = (to_i16(scaled), to_i16(offset.value.round()));
    let span = b.span().abs();
    let bound = BAND * span;
    let seen = largest_departure(pair, gain_q12, offset_code);
    if seen >= bound {
        return refuse(
            ErrorKind::Fail,
            format!(
                "the tracks depart by {seen:.1} codes, {:.1} % of travel, and from {:.0} % on they must count as disagreeing: \
             see `track_disagreement` and `track_lag` in `assess`",
                100.0 * seen / span,
                100.0 * BAND
            ),
        );
    }
    let half_way = f64::midpoint(seen, bound);
    // A fault of the first track alone is unnoticed up to the band: at rest it may not put out too much there.
    let at_rest = pair.most_at_rest * span - 1.0;
    let narrower = at_rest < half_way && at_rest > seen + 1.0;
    let band = if narrower { at_rest } else { half_way }.floor();
    let because = if narrower {
        "; narrower than half-way, so that what a fault of one track puts out at rest stays below 5 %"
    } else {
        ""
    };
    let noise = maths::hypot(b.noise, gain.value * a.noise);
    let lagging = lagging(pair, figures);
    let choice = |what, value, unit, reason: String, margin| Choice {
        place: String::new(),
        channel: b.channel.clone(),
        what,
        value,
        unit,
        reason,
        margin,
    };
    let mut margin = Margin::codes(band - seen, noise, span, "the largest good departure");
    margin.words = format!(
        "{}; {:.1} codes to {:.0} % of travel",
        margin.words,
        bound - band,
        100.0 * BAND
    );
    let choices = [
        choice(
            "gain",
            f64::from(gain_q12) / 4096.0,
            "1",
            format!("track_gain {:.4}", gain.value),
            Margin::words(interval(gain)),
        ),
        choice(
            "offset",
            f64::from(offset_code),
            "code",
            format!("track_offset {:.2}", offset.value),
            Margin::words(interval(offset)),
        ),
        choice(
            "band",
            band,
            "code",
            format!(
                "half-way between the largest departure of any sample of this part, {seen:.1} codes{lagging}, and {:.0} % of \
                 its travel, {bound:.1} codes (published rule sets of student racing, for longer than 100 ms){because}",
                100.0 * BAND
            ),
            margin,
        ),
    ];
    Ok(TrackCheck {
        check: Check {
            partner: pair.partner,
            gain_q12,
            offset: offset_code,
            band: super::to_code(band, u16::MAX),
        },
        choices,
        sigma: (band - seen) / noise,
    })
}

fn interval(figure: &measure::figure::Figure) -> String {
    match (figure.low, figure.high) {
        (Some(low), Some(high)) => format!("95 % interval {low:.4} to {high:.4}"),
        _ => "no interval".to_owned(),
    }
}

fn lagging(pair: &TrackPair<'_>, figures: Option<&Figures>) -> String {
    let Some(ms) = figures.and_then(|f| f.value(Name::TrackLag)) else {
        return String::new();
    };
    let fastest = fastest_per_ms(pair);
    format!(
        "; a lag of {ms:.2} ms at the fastest {fastest:.2} codes/ms is {:.1} of them",
        (ms * fastest).abs()
    )
}

#[allow(clippy::cast_possible_truncation)] // within +-32767: checked before
fn to_i16(value: f64) -> i16 {
    value as i16
}

/// Codes of both tracks in every step in which they are used.
fn in_use<'a>(pair: &'a TrackPair<'_>) -> impl Iterator<Item = (&'a [Code], &'a [Code])> {
    pair.recording
        .passages
        .iter()
        .filter(|passage| passage.step.is_use())
        .filter_map(|passage| {
            let range = passage.range.clone();
            Some((pair.first.1.get(range.clone())?, pair.second.1.get(range)?))
        })
}

fn largest_departure(pair: &TrackPair<'_>, gain_q12: i16, offset: i16) -> f64 {
    let line = |a: &Code| f64::from(gain_q12) / 4096.0 * a.as_f64() + f64::from(offset);
    in_use(pair)
        .flat_map(|(a, b)| a.iter().zip(b))
        .map(|(a, b)| (b.as_f64() - line(a)).abs())
        .fold(0.0, f64::max)
}

/// Fastest movement of the second track over ten samples, codes a millisecond.
fn fastest_per_ms(pair: &TrackPair<'_>) -> f64 {
    const OVER: usize = 10;
    let per_ms = pair.recording.board.rate_hz / 1000.0;
    in_use(pair)
        .flat_map(|(_, b)| b.windows(OVER + 1))
        .map(|w| (w[OVER].as_f64() - w[0].as_f64()).abs() / 10.0)
        .fold(0.0, f64::max)
        * per_ms
}

#[cfg(test)]
mod tests {
    use super::*;
    use measure::BoardFacts;
    use measure::figure::{Figure, Scope};
    use measure::units::{Passage, Scale, Step};

    fn seen(channel: &str, rest: f64, full: f64) -> TrackEvidence {
        TrackEvidence::example(channel, &[rest; 3], &[full; 3], 0.3)
    }

    /// Track b = a / 2 but for `off` codes in one sample of a stroke; an idle sample off by 300 does not count.
    fn checked(off: u32, measured: bool) -> Result<TrackCheck, ChooseError> {
        let a: Vec<Code> = (0..81).map(|i| Code(100 + 10 * i)).collect();
        let mut b: Vec<Code> = a.iter().map(|code| Code(code.0 / 2)).collect();
        b[40].0 += off;
        b[80].0 += 300;
        let passage = |step, range| Passage { step, range };
        let passages = [passage(Step::Strokes, 0..80), passage(Step::Idle, 80..81)];
        let t_us: Vec<u64> = (0..81).map(|i| i * 1000).collect();
        let board = BoardFacts::new(Scale::new(10, 5000.0).unwrap(), 1000.0);
        let recording = Recording::new(board, &t_us, &passages);
        let mut figures = Figures::new(Scope::Pair);
        if measured {
            figures.set(Name::TrackGain, Figure::symmetric(0.5, 0.001, 2.0, 6, ""));
            figures.set(Name::TrackOffset, Figure::symmetric(0.2, 0.1, 2.0, 6, ""));
        }
        let (one, two) = (seen("a", 100.0, 900.0), seen("b", 50.0, 450.0));
        let pair = TrackPair {
            recording: &recording,
            first: (&one, &a),
            second: (&two, &b),
            partner: 0,
            most_at_rest: 1.0,
        };
        check(&pair, Some(&figures))
    }

    /// By hand: 10 % of 400 codes is 40; the largest departure 6: half-way 23.
    #[test]
    fn the_band_lies_half_way() {
        let check = checked(6, true).unwrap().check;
        let expected = Check {
            partner: 0,
            gain_q12: 2048,
            offset: 0,
            band: 23,
        };
        assert_eq!(check, expected);
    }

    #[test]
    fn tracks_that_disagree_or_were_not_compared_are_refused() {
        let refused = |off, measured| checked(off, measured).err().unwrap();
        let far = refused(44, true);
        assert!(
            far.kind == ErrorKind::Fail && far.words.contains("44.0 codes, 11.0 % of travel"),
            "{far}"
        );
        let open = refused(0, false);
        assert!(
            open.kind == ErrorKind::Open && open.words.contains("`strokes`"),
            "{open}"
        );
    }
}
