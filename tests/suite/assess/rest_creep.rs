//! A limit on `rest_creep` makes the card leave the control alone for ten seconds after a release, and the figure that comes of
//! it is the truth of the board that creeps; without that limit the card asks for no more than it did.

use measure::figure::{Figure, FigureName};
use measure::judge::{Limit, Outcome};
use measure::units::Step;
use pedalproof::bench::{Asking, EvidencePlan, Plan, RunEvent, Setup, StepState, start};
use pedalproof::link::{LineSource, MemoryBoard, Pace, StreamOptions};
use pedalproof::profile::{self, Profile};
use pedalproof::record::Assessment;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::sync::Arc;
use std::time::Duration;

const REST: f64 = 164.3;
const FULL: f64 = 860.0;
/// What is left of the way to rest when the fall ends, in codes, and how fast it goes.
const LEFT: f64 = 6.0;
const TAU_S: f64 = 4.0;
/// A fall takes so long; its last tenth lies below 10 % of the span.
const FALL_S: f64 = 0.06;
/// Rest, to full and back, then presses without end.
const PRESS_S: f64 = 0.4;
const HELD_S: f64 = 4.0;

/// A spring pedal in a hand that leaves it alone for so long after each release. 1 kHz, 10 bits, 1.5 codes of noise.
struct Creeping {
    alone_s: f64,
    sample: u64,
    noise: ChaCha8Rng,
}

impl Creeping {
    fn code(&self, t_s: f64) -> f64 {
        let begin_s = 4.0;
        if t_s < begin_s {
            return REST;
        }
        let round_s = PRESS_S + HELD_S + FALL_S + self.alone_s;
        let t_s = (t_s - begin_s) % round_s;
        let (pressed, held) = (PRESS_S, PRESS_S + HELD_S);
        if t_s < pressed {
            return REST + (FULL - REST) * t_s / PRESS_S;
        }
        if t_s < held {
            return FULL;
        }
        let fallen = (t_s - held) / FALL_S;
        if fallen < 1.0 {
            return FULL + (REST + LEFT - FULL) * fallen;
        }
        REST + LEFT * (-(t_s - held - FALL_S) / TAU_S).exp()
    }
}

impl LineSource for Creeping {
    fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64> {
        let t_us = self.sample * 1000;
        if self.sample.is_multiple_of(1000) {
            out.extend(b"# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,pedal\n");
        }
        self.sample += 1;
        // Twelve uniform numbers less six: a gaussian near enough, of standard deviation 1.
        let noise: f64 = (0..12).map(|_| self.noise.random::<f64>()).sum::<f64>() - 6.0;
        #[allow(clippy::cast_precision_loss)] // microseconds of minutes
        let code = self.code(t_us as f64 * 1e-6) + 1.5 * noise;
        out.extend(format!("{t_us},{:.0}\n", code.round()).as_bytes());
        (self.sample < 600_000).then_some(t_us)
    }
}

/// Mean of the exponential from 9.5 to 10 s after the fall below 10 % less that from 1 to 1.5 s.
fn truth() -> f64 {
    let mean = |from_s: f64, to_s: f64| {
        // The fall is below 10 % for its last tenth, nearly: 0.1 / (1 - 6 / 695.7) of 0.06 s before its end.
        let late_s = FALL_S * 0.1;
        let at = |t_s: f64| (-(t_s - late_s) / TAU_S).exp();
        LEFT * TAU_S * (at(from_s) - at(to_s)) / (to_s - from_s)
    };
    mean(9.5, 10.0) - mean(1.0, 1.5)
}

/// A profile of one track whose card holds the ends and lets go, with these limits.
fn profile(limits: &[(FigureName, Option<f64>, Option<f64>)]) -> Profile {
    let mut profile = profile::find("pedal-hall-one-track").unwrap();
    profile.card = vec![Step::Rest, Step::Full, Step::Release];
    for part in profile.tracks.values_mut() {
        part.limits = limits
            .iter()
            .map(|(name, min, max)| (*name, Limit::new(*min, *max).unwrap()))
            .collect();
        part.reasons.clear();
    }
    profile
}

