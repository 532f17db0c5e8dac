//! `report` through the real program: every section, every figure and limit, what is not measured, hashes, texts from
//! files escaped. The numbers expected are those of `assess --json`.

use crate::support::program::{changed, example, pedalproof, stderr, stdout};
use measure::figure::FigureName;
use measure::figure::numbers::limit;
use pedalproof::constants::{
    Block, BlockFields, Check, Factor, Input, Output, Start, TargetBoard, Task, Watch, Window,
    formats,
};
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::path::Path;

const SECTIONS: [&str; 10] = [
    "safety",
    "findings",
    "pictures",
    "figures",
    "not-measured",
    "wiring",
    "constants",
    "stream",
    "identity",
    "methods",
];

fn report(dir: &Path, arguments: &[&str]) -> String {
    let all = [&["report", "--out", "-"], arguments].concat();
    let ran = pedalproof(dir, &all);
    assert!(ran.status.success(), "{}", stderr(&ran));
    stdout(&ran)
}

fn assessed(capture: &Path) -> Value {
    let ran = pedalproof(
        Path::new("."),
        &["assess", capture.to_str().unwrap(), "--json"],
    );
    serde_json::from_str(&stdout(&ran)).unwrap()
}

fn html_of(name: &str) -> String {
    report(Path::new("."), &[example(name).to_str().unwrap()])
}

/// A section's HTML by its id.
fn section<'a>(html: &'a str, id: &str) -> &'a str {
    let mark = format!("<section id=\"{id}\"");
    let from = html
        .find(&mark)
        .unwrap_or_else(|| panic!("no section {id}"));
    let rest = &html[from..];
    &rest[..rest.find("</section>").unwrap()]
}

/// The words of a piece of HTML, without its tags.
fn text(html: &str) -> String {
    let pieces = html
        .split('<')
        .map(|piece| piece.split_once('>').map_or(piece, |(_, text)| text));
    let text = pieces.collect::<Vec<_>>().join(" ");
    let text = text
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&amp;", "&");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn hash(bytes: &[u8]) -> String {
    let digest = Sha256::digest(bytes);
    let digits = digest.iter().map(|b| format!("{b:02x}"));
    digits.collect::<Vec<_>>().concat()
}

/// A block of a pedal with two tracks; numbers made up.
fn block() -> String {
    let window = |low, high| Window { low, high };
    let draft = BlockFields {
        board: TargetBoard {
            adc_bits: 10,
            dac_bits: 12,
            rate_hz: 1000,
        },
        output: Output {
            zero_dac: 0,
            full_dac: 4000,
            rise_q15: 0x4000,
            fall_q15: 0x8000,
            waits_at_zero: false,
        },
        start: Start {
            input: 0,
            samples: 50,
        },
        persistence: 20,
        watch: Watch::usual((10, 12), 5000.0, 1100.0),
        inputs: vec![
            Input {
                window: window(80, 940),
                task: Task::Factor(Factor {
                    rest_edge: 180,
                    full_edge: 850,
                    points: Vec::new(),
                    filter_shift: 3,
                }),
            },
            Input {
                window: window(40, 470),
                task: Task::Check(Check {
                    partner: 0,
                    gain_q12: 2048,
                    offset: -1,
                    band: 12,
                }),
            },
        ],
    };
    formats::to_json(&Block::new(draft).unwrap(), "made up")
}

#[test]
fn every_section_is_there_in_its_order_verdict_first() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("T2.json"), block()).unwrap();
    let capture = example("T2-pedal");
    let html = report(
        dir.path(),
        &[capture.to_str().unwrap(), "--block", "T2.json"],
    );
    let mut last = html.find("id=\"verdict\"").unwrap();
    for id in SECTIONS {
        let at = html
            .find(&format!("<section id=\"{id}\""))
            .unwrap_or_else(|| panic!("no {id}"));
        assert!(at > last, "{id} comes too early");
        last = at;
    }
    // The block as it says itself: margins between its numbers by hand, 180 - 80, 940 - 850; 20 samples of 1000 a second.
    let constants = text(section(&html, "constants"));
    for words in [
        "command 0 at code 180, command 1 at 850",
        "100 codes below, 90 above",
        "80 codes below, 83 above",
        "0.5 times its code, -1 codes",
        "may differ by 12 codes",
        "20 bad samples, 20 ms",
        "at most 0.5 and 1 of full command a step",
    ] {
        assert!(constants.contains(words), "`{words}` in {constants}");
    }
    // Without a block nothing is said of one.
    assert!(!html_of("T2-pedal").contains("id=\"constants\""));
}

