//! The gallery of bad input: each case is refused with exit code 2, by name and place, with what to do next, and never with a panic.
//!
//! A case is a good set of files with one thing wrong, a command, and words that its error must contain.
#![allow(clippy::needless_pass_by_value, clippy::too_many_lines)] // tables of cases

use crate::support::program::{pedalproof, program};
use pedalproof::bench::trolley_block;
use pedalproof::constants::formats;
use serde_json::{Value, json};
use std::path::Path;

const CSV: &str = "t_us,step,pedal\n0,rest,100\n1000,rest,101\n2000,rest,100\n3000,rest,102\n";

fn metadata() -> Value {
    json!({
        "@context": "http://www.w3.org/ns/csvw", "url": "c.csv", "tableSchema": { "columns": [] },
        "pedalproof": {
            "format": "capture/1",
            "board": { "name": "b", "bits": 10, "vref_mv": 5000, "rate_hz": 1000 },
            "unit": { "tag": "T1", "profile": null },
            "channels": { "pedal": { "role": "signal", "track": 1 } },
            "started": "2026-01-01T00:00:00Z",
            "stream": { "lines": 4, "samples": 4, "rejected": {}, "missing": 0 }, "note": null
        }
    })
}

fn profile() -> Value {
    serde_json::from_str(include_str!("../../../profiles/pedal-three-wire.json")).unwrap()
}

fn record() -> Value {
    json!({
        "format": "record/1", "kept": "2026-01-01T00:00:00Z", "taken": null, "program": "x",
        "board": { "name": "b", "bits": 10, "vref_mv": 5000.0, "rate_hz": 1000.0 },
        "assessment": {
            "format": "assessment/1", "verdict": "pass",
            "capture": { "file": "a.csv", "sha256": "00", "samples": 1, "duration_s": 1.0, "rejected": {}, "missing": 0 },
            "unit": { "tag": "T1", "profile": "p" }, "channels": {}, "pairs": {}, "findings": []
        }
    })
}

/// The value with one member put in, or taken out.
fn with(mut value: Value, place: &str, member: Option<Value>) -> String {
    let (parent, name) = place.rsplit_once('/').unwrap();
    let parent = value.pointer_mut(parent).unwrap().as_object_mut().unwrap();
    match member {
        Some(member) => parent.insert(name.to_owned(), member),
        None => parent.remove(name),
    };
    value.to_string()
}

