//! What a run tells, taken into the state.
//!
//! Belongs here: samples, progress, assessments, the end. Does not belong here: keys (`update`).

use super::places;
use super::state::{Lane, Over, Phase, Run, State};
use super::update::Effect;
use crate::bench::{Batch, RunEvent, Taking};

/// Takes in what the run tells.
pub fn told(state: &mut State, event: RunEvent) -> Vec<Effect> {
    let run = &mut state.run;
    match event {
        RunEvent::Taking(taking) => {
            let profile = state.profile.as_ref();
            state.fault_edges =
                profile.map_or_else(Default::default, |p| p.fault_edges(taking.bits));
            take(run, taking);
        }
        RunEvent::Samples(batch) => feed(run, &batch),
        RunEvent::Progress(steps) => run.steps = steps,
        RunEvent::Health(health) => run.health = Some(health),
        RunEvent::Assessed(assessment) => {
            run.assessment = Some(assessment);
            places::held_against(state);
        }
        RunEvent::Finished {
            assessment,
            capture,
        } => {
            run.assessment = assessment.or(run.assessment.take());
            run.capture = capture;
            places::held_against(state);
            if state.window.held().is_none() {
                let extent = state.run.extent_us();
                state.window.whole(extent);
            }
            return over(state, Phase::Finished);
        }
        RunEvent::Failed(why) => return over(state, Phase::Failed(why)),
    }
    Vec::new()
}

fn over(state: &mut State, phase: Phase) -> Vec<Effect> {
    state.run.phase = phase;
    if matches!(state.over, Some(Over::Ask | Over::Station(_))) {
        state.over = None;
    }
    if state.leaving {
        return vec![Effect::Leave];
    }
    Vec::new()
}

/// Finds or makes a lane for each column; a channel that was there before keeps its lane.
fn take(run: &mut Run, taking: Taking) {
    run.columns.clear();
    for (name, track) in &taking.channels {
        let known = run.lanes.iter().position(|lane| lane.name == *name);
        let lane = known.filter(|lane| !run.columns.contains(lane));
        run.columns.push(lane.unwrap_or(run.lanes.len()));
        let seen = Lane {
            name: name.clone(),
            track: *track,
        };
        match lane.and_then(|lane| run.lanes.get_mut(lane)) {
            Some(lane) => *lane = seen,
            None => run.lanes.push(seen),
        }
    }
    run.taking = Some(taking);
}

fn feed(run: &mut Run, batch: &Batch) {
    while run.columns.len() < batch.codes.len() {
        run.columns.push(run.lanes.len());
        run.lanes.push(Lane {
            name: format!("channel {}", run.lanes.len() + 1),
            track: None,
        });
    }
    run.store
        .feed(&batch.t_us, &batch.step, &batch.codes, &run.columns);
}