#[test]
fn every_figure_its_interval_and_its_limit_appear_and_the_rest_is_told_as_missing() {
    for name in ["T2-pedal", "T3-lever-2026", "T1-lever-stations"] {
        let (html, json) = (html_of(name), assessed(&example(name)));
        let (figures, missing) = (section(&html, "figures"), section(&html, "not-measured"));
        let parts = ["channels", "pairs"].map(|key| json[key].as_object().unwrap());
        let (mut seen, mut absent) = (0, 0);
        for (figure, value) in parts
            .iter()
            .flat_map(|part| part.values())
            .flat_map(|part| part["figures"].as_object().unwrap())
        {
            let label = figure.parse::<FigureName>().unwrap().facts().label;
            let (code, cell) = (format!("<code>{figure}</code>"), format!(">{label}</td>"));
            if value.is_null() {
                let of_rheostats =
                    ["divider_ratio", "linearity_element"].contains(&figure.as_str());
                assert_eq!(missing.contains(&code), !of_rheostats, "{name} {figure}");
                absent += 1;
            } else {
                assert!(figures.contains(&cell), "{name} {label}");
                // The value as far as its uncertainty lets it be told.
                let numbers = text(figures);
                let value = value["value"].as_f64().unwrap();
                let is_shown = (0..8).any(|decimals| {
                    numbers.contains(&format!(" {value:.decimals$} ").replace(" -0 ", " 0 "))
                });
                assert!(is_shown, "{name} {figure} {value}");
                seen += 1;
            }
        }
        assert!(
            seen > 10 && absent > 3,
            "{name}: {seen} figures, {absent} missing"
        );
        let findings = text(section(&html, "findings"));
        for finding in json["findings"].as_array().unwrap() {
            let allowed = limit(finding["min"].as_f64(), finding["max"].as_f64());
            let words = format!("allowed {allowed}");
            assert!(findings.contains(&words), "{name}: {words}");
            let outcome = finding["outcome"].as_str().unwrap();
            let figure = finding["figure"].as_str().unwrap();
            let label = figure.parse::<FigureName>().unwrap().facts().label;
            let channel = finding["channel"].as_str().unwrap();
            assert!(
                findings.contains(&format!("{outcome} {channel} {label}")),
                "{name}: {figure}"
            );
            assert!(
                outcome == "pass" || findings.contains(finding["reason"].as_str().unwrap()),
                "{name}: {figure}"
            );
        }
    }
}

#[test]
fn the_verdict_says_why_and_where() {
    let banner = |name: &str| {
        let html = html_of(name);
        text(&html[html.find("id=\"verdict\"").unwrap()..html.find("<section").unwrap()])
    };
    let worn = banner("T3-lever-2026");
    assert!(
        worn.contains("DO NOT FIT: the track is worn at")
            && worn.contains("worn spots")
            && worn.contains("% of travel"),
        "{worn}"
    );
    let loose = banner("T4-dial");
    assert!(
        loose.contains("lost for") && loose.contains("more: see --json"),
        "{loose}"
    );
    assert!(banner("T1-pedal").contains("FIT IT: all"));
    assert!(banner("T1-lever-stations").contains("MEASURE MORE:"));
}

#[test]
fn pictures_show_what_there_is() {
    let pictures = |name: &str| {
        let html = html_of(name);
        section(&html, "pictures").to_owned()
    };
    let pedal = pictures("T2-pedal");
    // Two traces for wide and narrow pages; of each track its readings along the travel, its noise, returns and strokes; one of both.
    assert_eq!(pedal.matches("<svg").count(), 2 * 2 + 2 * 4 + 1);
    for words in [
        "pedal_a: reading along the travel, its ends only",
        "pedal_b: reading along the travel, in strokes, by the travel of pedal_a",
        "pedal_a: 6 returns over each other",
        "strokes over each other",
    ] {
        assert!(pedal.contains(words), "{words}");
    }
    assert!(pedal.contains("release \u{d7}6") && pedal.contains("departure"));
    let stations = pictures("T1-lever-stations");
    assert!(
        stations.contains("deviation from the straightest line")
            && stations.contains("stations \u{d7}21")
    );
    assert!(pictures("T3-lever-2026").contains("worn"));
    // No colour but the page's own: both lights.
    assert!(
        !pedal.contains("\"#") && pedal.contains("var(--line)") && pedal.contains("currentColor")
    );
}