struct Case {
    what: String,
    line: &'static str,
    files: Vec<(&'static str, Vec<u8>)>,
    says: Vec<&'static str>,
}

/// Everything in the folder is good unless a case says otherwise.
fn case(
    what: &str,
    line: &'static str,
    files: Vec<(&'static str, Vec<u8>)>,
    says: &[&'static str],
) -> Case {
    Case {
        what: what.to_owned(),
        line,
        files,
        says: says.to_vec(),
    }
}

fn csv(what: &str, text: impl Into<Vec<u8>>, says: &[&'static str]) -> Case {
    let mut case = case(what, "assess c.csv", vec![("c.csv", text.into())], says);
    case.says.push("c.csv");
    case
}

/// `place` within the `pedalproof` object.
fn meta(place: &'static str, member: Option<Value>, says: &[&'static str]) -> Case {
    let text = with(metadata(), &format!("/pedalproof{place}"), member.clone());
    let mut case = case(
        &format!("metadata {place} = {member:?}"),
        "assess c.csv",
        vec![("c.csv-metadata.json", text.into())],
        says,
    );
    case.says.push("c.csv-metadata.json");
    case
}

fn of_profile(place: &'static str, member: Option<Value>, says: &[&'static str]) -> Case {
    let text = with(profile(), place, member.clone());
    let mut case = case(
        &format!("profile {place} = {member:?}"),
        "profile check p.json",
        vec![("p.json", text.into())],
        says,
    );
    case.says.push("p.json");
    case
}

fn captures() -> Vec<Case> {
    let bad = |old: &str, new: &str| CSV.replace(old, new);
    vec![
        csv("an empty recording", "", &["line 1", "empty", "t_us,step"]),
        csv("no t_us", bad("t_us", "time"), &["line 1", "`t_us`"]),
        csv("no step", bad("step", "phase"), &["line 1", "`step`"]),
        csv(
            "a known position that says nowhere which",
            bad("3000,rest", "3000,stations"),
            &["line 5", "`step`", "known positions", "no column `ref`"],
        ),
        csv(
            "columns in another order",
            bad("t_us,step", "step,t_us"),
            &["line 2", "`t_us`", "`rest`"],
        ),
        csv(
            "a channel that the metadata knows is missing",
            bad("pedal", "lever"),
            &["line 1", "`pedal`"],
        ),
        csv(
            "a channel that the metadata does not know",
            "t_us,step,pedal,b\n0,rest,1,5\n",
            &["`b`", "pedalproof.channels"],
        ),
        csv(
            "a step that is none",
            bad("1000,rest", "1000,nap"),
            &["line 3", "`nap`", "use one of rest"],
        ),
        csv(
            "a code above full scale",
            bad("101", "1024"),
            &["line 3", "`pedal`", "1024", "1023"],
        ),
        csv(
            "a negative code",
            bad("101", "-1"),
            &["line 3", "`pedal`", "`-1`"],
        ),
        csv(
            "a code with a decimal point",
            bad("101", "101.5"),
            &["line 3", "`101.5`"],
        ),
        csv("a code that is a word", bad("101", "x"), &["line 3", "`x`"]),
        csv(
            "a code that is missing",
            bad("101", ""),
            &["line 3", "`pedal`"],
        ),
        csv(
            "a negative time",
            bad("1000,", "-1000,"),
            &["line 3", "`t_us`", "`-1000`"],
        ),
        csv(
            "a time that is a word",
            bad("1000,", "soon,"),
            &["line 3", "`t_us`", "`soon`"],
        ),
        csv(
            "time that goes back",
            bad("2000,", "500,"),
            &["line 4", "1000", "500"],
        ),
        csv(
            "a time of 23 digits",
            bad("3000,", "99999999999999999999999,"),
            &["line 5", "`t_us`"],
        ),
        csv(
            "too few fields",
            bad("1000,rest,101", "1000,rest"),
            &["line 3", "2 fields", "3"],
        ),
        csv(
            "too many fields",
            bad("1000,rest,101", "1000,rest,101,7"),
            &["line 3", "4 fields", "3"],
        ),
        csv(
            "bytes that are no text",
            b"\xff\xfe\x00\x01".repeat(50),
            &["line 1", "`t_us`"],
        ),
        csv(
            "an open quote",
            "t_us,step,pedal\n0,\"rest,100\n",
            &["line 2"],
        ),
        csv(
            "two recordings in one file",
            CSV.repeat(2),
            &["line 6", "`t_us`"],
        ),
        csv(
            "a column twice",
            bad("t_us,step,pedal", "t_us,step,pedal,pedal"),
            &["line 1", "`pedal`", "twice"],
        ),
        case(
            "a reference that is a word",
            "assess c.csv",
            vec![
                (
                    "c.csv",
                    b"t_us,step,pedal,ref\n0,stations,100,far\n".to_vec(),
                ),
                (
                    "c.csv-metadata.json",
                    with(
                        metadata(),
                        "/pedalproof/ref",
                        Some(json!({ "unit": "deg", "low": 0, "high": 60 })),
                    )
                    .into(),
                ),
            ],
            &["c.csv", "line 2", "`ref`", "`far`"],
        ),
        case(
            "a recording that is not there",
            "assess none.csv",
            vec![],
            &["There is no file none.csv", "Give a recording"],
        ),
        case(
            "a recording without metadata",
            "assess alone.csv",
            vec![("alone.csv", CSV.into())],
            &[
                "alone.csv is no recording (alone.csv-metadata.json is missing)",
                "copy both files",
            ],
        ),
    ]
}

fn metadatas() -> Vec<Case> {
    let whole = |what: &str, text: &str, says: &[&'static str]| {
        case(
            what,
            "assess c.csv",
            vec![("c.csv-metadata.json", text.into())],
            says,
        )
    };
    vec![
        whole("metadata cut off", "{", &["c.csv-metadata.json", "line 1"]),
        whole("metadata empty", "", &["c.csv-metadata.json"]),
        whole(
            "metadata a list",
            "[]",
            &["`pedalproof`", "not the metadata of a recording"],
        ),
        whole(
            "metadata of something else",
            "{\"url\":\"c.csv\"}",
            &["`pedalproof`", "not the metadata of a recording"],
        ),
        meta(
            "/format",
            Some(json!("capture/2")),
            &["`capture/2`", "`capture/1`"],
        ),
        meta("/format", None, &["`format`"]),
        meta("/board", None, &["`board`"]),
        meta(
            "/board/bits",
            Some(json!(0)),
            &["pedalproof.board", "0 bits", "1 to 24"],
        ),
        meta("/board/bits", Some(json!(99)), &["99 bits", "1 to 24"]),
        meta(
            "/board/bits",
            Some(json!("ten")),
            &["pedalproof.board.bits", "ten"],
        ),
        meta("/board/bits", None, &["`bits`"]),
        meta("/board/vref_mv", Some(json!(0)), &["0 mV", "e.g. 5000"]),
        meta("/board/vref_mv", Some(json!(-5)), &["-5 mV"]),
        meta("/board/vref_mv", None, &["`vref_mv`"]),
        meta(
            "/board/rate_hz",
            Some(json!(0)),
            &["pedalproof.board.rate_hz", "samples a second"],
        ),
        meta(
            "/board/rate_hz",
            Some(json!("fast")),
            &["pedalproof.board.rate_hz", "fast"],
        ),
        meta(
            "/channels",
            Some(json!({})),
            &["pedalproof.channels", "no channel"],
        ),
        meta("/channels", None, &["`channels`"]),
        meta(
            "/channels",
            Some(json!({ "step": { "role": "signal" } })),
            &["pedalproof.channels", "`step`"],
        ),
        meta(
            "/channels/pedal/role",
            Some(json!("noise")),
            &["pedalproof.channels.pedal.role", "`noise`", "`signal`"],
        ),
        meta(
            "/channels/pedal/track",
            Some(json!(3)),
            &["pedalproof.channels.pedal.track", "use one of 1 2"],
        ),
        meta(
            "/ref",
            Some(json!({ "unit": "deg", "low": 5, "high": 5 })),
            &["pedalproof.ref", "two different positions"],
        ),
        meta(
            "/ref",
            Some(json!({ "low": 5, "high": 6 })),
            &["pedalproof.ref", "`unit`"],
        ),
        meta(
            "/stream",
            Some(json!({ "lines": -1 })),
            &["pedalproof.stream.lines", "-1"],
        ),
        meta("/unit", Some(json!(5)), &["pedalproof.unit"]),
        meta("/started", Some(json!(7)), &["pedalproof.started"]),
    ]
}

fn profiles() -> Vec<Case> {
    let limit = "/tracks/1/limits/rest_ratio";
    vec![
        case(
            "a profile that is not there",
            "assess c.csv --profile none.json",
            vec![],
            &["`none.json`", "Built in are", "lever-shunting"],
        ),
        case(
            "a profile cut off",
            "assess c.csv --profile p.json",
            vec![("p.json", b"{".to_vec())],
            &["p.json", "line 1, column 1"],
        ),
        of_profile(
            "/format",
            Some(json!("profile/2")),
            &["`profile/2`", "`profile/1`"],
        ),
        of_profile("/format", None, &["`format`"]),
        of_profile(
            "/kind",
            Some(json!("wheel")),
            &["`kind`", "`wheel`", "`pedal`"],
        ),
        of_profile("/name", None, &["`name`"]),
        of_profile(
            "/card",
            Some(json!(["nap"])),
            &["`card[0]`", "`nap`", "`rest`"],
        ),
        of_profile("/supply_mv", Some(json!(-5)), &["`supply_mv`", "positive"]),
        of_profile("/tracks", Some(json!({})), &["`tracks`", "at least"]),
        of_profile(
            "/tracks",
            Some(json!({ "3": {} })),
            &["`tracks.3`", "\"1\" or \"2\""],
        ),
        of_profile(
            "/tracks/1/wiring/network",
            Some(json!("two-wire")),
            &["`tracks.1.wiring.network`", "`two-wire`", "`rheostat`"],
        ),
        of_profile(
            "/tracks/1/wiring/track_ohm",
            None,
            &["three-wire", "`track_ohm`"],
        ),
        of_profile(
            "/tracks/1/wiring/track_ohm",
            Some(json!(-5)),
            &["`track_ohm` is -5", "positive"],
        ),
        of_profile(
            "/tracks/1/wiring/tolerance_pct",
            Some(json!(150)),
            &["`tolerance_pct` is 150", "below 100"],
        ),
        of_profile(
            limit,
            Some(json!({})),
            &["`tracks.1.limits.rest_ratio`", "neither `min` nor `max`"],
        ),
        of_profile(
            limit,
            Some(json!({ "min": 2, "max": 1 })),
            &["min 2 is above max 1", "swap"],
        ),
        of_profile(
            limit,
            Some(json!({ "min": "low" })),
            &["`tracks.1.limits.rest_ratio.min`", "low"],
        ),
        of_profile(
            "/tracks/1/limits/wobble",
            Some(json!({ "max": 1 })),
            &["`wobble` is not a figure", "use one of rest_code"],
        ),
        of_profile(
            "/tracks/1/limits/track_gain",
            Some(json!({ "max": 1 })),
            &["`track_gain`", "move it to `pair`"],
        ),
        of_profile(
            "/start",
            Some(json!({ "zero_command_at": "middle" })),
            &["`start.zero_command_at`", "`middle`", "`full`"],
        ),
        of_profile("/start", None, &["`start`"]),
        of_profile(
            "/stop_within_ms",
            Some(json!(-1)),
            &["`stop_within_ms`", "positive"],
        ),
        of_profile("/stop_within_ms", None, &["`stop_within_ms`"]),
        of_profile(
            "/pair",
            Some(json!({ "limits": { "rest_ratio": { "max": 1 } } })),
            &["`pair`", "two tracks"],
        ),
        of_profile(
            "/colour",
            Some(json!("red")),
            &["`colour`", "unknown field"],
        ),
    ]
}

fn arguments() -> Vec<Case> {
    let plain = |line: &'static str, says: &[&'static str]| case(line, line, vec![], says);
    vec![
        plain("assess", &["RECORDING", "--help"]),
        plain(
            "assess --explain wobble",
            &["`wobble` is not a figure", "rest_code"],
        ),
        plain("fly", &["fly", "--help"]),
        plain("assess c.csv --fast", &["--fast"]),
        plain(
            "demo T9-pedal --plain",
            &["'T9-pedal'", "T1-pedal, T2-pedal"],
        ),
        plain("demo --plain --speed 0", &["--speed 0", "positive"]),
        plain(
            "record --port /dev/nothing --out x",
            &["--steps rest=2", "--profile"],
        ),
        plain(
            "record --port /dev/nothing --out x --steps rest=1",
            &["/dev/nothing", "no such port"],
        ),
        plain(
            "record --port /dev/null --out x --steps rest=1",
            &[
                "/dev/null",
                if cfg!(unix) {
                    "no serial port"
                } else {
                    "no such port"
                },
            ],
        ),
        plain(
            "record --port c.csv --out x --steps rest=1",
            &[
                "c.csv",
                if cfg!(unix) {
                    "no serial port"
                } else {
                    "no such port"
                },
            ],
        ),
        plain(
            "record --port /dev/nothing --out x --steps nap=1",
            &["`nap` is not a step"],
        ),
        plain(
            "record --port /dev/nothing --out x --steps rest=-1",
            &["`-1`", "seconds"],
        ),
        plain(
            "record --port /dev/nothing --out c --steps rest=1",
            &["c.csv exists already", "another name"],
        ),
        plain(
            "record --port /dev/nothing --out x --steps rest=1 --channel a=b",
            &["`b` is not a role"],
        ),
        plain("wiring none", &["`none`", "Built in are"]),
        plain("wiring pedal-three-wire --bits 99", &["--bits is 1 to 24"]),
        plain(
            "machine T1.json --on 2026-13-01",
            &["2026-13-01 is no date: write it like 2026-06-01"],
        ),
        plain(
            "profile write pedal-hall-two-track --track-ohm 5000",
            &["is a sensor and has no track: give its volts with --rest-mv and --full-mv"],
        ),
        plain(
            "profile write dial-rheostat --rest-mv 500",
            &["is a track and gives no volts of its own: give its resistance with --track-ohm"],
        ),
        plain("profile check none", &["`none`", "Built in are"]),
        plain("board c.csv", &["c.csv", "cannot write the firmware"]),
    ]
}

fn records() -> Vec<Case> {
    const LINE: &str = "history T1 --records r";
    const FILE: &str = "r/T1.20260101T000000Z.0123456789ab.json";
    let one = |what: &str, text: String, says: &[&'static str]| {
        let mut case = case(what, LINE, vec![(FILE, text.into())], says);
        case.says.push("T1.20260101T000000Z.0123456789ab.json");
        case
    };
    vec![
        case(
            "no record of the part",
            "history T9 --records r",
            vec![(FILE, record().to_string().into())],
            &["`T9`", "T1"],
        ),
        case(
            "a records folder that is a file",
            "history --records c.csv",
            vec![],
            &["c.csv"],
        ),
        case(
            "a part without a tag is kept",
            "assess c.csv --keep --records r",
            vec![(
                "c.csv-metadata.json",
                with(
                    metadata(),
                    "/pedalproof/unit",
                    Some(json!({ "tag": null, "profile": null })),
                )
                .into(),
            )],
            &["tag", "--tag"],
        ),
        one(
            "a record of a later format",
            with(record(), "/format", Some(json!("record/2"))),
            &["record/2", "record/1"],
        ),
        one(
            "a record cut off",
            record().to_string()[..200].to_owned(),
            &["no record"],
        ),
        one(
            "a record without its assessment",
            with(record(), "/assessment", None),
            &["`assessment`"],
        ),
        one(
            "a record with a wrong verdict",
            with(record(), "/assessment/verdict", Some(json!("maybe"))),
            &["`maybe`"],
        ),
        case(
            "examples over a file",
            "examples .",
            vec![("T1-pedal.csv", b"x".to_vec())],
            &["T1-pedal.csv exists already"],
        ),
    ]
}

/// The block of the demo's trolley: two tracks of a pedal and a dial.
fn blocks() -> Vec<Case> {
    let block = trolley_block().unwrap();
    let (json, hex) = (formats::to_json(&block, ""), formats::to_ihex(&block));
    let read = |what: &str, text: String, says: &[&'static str]| {
        let mut case = case(what, "constants --read b", vec![("b", text.into())], says);
        case.says.push("b: ");
        case
    };
    vec![
        case(
            "a constants file that is not there",
            "constants --read none",
            vec![],
            &["none"],
        ),
        case(
            "an empty block",
            "constants --read b",
            vec![("b", Vec::new())],
            &["b is no constants file (.hex, .h, .json)"],
        ),
        case(
            "a text that is no block",
            "constants --read b",
            vec![("b", b"hello\n".to_vec())],
            &["b is no constants file (.hex, .h, .json)"],
        ),
        read(
            "a constants file of JSON cut off",
            json[..80].to_owned(),
            &[],
        ),
        read(
            "a HEX line with a wrong sum",
            hex.replacen('1', "2", 1),
            &["line 1"],
        ),
        read(
            "a HEX file cut off",
            hex.lines().next().unwrap().to_owned() + "\n",
            &[],
        ),
        case(
            "a blend without its block",
            "blend --block none",
            vec![],
            &["none"],
        ),
        case(
            "a blend of an input that the constants file has not",
            "blend --block b --at wheel=5",
            vec![("b", json.clone().into())],
            &["wheel"],
        ),
        case(
            "a blend at a word",
            "blend --block b --at pedal=half",
            vec![("b", json.clone().into())],
            &["half"],
        ),
        case(
            "a recording without the output's column is held against a block",
            "prove --block b c.csv",
            vec![("b", json.clone().into())],
            &["c.csv"],
        ),
        case("constants from nothing", "constants", vec![], &["--help"]),
        case(
            "constants of another part",
            "constants c.csv --profile pedal-three-wire --tag T9",
            vec![],
            &["T1", "T9"],
        ),
        case(
            "constants without a profile",
            "constants c.csv",
            vec![],
            &["c.csv", "--profile"],
        ),
    ]
}

fn gallery() -> Vec<Case> {
    [
        captures(),
        metadatas(),
        profiles(),
        arguments(),
        records(),
        blocks(),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// What is wrong with how a case ended, if anything.
fn fault(case: &Case) -> Option<String> {
    let dir = tempfile::tempdir().unwrap();
    let good = [
        ("c.csv", CSV.to_owned()),
        ("c.csv-metadata.json", metadata().to_string()),
        ("p.json", profile().to_string()),
    ];
    for (name, text) in &good {
        std::fs::write(dir.path().join(name), text).unwrap();
    }
    for (name, bytes) in &case.files {
        let path = dir.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, bytes).unwrap();
    }
    let before = listing(dir.path());
    let ran = program(dir.path())
        .args(case.line.split_whitespace())
        .output()
        .unwrap();
    let words = String::from_utf8_lossy(&ran.stderr);
    let told = |why: String| {
        Some(format!(
            "{} (`{}`): {why}\n    {words}",
            case.what, case.line
        ))
    };
    if ran.status.code() != Some(2) {
        return told(format!("exit {:?}, not 2", ran.status.code()));
    }
    if words.contains("panicked") || !ran.stdout.is_empty() {
        return told("a panic, or output beside the error".to_owned());
    }
    if let Some(missing) = case.says.iter().find(|wanted| !words.contains(**wanted)) {
        return told(format!("does not say `{missing}`"));
    }
    if repeats_itself(&words) {
        return told("says the same twice".to_owned());
    }
    (listing(dir.path()) != before).then(|| told("left files behind".to_owned()))?
}

/// Whether a whole clause (between `: `) of 20 letters or more stands twice in one line.
fn repeats_itself(words: &str) -> bool {
    words.lines().any(|line| {
        let clauses: Vec<&str> = line
            .split(": ")
            .filter(|clause| clause.len() >= 20)
            .collect();
        clauses
            .iter()
            .enumerate()
            .any(|(at, clause)| clauses[at + 1..].contains(clause))
    })
}

fn listing(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn every_case_of_the_gallery_is_refused_by_name_and_place() {
    let gallery = gallery();
    assert!(gallery.len() >= 80, "{}", gallery.len());
    let faults: Vec<String> = gallery.iter().filter_map(fault).collect();
    assert!(
        faults.is_empty(),
        "{} of {}:\n{}",
        faults.len(),
        gallery.len(),
        faults.join("\n")
    );
}

/// The gallery can fail: good files are not refused.
#[test]
fn the_gallery_can_fail() {
    let good = case("all is well", "assess c.csv", vec![], &[]);
    assert!(fault(&good).unwrap().contains("exit Some(0), not 2"));
    let twice = "c.csv: line 3, column `x`: `1.5` is no whole number: line 3, column `x`: `1.5` is no whole number";
    assert!(repeats_itself(twice));
}

/// A capture cut in the middle of a line opens, and says what was lost.
#[test]
fn a_cut_capture_opens_and_says_what_was_lost() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("c.csv"), format!("{CSV}4000,re")).unwrap();
    std::fs::write(
        dir.path().join("c.csv-metadata.json"),
        metadata().to_string(),
    )
    .unwrap();
    let ran = pedalproof(dir.path(), "assess c.csv --json");
    assert_eq!(ran.status.code(), Some(0));
    assert!(String::from_utf8_lossy(&ran.stderr).contains("line 6 was cut before its end"));
    let json: Value = serde_json::from_slice(&ran.stdout).unwrap();
    assert_eq!(json["capture"]["samples"], 4);
}