/// The card on that pedal: its assessment, and the seconds of board time until it was through for the first time. (What comes behind
/// that depends on how fast a machine looks at it.)
fn carded(profile: Profile, alone_s: f64) -> (Assessment, f64) {
    let board = Creeping {
        alone_s,
        sample: 0,
        noise: ChaCha8Rng::seed_from_u64(12),
    };
    let run = start(Setup {
        source: Box::new(MemoryBoard::new("simulated", board, Pace::Times(40.0))),
        stream: StreamOptions::default(),
        plan: Plan::Card(profile.card.clone(), EvidencePlan::at_first(&profile)),
        stations: None,
        profile: Some(Arc::new(profile)),
        tag: None,
        channels: Vec::new(),
        out: None,
        baud: None,
        live: true,
        asking: Asking::default(),
    });
    let (mut now_us, mut through_us) = (0, None);
    loop {
        match run.events.recv_timeout(Duration::from_secs(120)).unwrap() {
            RunEvent::Samples(batch) => now_us = batch.t_us.last().copied().unwrap_or(now_us),
            RunEvent::Progress(steps) if steps.iter().all(|step| step.state == StepState::Done) => {
                through_us = through_us.or(Some(now_us));
            }
            RunEvent::Finished { assessment, .. } => {
                let assessment = Assessment::clone(&assessment.unwrap());
                let through_us = through_us.expect("all of it is taken");
                return (assessment, through_us as f64 * 1e-6);
            }
            RunEvent::Failed(words) => panic!("{words}"),
            _ => {}
        }
    }
}

fn creep(assessment: &Assessment) -> Option<&Figure> {
    assessment
        .figures("pedal")
        .unwrap()
        .get(FigureName::RestCreep)
}

#[test]
fn a_limit_on_creep_is_measured_and_decided_at_the_card() {
    for (min, outcome) in [(-9.0, Outcome::Pass), (-1.0, Outcome::Fail)] {
        let limits = [(FigureName::RestCreep, Some(min), Some(9.0))];
        let (assessment, seconds) = carded(profile(&limits), 11.5);
        let figure = creep(&assessment).expect("ten quiet seconds were asked for");
        println!("{figure:?} in {seconds} s; truth {}", truth());
        let truth = truth();
        assert!(
            figure.low.unwrap() < truth && truth < figure.high.unwrap(),
            "{figure:?}"
        );
        assert!(
            (figure.value - truth).abs() < 0.3,
            "{figure:?}, truth {truth}"
        );
        assert!(
            seconds > 30.0,
            "three releases of ten seconds, not {seconds} s"
        );
        let finding = &assessment.findings[0];
        assert_eq!(
            (finding.figure, finding.outcome),
            (FigureName::RestCreep, outcome)
        );
    }
}

#[test]
fn without_that_limit_the_card_is_as_short_as_it_was() {
    let limits = [(FigureName::RestCode, Some(100.0), Some(300.0))];
    let (assessment, seconds) = carded(profile(&limits), 1.4);
    assert_eq!(creep(&assessment), None);
    assert_eq!(assessment.findings[0].outcome, Outcome::Pass);
    // Three presses of a pedal that is left alone for 1.4 s each where the limit asks for 10.5 (by hand: 3 x 10.1 s less).
    let limited = [(FigureName::RestCreep, None, Some(9.0))];
    let (_, longer) = carded(profile(&limited), 11.5);
    assert!(longer - seconds > 25.0, "{seconds} s against {longer} s");
    let plan = EvidencePlan::at_first(&profile(&limits));
    let with = EvidencePlan::at_first(&profile(&[(FigureName::RestCreep, None, Some(9.0))]));
    assert!((plan.quiet_s - 1.0).abs() < 1e-9 && with.quiet_s >= 10.0);
    assert_eq!(plan.returns, with.returns);
}
