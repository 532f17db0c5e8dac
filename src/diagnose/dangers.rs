//! Single wiring faults that the board may take for more command than was asked: the worst first, with the change that helps.

use super::types::WiringDanger;
use crate::profile::Profile;
use crate::wiring::faults::{Class, Direction, FaultRow, SMALL_PCT, ZeroEnd};
use crate::wiring::search::{Change, Search};
use crate::wiring::{Fault, JudgedTrack};
use measure::figure::numbers::fixed;
use std::cell::OnceCell;

/// Most that are told: whoever reads more changes nothing.
const MOST: usize = 3;
/// More command than asked, in percent, that is a danger: what tolerances do anyway stays below. Common practice, no source.
const MUCH_PCT: f64 = 5.0;
const SWAP: &str = "swap supply and ground at the potentiometer";

/// The dangers of a profile's wiring.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Dangers {
    /// The worst first.
    pub worst: Vec<WiringDanger>,
    /// Those that ask for more while the control stands at its zero end, and that nothing notices there: no block is made with them
    /// (DESIGN 4.6).
    pub at_rest: Vec<WiringDanger>,
    /// What else no block is made with for a control that must be let go to start, the worst first: a fault that drives it there by
    /// degrees or by a plug in the wrong place, or that gives too much elsewhere and is never noticed. Of one track: of two, what the
    /// comparison leaves is known with the constants.
    pub refused: Vec<String>,
    /// What comes by degrees or by a plug in the wrong place, and may then give more than was asked unnoticed, each once, the worst
    /// let go first: `poor contact at the wiper (to 100 %)`.
    pub by_degrees: Vec<String>,
    /// Whether a change of a track's wiring leaves fewer faults that drive it at its zero end.
    pub helps: bool,
}

/// The dangers of a profile's wiring on a board of so many bits; channels are named by their track: `track 1`. Takes as long
/// as `wiring` does where there are any.
pub fn dangers(profile: &Profile, bits: u32) -> Dangers {
    let control = profile.control_wiring(bits);
    let Ok(judged) = control.judged() else {
        return Dangers::default();
    };
    let zero = control.zero;
    let mut found: Vec<Found> = Vec::new();
    let mut helps = false;
    for track in &judged {
        // One of two tracks is not rewired by itself.
        let alone = judged.len() == 1;
        let search: OnceCell<Search<'_>> = OnceCell::new();
        let search = || alone.then(|| search.get_or_init(|| track.search()));
        // What comes by degrees or is misconnected is the wiring page's: a part that is measured has neither.
        let rows = track.faults.iter();
        let rows = rows.filter(|row| row.missed() && row.fault.places_thresholds());
        found.extend(rows.filter_map(|row| {
            let unseen = Unseen::of(row, zero)?;
            Some(Found {
                much: unseen.much.round(),
                order: order(row.fault),
                at_rest: unseen.at_rest,
                danger: danger(track, row, &unseen, search()),
            })
        }));
        if track.faults.iter().any(drives) {
            let best = search().and_then(Search::recommend);
            helps = best.is_some_and(|change| change.drive_after < change.drive_before);
        }
    }
    found.sort_by(|a, b| b.much.total_cmp(&a.much).then(a.order.cmp(&b.order)));
    Dangers {
        worst: each_once(found.iter()),
        at_rest: each_once(found.iter().filter(|found| found.at_rest)),
        refused: match &judged[..] {
            [alone] => refused(&alone.faults, zero),
            _ => Vec::new(),
        },
        by_degrees: by_degrees(judged.iter().flat_map(|track| &track.faults)),
        helps,
    }
}

/// Drives it with the control at its zero end, unnoticed.
fn drives(row: &FaultRow) -> bool {
    row.at_zero_pct.is_some_and(|pct| pct > SMALL_PCT)
}

