//! Whole cards: which part, which hands, and what came of it.

use super::chance::Chance;
use super::control::{Control, Fault, LoosePlug, Room, Stiff, Stop, Wire};
use super::hand::{Ended, Habits, Person};
use measure::figure::FigureName;
use measure::judge::{Outcome, Verdict};
use measure::units::Step;
use pedalproof::profile::{self, Profile};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Pedal,
    TwoTracks,
    Lever,
    Dial,
}

pub const KINDS: [Kind; 4] = [Kind::Pedal, Kind::TwoTracks, Kind::Lever, Kind::Dial];

/// The built-in profile; of the dial without what needs known positions.
pub fn profile(kind: Kind) -> Profile {
    let name = match kind {
        Kind::Pedal => "pedal-hall-one-track",
        Kind::TwoTracks => "pedal-hall-two-track",
        Kind::Lever => "lever-centre-return",
        Kind::Dial => "dial-three-wire",
    };
    let mut profile = profile::find(name).unwrap();
    profile.card.retain(|step| *step != Step::Stations);
    for part in profile.tracks.values_mut() {
        for name in [FigureName::LinearityIndependent, FigureName::Hysteresis] {
            part.limits.remove(&name);
        }
    }
    profile
}

/// A good part: well inside its limits.
pub fn good(kind: Kind, chance: &mut Chance) -> Control {
    let ends: &[(f64, f64)] = match kind {
        Kind::Pedal => &[(0.16, 0.84)],
        Kind::TwoTracks => &[(0.16, 0.84), (0.08, 0.42)],
        Kind::Lever => &[(0.49, 0.895)],
        Kind::Dial => &[(0.045, 0.95)],
    };
    // Both tracks of a pedal sit on one shaft: they differ from their drawing alike.
    let (low, high) = (chance.between(-0.006, 0.006), chance.between(-0.008, 0.008));
    let bow = chance.between(-0.03, 0.03);
    let wires = ends.iter().enumerate().map(|(n, (rest, full))| {
        let scale = if n == 0 { 1.0 } else { 0.5 };
        Wire {
            rest: rest + scale * low,
            full: full + scale * high,
            bow,
            noise: chance.between(0.5, 1.1) * if n == 0 { 1.0 } else { 0.8 },
            fault: None,
        }
    });
    let wires = wires.collect();
    Control {
        wires,
        spring: kind != Kind::Dial,
        stiff: None,
        plug: None,
        stop: Stop::of(if chance.happens(0.5) {
            chance.between(0.0, 0.03)
        } else {
            0.0
        }),
        room: Room::default(),
        odd_input: None,
        at_plug: true,
        scatter: chance.between(0.0003, 0.0015),
        full_scatter: 0.0,
        full_creep: None,
        inl_codes: 0.5,
    }
}

/// Ways of being bad that a card must show, whatever the hands do.
pub const BAD: usize = 14;

/// A bad part and what is wrong with it.
pub fn bad(kind: Kind, which: usize, chance: &mut Chance) -> (Control, &'static str) {
    let mut part = good(kind, chance);
    let first = &mut part.wires[0];
    let spring = kind != Kind::Dial;
    let what = match which {
        0 => {
            first.noise = 4.0;
            "noise of 4 codes"
        }
        1 => {
            first.noise = 12.0;
            "noise of 12 codes"
        }
        2 => {
            let from = chance.between(0.2, 0.7);
            let (to, times) = (from + 0.08, 8.0);
            first.fault = Some(Fault::Worn { from, to, times });
            "a worn place"
        }
        3 => {
            let (at, ms) = (chance.between(0.2, 0.8), chance.between(3.0, 20.0));
            first.fault = Some(Fault::Gap { at, ms });
            "no contact at one place"
        }
        4 => {
            first.fault = Some(Fault::Stuck(0.0));
            "lead track at 0"
        }
        5 => {
            first.fault = Some(Fault::Stuck(1.0));
            "lead track shorted to the supply"
        }
        6 => {
            first.fault = Some(Fault::Stuck(first.rest));
            "lead track stands still at rest"
        }
        7 => {
            part.stiff = Some(Stiff::Blocked);
            "does not move"
        }
        8 => {
            part.stiff = Some(Stiff::Stop(0.75));
            "stops at 75 %"
        }
        9 => {
            part.stiff = Some(Stiff::Stop(0.4));
            "stops at 40 %"
        }
        10 => {
            first.rest += 0.1;
            "rests too high"
        }
        11 if spring => {
            part.stiff = Some(Stiff::Hangs(0.12));
            "hangs"
        }
        12 if spring && kind != Kind::TwoTracks => {
            part.stiff = Some(Stiff::Slow(2.2));
            "comes back slowly"
        }
        _ => {
            part.plug = Some(LoosePlug {
                ms: 2.0_f64 * 250.0_f64.powf(chance.between(0.0, 1.0)),
                times: 2,
                reads: 0.0,
            });
            "loose plug"
        }
    };
    (part, what)
}

/// Hands that make one to three of the mistakes of the issue.
pub fn sloppy(kind: Kind, chance: &mut Chance) -> Habits {
    let mut habits = Habits::careful();
    habits.reading_s = (0.3, 2.5);
    habits.stroke_s = (0.45, 2.0);
    let spring = kind != Kind::Dial;
    let mistakes = 1 + usize::from(chance.happens(0.5)) + usize::from(chance.happens(0.3));
    for _ in 0..mistakes {
        match chance.between(0.0, 12.0) as u32 {
            0 | 1 => habits.lets_go_s = Some(chance.between(0.5, 2.4)),
            2 => habits.presses_to = chance.between(0.55, 0.85),
            3 => (habits.presses_to, habits.carpet) = (chance.between(0.92, 0.96), true),
            4 if spring => habits.snaps = true,
            5 => habits.foot_on = Some((chance.between(0.2, 2.0), chance.between(0.06, 0.3))),
            6 if spring => habits.foot_rests = chance.between(0.0, 0.03),
            7 => habits.half_strokes = 2,
            8 => habits.fast_strokes = 2,
            9 => habits.hasty_releases = 2,
            10 => {
                let steps = [Step::Full, Step::Strokes, Step::Shake];
                habits.away = Some((steps[chance.between(0.0, 3.0) as usize], 60.0));
            }
            _ => {
                let steps = [Step::Rest, Step::Full, Step::Strokes];
                habits.repeats = Some(steps[chance.between(0.0, 3.0) as usize]);
            }
        }
    }
    habits
}

/// What one card came to.
#[derive(Debug)]
pub struct Card {
    pub verdict: Option<Verdict>,
    /// The findings that are not passed, in words.
    pub open: Vec<String>,
    pub ended: Ended,
}

pub fn card(kind: Kind, control: Control, habits: Habits, seed: u64) -> Card {
    came_to(Person::new(profile(kind), control, habits, seed).go_through())
}

/// What a card came to, in words.
pub fn came_to(ended: Ended) -> Card {
    let findings = ended.assessment.iter().flat_map(|a| &a.findings);
    let open = findings
        .filter(|finding| finding.outcome != Outcome::Pass)
        .map(|finding| {
            format!(
                "{} {} {}: {} {}",
                finding.channel,
                finding.figure,
                finding.outcome,
                finding.reason,
                finding.advice.as_deref().unwrap_or_default()
            )
        });
    Card {
        verdict: ended.assessment.as_ref().and_then(|a| a.verdict),
        open: open.collect(),
        ended,
    }
}
