//! A rest that was out of the limit once, where the mean of many passes.

use measure::Recording;
use measure::figure::FigureName;
use measure::figure::numbers::fixed;
use measure::holds;
use measure::judge::{Finding, Outcome};
use measure::statistics::mean;
use measure::units::maths;

/// How far from all others one rest must stand to be told of, % of span: more than good springs scatter by. Our own choice.
const ODD_PCT: f64 = 2.0;
/// Fewest rests of which one can be odd.
const FEWEST: usize = 3;

const ADVICE: &str = "take foot and hand off it and record the rests again; if it stands there again, it sticks: do not fit it";

/// Leaves a rest end open that passes, where one rest alone was out of the limit and far from the others. The board has `bits`.
pub(super) fn tell_of_an_odd_rest(recording: &Recording<'_>, bits: u32, findings: &mut [Finding]) {
    for finding in findings.iter_mut().filter(|f| f.outcome == Outcome::Pass) {
        let (unit, digits) = match finding.figure {
            FigureName::RestCode => (1.0, 1),
            FigureName::RestRatio => (maths::exp2(f64::from(bits)), 3),
            _ => continue,
        };
        let mut channels = recording.channels.iter();
        let Some(channel) = channels.find(|channel| channel.name == finding.channel) else {
            continue;
        };
        let holds = holds::collect(recording, channel.codes);
        let means = |holds: &[&holds::Hold]| -> Vec<f64> { holds.iter().map(|h| h.mean).collect() };
        let (rests, full) = (means(&holds.rest()), means(&holds.full()));
        let outside = |level: f64| {
            let level = level / unit;
            finding.min.is_some_and(|min| level < min) || finding.max.is_some_and(|max| level > max)
        };
        let odd = odd(&rests, mean(&full) - mean(&rests));
        if let Some(level) = odd.filter(|level| outside(*level)) {
            finding.outcome = Outcome::Undecided;
            finding.reason = format!(
                "on average within the limit, but let go it stood at {} once, of {} rests: {}",
                fixed(level / unit, digits),
                rests.len(),
                finding.reason
            );
            finding.advice = Some(ADVICE.to_owned());
        }
    }
}

/// The rest that stands furthest from the mean of all others, if that is far.
fn odd(rests: &[f64], span: f64) -> Option<f64> {
    if rests.len() < FEWEST {
        return None;
    }
    let far = |at: usize| {
        let others = [&rests[..at], &rests[at + 1..]].concat();
        (rests[at] - mean(&others)).abs()
    };
    let furthest = (0..rests.len()).max_by(|a, b| far(*a).total_cmp(&far(*b)))?;
    (far(furthest) > ODD_PCT / 100.0 * span.abs()).then(|| rests[furthest])
}

#[cfg(test)]
mod tests {
    use super::odd;

    #[test]
    fn one_rest_far_from_all_others_is_odd() {
        // By hand: 2 % of 700 codes are 14.
        assert_eq!(odd(&[164.0, 163.0, 254.0, 164.0], 700.0), Some(254.0));
        assert_eq!(odd(&[164.0, 164.0, 179.0], 700.0), Some(179.0));
        assert_eq!(odd(&[164.0, 164.0, 177.0], 700.0), None);
        assert_eq!(odd(&[164.0, 179.0, 164.0], -700.0), Some(179.0)); // its codes fall with travel
        assert_eq!(odd(&[164.0, 254.0], 700.0), None);
        assert_eq!(odd(&[164.0, 254.0, 164.0], f64::NAN), None);
    }
}
