//! A wire that came off while it was being recorded: from some moment on the input reads what a broken wire leaves there.

use super::predicted::{Faulty, TrackModel};
use crate::wiring::{Fault, Wire};
use measure::Recording;
use measure::units::{Code, seconds_from_us};

/// So long it must stay there, seconds: less is a contact that is lost and comes back.
const LONG_S: f64 = 0.5;
/// Nearer than this to a reading is at it, as a share of the reference.
const AT: f64 = 0.02;
/// So far from all that a good part reads a broken wire must read to be told from it.
const BEYOND: f64 = 0.03;
/// Share of a good part's way that it went while it was whole.
const WENT: f64 = 0.5;
/// It is gone for good where so little is recorded behind it, seconds.
const THE_END_S: f64 = 0.1;

/// What may come off, the likeliest first.
const FAULTS: [Fault; 3] = [
    Fault::Open(Wire::Signal),
    Fault::Open(Wire::Supply),
    Fault::Open(Wire::Ground),
];
const RAILS: [(Fault, f64); 2] = [
    (Fault::Short(Wire::Supply, Wire::Signal), 1.0),
    (Fault::Short(Wire::Signal, Wire::Ground), 0.0),
];
/// A wire comes off a few times at most: what is at the rail at every press is the end of the scale.
const MOST_STRETCHES: usize = 3;
/// A stretch that counts as one of them, seconds.
const COUNTS_S: f64 = 0.05;

/// A stretch in which a signal was not there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gone {
    pub fault: Fault,
    /// Seconds from the first sample.
    pub from_s: f64,
    pub to_s: f64,
    /// It never came back.
    pub for_good: bool,
}

/// The longest stretch in which a signal reads what a fault of its wiring leaves, while it moved as it should at another time.
pub(super) fn gone(recording: &Recording<'_>, codes: &[Code], model: &TrackModel) -> Option<Gone> {
    let [rest, full] = model.good;
    let (rest, full) = (rest?.nominal, full?.nominal);
    let good = (rest.min(full), rest.max(full));
    let foretold = FAULTS.into_iter().filter_map(|fault| {
        let Some(Faulty::Reads([low, high])) = model.with(fault) else {
            return None;
        };
        let still = (low.nominal - high.nominal).abs() < AT;
        still.then_some((fault, low.nominal))
    });
    let floats = model.with(FAULTS[0]) == Some(Faulty::Floats);
    // A short to a rail reads that, whatever else it does to the supply. A pin that nothing holds may come to rest there, too.
    let rails = RAILS.into_iter().map(|(fault, level)| {
        let fault = if floats { FAULTS[0] } else { fault };
        (fault, level)
    });
    foretold.chain(rails).find_map(|(fault, level)| {
        let beyond = level < good.0 - BEYOND || level > good.1 + BEYOND;
        beyond
            .then(|| stretch(recording, codes, (level, good)))?
            .map(|(from_s, to_s, for_good)| Gone {
                fault,
                from_s,
                to_s,
                for_good,
            })
    })
}

/// From, to, and whether to the end: the longest stretch at a level, where the rest of the recording shows a signal that moves.
fn stretch(
    recording: &Recording<'_>,
    codes: &[Code],
    (level, good): (f64, (f64, f64)),
) -> Option<(f64, f64, bool)> {
    let of_codes = f64::from(recording.board.scale.codes());
    let first = *recording.t_us.first()?;
    let passages = recording.passages.iter();
    let passages = passages.filter(|p| !p.step.is_of_the_bench());
    let mut longest = None::<(f64, f64)>;
    let mut open = None::<(f64, f64)>;
    let mut stretches = 0;
    let (mut lowest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
    let mut last = 0.0;
    // Between the steps a plug may be pulled: what it moved there counts, what it read does not.
    let samples = passages.flat_map(|p| p.range.clone().map(|at| (at, p.step.is_use())));
    for (at, used) in samples {
        let (Some(code), Some(t_us)) = (codes.get(at), recording.t_us.get(at)) else {
            continue;
        };
        let now = seconds_from_us(t_us.saturating_sub(first));
        let reads = code.as_f64() / of_codes;
        if used {
            last = now;
        }
        if (reads - level).abs() > AT {
            if used {
                open = None;
            }
            if (good.0 - BEYOND..=good.1 + BEYOND).contains(&reads) {
                (lowest, highest) = (lowest.min(reads), highest.max(reads));
            }
            continue;
        }
        if !used {
            continue;
        }
        let is = (open.map_or(now, |(from, _)| from), now);
        let lasts = |(from, to): (f64, f64)| to - from >= COUNTS_S;
        stretches += usize::from(lasts(is) && !open.is_some_and(lasts));
        open = Some(is);
        if longest.is_none_or(|(from, to)| is.1 - is.0 > to - from) {
            longest = Some(is);
        }
    }
    let (from, to) =
        longest.filter(|(from, to)| to - from >= LONG_S && stretches <= MOST_STRETCHES)?;
    let moved = highest - lowest > WENT * (good.1 - good.0);
    moved.then_some((from, to, last - to < THE_END_S))
}
