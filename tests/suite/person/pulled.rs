//! The board's cable comes out for a second: what was under way is taken again, and the rest stands.

use super::KINDS;
use super::cards::{card, good};
use super::chance::Chance;
use super::describe;
use super::hand::Habits;
use measure::judge::Verdict;
use measure::units::Step;

#[test]
fn one_pulled_cable_costs_no_verdict_whatever_the_step() {
    let steps = [
        (Step::Rest, 1.3),
        (Step::Full, 1.6),
        (Step::Strokes, 3.1),
        (Step::Release, 4.0),
        (Step::Shake, 2.0),
    ];
    for (seed, (step, after_s)) in (0..).zip(steps) {
        for (n, kind) in (0..).zip(KINDS) {
            // Two kinds a step are enough in every run.
            if (seed + n) % 2 == 0 {
                continue;
            }
            let part = good(kind, &mut Chance::new(seed + 300));
            let habits = Habits {
                pulls: Some((step, after_s, 1.0)),
                ..Habits::careful()
            };
            let card = card(kind, part, habits, seed);
            let message = card
                .ended
                .remarks
                .iter()
                .any(|said| said.contains("connection was lost"));
            let has = super::cards::profile(kind).card.contains(&step);
            assert!(
                card.verdict == Some(Verdict::Pass) && (message || !has) && !card.ended.endless,
                "{kind:?} {step}: {}",
                describe(&card)
            );
        }
    }
}
