//! Words for what is wrong with track, wiper and curve, and for what nothing explains.

use super::about::{About, Explanation};
use super::board::ON_ANOTHER_BOARD;
use super::{joined, times};
use crate::diagnose::arrivals::End;
use crate::diagnose::types::CauseWord;
use measure::figure::FigureName;
use measure::figure::numbers::{fixed, plain};
use measure::judge::Outcome;

pub(super) fn explain(about: &About<'_>) -> Explanation {
    let noun = about.noun();
    match about.suspicion.word {
        CauseWord::WornTrack => worn_track(about),
        CauseWord::LooseWiper => loose_wiper(about),
        CauseWord::BentCurve => Explanation::new(
            format!("the {noun} is not straight between its ends"),
            &[
                "Measure the known positions once more: a slipped protractor bends a line, too.",
                "Look at the linkage: a lever arm at a bad angle bends the curve.",
                "If it stays, take another potentiometer, or let the constants straighten it.",
            ],
            "Measure the known positions again, from the other end.",
        ),
        CauseWord::TracksDisagree => Explanation::new(
            "the two tracks do not agree".to_owned(),
            &[
                "Look at the plug and at both signal wires, and measure again.",
                "If it stays, send it back: a board that compares the tracks would stop on the road.",
            ],
            "Swap the two signal wires at the board: if the odd one moves to the other input, it is the part; if not, the board.",
        ),
        _ => Explanation::new(
            worn_spots(about).unwrap_or_else(|| out_of_limits(about)),
            &[
                "Repeat the step: once may be an accident.",
                "Compare with a good part of the same kind on the same board.",
                "If it is the part again, do not fit it.",
            ],
            "Put a good part of the same kind on the same wires: if that fails, too, it is not the part.",
        ),
    }
}

fn out_of_limits(about: &About<'_>) -> String {
    let first = about.suspicion.explains.first();
    let figure = first.map(|symptom| about.evidence.findings[symptom.finding].figure);
    let be = match figure {
        Some(FigureName::DropoutsCount | FigureName::SpikesPerMin) => "are",
        _ => "is",
    };
    format!("{} {be} out of limits", about.detail())
}

fn worn_track(about: &About<'_>) -> Explanation {
    let track = about.track();
    let sure = about.evidence.broken == Outcome::Fail;
    let place = match (about.detail(), sure) {
        ("", true) => "has a bump".to_owned(),
        ("", false) => "may have a bump".to_owned(),
        (places, true) => format!("is worn at {places} of travel"),
        (places, false) => format!("may be worn at {places} of travel"),
    };
    let mut signals = about.suspicion.place.channels.iter();
    let open = signals.any(|at| !about.evidence.signals[*at].measured.open_zones.is_empty());
    if about.is_sensor() {
        return noisy_sensor(about, &track, sure);
    }
    let remedies: &[&str] = if sure {
        &[
            "Do not drive with it: a worn track never heals.",
            "Contact cleaner may quiet it for some weeks; that is no repair.",
            "Replace the potentiometer, and measure the new one.",
        ]
    } else {
        &[
            "Do not drive with it before that is sure.",
            "If it is worn: replace the potentiometer, and measure the new one. A worn track never heals.",
        ]
    };
    Explanation::new(
        format!("{track} {place}"),
        remedies,
        if open && !sure {
            ON_ANOTHER_BOARD
        } else {
            "Repeat the strokes, slower: wear stays at its place, interference moves about."
        },
    )
}

fn loose_wiper(about: &About<'_>) -> Explanation {
    let travel = about.suspicion.place.travel;
    let arrives = End::BOTH
        .into_iter()
        .find(|end| travel == Some(end.place()));
    let place = match arrives {
        Some(end) => format!("as it comes to {}", end.word()),
        None => format!("at {} of travel", about.detail()),
    };
    Explanation::new(
        format!("{} breaks contact {place}", track_of(about)),
        &[
            "One drop of contact cleaner, work it 30 times from end to end, and measure again.",
            "If the spot is still there, replace the potentiometer.",
        ],
        match arrives {
            Some(_) => {
                "Hold plug and cable still while it comes there: what breaks all the same is the wiper, not a plug that was jolted."
            }
            None => {
                "Repeat the strokes without touching the cable: a wiper breaks at the same place again, a plug does not."
            }
        },
    )
}

/// A sensor has no track that wears: magnet, wires, or the sensor itself.
fn noisy_sensor(about: &About<'_>, track: &str, sure: bool) -> Explanation {
    let is = if sure { "is" } else { "may be" };
    let place = match about.detail() {
        "" => "somewhere on its way".to_owned(),
        places => format!("at {places} of travel"),
    };
    Explanation::new(
        format!("{track} {is} noisy {place}"),
        &[
            "Both tracks at the same travel: look at supply, ground and plug. A wire that is bent at that travel breaks there.",
            "Is its magnet loose, chipped, or full of filings? A sensor has no track that wears.",
            "If the noise stays, do not drive with it: replace the sensor, and measure the new one.",
        ],
        "Repeat the strokes, slower: a part that is bad at a place stays at its place, interference moves about.",
    )
}

/// Of worn spots that are too few or too faint for a worn track: how many, where, how loud, and how many may be.
fn worn_spots(about: &About<'_>) -> Option<String> {
    let evidence = about.evidence;
    let first = about.suspicion.explains.first()?;
    let finding = &evidence.findings[first.finding];
    if finding.figure != FigureName::WornZonesCount {
        return None;
    }
    let mut signals = evidence.signals.iter();
    let signal = signals.find(|signal| signal.name == finding.channel)?;
    let zones = &signal.measured.worn_zones;
    let loudest = zones.iter().map(|zone| zone.noise_ratio).reduce(f64::max)?;
    let places = zones.iter().map(|zone| {
        let (from, to) = (fixed(zone.from_pct, 0), fixed(zone.to_pct, 0));
        format!("{from}-{to} %")
    });
    let places = joined(&places.collect::<Vec<_>>());
    let of = if evidence.signals.len() > 1 {
        format!("{}: ", signal.name)
    } else {
        String::new()
    };
    let spots = match zones.len() {
        1 => "one worn spot".to_owned(),
        n => format!("{n} worn spots"),
    };
    let allowed = match finding.max {
        Some(max) if max > 0.0 => format!("at most {} allowed", plain(max)),
        _ => "none allowed".to_owned(),
    };
    let loud = times(loudest);
    Some(format!(
        "{of}{spots} at {places} of travel ({loud} the noise; {allowed})"
    ))
}

fn track_of(about: &About<'_>) -> String {
    match about.track() {
        track if track == "the track" => "the wiper".to_owned(),
        track => track,
    }
}