/// Those of [`Dangers::refused`] among the faults of a control with one track.
fn refused(rows: &[FaultRow], zero: ZeroEnd) -> Vec<String> {
    let missed = rows.iter().filter(|row| row.missed());
    let told = |row: &&FaultRow| {
        let unseen = Unseen::of(row, zero);
        row.fault.places_thresholds() && unseen.is_some_and(|unseen| unseen.at_rest)
    };
    let mut found: Vec<(f64, String)> = missed
        .filter(|row| !told(row))
        .filter_map(|row| {
            if let Some(pct) = row.at_zero_pct.filter(|pct| *pct > SMALL_PCT) {
                let pct_words = fixed(pct, 0);
                return Some((pct, format!("let go, {} brings {pct_words} %", row.fault)));
            }
            let never = matches!(row.class, Class::Hidden | Class::Floats);
            let too_much = row.error_pct.is_none_or(|[_, high]| high > SMALL_PCT);
            let is_unsafe = row.direction == Some(Direction::Unsafe) && too_much;
            (never && is_unsafe).then(|| (0.0, format!("{} is never noticed", row.fault)))
        })
        .collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().map(|(_, words)| words).collect()
}

/// Those of [`Dangers::by_degrees`] among some faults.
fn by_degrees<'a>(rows: impl Iterator<Item = &'a FaultRow>) -> Vec<String> {
    let dangerous = rows.filter(|row| {
        row.missed()
            && !row.fault.places_thresholds()
            && row.direction == Some(Direction::Unsafe)
            && row.error_pct.is_none_or(|[_, high]| high > SMALL_PCT)
    });
    let mut found: Vec<(f64, f64, String)> = Vec::new();
    for row in dangerous {
        let let_go = row.at_zero_pct.unwrap_or(0.0);
        let most = row.reads_as_pct.map_or(100.0, |[_, high]| high);
        let name = row.fault.to_string();
        match found.iter_mut().find(|(.., had)| *had == name) {
            // Of the other track.
            Some(had) => (had.0, had.1) = (had.0.max(let_go), had.1.max(most)),
            None => found.push((let_go, most, name)),
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0).then(b.1.total_cmp(&a.1)));
    let words = |(_, most, name): (f64, f64, String)| format!("{name} (to {} %)", fixed(most, 0));
    found.into_iter().map(words).collect()
}

/// Takes back the change that swaps supply and ground: said beside "it works backwards" it would mean the same two wires twice.
pub fn without_swap(dangers: &mut [WiringDanger]) {
    for danger in dangers {
        let swaps = |change: &String| change.to_lowercase().contains(SWAP);
        danger.change = danger.change.take().filter(|change| !swaps(change));
    }
}

struct Found {
    much: f64,
    order: usize,
    at_rest: bool,
    danger: WiringDanger,
}

/// The first few, each once.
fn each_once<'a>(found: impl Iterator<Item = &'a Found>) -> Vec<WiringDanger> {
    let mut dangers: Vec<WiringDanger> = Vec::new();
    for Found { danger, .. } in found {
        let same = |had: &WiringDanger| {
            (&had.channel, &had.reads, &had.caught)
                == (&danger.channel, &danger.reads, &danger.caught)
        };
        if dangers.len() < MOST && !dangers.iter().any(same) {
            dangers.push(danger.clone());
        }
    }
    dangers
}

/// Of faults that do the same, the one that is met most often: wires break, parts seldom do.
fn order(fault: Fault) -> usize {
    match fault {
        Fault::Open(_) => 0,
        Fault::Short(..) => 1,
        _ => 2,
    }
}

/// Where a fault asks for more than was asked and neither window nor other track shows it.
struct Unseen {
    /// Most command too much, percent; at the zero end it counts double: that is where nobody expects it.
    much: f64,
    /// Whether it does so at the zero end.
    at_rest: bool,
    /// Command that it is taken for, percent; `None` when the pin floats.
    reads: Option<(f64, f64)>,
}

