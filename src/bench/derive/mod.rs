//! Captures of good units -> a profile: limits from tolerance intervals, each with its reason.
//!
//! Belongs here: which figures get a limit, on which sides, and what a person must know. Does not belong here: the width of a
//! limit (`spread`), which captures are one unit (`good_units`), the figures of one capture (`measure`), the format (`profile`).

mod apart;
mod error;
mod good_units;
mod held;
mod spread;

pub use error::DeriveError;
pub use good_units::NamedCapture;

use crate::capture::Opened;
use crate::profile::{Kind, PairPart, Profile, TrackPart, USUAL_CODE_BITS, USUAL_DRIFT_PCT};
use crate::wiring::faults::ZeroEnd;
use apart::apart;
use good_units::{GoodUnit, ProfilePart, good_units, steps_of_all};
use held::{Held, held};
use measure::figure::numbers::plain;
use measure::figure::{Figure, FigureName, Figures, Mark, Scope, Sides};
use measure::judge::{self, Limit, Outcome};
use measure::units::{Step, Track};
use spread::{Spread, assumed, width_notes};
use std::collections::BTreeMap;

/// What is allowed for stopping when no base says otherwise; the number of the profiles that ship.
const STOP_WITHIN_MS: f64 = 50.0;

/// What is asked for.
#[derive(Debug, Clone, Copy)]
pub struct DeriveOptions<'a> {
    pub name: &'a str,
    /// What sort of control; that of the base when not said.
    pub kind: Option<Kind>,
    /// A profile that gives wiring, supply, start rule, and the limits that the captures say nothing about.
    pub base: Option<&'a Profile>,
    /// Whether the parts may open a limit of the base; a side of it is never dropped.
    pub widen: bool,
}

/// A profile with what a person must know of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Derived {
    pub profile: Profile,
    /// What was assumed, what is wide, what was left out; in order of weight.
    pub notes: Vec<String>,
}

