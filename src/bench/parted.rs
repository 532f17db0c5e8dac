//! Two tracks that part: the pair's figures are of the strokes alone, and a track that dies behind them shows nowhere else.

use measure::figure::FigureName;
use measure::figure::numbers::fixed;
use measure::judge::{Finding, Outcome};
use measure::units::seconds_from_us;
use measure::{Channel, Measured, MeasuredPair, Recording};

/// Tracks further apart than this are not one, % of travel: what noise, lag and a quick release do stays below. Our own choice.
const APART_PCT: f64 = 10.0;
/// The same over what a profile allows them.
const OF_LIMIT: f64 = 1.5;
/// In so long a time most samples must be apart, seconds: a contact that bounces is a dropout, and a pin that floats is near now and then.
const BLOCK_S: f64 = 0.25;
/// Longest step between two samples of one block, seconds.
const TOGETHER_S: f64 = 0.1;

const ADVICE: &str =
    "look at the plug and at both signal wires, and measure again; if it stays, do not fit it";

/// A stretch in which tracks were apart.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Apart {
    from_s: f64,
    to_s: f64,
    worst_pct: f64,
}

impl Apart {
    fn lasts_s(self) -> f64 {
        self.to_s - self.from_s
    }
}

/// Fails the tracks' disagreement where they part for long in any step in which they are used.
pub(super) fn tell_of_parted_tracks(
    recording: &Recording<'_>,
    measured: &Measured,
    findings: &mut [Finding],
) {
    for pair in &measured.pairs {
        let name = format!("{}/{}", pair.a, pair.b);
        let passes = |f: &&mut Finding| {
            f.channel == name
                && f.figure == FigureName::TrackDisagreement
                && matches!(f.outcome, Outcome::Pass | Outcome::Undecided)
        };
        let Some(finding) = findings.iter_mut().find(passes) else {
            continue;
        };
        let allowed = finding.max.unwrap_or(0.0);
        if let Some(apart) = longest(recording, pair, APART_PCT.max(OF_LIMIT * allowed)) {
            finding.outcome = Outcome::Fail;
            finding.reason = format!(
                "for {} s, from {} s on, the tracks are up to {} % of travel apart; in the strokes: {}",
                fixed(apart.lasts_s(), 1),
                fixed(apart.from_s, 1),
                fixed(apart.worst_pct, 0),
                finding.reason
            );
            finding.advice = Some(ADVICE.to_owned());
        }
    }
}

/// The longest stretch in which the tracks do not lie on the line that the strokes gave.
fn longest(recording: &Recording<'_>, pair: &MeasuredPair, apart_pct: f64) -> Option<Apart> {
    let channel = |name: &str| -> Option<&Channel<'_>> {
        recording
            .channels
            .iter()
            .find(|channel| channel.name == name)
    };
    let (a, b) = (channel(&pair.a)?, channel(&pair.b)?);
    let gain = pair.figures.value(FigureName::TrackGain)?;
    let offset = pair.figures.value(FigureName::TrackOffset)?;
    let span = span(recording, b)?;
    let first = *recording.t_us.first()?;
    let mut blocks = Blocks::default();
    for at in used(recording).flat_map(|passage| passage.range.clone()) {
        let (Some(a), Some(b), Some(t_us)) =
            (a.codes.get(at), b.codes.get(at), recording.t_us.get(at))
        else {
            continue;
        };
        let now = seconds_from_us(t_us.saturating_sub(first));
        let pct = 100.0 * (b.as_f64() - gain * a.as_f64() - offset).abs() / span;
        blocks.take(now, pct, apart_pct);
    }
    blocks.end()
}

/// The steps in which both tracks are used.
fn used<'a>(recording: &'a Recording<'_>) -> impl Iterator<Item = &'a measure::units::Passage> {
    let passages = recording.passages.iter();
    passages.filter(|passage| passage.step.is_use())
}

/// How far a channel goes while it is used, codes; without a hundredth at each end, since lost contact is no travel.
fn span(recording: &Recording<'_>, channel: &Channel<'_>) -> Option<f64> {
    let codes =
        used(recording).flat_map(|p| channel.codes.get(p.range.clone()).unwrap_or_default());
    let mut codes: Vec<f64> = codes.map(|code| code.as_f64()).collect();
    codes.sort_by(f64::total_cmp);
    let aside = codes.len() / 100;
    let span = codes.get(codes.len().checked_sub(1 + aside)?)? - codes.get(aside)?;
    (span > 0.0).then_some(span)
}

/// Samples in blocks of time, and the longest stretch of blocks in which most samples are apart.
#[derive(Debug, Default)]
struct Blocks {
    block: Option<Block>,
    open: Option<Apart>,
    longest: Option<Apart>,
}

#[derive(Debug, Clone, Copy)]
struct Block {
    from_s: f64,
    to_s: f64,
    samples: u32,
    apart: u32,
    worst_pct: f64,
}

impl Blocks {
    fn take(&mut self, now: f64, pct: f64, apart_pct: f64) {
        if let Some(block) = self.block {
            let gap = now - block.to_s > TOGETHER_S;
            if gap || now - block.from_s >= BLOCK_S {
                self.close(block);
            }
            if gap {
                self.open = None;
            }
        }
        let block = self.block.get_or_insert(Block {
            from_s: now,
            to_s: now,
            samples: 0,
            apart: 0,
            worst_pct: 0.0,
        });
        block.to_s = now;
        block.samples += 1;
        if pct > apart_pct {
            block.apart += 1;
            block.worst_pct = block.worst_pct.max(pct);
        }
    }

    /// A block that is too short says nothing.
    fn close(&mut self, block: Block) {
        self.block = None;
        if block.to_s - block.from_s < 0.5 * BLOCK_S {
            return;
        }
        if 2 * block.apart <= block.samples {
            self.open = None;
            return;
        }
        let before = self.open;
        let is = Apart {
            from_s: before.map_or(block.from_s, |before| before.from_s),
            to_s: block.to_s,
            worst_pct: before.map_or(block.worst_pct, |before| {
                before.worst_pct.max(block.worst_pct)
            }),
        };
        self.open = Some(is);
        if self
            .longest
            .is_none_or(|longest| is.lasts_s() > longest.lasts_s())
        {
            self.longest = Some(is);
        }
    }

    fn end(mut self) -> Option<Apart> {
        if let Some(block) = self.block {
            self.close(block);
        }
        self.longest
    }
}

#[cfg(test)]
mod tests {
    use super::Blocks;

    /// A kilohertz of samples, apart where this says so; how long they were apart.
    fn apart_s(seconds: f64, apart: impl Fn(f64) -> bool) -> Option<f64> {
        let mut blocks = Blocks::default();
        let mut now = 0.0;
        while now < seconds {
            blocks.take(now, if apart(now) { 40.0 } else { 1.0 }, 10.0);
            now += 0.001;
        }
        blocks.end().map(super::Apart::lasts_s)
    }

    #[test]
    fn tracks_are_apart_for_long_or_they_bounce() {
        assert_eq!(apart_s(3.0, |_| false), None);
        assert_eq!(apart_s(3.0, |t| (1.0..1.1).contains(&t)), None);
        assert!(apart_s(3.0, |t| t > 1.1).unwrap() > 1.7);
        assert!(apart_s(3.0, |t| (1.1..1.6).contains(&t)).unwrap() > 0.2);
        // A pin that floats crosses the line ten times a second, by hand for a fifth of the time.
        assert!(apart_s(3.0, |t| t > 1.0 && (t * 10.0).fract() > 0.2).unwrap() > 1.7);
    }
}