#[test]
fn wiring_stream_hashes_methods_and_safety_are_told() {
    let html = html_of("T4-dial");
    let wiring = text(section(&html, "wiring"));
    // The same rows as `wiring` prints.
    let printed = stdout(&pedalproof(Path::new("."), "wiring dial-rheostat"));
    let rows = printed
        .split("Single faults")
        .nth(1)
        .unwrap()
        .lines()
        .skip(2);
    let rows: Vec<&str> = rows.take_while(|line| line.starts_with("    ")).collect();
    let faults: Vec<&str> = rows
        .iter()
        .filter(|line| !line.starts_with("     "))
        .map(|line| line[4..].split("  ").next().unwrap())
        .collect();
    assert!(faults.len() > 5, "{printed}");
    for fault in faults {
        assert!(wiring.contains(fault), "{fault}");
    }
    assert!(
        wiring.contains("not noticed") || wiring.contains("DANGEROUS"),
        "{wiring}"
    );
    let identity = text(section(&html, "identity"));
    assert!(identity.contains(&hash(&std::fs::read(example("T4-dial")).unwrap())));
    let profile = Path::new(env!("CARGO_MANIFEST_DIR")).join("profiles/dial-rheostat.json");
    assert!(
        identity.contains(&hash(&std::fs::read(profile).unwrap())),
        "{identity}"
    );
    let stream = text(section(&html, "stream"));
    assert!(
        stream.contains("lines left out none") && stream.contains("samples lost 0"),
        "{stream}"
    );
    let methods = text(section(&html, "methods"));
    assert!(
        methods.contains("JCGM 106")
            && methods.contains("return_scatter")
            && methods.contains("Source:")
    );
    let safety = text(section(&html, "safety")).to_lowercase();
    for words in [
        "drive wheels off the ground",
        "motor leads off",
        "battery while wiring",
        "emergency stop",
        "no type approval",
        "licensed person",
    ] {
        assert!(safety.contains(words), "{words}");
    }
}

#[test]
fn the_file_needs_nothing_else() {
    let html = html_of("T2-pedal");
    for needs in [
        "http:", "https:", "<script", " src=", " href=", "url(", "@import", "<link", "<iframe",
    ] {
        assert!(!html.contains(needs), "{needs}");
    }
    assert!(html.contains("prefers-color-scheme: dark") && html.contains("size: A4"));
}

const HOSTILE: &str = "<script>alert(1)</script>";

fn hostile(dir: &Path) -> std::path::PathBuf {
    let metadata = |text: String| {
        let mut json: Value = serde_json::from_str(&text).unwrap();
        let ours = &mut json["pedalproof"];
        ours["unit"]["tag"] = HOSTILE.into();
        ours["note"] = "</style></body><img src=x onerror=alert(2)> & \"so\" | on".into();
        ours["board"]["name"] = "<b>board</b>".into();
        let channel = ours["channels"]["dial"].take();
        ours["channels"] = serde_json::json!({ "di<i>al": channel });
        ours["stream"]["rejected"] = serde_json::json!({ "<u>cause</u>": 3 });
        for column in json["tableSchema"]["columns"].as_array_mut().unwrap() {
            if column["name"] == "dial" {
                column["name"] = "di<i>al".into();
            }
        }
        json.to_string()
    };
    changed(dir, "T4-dial", "hostile", metadata, |table| {
        table.replacen("dial", "di<i>al", 1)
    })
}

#[test]
fn texts_from_files_are_texts() {
    let dir = tempfile::tempdir().unwrap();
    let capture = hostile(dir.path());
    let html = report(dir.path(), &[capture.to_str().unwrap()]);
    for tag in [
        "<script",
        "<img",
        "<i>",
        "<u>",
        "</style></body>",
        "<b>board",
    ] {
        assert!(!html.contains(tag), "{tag}");
    }
    assert_eq!(html.matches("</style>").count(), 1);
    assert!(
        html.contains("&lt;script&gt;alert(1)&lt;/script&gt;") && html.contains("di&lt;i&gt;al")
    );
    let markdown = report(dir.path(), &[capture.to_str().unwrap(), "--format", "md"]);
    assert!(
        !markdown.contains("<script")
            && !markdown.contains("<img")
            && markdown.contains("&lt;script>"),
        "{markdown}"
    );
}

