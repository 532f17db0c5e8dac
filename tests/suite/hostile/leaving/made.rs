//! Files of every kind in which the texts are hostile, and the commands that read them.

use crate::machine::support::examples;
use crate::support::program::example;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Puts a text at a place of a JSON file.
fn put(value: &mut Value, place: &str, text: &str) {
    *value.pointer_mut(place).unwrap() = json!(text);
}

fn read(path: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

/// A short lever capture `c.csv` in which every text field is hostile.
pub fn capture(dir: &Path, hostile: &str) {
    let from = example("T3-lever-2022");
    let mut meta = read(Path::new(&format!("{}-metadata.json", from.display())));
    for place in [
        "/pedalproof/unit/tag",
        "/pedalproof/board/name",
        "/pedalproof/started",
        "/pedalproof/note",
    ] {
        put(&mut meta, place, hostile);
    }
    meta["pedalproof"]["stream"]["rejected"] = json!({ hostile: 3 });
    let ours = meta["pedalproof"].as_object_mut().unwrap();
    let channels = ours["channels"].as_object_mut().unwrap();
    let (name, lever) = channels
        .iter()
        .next()
        .map(|(name, lever)| (name.clone(), lever.clone()))
        .unwrap();
    channels.clear();
    // A channel's name stands in both files.
    let channel = format!("lever{}", hostile.trim_matches(|c: char| c.is_whitespace()));
    channels.insert(channel.clone(), lever);
    ours.insert(format!("key {hostile}"), json!(hostile));
    let table = std::fs::read_to_string(&from).unwrap();
    let table: String = table.split_inclusive("\r\n").step_by(8).collect();
    let (header, rows) = table.split_once("\r\n").unwrap();
    let quoted = format!("\"{}\"", channel.replace('"', "\"\""));
    let table = format!("{}\r\n{rows}", header.replace(&name, &quoted));
    std::fs::write(dir.join("c.csv"), table).unwrap();
    std::fs::write(dir.join("c.csv-metadata.json"), meta.to_string()).unwrap();
}

/// A capture, profile, configuration and block each, with one field that cannot be, so that an error tells of it.
pub fn refused(dir: &Path, hostile: &str) -> Vec<&'static str> {
    let meta = read(&dir.join("c.csv-metadata.json"));
    for (name, place) in [
        ("format", "/pedalproof/format"),
        ("profile", "/pedalproof/unit/profile"),
    ] {
        let mut meta = meta.clone();
        put(&mut meta, place, hostile);
        std::fs::copy(dir.join("c.csv"), dir.join(format!("{name}.csv"))).unwrap();
        std::fs::write(
            dir.join(format!("{name}.csv-metadata.json")),
            meta.to_string(),
        )
        .unwrap();
    }
    let table = format!(
        "t_us,step,\"{0}\"\r\n\"{0}\",rest,1\r\n",
        hostile.replace('"', "")
    );
    std::fs::write(dir.join("table.csv"), table).unwrap();
    std::fs::copy(
        dir.join("c.csv-metadata.json"),
        dir.join("table.csv-metadata.json"),
    )
    .unwrap();
    let mut profile: Value =
        serde_json::from_str(include_str!("../../../../profiles/lever-shunting.json")).unwrap();
    for (name, place) in [("kind", "/kind"), ("name", "/name")] {
        let mut wrong = profile.clone();
        put(&mut wrong, place, hostile);
        std::fs::write(dir.join(format!("{name}.json")), wrong.to_string()).unwrap();
    }
    profile
        .as_object_mut()
        .unwrap()
        .insert(hostile.to_owned(), json!(1));
    std::fs::write(dir.join("key.json"), profile.to_string()).unwrap();
    std::fs::write(
        dir.join("block.json"),
        json!({ "format": hostile }).to_string(),
    )
    .unwrap();
    std::fs::write(
        dir.join("block.h"),
        format!("/* {hostile} */\nconst unsigned char b[] = {{ {hostile} }};\n"),
    )
    .unwrap();
    vec![
        "assess format.csv",
        "assess profile.csv",
        "assess table.csv",
        "profile check kind.json",
        "profile check name.json",
        "profile check key.json",
        "wiring name.json",
        "blend --block block.json",
        "blend --block block.h",
        "constants --read block.h",
    ]
}

