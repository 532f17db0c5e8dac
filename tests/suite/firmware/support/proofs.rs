//! Captures of a blending board for tests of `prove`, and the binary run on them.

use crate::support::program::program;
use measure::units::{Code, Role, Step, Track};
use pedalproof::capture::{BoardMeta, CaptureWriter, ChannelMeta, Metadata, StreamCounts};
use pedalproof::constants::{Block, formats};
use pedalproof::proof::Marks;
use serde_json::Value;

/// What a measuring board took: the last column is the output.
pub struct Take {
    pub bits: u32,
    pub columns: Vec<String>,
    pub rows: Vec<(u64, Vec<u32>)>,
}

/// What the binary said.
pub struct Proved {
    pub code: i32,
    pub json: Value,
    pub words: String,
}

impl Take {
    /// Writes the capture.
    pub fn write(&self, csv: &std::path::Path) {
        let channels = self.columns.iter().map(|name| {
            let output = name == "output";
            let meta = ChannelMeta {
                role: if output { Role::Output } else { Role::Signal },
                track: (!output).then_some(Track::One),
            };
            (name.clone(), meta)
        });
        let meta = Metadata::new(
            BoardMeta::new("simulated", self.bits, 5000.0, 1000.0),
            channels.collect(),
        );
        let mut writer = CaptureWriter::create(csv, meta).unwrap();
        for (t_us, codes) in &self.rows {
            writer
                .push(
                    *t_us,
                    Step::Strokes,
                    codes.iter().map(|code| Code(*code)),
                    None,
                )
                .unwrap();
        }
        writer.finish(&StreamCounts::default()).unwrap();
    }
}

/// Runs `pedalproof prove --json` on a capture.
pub fn prove(block: &Block, take: &Take, marks: Option<&Marks>, more: &[&str]) -> Proved {
    let folder = tempfile::tempdir().unwrap();
    let csv = folder.path().join("board.csv");
    take.write(&csv);
    let file = folder.path().join("block.json");
    std::fs::write(&file, formats::to_json(block, "")).unwrap();
    if let Some(marks) = marks {
        std::fs::write(folder.path().join("board.csv.proof.json"), marks.to_json()).unwrap();
    }
    let ran = program(folder.path())
        .args(["prove", "--json", "--block"])
        .arg(&file)
        .arg(&csv)
        .args(more)
        .output()
        .unwrap();
    let words = String::from_utf8_lossy(&ran.stderr).into_owned();
    Proved {
        code: ran.status.code().unwrap(),
        json: serde_json::from_slice(&ran.stdout).unwrap_or(Value::Null),
        words,
    }
}

pub fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or(f64::NAN)
}

/// The outcome of a finding.
pub fn outcome(proof: &Value, of: &str, figure: &str) -> String {
    let found = proof["findings"].as_array().unwrap().iter();
    let mut found = found.filter(|finding| finding["of"] == of && finding["figure"] == figure);
    found.next().map_or_else(String::new, |finding| {
        finding["outcome"].as_str().unwrap().to_owned()
    })
}