/// Derives a profile from captures of good units.
pub fn derive(
    captures: &[NamedCapture<'_>],
    wish: &DeriveOptions<'_>,
) -> Result<Derived, DeriveError> {
    let code_bits = code_bits(captures, wish.base);
    let units = good_units(captures, code_bits)?;
    if units.is_empty() {
        return Err(DeriveError::NoUnit);
    }
    let (measured, mut notes) = steps_of_all(captures)?;
    let card = whole_card(&measured, wish.base, &mut notes);
    let codes_alike = references_alike(captures, &mut notes);
    let mut limits = Limits {
        units: &units,
        measured: &measured,
        codes_alike,
        widen: wish.widen,
        count: 0,
        loosened: Vec::new(),
        notes: Vec::new(),
    };
    let mut tracks = BTreeMap::new();
    for track in units[0].tracks() {
        let base = wish.base.and_then(|base| base.tracks.get(&track));
        let mut part = base.cloned().unwrap_or(TrackPart {
            wiring: None,
            limits: BTreeMap::new(),
            reasons: BTreeMap::new(),
        });
        limits.put(
            ProfilePart::Track(track),
            &mut part.limits,
            &mut part.reasons,
        );
        tracks.insert(track, part);
    }
    let pair = (tracks.len() == 2).then(|| {
        let mut part = wish.base.and_then(|b| b.pair.clone()).unwrap_or_default();
        limits.put(ProfilePart::Pair, &mut part.limits, &mut part.reasons);
        part
    });
    let pair = pair.or_else(|| other_tracks(wish, &mut tracks, &mut notes));
    let Limits {
        count,
        loosened,
        notes: of_limits,
        ..
    } = limits;
    notes.extend(of_limits);
    // What is opened first: nothing else here may let a bad part through.
    let mut remarks = loosened;
    remarks.extend(not_so_good(&units, wish.base));
    remarks.extend(apart(&units, &measured));
    remarks.extend(width_notes(units.len(), count));
    remarks.extend(notes);
    let profile = assembled(captures, &units, wish, (card, tracks, pair), &mut remarks);
    Ok(Derived {
        profile,
        notes: remarks,
    })
}

/// The steps of the base's card, for its limits need them, and what the captures have beside them.
fn whole_card(measured: &[Step], base: Option<&Profile>, notes: &mut Vec<String>) -> Vec<Step> {
    let Some(base) = base else {
        return measured.to_vec();
    };
    let unseen: Vec<&str> = base
        .card
        .iter()
        .filter(|step| !measured.contains(step))
        .map(|step| step.word())
        .collect();
    if !unseen.is_empty() {
        notes.push(format!(
            "{} of the base's test {} not in all recordings: kept, with the base's limits",
            unseen.join(", "),
            if unseen.len() == 1 { "is" } else { "are" }
        ));
    }
    let more = measured.iter().filter(|step| !base.card.contains(step));
    base.card.iter().chain(more).copied().collect()
}

/// Tracks of the base that the captures have not: kept with their limits, and with those of the pair, unless the base may be
/// opened.
fn other_tracks(
    wish: &DeriveOptions<'_>,
    tracks: &mut BTreeMap<Track, TrackPart>,
    notes: &mut Vec<String>,
) -> Option<PairPart> {
    let base = wish.base?;
    let others: Vec<Track> = base
        .tracks
        .keys()
        .copied()
        .filter(|track| !tracks.contains_key(track))
        .collect();
    for track in &others {
        notes.push(if wish.widen {
            format!("WIDENED: the base has a track {track}, the recordings have not: left out, with all its limits")
        } else {
            format!(
                "the base has a track {track}, the recordings have not: kept as in the base, so that a part without it does not \
                 pass; --widen leaves it out"
            )
        });
    }
    if wish.widen || others.is_empty() {
        return None;
    }
    tracks.extend(
        others
            .iter()
            .filter_map(|track| Some((*track, base.tracks.get(track)?.clone()))),
    );
    base.pair.clone()
}

type Parts = (Vec<Step>, BTreeMap<Track, TrackPart>, Option<PairPart>);

fn assembled(
    captures: &[NamedCapture<'_>],
    units: &[GoodUnit],
    wish: &DeriveOptions<'_>,
    (card, tracks, pair): Parts,
    notes: &mut Vec<String>,
) -> Profile {
    let base = wish.base;
    let supply_mv = base.map_or_else(
        || {
            let mv = captures[0].1.capture.meta.board.vref_mv;
            notes.push(format!(
                "supply_mv is taken from the board's reference, {} mV, commands zero at rest, and a fault must stop the \
                 output within {STOP_WITHIN_MS} ms: change them where that is not so",
                plain(mv)
            ));
            mv
        },
        |base| base.supply_mv,
    );
    if tracks.values().any(|part| part.wiring.is_none()) {
        notes.push(
            "no wiring is stated: write it in, or give --base, so that single faults can be told and windows set"
                .to_owned(),
        );
    }
    let names: Vec<&str> = units.iter().map(|unit| unit.name.as_str()).collect();
    Profile {
        name: wish.name.to_owned(),
        kind: wish.kind.or(base.map(|b| b.kind)).unwrap_or(Kind::Lever),
        card,
        code_bits: code_bits(captures, base),
        supply_mv,
        tracks,
        pair,
        zero_command_at: base.map_or(ZeroEnd::Rest, |b| b.zero_command_at),
        stop_within_ms: base.map_or(STOP_WITHIN_MS, |b| b.stop_within_ms),
        drift_allowance_pct: base.map_or(USUAL_DRIFT_PCT, |b| b.drift_allowance_pct),
        comment: Some(format!(
            "Limits from {} taken to be good: {}.",
            if units.len() == 1 {
                "one part".to_owned()
            } else {
                format!("{} parts", units.len())
            },
            names.join(", ")
        )),
    }
}

struct Limits<'a> {
    units: &'a [GoodUnit],
    /// The steps that every capture has.
    measured: &'a [Step],
    codes_alike: bool,
    widen: bool,
    count: usize,
    /// Limits of the base that were opened.
    loosened: Vec<String>,
    notes: Vec<String>,
}

impl Limits<'_> {
    /// Puts in every limit that the units support at a place; limits already there stay where they do not.
    fn put(
        &mut self,
        place: ProfilePart,
        limits: &mut BTreeMap<FigureName, Limit>,
        reasons: &mut BTreeMap<FigureName, String>,
    ) {
        let scope = match place {
            ProfilePart::Track(_) => Scope::Channel,
            ProfilePart::Pair => Scope::Pair,
        };
        for name in FigureName::of(scope).filter(|name| name.is(Mark::Derived)) {
            let supplied = name.steps().iter().any(|step| self.measured.contains(step));
            let comparable = self.codes_alike || name.unit().on_any_board();
            if !supplied || !comparable {
                continue;
            }
            let Some((limit, reason)) = self.limit(place, name) else {
                continue;
            };
            let of_base = limits.get(&name).map(|base| {
                let why = reasons.get(&name).map(String::as_str);
                held(
                    *base,
                    why,
                    (limit, &reason, self.middle(place, name)),
                    self.widen,
                )
            });
            let (limit, reason) = match of_base {
                None => (limit, reason),
                Some(Held {
                    limit,
                    reason,
                    message,
                    loosened,
                }) => {
                    let list = if loosened {
                        &mut self.loosened
                    } else {
                        &mut self.notes
                    };
                    let mark = if loosened { "WIDENED: " } else { "" };
                    list.extend(message.map(|message| format!("{mark}{place}: {name} {message}")));
                    (limit, reason)
                }
            };
            limits.insert(name, limit);
            reasons.insert(name, reason);
            self.count += 1;
        }
    }

    /// The mean of what the units have there.
    fn middle(&self, place: ProfilePart, name: FigureName) -> f64 {
        let values = self
            .units
            .iter()
            .filter_map(|unit| unit.figures(place)?.value(name));
        measure::statistics::mean(&values.collect::<Vec<_>>())
    }

    fn limit(&mut self, place: ProfilePart, name: FigureName) -> Option<(Limit, String)> {
        let figures: Vec<&Figure> = self
            .units
            .iter()
            .filter_map(|unit| unit.figures(place)?.get(name))
            .collect();
        if figures.is_empty() {
            return None;
        }
        if figures.len() < 2 && self.units.len() > 1 {
            self.notes.push(format!(
                "{place}: {name} was measured in one part only: no limit from that"
            ));
            return None;
        }
        if name.facts().sides == Sides::Zero {
            let reason = "none in a good part: a worn place gets worse, and a dropout is a jump of the command; not taken from the recordings";
            return Some((Limit::new(None, Some(0.0)).ok()?, reason.to_owned()));
        }
        if let [only] = figures[..] {
            return assumed(name, only);
        }
        let spread = Spread::of(name, &figures);
        let Some(spread) = spread else {
            self.notes.push(format!(
                "{place}: an end of the interval of {name} is open (a saturated signal?): no limit from that"
            ));
            return None;
        };
        let limit = spread.limit(name);
        if limit.is_none() {
            self.notes.push(format!(
                "{place}: {name} scatters so much over {} parts that a limit would lie beyond the scale: none is set",
                figures.len()
            ));
        }
        limit
    }
}

