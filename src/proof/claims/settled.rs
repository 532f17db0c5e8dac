//! Numbers that show where the inputs stand still.

use super::evidence::{Evidence, contradicted, not_exercised, shown};
use super::number::{self, Number, whole};
use crate::constants::{Block, BlockFields};
use crate::proof::envelope::{ends_of, open};
use crate::proof::result::{Claim, ClaimState};
use crate::proof::samples::VoltageRange;
use crate::proof::settled::{SettledPoint, apart};
use measure::figure::numbers::{fixed, plain};
use measure::units::Code;

/// A difference of the expected output that counts as a say, millivolts.
const SAY_MV: f64 = 0.5;
/// Narrowings of the search for a number that would fit: two thirds each, 0.02 % of the range is left.
const NARROWINGS: usize = 21;

/// Whether some place is further off than is allowed.
pub fn is_wrong(of: &Evidence<'_, '_>) -> bool {
    Departures::of(of, of.numbers()).worst() > of.within_mv
}

/// A claim for each number; of several numbers with one name the worst.
pub fn claims(of: &Evidence<'_, '_>) -> Vec<Claim> {
    let numbers = number::settled(of.numbers());
    let own = Departures::of(of, of.numbers());
    let wrong: Vec<usize> = own.beyond(of.within_mv);
    let fits: Vec<Option<f64>> = numbers
        .iter()
        .map(|number| {
            if wrong.is_empty() {
                None
            } else {
                fitting(of, number, &own)
            }
        })
        .collect();
    let none_fits = fits.iter().all(Option::is_none);
    let mut claims: Vec<Claim> = Vec::new();
    for (number, fit) in numbers.iter().zip(fits) {
        let claim = judged(of, number, &own, fit, none_fits);
        match claims.iter_mut().find(|known| known.claim == claim.claim) {
            Some(known) if known.state >= claim.state => {}
            Some(known) => *known = claim,
            None => claims.push(claim),
        }
    }
    claims
}

fn judged(
    of: &Evidence<'_, '_>,
    number: &Number,
    own: &Departures,
    fit: Option<f64>,
    none_fits: bool,
) -> Claim {
    let name = &number.claim;
    let say = deciding_places(of, number, own);
    let off = own.beyond(of.doubt_mv());
    let worst = |among: &dyn Fn(&usize) -> bool| {
        let places = off.iter().copied().filter(|at| among(at));
        places.max_by(|a, b| own.off[*a].total_cmp(&own.off[*b]))
    };
    if let (Some(value), Some(at)) = (fit, worst(&|_| true)) {
        return contradicted(
            name,
            format!(
                "{}; {} {} instead of {} would fit",
                place_words(&of.places[at]),
                value.round(),
                number.unit,
                number.value
            ),
        );
    }
    if let Some(at) = worst(&|at| say.contains(at)) {
        let words = place_words(&of.places[at]);
        return if own.off[at] <= of.within_mv {
            let words = format!("{words}: less than the limit, more than the readings explain");
            not_exercised(name, words)
        } else if none_fits {
            contradicted(name, format!("{words}, and this number matters there"))
        } else {
            let words = format!("{words}; another number is to blame, and hides this one");
            not_exercised(name, words)
        };
    }
    let sides = [-1.0, 1.0].map(|sign| noticed(of, number, own, sign));
    match sides {
        [Some(low), Some(high)] => shown(
            name,
            format!(
                "the output stood still {} times and agrees, and would not if it were off by {}",
                of.places.len(),
                number.by(low.max(high))
            ),
        ),
        _ => not_exercised(
            name,
            format!(
                "nothing stood still where being off by {} would show",
                number.by(number.steps.last().copied().unwrap_or(0.0))
            ),
        ),
    }
}

fn place_words(place: &SettledPoint) -> String {
    format!(
        "at {} s the output stood at {} mV and the constants say {} to {}",
        fixed(place.from_s, 2),
        plain(f64::midpoint(place.measured_mv[0], place.measured_mv[1]).round()),
        plain(place.expected_mv[0].round()),
        plain(place.expected_mv[1].round()),
    )
}