#[test]
fn markdown_says_the_same_in_the_same_sections() {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("T2.json"), block()).unwrap();
    let capture = example("T2-pedal");
    let capture = capture.to_str().unwrap();
    let html = report(dir.path(), &[capture, "--block", "T2.json"]);
    let markdown = report(
        dir.path(),
        &[capture, "--block", "T2.json", "--format", "md"],
    );
    let titles = |text: &str, mark: &str, end: &str| -> Vec<String> {
        let found = text.split(mark).skip(1);
        found
            .map(|rest| rest.split(end).next().unwrap().to_owned())
            .collect()
    };
    assert_eq!(
        titles(&markdown, "\n## ", "\n"),
        titles(&html, "<h2>", "</h2>")
    );
    assert!(markdown.contains("**DO NOT FIT: the pedal does not come back to the same place**"));
    assert!(
        markdown.contains("| fail | pedal\\_a | return scatter |"),
        "{markdown}"
    );
    assert!(markdown.contains("```text\n") && markdown.contains("noise along the travel"));
    // Every row of a table has as many cells as its head.
    for table in markdown
        .split("\n\n")
        .filter(|block| block.starts_with("| "))
    {
        let cells = |line: &str| line.replace("\\|", "").matches('|').count();
        let wide = cells(table.lines().next().unwrap());
        assert!(table.lines().all(|line| cells(line) == wide), "{table}");
    }
}

#[test]
fn a_capture_with_hardly_anything_in_it_makes_a_report_too() {
    let dir = tempfile::tempdir().unwrap();
    let no_profile = |text: String| {
        let mut json: Value = serde_json::from_str(&text).unwrap();
        json["pedalproof"]["unit"] = serde_json::json!({ "tag": null, "profile": null });
        json.to_string()
    };
    // No sample, one sample, three samples.
    for lines in [1, 2, 4] {
        let name = format!("short{lines}");
        let table = |text: String| {
            let kept: Vec<&str> = text.split_inclusive('\n').take(lines).collect();
            kept.concat()
        };
        let capture = changed(dir.path(), "T1-dial", &name, no_profile, table);
        let html = report(dir.path(), &[capture.to_str().unwrap()]);
        assert!(html.contains("MEASURED ONLY: no profile") && html.contains("part without a tag"));
        assert!(!html.contains("id=\"findings\"") && !html.contains("id=\"wiring\""));
        assert!(!html.contains("NaN") && !html.contains(">inf"), "{lines}");
        let missing = text(section(&html, "not-measured"));
        assert!(missing.contains("return_scatter"), "{missing}");
    }
}

#[test]
fn the_file_is_named_after_the_capture_and_bad_input_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let capture = example("T1-dial");
    let capture = capture.to_str().unwrap();
    let ran = pedalproof(dir.path(), &format!("report {capture}"));
    assert!(
        stderr(&ran).contains("T1-dial-report.html"),
        "{}",
        stderr(&ran)
    );
    let first = std::fs::read_to_string(dir.path().join("T1-dial-report.html")).unwrap();
    assert!(first.starts_with("<!DOCTYPE html>"));
    // A failed unit's report is written all the same, and that is what the exit code says.
    let failed = pedalproof(
        dir.path(),
        &[
            "report",
            example("T4-dial").to_str().unwrap(),
            "--format",
            "md",
        ],
    );
    assert_eq!(failed.status.code(), Some(0));
    assert!(dir.path().join("T4-dial-report.md").exists());
    std::fs::write(dir.path().join("no-block.json"), "{}").unwrap();
    for (arguments, words_wanted) in [
        (vec![capture, "--block", "no-block.json"], "no-block.json"),
        (vec![capture, "--block", "nowhere.h"], "nowhere.h"),
        (vec!["nowhere.csv"], "nowhere.csv"),
        (
            vec![capture, "--out", "no/such/folder.html"],
            "no/such/folder.html",
        ),
        (
            vec![capture, "--profile", "nothing-like-it"],
            "nothing-like-it",
        ),
    ] {
        let ran = pedalproof(dir.path(), &[vec!["report"], arguments].concat());
        assert_eq!(ran.status.code(), Some(2), "{words_wanted}");
        assert!(stderr(&ran).contains(words_wanted), "{}", stderr(&ran));
    }
}
