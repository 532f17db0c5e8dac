//! A diagnosis of a capture: its causes each time, the dangers of its wiring once for each profile.

use crate::capture::Capture;
use crate::diagnose::{
    Case, CauseWord, Dangers, Diagnosis, WiringDanger, dangers, diagnose, without_swap,
};
use crate::profile::Profile;
use measure::units::{Role, Track};
use std::sync::{Mutex, PoisonError};

/// What was looked at, and what came of it. A fault table takes up to seconds, and a run asks for it twice a second.
type Looked = (Profile, u32, Dangers);

static LOOKED: Mutex<Vec<Looked>> = Mutex::new(Vec::new());
/// Profiles that are remembered.
const MOST: usize = 32;

pub(super) fn of(capture: &Capture, case: &Case<'_>) -> Diagnosis {
    let mut wiring_dangers = case
        .profile
        .map(|profile| of_wiring(profile, capture))
        .unwrap_or_default();
    let diagnosis = diagnose(case);
    let causes = &diagnosis.causes;
    if causes.iter().any(|of| of.cause == CauseWord::Backwards) {
        without_swap(&mut wiring_dangers);
    }
    Diagnosis {
        wiring_dangers,
        ..diagnosis
    }
}

/// The dangers of a profile's wiring, each with the capture's own name of its channel.
fn of_wiring(profile: &Profile, capture: &Capture) -> Vec<WiringDanger> {
    let mut dangers = looked(profile, capture.meta.board.bits).worst;
    for danger in &mut dangers {
        let mut channels = capture.meta.channels.iter();
        let named = channels.find(|(_, meta)| {
            let track = meta.track.unwrap_or(Track::One);
            meta.role == Role::Signal && danger.channel == format!("track {track}")
        });
        if let Some((name, _)) = named {
            danger.channel.clone_from(name);
        }
    }
    dangers
}

/// The dangers of a profile's wiring, remembered.
pub(super) fn looked(profile: &Profile, bits: u32) -> Dangers {
    let mut looked = LOOKED.lock().unwrap_or_else(PoisonError::into_inner);
    let known = looked
        .iter()
        .find(|(of, at, _)| *at == bits && of == profile);
    if let Some((_, _, dangers)) = known {
        return dangers.clone();
    }
    let found = dangers(profile, bits);
    if looked.len() >= MOST {
        looked.remove(0);
    }
    looked.push((profile.clone(), bits, found.clone()));
    found
}