/// The least step to this side that a place that agrees now would notice; 0 when there is no number on this side at all.
fn noticed(of: &Evidence<'_, '_>, number: &Number, own: &Departures, sign: f64) -> Option<f64> {
    let mut any = false;
    for step in &number.steps {
        let Some(block) = number.changed(of.numbers(), number.value + sign * step) else {
            continue;
        };
        any = true;
        let other = Departures::of(of, block.numbers());
        let mut places = own.off.iter().zip(&other.off);
        if places.any(|(own, other)| *own <= of.doubt_mv() && *other > of.doubt_mv()) {
            return Some(*step);
        }
    }
    (!any).then_some(0.0)
}

/// At which places this number has a say.
fn deciding_places(of: &Evidence<'_, '_>, number: &Number, own: &Departures) -> Vec<usize> {
    let step = number.steps.last().copied().unwrap_or(1.0);
    let blocks = [-step, step].map(|by| number.changed(of.numbers(), number.value + by));
    let others: Vec<Departures> = blocks
        .iter()
        .flatten()
        .map(|block| Departures::of(of, block.numbers()))
        .collect();
    (0..own.off.len())
        .filter(|at| {
            let moved = |other: &Departures| {
                let sides = other.expected[*at].iter().zip(own.expected[*at]);
                sides.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max) > SAY_MV
            };
            others.iter().any(moved)
        })
        .collect()
}

/// The number that would bring every place within what the readings leave open, if there is one.
fn fitting(of: &Evidence<'_, '_>, number: &Number, own: &Departures) -> Option<f64> {
    let sum = |value: f64| match number.changed(of.numbers(), value) {
        Some(block) => Departures::of(of, block.numbers()).sum(),
        None if (value - number.value).abs() < 0.5 => own.sum(),
        None => f64::INFINITY,
    };
    let [mut low, mut high] = number.range;
    for _ in 0..NARROWINGS {
        let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        let (at_a, at_b) = (sum(a), sum(b));
        let left = if at_a.is_finite() || at_b.is_finite() {
            at_a <= at_b
        } else {
            a > number.value // neither can be: towards what can
        };
        if left {
            high = b;
        } else {
            low = a;
        }
    }
    let value = f64::midpoint(low, high).round();
    let block = number.changed(of.numbers(), value)?;
    (Departures::of(of, block.numbers()).worst() <= of.within_mv / 2.0).then_some(value)
}

/// How far the output at every place is from what a block says, millivolts, beyond what the readings leave open.
struct Departures {
    off: Vec<f64>,
    expected: Vec<[f64; 2]>,
}

impl Departures {
    fn of(of: &Evidence<'_, '_>, numbers: &BlockFields) -> Self {
        let open = open(numbers, 0.0, 0.0).ok();
        let expected: Vec<[f64; 2]> = of
            .places
            .iter()
            .map(|place| expected(of, numbers, open.as_ref(), place))
            .collect();
        let off = of.places.iter().zip(&expected).map(|(place, expected)| {
            let noise = 2.0 * place.u_mv;
            let measured = VoltageRange {
                low: place.measured_mv[0] - noise,
                high: place.measured_mv[1] + noise,
            };
            apart(*expected, measured)
        });
        Self {
            off: off.collect(),
            expected,
        }
    }

    fn worst(&self) -> f64 {
        self.off.iter().copied().fold(0.0, f64::max)
    }

    fn sum(&self) -> f64 {
        self.off.iter().sum()
    }

    fn beyond(&self, mv: f64) -> Vec<usize> {
        (0..self.off.len())
            .filter(|at| self.off[*at] > mv)
            .collect()
    }
}

fn expected(
    of: &Evidence<'_, '_>,
    numbers: &BlockFields,
    open: Option<&Block>,
    place: &SettledPoint,
) -> [f64; 2] {
    let scaling = of.envelope.scaling;
    let reach: Vec<(u16, u16)> = place
        .inputs
        .iter()
        .map(|mean| {
            let around = [mean.floor(), mean.ceil()].map(|code| Code(u32::from(whole(code))));
            let (low, high) = (scaling.input(around[0], 0.0), scaling.input(around[1], 0.0));
            (low.0, high.1)
        })
        .collect();
    let (low, high) = ends_of(numbers, &reach);
    let mv = |codes: &[u16]| {
        let settled = open.and_then(|open| crate::twin::settled(open, codes));
        settled.map_or(f64::NAN, |shown| scaling.dac(f64::from(shown.dac)))
    };
    [mv(&low), mv(&high)]
}

/// The order of states is from good to bad, so that the worst of several can be kept.
const _: () = assert!((ClaimState::Shown as u8) < (ClaimState::Contradicted as u8));
