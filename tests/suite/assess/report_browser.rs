//! Reports as a real browser shows them: pictures of the page in light and dark, wide and narrow, its texts, and the A4 pages
//! that it prints. Needs Chromium (on the PATH, or named by `CHROMIUM`): skipped loudly without it, unless
//! `PEDALPROOF_NO_SKIP=1`.
#![cfg(unix)]

use crate::support::program::{changed, example, pedalproof, stderr};
use crate::support::tools;
use std::path::{Path, PathBuf};
use std::process::Command;

/// The browser's name; `None`, said aloud, when there is none.
fn chromium() -> Option<String> {
    let asked = std::env::var("CHROMIUM").ok();
    let names = asked
        .into_iter()
        .chain(["chromium", "chromium-browser"].map(str::to_owned));
    let found = names
        .into_iter()
        .find(|name| tools::runs(name, &["--version"]));
    tools::is_here(found.is_some(), "chromium (apt-get install chromium)");
    found
}

pub struct Browser {
    name: String,
    dir: tempfile::TempDir,
}

impl Browser {
    pub fn start() -> Option<Self> {
        Some(Self {
            name: chromium()?,
            dir: tempfile::tempdir().unwrap(),
        })
    }

    /// Runs it on a page of the folder and gives what it printed.
    fn run(&self, arguments: &[String], page: &Path) -> String {
        let home = format!(
            "--user-data-dir={}",
            self.dir.path().join("profile").display()
        );
        let ran = Command::new("timeout")
            .arg("120")
            .arg(&self.name)
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--hide-scrollbars",
                &home,
            ])
            .args(arguments)
            .arg(format!("file://{}", page.display()))
            .output()
            .unwrap();
        assert!(
            ran.status.success(),
            "{}",
            String::from_utf8_lossy(&ran.stderr)
        );
        String::from_utf8_lossy(&ran.stdout).into_owned()
    }

    fn report(&self, capture: &Path) -> PathBuf {
        let page = self.dir.path().join("report.html");
        let out = page.to_str().unwrap();
        let ran = pedalproof(
            self.dir.path(),
            &["report", capture.to_str().unwrap(), "--out", out],
        );
        assert!(ran.status.success(), "{}", stderr(&ran));
        page
    }

    /// How many A4 pages it prints on.
    pub fn pages(&self, page: &Path) -> usize {
        pages(&self.pdf(page))
    }

    /// What it prints, as the text of a PDF.
    fn pdf(&self, page: &Path) -> String {
        let pdf = self.dir.path().join("report.pdf");
        self.run(
            &[
                format!("--print-to-pdf={}", pdf.display()),
                "--no-pdf-header-footer".to_owned(),
            ],
            page,
        );
        String::from_utf8_lossy(&std::fs::read(&pdf).unwrap()).into_owned()
    }

    /// A picture of the page of this size.
    fn picture(&self, page: &Path, light: Light, size: (u32, u32)) -> Vec<u8> {
        let png = self.dir.path().join("page.png");
        let scheme = match light {
            Light::Dark => 0,
            Light::Light => 1,
        };
        self.run(
            &[
                format!("--blink-settings=preferredColorScheme={scheme}"),
                format!("--window-size={},{}", size.0, size.1),
                format!("--screenshot={}", png.display()),
            ],
            page,
        );
        let bytes = std::fs::read(&png).unwrap();
        std::fs::remove_file(&png).unwrap();
        // PNG (ISO/IEC 15948): signature, then the IHDR chunk with width and height at bytes 16 and 20.
        assert_eq!(bytes[..8], *b"\x89PNG\r\n\x1a\n");
        let number = |at: usize| u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap());
        assert_eq!((number(16), number(20)), size);
        bytes
    }
}

fn pages(pdf: &str) -> usize {
    pdf.matches("/Type /Page\n").count()
}

#[derive(Clone, Copy)]
enum Light {
    Light,
    Dark,
}

#[test]
fn pass_fail_and_undecided_are_seen_in_light_and_dark_wide_and_narrow() {
    let Some(browser) = Browser::start() else {
        return;
    };
    // An empty page of the same size packs to a few kilobytes.
    let blank = browser.dir.path().join("blank.html");
    std::fs::write(&blank, "<!DOCTYPE html><title>blank</title>").unwrap();
    let empty = browser.picture(&blank, Light::Light, (1000, 3000)).len();
    for (name, verdict) in [
        ("T1-pedal", "FIT IT: all"),
        ("T3-lever-2026", "DO NOT FIT: the track is worn"),
        ("T1-lever-stations", "MEASURE MORE:"),
    ] {
        let page = browser.report(&example(name));
        let light = browser.picture(&page, Light::Light, (1000, 3000));
        let dark = browser.picture(&page, Light::Dark, (1000, 3000));
        let narrow = browser.picture(&page, Light::Light, (500, 2000));
        assert!(
            light.len() > 10 * empty && narrow.len() > 5 * empty,
            "{name}: {} {} {empty}",
            light.len(),
            narrow.len()
        );
        assert!(light != dark, "{name}: dark looks like light");
        let dom = browser.run(&["--dump-dom".to_owned()], &page);
        for words in [
            verdict,
            "Before it moves anything",
            "<svg",
            "JCGM 106",
            "What was not measured",
        ] {
            assert!(dom.contains(words), "{name}: {words}");
        }
    }
}

#[test]
fn it_prints_on_a4() {
    let Some(browser) = Browser::start() else {
        return;
    };
    // A good part's report is short: what was not part of the test and every single fault are folded away.
    let good = browser.report(&example("T1-pedal"));
    let pages_of_good = browser.pages(&good);
    assert!(pages_of_good <= 5, "{pages_of_good} pages");
    let page = browser.report(&example("T2-pedal"));
    let text = browser.pdf(&page);
    let pages = pages(&text);
    assert!((2..=20).contains(&pages), "{pages} pages");
    // A4 is 210 x 297 mm (ISO 216): 595.3 x 841.9 points.
    let boxes: Vec<&str> = text
        .split("/MediaBox [")
        .skip(1)
        .map(|rest| rest.split(']').next().unwrap())
        .collect();
    assert_eq!(boxes.len(), pages);
    for sides in boxes {
        let sides: Vec<f64> = sides
            .split_whitespace()
            .map(|n| n.parse().unwrap())
            .collect();
        assert!(
            (sides[2] - 595.3).abs() < 1.0 && (sides[3] - 841.9).abs() < 1.0,
            "{sides:?}"
        );
    }
}

#[test]
fn a_hostile_tag_is_words_on_the_page() {
    let Some(browser) = Browser::start() else {
        return;
    };
    let tag =
        "<script>document.title='run'</script><img src=x onerror=\\\"document.title='run'\\\">";
    let metadata =
        |text: String| text.replace("\"tag\": \"T1-dial\"", &format!("\"tag\": \"{tag}\""));
    let capture = changed(browser.dir.path(), "T1-dial", "hostile", metadata, |text| {
        text
    });
    let dom = browser.run(&["--dump-dom".to_owned()], &browser.report(&capture));
    assert!(
        dom.contains("&lt;script&gt;document.title"),
        "{}",
        &dom[..500.min(dom.len())]
    );
    assert!(!dom.contains("<script") && !dom.contains("<img") && !dom.contains("<title>run"));
}