/// Exports of other programs: a note ahead, headings and a column of words; and one that no reader takes.
pub fn foreign(dir: &Path, hostile: &str) -> Vec<&'static str> {
    // A separator in the words would be one of the table's, and all of it refused.
    let line = hostile.replace(['\r', '\n', '\0', ';', ','], " ");
    let quoted = line.replace('"', "\"\"");
    let rows = |name: &str| {
        let rows = (0..3000).map(|i| format!("{},{},\"{quoted}\"\n", i * 4000, 300 + i % 3));
        format!("# {line}\nt_us,{name},note\n{}", rows.collect::<String>())
    };
    std::fs::write(dir.join("log.csv"), rows("lever")).unwrap();
    std::fs::write(dir.join("heading.csv"), rows(&format!("\"{quoted} (V)\""))).unwrap();
    std::fs::write(dir.join("words.csv"), format!("{line}\n").repeat(50)).unwrap();
    vec![
        "import log.csv --vref-mv 5000 --bits 12 --unit code --out from-log",
        "import heading.csv --vref-mv 5000 --bits 12 --unit code --out from-heading",
        "import heading.csv --vref-mv 5000 --bits 12 --signal HOSTILE=2 --out signal",
        "import heading.csv --vref-mv 5000 --bits 12 --signal lever=HOSTILE --out column",
        "import log.csv --vref-mv 5000 --bits 12 --time HOSTILE --out time",
        "assess from-log.csv",
        "assess from-heading.csv",
        "import words.csv --vref-mv 5000 --bits 12 --out from-words",
        "assess words.csv",
    ]
}

/// The example's proof, its recording's metadata and its marks.
pub fn proof(dir: &Path, hostile: &str) -> Vec<&'static str> {
    let examples = examples();
    let from = examples.path().join("T1-faults.csv");
    let beside = |csv: &Path, end: &str| PathBuf::from(format!("{}{end}", csv.display()));
    std::fs::copy(from.with_file_name("T1.block.json"), dir.join("b1.json")).unwrap();
    let mut meta = read(&beside(&from, "-metadata.json"));
    for place in [
        "/pedalproof/started",
        "/pedalproof/note",
        "/pedalproof/board/name",
    ] {
        put(&mut meta, place, hostile);
    }
    let meta = meta.to_string();
    for (name, marks) in [
        ("p", read(&beside(&from, ".proof.json"))),
        (
            "what",
            json!({ "format": "proof-marks/2", "marks": [{ "t_us": 1, "what": hostile }] }),
        ),
        (
            "key",
            json!({ "format": "proof-marks/2", "marks": [], hostile: 1 }),
        ),
        ("kind", json!({ "format": hostile, "marks": [] })),
    ] {
        let csv = dir.join(format!("{name}.csv"));
        std::fs::copy(&from, &csv).unwrap();
        std::fs::write(beside(&csv, "-metadata.json"), &meta).unwrap();
        std::fs::write(beside(&csv, ".proof.json"), marks.to_string()).unwrap();
    }
    vec![
        "prove p.csv --block b1.json",
        "prove p.csv --block b1.json --json",
        "prove what.csv --block b1.json",
        "prove key.csv --block b1.json",
        "prove kind.csv --block b1.json",
        "prove p.csv --block HOSTILE",
        "prove p.csv --block b1.json --inputs HOSTILE",
    ]
}

/// A machine of whose texts each is hostile, with evidence that is there and some that is not; and one that is refused.
pub fn machine(dir: &Path, hostile: &str) -> Vec<&'static str> {
    let evidence = |kind: &str, file: &str| {
        json!({
            "kind": kind, "control": (kind == "capture").then_some("lever"), "file": file, "sha256": "0".repeat(64), "taken": "2026-04-11T09:30:00Z",
        })
    };
    let machine = json!({
        "format": "machine/1",
        "name": hostile,
        "board": hostile,
        "controls": [{ "name": "lever", "profile": "lever-shunting", "tag": hostile, "pins": ["A0"] }],
        "check_every_months": 12,
        "evidence": [
            evidence("capture", "c.csv"),
            evidence("capture", &hostile.replace('/', "_")),
            evidence("block", "block.json"),
            evidence("proof", "p.csv"),
        ],
    });
    std::fs::write(dir.join("m.json"), machine.to_string()).unwrap();
    for (name, place) in [
        ("control", "/controls/0/name"),
        ("of", "/evidence/0/control"),
        ("pin", "/controls/0/pins/0"),
        ("profile", "/controls/0/profile"),
        ("evidence", "/evidence/0/kind"),
    ] {
        let mut wrong = machine.clone();
        put(&mut wrong, place, hostile);
        std::fs::write(dir.join(format!("m-{name}.json")), wrong.to_string()).unwrap();
    }
    vec![
        "machine m.json",
        "machine m.json --json",
        "machine m.json --sheet sheet.html",
        "machine add m.json c.csv",
        "machine add m.json c.csv --control HOSTILE",
        "machine add m.json block.json HOSTILE",
        "machine new own-machine.json --name HOSTILE --control lever=lever-shunting --tag lever=HOSTILE --board HOSTILE",
        "machine own-machine.json",
        "machine m-control.json",
        "machine m-of.json",
        "machine m-pin.json",
        "machine m-profile.json",
        "machine m-evidence.json",
    ]
}