impl Unseen {
    fn of(row: &FaultRow, zero: ZeroEnd) -> Option<Self> {
        let inside = |runs: &[[f64; 2]], at: f64| runs.iter().any(|[a, b]| (*a..=*b).contains(&at));
        let seen = |at: f64| {
            let shown = row.pair_shows_at_pct.as_deref().unwrap_or_default();
            inside(&row.caught_at_pct, at) || inside(shown, at)
        };
        if row.class == Class::Floats {
            return row.pair_shows_at_pct.is_none().then_some(Self {
                much: 200.0,
                at_rest: true,
                reads: None,
            });
        }
        let unseen = row.points.iter().filter(|point| !seen(point.travel_pct));
        let too_much = unseen.filter_map(|point| {
            let asked = zero.command(point.travel_pct / 100.0) * 100.0;
            let more = point.command_pct? - asked;
            (more > MUCH_PCT).then_some((point.command_pct?, more, asked))
        });
        let (low, high, much, at_rest) = too_much
            .map(|(command, more, asked)| {
                let at_rest = asked < MUCH_PCT;
                let weight = if at_rest { 2.0 } else { 1.0 };
                (command, command, more * weight, at_rest)
            })
            .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1), a.2.max(b.2), a.3 || b.3))?;
        Some(Self {
            much,
            at_rest,
            reads: Some((low, high)),
        })
    }
}

fn danger(
    track: &JudgedTrack,
    row: &FaultRow,
    unseen: &Unseen,
    search: Option<&Search<'_>>,
) -> WiringDanger {
    WiringDanger {
        channel: format!("track {}", track.wired.track),
        fault: describe(row.fault),
        reads: match unseen.reads {
            None => "anything: nothing holds the input".to_owned(),
            Some((low, high)) if high - low < 1.0 => format!("{} % throttle", fixed(high, 0)),
            Some((low, high)) => format!("{}-{} % throttle", fixed(low, 0), fixed(high, 0)),
        },
        caught: caught(&row.caught_at_pct),
        change: search.and_then(|search| search.cure(row)).and_then(change),
    }
}

/// `ground wire breaks`.
fn describe(fault: Fault) -> String {
    match fault {
        Fault::Open(wire) => format!("{wire} wire breaks"),
        Fault::Short(a, b) => format!("{a} and {b} wires touch"),
        Fault::PartOpen(part) => format!("{part} breaks off"),
        Fault::PartShort(part) => format!("{part} is bridged"),
        Fault::GroundOpenLeaking => "ground wire breaks and the sensor leaks".to_owned(),
        Fault::TrackOpen(at) => format!("track cracks at {} %", fixed(at * 100.0, 0)),
        other => other.to_string(),
    }
}

/// Where the window notices it.
fn caught(runs: &[[f64; 2]]) -> String {
    match runs {
        [] => "never".to_owned(),
        [[from, to]] if *to >= 100.0 => format!("only above {} % of travel", fixed(*from, 0)),
        [[from, to]] if *from <= 0.0 => format!("only below {} % of travel", fixed(*to, 0)),
        runs => {
            let places: Vec<(f64, f64)> = runs.iter().map(|[a, b]| (*a, *b)).collect();
            format!("only at {} of travel", super::words::each_place(&places))
        }
    }
}

/// What to do, in sentences.
fn change(changes: &[Change]) -> Option<String> {
    let mut fitting = false;
    let each: Vec<String> = changes
        .iter()
        .map(|change| {
            let words = one_change(change);
            // Said once of all that are fitted.
            let bare = words.strip_prefix("fit ").filter(|_| fitting);
            let bare = bare.map(str::to_owned);
            fitting = words.starts_with("fit ");
            bare.unwrap_or(words)
        })
        .collect();
    let sentence = super::words::joined(&each);
    let mut letters = sentence.chars();
    let first = letters.next()?.to_uppercase();
    Some(format!(
        "{first}{}. Then measure it with the profile for that wiring (`pedalproof wiring` writes it: --profile-out).",
        letters.as_str()
    ))
}

