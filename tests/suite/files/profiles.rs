//! The profiles that ship with the program, their schema, and a gallery of bad ones.

use measure::units::Track;
use pedalproof::profile::{self, BUILT_IN, Profile};
use pedalproof::wiring::faults::Class;
use pedalproof::wiring::reading::expected;
use pedalproof::wiring::{Fault, FaultAnalysis, Hookup, Wire};
use serde_json::{Value, json};

fn built_in(name: &str) -> Profile {
    profile::find(name).unwrap_or_else(|| panic!("{name} is not built in or is refused"))
}

fn folder() -> String {
    format!("{}/profiles", env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn every_shipped_profile_is_built_in_and_good() {
    let mut shipped: Vec<String> = std::fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter_map(|name| name.strip_suffix(".json").map(str::to_owned))
        .filter(|name| name != "profile.schema")
        .collect();
    shipped.sort();
    let mut registered: Vec<&str> = BUILT_IN.iter().map(|(name, _)| *name).collect();
    registered.sort_unstable();
    assert_eq!(shipped, registered);
    for (name, text) in BUILT_IN {
        if let Err(place) = Profile::from_json(text) {
            panic!("{name}: {place}");
        }
    }
}

#[test]
fn every_limit_has_its_reason_and_every_figure_its_step() {
    for (name, _) in BUILT_IN {
        let profile = built_in(name);
        assert!(profile.comment.is_some(), "{name}");
        let tracks = profile
            .tracks
            .values()
            .map(|part| (&part.limits, &part.reasons));
        let pair = profile
            .pair
            .iter()
            .map(|part| (&part.limits, &part.reasons));
        for (limits, reasons) in tracks.chain(pair) {
            for figure in limits.keys() {
                assert!(
                    reasons.contains_key(figure),
                    "{name}: {figure} has no reason"
                );
                let supplied = figure
                    .steps()
                    .iter()
                    .any(|step| profile.card.contains(step));
                assert!(supplied, "{name}: no step of the test supplies {figure}");
            }
        }
    }
}

#[test]
fn a_unit_of_every_profile_reads_inside_its_limits_over_its_tolerances() {
    for (name, _) in BUILT_IN {
        let control = built_in(name).control_wiring(10);
        assert!(!control.tracks.is_empty(), "{name} states no wiring");
        for track in &control.tracks {
            let hookup = Hookup::new(track.wiring, control.supply_mv, control.bits).unwrap();
            let rows = expected(&hookup).unwrap().rows;
            for (row, limits) in [(&rows[0], track.rest), (&rows[rows.len() - 1], track.full)] {
                let message = format!("{name}: {row:?} against {limits:?}");
                assert!(
                    limits.min.is_none_or(|min| row.ratio_low >= min),
                    "{message}"
                );
                assert!(
                    limits.max.is_none_or(|max| row.ratio_high <= max),
                    "{message}"
                );
            }
        }
    }
}

/// The facts that issue 4 asks for under "Done means".
#[test]
fn what_a_dial_and_a_three_wire_pedal_hide() {
    let judge = |profile: &str, fault: Fault| {
        let control = built_in(profile).control_wiring(10);
        let track = control.tracks[0];
        let hookup = Hookup::new(track.wiring, control.supply_mv, control.bits).unwrap();
        let analysis = FaultAnalysis::new(&hookup, control.zero, track.rest, track.full).unwrap();
        analysis.judge(fault)
    };
    // A rheostat dial with pull-up: a short to ground reads as the dial's low end and is hidden.
    let short = judge("dial-rheostat", Fault::Short(Wire::Signal, Wire::Ground));
    assert_eq!(short.class, Class::Hidden);
    assert_eq!(short.reads_as_pct, Some([0.0, 0.0]));
    assert!(short.points.iter().all(|point| point.code == Some(0)));
    // A three-wire pedal without a pull-down: an open signal wire floats and is not caught.
    let open = judge("pedal-three-wire", Fault::Open(Wire::Signal));
    assert_eq!(open.class, Class::Floats);
    assert!(open.missed());
}

#[test]
fn the_schema_is_in_step_with_the_types() {
    let path = format!("{}/profile.schema.json", folder());
    let fresh = profile::schema_json();
    if std::env::var_os("PEDALPROOF_WRITE_SCHEMA").is_some() {
        std::fs::write(&path, &fresh).unwrap();
    }
    let shipped = std::fs::read_to_string(&path).unwrap();
    assert!(
        shipped == fresh,
        "profiles/profile.schema.json is out of step: run this test with PEDALPROOF_WRITE_SCHEMA=1 and look at the change"
    );
}

/// Holds a value against the schema, as far as our schema goes. A keyword that is not known here fails, so that nothing
/// passes unseen.
fn conforms(value: &Value, schema: &Value, root: &Value) -> Result<(), String> {
    for (keyword, rule) in schema.as_object().unwrap() {
        let number = || value.as_f64().unwrap_or(f64::NAN);
        let good = match keyword.as_str() {
            "$schema" | "title" | "description" | "default" | "$defs" | "format" => true,
            "$ref" => {
                let path = rule.as_str().unwrap().trim_start_matches('#');
                return conforms(value, root.pointer(path).unwrap(), root);
            }
            "anyOf" | "oneOf" => {
                let fits = rule.as_array().unwrap().iter();
                fits.filter(|one| conforms(value, one, root).is_ok())
                    .count()
                    >= 1
            }
            "type" => {
                let is = |word: &Value| match word.as_str().unwrap() {
                    "object" => value.is_object(),
                    "array" => value.is_array(),
                    "string" => value.is_string(),
                    "number" => value.is_number(),
                    "integer" => value.is_u64(),
                    "null" => value.is_null(),
                    "boolean" => value.is_boolean(),
                    other => panic!("type {other}"),
                };
                rule.as_array()
                    .map_or_else(|| is(rule), |words| words.iter().any(is))
            }
            "const" => value == rule,
            "enum" => rule.as_array().unwrap().contains(value),
            "minimum" => value.is_null() || number() >= rule.as_f64().unwrap(),
            "maximum" => value.is_null() || number() <= rule.as_f64().unwrap(),
            "exclusiveMinimum" => value.is_null() || number() > rule.as_f64().unwrap(),
            "exclusiveMaximum" => value.is_null() || number() < rule.as_f64().unwrap(),
            "required" => rule
                .as_array()
                .unwrap()
                .iter()
                .all(|name| value.get(name.as_str().unwrap()).is_some()),
            "items" => value
                .as_array()
                .is_none_or(|list| list.iter().all(|one| conforms(one, rule, root).is_ok())),
            "properties" => {
                for (name, inner) in rule.as_object().unwrap() {
                    if let Some(member) = value.get(name) {
                        conforms(member, inner, root).map_err(|e| format!("{name}.{e}"))?;
                    }
                }
                true
            }
            "additionalProperties" => {
                let known = schema.get("properties").and_then(Value::as_object);
                let extra = value
                    .as_object()
                    .into_iter()
                    .flatten()
                    .filter(|(name, _)| known.is_none_or(|known| !known.contains_key(*name)));
                match rule {
                    Value::Bool(false) => extra.count() == 0,
                    rule => {
                        for (name, member) in extra {
                            conforms(member, rule, root).map_err(|e| format!("{name}.{e}"))?;
                        }
                        true
                    }
                }
            }
            other => panic!("the schema uses `{other}`: teach it to this test"),
        };
        if !good {
            return Err(format!(": {keyword} {rule} refuses {value}"));
        }
    }
    Ok(())
}

#[test]
fn the_schema_takes_every_shipped_profile_and_refuses_spoilt_ones() {
    let schema: Value = serde_json::from_str(&profile::schema_json()).unwrap();
    for (name, text) in BUILT_IN {
        let value: Value = serde_json::from_str(text).unwrap();
        conforms(&value, &schema, &schema).unwrap_or_else(|e| panic!("{name}: {e}"));
    }
    let good: Value = serde_json::from_str(BUILT_IN[0].1).unwrap();
    let spoils: [(&str, Value); 6] = [
        ("/format", json!("profile/2")),
        ("/kind", json!("joystick")),
        ("/card", json!(["rest", "sweep"])),
        ("/tracks/1/wiring/output_ohm", json!(-100)),
        ("/tracks/1/limits", json!({ "loudness": { "max": 1 } })),
        ("/tracks/1/limits/rest_ratio", json!({ "most": 1 })),
    ];
    for (place, value) in spoils {
        let mut spoilt = good.clone();
        *spoilt.pointer_mut(place).unwrap() = value;
        assert!(conforms(&spoilt, &schema, &schema).is_err(), "{place}");
    }
}

/// A good profile to spoil.
const GOOD: &str = r#"{
  "format": "profile/1",
  "name": "test",
  "kind": "pedal",
  "card": ["rest", "full"],
  "supply_mv": 5000,
  "tracks": {
    "1": {
      "wiring": { "network": "rheostat", "track_ohm": 10000, "pull_up_ohm": 4700 },
      "limits": { "rest_ratio": { "min": 0.1, "max": 0.2 } }
    }
  },
  "start": { "zero_command_at": "rest" },
  "stop_within_ms": 50
}"#;
/// A text in it, what to put in its place, and the words that the refusal must hold: path, line, what to do.
const BAD: [(&str, &str, &[&str]); 16] = [
    (
        "\"profile/1\"",
        "\"profile/9\"",
        &["`format`, line 2", "profile/9", "profile/1"],
    ),
    (
        "\"pedal\"",
        "\"joystick\"",
        &["`kind`, line 4", "pedal", "dial", "lever"],
    ),
    (
        "\"full\"]",
        "\"sweep\"]",
        &["`card[1]`, line 5", "sweep", "strokes"],
    ),
    ("5000", "0", &["`supply_mv`, line 6, column 16", "positive"]),
    ("5000", "\"5 V\"", &["`supply_mv`, line 6", "5 V"]),
    (
        "\"1\": {",
        "\"3\": {",
        &["`tracks.3`, line 8", "\"1\" or \"2\""],
    ),
    (
        "rheostat",
        "bridge",
        &["`tracks.1.wiring.network`, line 9", "bridge", "three-wire"],
    ),
    (
        ", \"pull_up_ohm\": 4700",
        "",
        &[
            "`tracks.1.wiring.pull_up_ohm`, line 9",
            "rheostat",
            "state it",
        ],
    ),
    (
        "4700",
        "-4700",
        &["`tracks.1.wiring.pull_up_ohm`, line 9", "-4700", "positive"],
    ),
    (
        "track_ohm\": 10000",
        "trak_ohm\": 10000",
        &[
            "`tracks.1.wiring.trak_ohm`, line 9",
            "trak_ohm",
            "track_ohm",
        ],
    ),
    (
        "\"rest_ratio\"",
        "\"loudness\"",
        &[
            "`tracks.1.limits.loudness`, line 10, column 31",
            "loudness",
            "rest_code",
        ],
    ),
    (
        "\"rest_ratio\"",
        "\"track_gain\"",
        &["`tracks.1.limits.track_gain`, line 10", "pair"],
    ),
    (
        "\"min\": 0.1, \"max\": 0.2",
        "",
        &["`tracks.1.limits.rest_ratio`, line 10", "neither"],
    ),
    (
        "0.1",
        "0.3",
        &[
            "`tracks.1.limits.rest_ratio`, line 10",
            "0.3",
            "0.2",
            "swap",
        ],
    ),
    (
        "\"start\"",
        "\"pair\": { \"limits\": {} },\n  \"start\"",
        &["`pair`, line 13", "two tracks"],
    ),
    (
        "\"stop_within_ms\": 50\n}",
        "\"stop_within_ms\": 50\n",
        &["line 15", "EOF"],
    ),
];
#[test]
fn a_gallery_of_bad_profiles() {
    assert!(Profile::from_json(GOOD).is_ok());
    for (old, new, words) in BAD {
        let bad = GOOD.replacen(old, new, 1);
        assert_ne!(bad, GOOD, "{old} is not there");
        let message = Profile::from_json(&bad).unwrap_err().to_string();
        for word in words {
            assert!(message.contains(word), "`{word}` is missing in: {message}");
        }
    }
}

#[test]
fn tracks_keep_their_wiring_and_reasons() {
    let pedal = built_in("pedal-hall-two-track");
    assert_eq!(pedal.tracks.len(), 2);
    let second = &pedal.tracks[&Track::Two];
    assert!(second.wiring.is_some() && !second.reasons.is_empty());
    assert_eq!(
        profile::find("hall pedal, two tracks, half slope"),
        Some(pedal)
    );
    assert_eq!(profile::find("nothing of the kind"), None);
}