/// Units that do not look good: what none should have, or what fails the base.
fn not_so_good(units: &[GoodUnit], base: Option<&Profile>) -> Vec<String> {
    let mut notes = Vec::new();
    for unit in units {
        for (place, figures) in unit.places() {
            let mut bad: Vec<String> = FigureName::ALL
                .iter()
                .filter(|name| name.facts().sides == Sides::Zero)
                .filter(|name| figures.value(**name).is_some_and(|count| count > 0.0))
                .map(|name| name.word().to_owned())
                .collect();
            bad.extend(fails(figures, base, place));
            bad.dedup();
            if !bad.is_empty() {
                notes.push(format!(
                    "is {} a good part? {place}: {} speaks against it",
                    unit.name,
                    bad.join(", ")
                ));
            }
        }
    }
    notes
}

/// Figures that lie wholly outside the limits of the base.
fn fails(figures: &Figures, base: Option<&Profile>, place: ProfilePart) -> Vec<String> {
    let limits = base.and_then(|base| match place {
        ProfilePart::Track(track) => base.tracks.get(&track).map(|part| &part.limits),
        ProfilePart::Pair => base.pair.as_ref().map(|part| &part.limits),
    });
    let failing = |(name, limit): (&FigureName, &Limit)| {
        let finding = judge::decide("", *name, *limit, figures.get(*name));
        (finding.outcome == Outcome::Fail).then(|| format!("{name} (outside the base's limit)"))
    };
    limits.map_or_else(Vec::new, |limits| {
        limits.iter().filter_map(failing).collect()
    })
}

/// Whose codes the new profile's limits are in: the base's; else those of the first capture's board.
fn code_bits(captures: &[NamedCapture<'_>], base: Option<&Profile>) -> u32 {
    let first = captures.first();
    base.map(|base| base.code_bits)
        .or_else(|| first.map(|(_, opened)| opened.capture.meta.board.bits))
        .unwrap_or(USUAL_CODE_BITS)
}

/// Whether a share of the reference is the same voltage in every capture; else figures in codes get no limit, and a note
/// says so.
fn references_alike(captures: &[NamedCapture<'_>], notes: &mut Vec<String>) -> bool {
    let vref = |opened: &Opened| opened.capture.meta.board.vref_mv.to_bits();
    let alike = captures
        .windows(2)
        .all(|pair| vref(pair[0].1) == vref(pair[1].1));
    if !alike {
        notes.push(
            "the recordings come from boards of different reference: no limits on results in codes"
                .to_owned(),
        );
    }
    alike
}
