//! Numbers that show only while something moves: filters, limits of rise and fall.

use super::evidence::{Evidence, contradicted, not_exercised, shown};
use super::number::{self, Number};
use super::settled::is_wrong;
use crate::constants::Block;
use crate::proof::bounds::bands;
use crate::proof::envelope::Envelope;
use crate::proof::figures::moving;
use crate::proof::result::Claim;

/// Numbers tried where the output is off, as shares of the number itself.
const TRIED: [f64; 10] = [0.1, 0.25, 0.5, 0.7, 0.85, 1.2, 1.5, 2.0, 4.0, 10.0];

pub fn claims(of: &Evidence<'_, '_>) -> Vec<Claim> {
    let numbers = number::moving(of.numbers());
    if is_wrong(of) {
        let hidden = |number: &Number| {
            not_exercised(
                &number.claim,
                "the output is off where nothing moves, which hides this number",
            )
        };
        return numbers.iter().map(hidden).collect();
    }
    let own = departure(of, of.numbers());
    let judged = |number: &Number| match own {
        Some(own) if own > of.within_mv => wrong(of, number, own),
        Some(own) if own > of.doubt_mv() => not_exercised(
            &number.claim,
            "the moving output is off by less than the limit and more than the readings explain",
        ),
        Some(_) => agrees(of, number),
        None => not_exercised(&number.claim, "nothing moved"),
    };
    numbers.iter().map(judged).collect()
}

/// How far the output left the band of a block with these numbers, beyond its noise, millivolts.
fn departure(of: &Evidence<'_, '_>, numbers: &crate::constants::BlockFields) -> Option<f64> {
    let block = Block::new(numbers.clone()).ok()?;
    let envelope: Envelope<'_> = of.envelope.with(&block).ok()?;
    let bands = bands(&envelope, of.power_us, of.blind);
    moving(envelope.samples, envelope.scaling, &bands)?.low
}

fn agrees(of: &Evidence<'_, '_>, number: &Number) -> Claim {
    let sides = [-1.0, 1.0].map(|sign| noticed(of, number, sign));
    match sides {
        [Some(low), Some(high)] => shown(
            &number.claim,
            format!(
                "the moving output agrees, and would not if it were off by {}",
                number.by(low.max(high)).trim()
            ),
        ),
        _ => not_exercised(
            &number.claim,
            format!(
                "no movement was quick enough that being off by {} would show: press quickly, and take the foot off at once",
                number
                    .by(number.steps.last().copied().unwrap_or(0.0))
                    .trim()
            ),
        ),
    }
}

/// The least step to this side that would be noticed; 0 when there is no number on this side.
fn noticed(of: &Evidence<'_, '_>, number: &Number, sign: f64) -> Option<f64> {
    let mut any = false;
    for step in &number.steps {
        let Some(block) = number.changed(of.numbers(), number.value + sign * step) else {
            continue;
        };
        any = true;
        if departure(of, block.numbers()).is_some_and(|off| off > of.doubt_mv()) {
            return Some(*step);
        }
    }
    (!any).then_some(0.0)
}

/// The output moves otherwise: is this the number that would mend it?
fn wrong(of: &Evidence<'_, '_>, number: &Number, own: f64) -> Claim {
    let tried: Vec<f64> = if number.claim.ends_with("filter_shift") {
        (0..=8).map(f64::from).collect()
    } else {
        TRIED
            .map(|share| {
                (share * number.value)
                    .round()
                    .clamp(number.range[0], number.range[1])
            })
            .to_vec()
    };
    let best = tried
        .into_iter()
        .filter_map(|value| {
            let block = number.changed(of.numbers(), value)?;
            Some((value, departure(of, block.numbers())?))
        })
        .min_by(|a, b| a.1.total_cmp(&b.1));
    match best {
        Some((value, off)) if off < own / 2.0 => contradicted(
            &number.claim,
            format!(
                "the output moves otherwise; nearer to {value} {} it would fit better",
                number.unit
            ),
        ),
        _ => not_exercised(
            &number.claim,
            "the output is off for another reason, which hides this number",
        ),
    }
}
