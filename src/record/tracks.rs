//! Which channel of one record is which of another: by its track where that is certain, for a column may be called otherwise each time.
//!
//! Belongs here: what a track is called, and giving it that name in every record. Does not belong here: what is compared (`series`).

use super::kept::{AssessmentKept, Record};
use super::visits::{Remark, Visit};
use measure::units::Track;
use std::collections::{BTreeMap, BTreeSet};

/// What each track is called: as the newest record calls it that says for certain which channel it is.
#[derive(Debug, Default)]
pub(super) struct Names(BTreeMap<Track, String>);

impl Names {
    fn of(visits: &[Visit]) -> Self {
        let mut names = BTreeMap::new();
        for visit in visits.iter().rev() {
            for (track, name) in certain(&visit.record) {
                // The newest record's other track may have the name by now.
                let taken = names
                    .iter()
                    .any(|(other, had)| *other != track && *had == name);
                let name = if taken { no_channel(track) } else { name };
                names.entry(track).or_insert(name);
            }
        }
        Self(names)
    }

    /// A channel as it is called now; where a finding names a track that had no channel, that track's.
    pub(super) fn channel(&self, said: &str) -> String {
        let of = |track: Track| {
            let name = self.0.get(&track);
            name.cloned().unwrap_or_else(|| no_channel(track))
        };
        let mut single = [Track::One, Track::Two].into_iter();
        if let Some(track) = single.find(|track| said == no_channel(*track)) {
            return of(track);
        }
        if said == pair(&no_channel(Track::One), &no_channel(Track::Two)) {
            return pair(&of(Track::One), &of(Track::Two));
        }
        said.to_owned()
    }
}

/// How findings call a track without a channel.
fn no_channel(track: Track) -> String {
    format!("track {track}")
}

fn pair(one: &str, two: &str) -> String {
    format!("{one}/{two}")
}

/// Gives every track one name in all visits, and tells which were called otherwise.
pub(super) fn name_alike(visits: &mut [Visit]) -> (Names, Option<Remark>) {
    let names = Names::of(visits);
    let mut renamed: BTreeSet<(String, String)> = BTreeSet::new();
    for visit in visits {
        let own = certain(&visit.record);
        let now: BTreeMap<String, String> = own
            .into_iter()
            .filter_map(|(track, was)| Some((was, names.0.get(&track)?.clone())))
            .filter(|(was, is)| was != is)
            .collect();
        let assessment = &mut visit.record.assessment;
        if !now.is_empty() && rename(assessment, &now) {
            renamed.extend(now);
        }
    }
    let renamed: Vec<(String, String)> = renamed.into_iter().collect();
    let remark = (!renamed.is_empty()).then_some(Remark::Renamed { channels: renamed });
    (names, remark)
}

/// Whether a record's channels could be called so: two never get one name.
fn rename(assessment: &mut AssessmentKept, now: &BTreeMap<String, String>) -> bool {
    let called = |was: &String| now.get(was).unwrap_or(was).clone();
    let distinct: BTreeSet<String> = assessment.channels.keys().map(called).collect();
    if distinct.len() < assessment.channels.len() {
        return false;
    }
    let mut all: BTreeMap<String, String> = assessment
        .channels
        .keys()
        .map(|was| (was.clone(), called(was)))
        .collect();
    for (one, two) in both(assessment) {
        all.insert(pair(&one, &two), pair(&called(&one), &called(&two)));
    }
    let called = |was: String| all.get(&was).cloned().unwrap_or(was);
    let channels = std::mem::take(&mut assessment.channels).into_iter();
    assessment.channels = channels.map(|(was, part)| (called(was), part)).collect();
    let pairs = std::mem::take(&mut assessment.pairs).into_iter();
    assessment.pairs = pairs.map(|(was, part)| (called(was), part)).collect();
    for finding in &mut assessment.findings {
        finding.channel = called(std::mem::take(&mut finding.channel));
    }
    true
}