fn one_change(change: &Change) -> String {
    match change {
        Change::SwapRails => format!("{SWAP} (that reverses the readings)"),
        Change::OtherEnd => "put the other end of the track to ground".to_owned(),
        Change::NoPullDown => "take the pull-down out".to_owned(),
        Change::NoPullUp => "take the pull-up out".to_owned(),
        resistor @ (Change::EndLow(_)
        | Change::EndHigh(_)
        | Change::OtherEndLow(_)
        | Change::OtherEndHigh(_)) => format!("fit {resistor}"),
        other => format!("fit a {other}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile;

    #[test]
    fn a_change_is_something_that_a_person_can_do() {
        let words = |change: Change| one_change(&change);
        assert_eq!(words(Change::PullDown(1e5)), "fit a pull-down of 100 kohm");
        assert_eq!(
            words(Change::EndHigh(4700.0)),
            "fit 4.7 kohm in the control at the track's supply end"
        );
        assert_eq!(words(Change::NoPullUp), "take the pull-up out");
    }

    #[test]
    fn a_swap_says_that_it_reverses_and_is_not_given_where_it_works_backwards() {
        let danger = |steps: &[Change]| WiringDanger {
            channel: "lever".to_owned(),
            fault: "ground wire breaks".to_owned(),
            reads: "100 % throttle".to_owned(),
            caught: "never".to_owned(),
            change: change(steps),
        };
        let pull = [Change::PullDown(1e5)];
        let mut found = [danger(&[Change::SwapRails, pull[0]]), danger(&pull)];
        let swap = found[0].change.clone().unwrap();
        assert!(swap.contains("reverses the readings"), "{swap}");
        without_swap(&mut found);
        assert_eq!(found[0].change, None);
        assert_eq!(found[1].change, change(&pull));
    }

    /// The rheostat's own page lists it first: a wiper that loses contact leaves the pull-up alone, full throttle.
    #[test]
    fn what_comes_by_degrees_is_told_the_worst_let_go_first() {
        let profile = profile::find("dial-rheostat").unwrap();
        let told = dangers(&profile, 10).by_degrees;
        assert_eq!(told[0], "poor contact at the wiper (to 100 %)", "{told:?}");
        let profile = profile::find("pedal-hall-two-track").unwrap();
        let told = dangers(&profile, 10).by_degrees;
        let joints = told
            .iter()
            .filter(|t| t.contains("bad joint in the ground"));
        assert_eq!(joints.count(), 1, "each once for both tracks: {told:?}");
    }

    /// What `constants` refuses of a control that starts is known before it is measured.
    #[test]
    fn what_is_refused_of_one_track_is_told() {
        let refused = |name| dangers(&profile::find(name).unwrap(), 10).refused;
        let pedal = refused("pedal-hall-one-track");
        assert_eq!(
            pedal[0], "let go, bad joint in the ground wire brings 100 %",
            "{pedal:?}"
        );
        assert_eq!(pedal.len(), 4, "as many as `wiring` names: {pedal:?}");
        let dial = refused("dial-rheostat");
        assert!(
            dial.contains(&"moisture supply-signal is never noticed".to_owned()),
            "{dial:?}"
        );
        assert_eq!(refused("pedal-hall-two-track"), Vec::<String>::new());
    }

    fn of(name: &str) -> Vec<WiringDanger> {
        let profile = profile::find(name).unwrap();
        dangers(&profile, 10).worst
    }

    /// By hand: 1.5 k + 19.2 k above the wiper and 100 k below it, of 5 V, at rest: 848 of 1023, where full is 885.
    #[test]
    fn a_broken_ground_wire_of_the_lever_is_the_worst() {
        let found = of("lever-shunting");
        assert!(!found.is_empty() && found.len() <= MOST, "{found:?}");
        assert_eq!(found[0].fault, "ground wire breaks");
        assert!(found[0].reads.ends_with("% throttle"), "{:?}", found[0]);
        assert!(found[0].caught.starts_with("only above"), "{:?}", found[0]);
        let change = found[0].change.as_deref().unwrap_or_default();
        assert!(
            change.starts_with("Fit a pull-down of 560 kohm in place"),
            "{change}"
        );
    }

    #[test]
    fn a_bare_pedal_floats_and_a_two_track_pedal_has_no_danger() {
        let bare = of("pedal-three-wire");
        assert_eq!(bare[0].fault, "signal wire breaks");
        assert!(bare[0].reads.starts_with("anything"), "{bare:?}");
        assert_eq!(bare[0].caught, "never");
        assert_eq!(of("pedal-hall-two-track"), []);
    }

    #[test]
    fn where_it_is_noticed_in_words() {
        assert_eq!(caught(&[]), "never");
        assert_eq!(caught(&[[80.0, 100.0]]), "only above 80 % of travel");
        assert_eq!(caught(&[[0.0, 15.0]]), "only below 15 % of travel");
        assert_eq!(
            caught(&[[10.0, 20.0], [60.0, 70.0]]),
            "only at 10-20 % and 60-70 % of travel"
        );
    }
}