/// The channels of each pair, track 1 first.
fn both(assessment: &AssessmentKept) -> Vec<(String, String)> {
    let names = || assessment.channels.keys();
    let all = names().flat_map(|one| names().map(move |two| (one.clone(), two.clone())));
    all.filter(|(one, two)| assessment.pairs.contains_key(&pair(one, two)))
        .collect()
}

/// The channel of each track that a record leaves no doubt of.
fn certain(record: &Record) -> BTreeMap<Track, String> {
    let mut of: BTreeMap<Track, Vec<String>> = BTreeMap::new();
    if record.tracks.is_empty() {
        for (track, name) in deduced(&record.assessment) {
            of.entry(track).or_default().push(name);
        }
    } else {
        for name in record.assessment.channels.keys() {
            if let Some(track) = record.tracks.get(name) {
                of.entry(*track).or_default().push(name.clone());
            }
        }
    }
    of.into_iter()
        .filter(|(_, names)| names.len() == 1)
        .filter_map(|(track, mut names)| Some((track, names.pop()?)))
        .collect()
}

/// The same of a record of before, which does not say: by its pairs, or by the track that its only channel was judged as.
fn deduced(assessment: &AssessmentKept) -> BTreeSet<(Track, String)> {
    let of_pairs = both(assessment).into_iter();
    let mut found: BTreeSet<(Track, String)> = of_pairs
        .flat_map(|(one, two)| [(Track::One, one), (Track::Two, two)])
        .collect();
    let mut names = assessment.channels.keys();
    if let (Some(only), None) = (names.next(), names.next())
        && assessment.findings.iter().any(|f| f.channel == *only)
    {
        let first = no_channel(Track::One);
        let lacks_first = assessment.findings.iter().any(|f| f.channel == first);
        let track = if lacks_first { Track::Two } else { Track::One };
        found.insert((track, only.clone()));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{UnitHistory, unit_history};
    use serde_json::{Value, json};

    /// Channels with a rest of so many codes, and their stated tracks; the pair and the findings that a record of them has.
    struct Made<'a> {
        taken: &'a str,
        channels: &'a [(&'a str, f64)],
        tracks: Value,
        pair: Option<&'a str>,
        findings: &'a [&'a str],
    }

    fn record(of: &Made<'_>) -> Record {
        let figures = |rest: f64| {
            let rest = json!({ "value": rest, "unit": "code", "u": 0.05, "low": rest - 0.1, "high": rest + 0.1, "n": 5, "method": "" });
            json!({ "figures": { "rest_code": rest }, "worn_zones": [], "dropouts": [] })
        };
        let channels: BTreeMap<&str, Value> = of
            .channels
            .iter()
            .map(|(name, rest)| (*name, figures(*rest)))
            .collect();
        let pairs: BTreeMap<&str, Value> = of
            .pair
            .iter()
            .map(|pair| (*pair, json!({ "figures": {} })))
            .collect();
        let finding = |channel: &&str| json!({ "channel": channel, "figure": "rest_code", "min": null, "max": 400.0, "outcome": "pass", "reason": "", "advice": null });
        let findings: Vec<Value> = of.findings.iter().map(finding).collect();
        let text = json!({
            "format": "record/1", "kept": of.taken, "taken": of.taken, "program": "test",
            "board": { "name": "b", "bits": 10, "vref_mv": 5000.0, "rate_hz": 1000.0 }, "tracks": of.tracks,
            "assessment": {
                "format": "assessment/1", "verdict": "pass",
                "capture": { "file": "a.csv", "sha256": of.taken, "samples": 10, "duration_s": 1.0, "rejected": {}, "missing": 0 },
                "unit": { "tag": "T1", "profile": "made" }, "channels": channels, "pairs": pairs, "findings": findings,
            },
        });
        Record::from_json(text.to_string().as_bytes()).unwrap()
    }

    const WAS: &str = "2026-01-01T00:00:00Z";
    const IS: &str = "2027-01-01T00:00:00Z";

    /// The history of two, and by how much each channel's rest moved.
    fn seen(was: &Made<'_>, is: &Made<'_>) -> (UnitHistory, Vec<(String, f64)>) {
        let now = "2031-01-01T00:00:00Z".parse().unwrap();
        let history = unit_history("T1", vec![record(was), record(is)], now);
        let moved = history.series.iter().filter_map(|series| {
            let step = series.last_step.as_ref()?;
            Some((series.channel.clone(), step.change.by))
        });
        let moved = moved.collect();
        (history, moved)
    }

    fn told(history: &UnitHistory) -> (bool, bool) {
        let is = |of: fn(&Remark) -> bool| history.remarks.iter().any(of);
        (
            is(|r| matches!(r, Remark::Renamed { .. })),
            is(|r| matches!(r, Remark::Edited { .. })),
        )
    }

    /// Two tracks whose columns changed over: each is held against itself, and no limit was edited.
    #[test]
    fn columns_that_changed_over_are_held_against_their_own_track() {
        let was = Made {
            taken: WAS,
            channels: &[("A0", 160.0), ("A1", 80.0)],
            tracks: json!({ "A0": 1, "A1": 2 }),
            pair: Some("A0/A1"),
            findings: &["A0", "A0/A1"],
        };
        let is = Made {
            taken: IS,
            channels: &[("A0", 82.0), ("A1", 163.0)],
            tracks: json!({ "A0": 2, "A1": 1 }),
            pair: Some("A1/A0"),
            findings: &["A1", "A1/A0"],
        };
        let (history, moved) = seen(&was, &is);
        assert_eq!(moved, [("A0".to_owned(), 2.0), ("A1".to_owned(), 3.0)]);
        assert_eq!(told(&history), (true, false));
        // The same of records of before, which state no track: their pairs say it.
        let none = || Value::Object(serde_json::Map::new());
        let (was, is) = (
            Made {
                tracks: none(),
                ..was
            },
            Made {
                tracks: none(),
                ..is
            },
        );
        assert_eq!(seen(&was, &is).1, moved);
    }

    /// A finding of a track without a channel is of the channel that the other record has for it.
    #[test]
    fn a_track_that_was_not_connected_is_no_edited_profile() {
        let was = Made {
            taken: WAS,
            channels: &[("A0", 160.0), ("A1", 80.0)],
            tracks: json!({ "A0": 1, "A1": 2 }),
            pair: Some("A0/A1"),
            findings: &["A0", "A1", "A0/A1"],
        };
        let is = Made {
            taken: IS,
            channels: &[("pedal", 83.0)],
            tracks: json!({}),
            pair: None,
            findings: &["track 1", "pedal", "track 1/track 2"],
        };
        let (history, moved) = seen(&was, &is);
        assert_eq!(moved, [("pedal".to_owned(), 3.0)]);
        assert_eq!(told(&history), (true, false));
    }

    /// Two channels that state the same track: by their names, as they are.
    #[test]
    fn what_is_not_certain_goes_by_its_name() {
        let both = json!({ "A0": 1, "A1": 1 });
        let was = Made {
            taken: WAS,
            channels: &[("A0", 160.0), ("A1", 80.0)],
            tracks: both,
            pair: None,
            findings: &["A0", "A1"],
        };
        let is = Made {
            taken: IS,
            channels: &[("A0", 161.0), ("A2", 80.0)],
            tracks: json!({ "A0": 2, "A2": 1 }),
            pair: None,
            findings: &["A0", "A2"],
        };
        let (history, moved) = seen(&was, &is);
        assert_eq!(moved, [("A0".to_owned(), 1.0)]);
        assert!(!told(&history).0 && !history.not_compared.is_empty());
    }
}
