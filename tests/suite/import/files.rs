//! Ten files of parts whose truth is known, with the verdict that they must come to.
//!
//! The parts are those of `assess::verdicts::part`; what they are judged by is the built-in hall pedal, whose limits that model's
//! `Part::GOOD` stands in the middle of.

use crate::assess::verdicts::part::{Adc, CODE, Part, Session};
use measure::figure::FigureName;
use measure::judge::Verdict;
use measure::units::{Code, Scale, Step, Track};
use pedalproof::bench::{self, Recorded, RunEvent};
use pedalproof::capture::ImportedFrom;
use pedalproof::import::{self, Asked, ChannelColumn, SignalUnit, TimeColumn, TimeUnit};
use pedalproof::profile;
use std::fmt::Write as _;
use std::sync::Arc;

/// The voltages of a session, a thousand a second; of a board so fine that it adds nothing.
fn volts(session: &Session, tracks: &[f64]) -> Vec<Vec<f64>> {
    let tracks: Vec<_> = tracks.iter().map(|gain| ("t", Track::One, *gain)).collect();
    let capture = session.tracks(Adc::of(20, 5000.0), None, &tracks);
    let volts = |code: &Code| code.as_f64() * 5.0 / f64::from(1 << 20);
    let columns = capture.codes.iter();
    columns
        .map(|codes| codes.iter().map(volts).collect())
        .collect()
}

/// As somebody does it who is not led: still for a while at each end, a dozen strokes, some presses, a while of nothing.
fn session(part: Part, seed: u64) -> Session {
    let mut session = Session::new(part, seed);
    session.rest(2.5);
    session.full(2.5);
    session.strokes(12);
    session.releases(9);
    session.stay(Step::Shake, 6.0);
    session
}

fn good(seed: u64) -> Session {
    session(Part::GOOD, seed)
}

fn comma(text: &str) -> String {
    text.replace('.', ",")
}

fn utf16(text: &str) -> Vec<u8> {
    let units = text.encode_utf16().flat_map(u16::to_le_bytes);
    [0xff, 0xfe].into_iter().chain(units).collect()
}

/// A file, what the person says of it, and what it must come to.
struct Case {
    what: &'static str,
    bytes: Vec<u8>,
    asked: Asked,
    profile: &'static str,
    verdict: Verdict,
    /// A word of what is told of it.
    seen: &'static str,
}

fn asked(time: &str, signals: &[(&str, &str)]) -> Asked {
    let signals = signals.iter().map(|(channel, column)| ChannelColumn {
        channel: Some((*channel).to_owned()),
        column: (*column).to_owned(),
    });
    Asked {
        time: TimeColumn::Named(time.to_owned()),
        signals: signals.collect(),
        ..Asked::default()
    }
}

const ONE: &str = "pedal-hall-one-track";

fn scope() -> Case {
    let mut text =
        "Model,bench scope\nSample Interval,0.001\nTrigger,edge\n\nTime (s),CH1 (V)\n".to_owned();
    for (k, v) in volts(&good(1), &[1.0])[0].iter().enumerate() {
        writeln!(text, "{:.6E},{v:.5}", k as f64 * 1e-3 - 2.5).unwrap();
    }
    Case {
        what: "a scope: lines ahead, units in brackets, the trigger in the middle of time",
        bytes: text.into(),
        asked: asked("Time", &[("pedal", "CH1")]),
        profile: ONE,
        verdict: Verdict::Pass,
        seen: "separator `,`",
    }
}

fn logger() -> Case {
    let mut text = "# logger 7\n# started by hand\ntime\tpedal\n[ms]\t[mV]\n".to_owned();
    for (k, v) in volts(&good(2), &[1.0])[0].iter().enumerate() {
        writeln!(text, "{k}\t{:.2}", v * 1e3).unwrap();
    }
    Case {
        what: "a logger: comment lines, a second line of units, tabs, millivolts",
        bytes: text.into(),
        asked: asked("time", &[("pedal", "pedal")]),
        profile: ONE,
        verdict: Verdict::Pass,
        seen: "separator tab",
    }
}

fn spreadsheet() -> Case {
    let mut session = Session::new(Part::GOOD, 3);
    session.rest(2.5);
    session.full(2.5);
    session.strokes(12);
    session.releases(9);
    session.stay(Step::Shake, 1.5);
    for _ in 0..4 {
        session.lost(Step::Shake, 0.0, 0.02);
        session.stay(Step::Shake, 0.5);
    }
    let mut text = "sep=;\r\nZeit (s);Pedal (V)\r\n".to_owned();
    for (k, v) in volts(&session, &[1.0])[0].iter().enumerate() {
        write!(
            text,
            "{};{}\r\n",
            comma(&format!("{:.3}", k as f64 * 1e-3)),
            comma(&format!("{v:.4}"))
        )
        .unwrap();
    }
    Case {
        what: "a spreadsheet: UTF-16, sep=, semicolons, decimal commas; contact is lost",
        bytes: utf16(&text),
        asked: asked("Zeit", &[("pedal", "Pedal")]),
        profile: ONE,
        verdict: Verdict::Fail,
        seen: "UTF-16",
    }
}

fn serial_log() -> Case {
    let part = Part {
        full: 0.70,
        ..Part::GOOD
    };
    let mut text = "ready\n".to_owned();
    for v in &volts(&session(part, 4), &[1.0])[0] {
        writeln!(text, "{:.0}", v / 5.0 * 1024.0).unwrap();
    }
    Case {
        what: "a serial monitor: plain codes, no time; the full end is out of place",
        bytes: text.into(),
        asked: Asked {
            time: TimeColumn::Rate(1000.0),
            signals: asked("", &[("pedal", "1")]).signals,
            unit: Some(SignalUnit::Codes),
            ..Asked::default()
        },
        profile: ONE,
        verdict: Verdict::Fail,
        seen: "",
    }
}

fn quoted() -> Case {
    let mut text = "\u{feff}\"Time\",\"Pedal\"\r\n\"s\",\"V\"\r\n".to_owned();
    for (k, v) in volts(&good(5), &[1.0])[0].iter().enumerate() {
        write!(
            text,
            "\"{}\",\"{}\"\r\n",
            comma(&format!("{:.3}", k as f64 * 1e-3)),
            comma(&format!("{v:.4}"))
        )
        .unwrap();
    }
    Case {
        what: "everything in quotes, decimal commas between commas, a mark of the order of bytes",
        bytes: text.into(),
        asked: asked("1", &[("pedal", "2")]),
        profile: ONE,
        verdict: Verdict::Pass,
        seen: "decimal commas",
    }
}

fn noisy() -> Case {
    let part = Part {
        noise: 12.0 * CODE,
        ..Part::GOOD
    };
    let mut text = "t_us raw\n".to_owned();
    for (k, v) in volts(&session(part, 6), &[1.0])[0].iter().enumerate() {
        writeln!(
            text,
            "{} {:.0}",
            4_000_000_000_u64 + k as u64 * 1000,
            (v / 5.0 * 1024.0).clamp(0.0, 1023.0)
        )
        .unwrap();
    }
    Case {
        what: "codes and microseconds between blanks; it is noisy",
        bytes: text.into(),
        asked: Asked {
            unit: Some(SignalUnit::Codes),
            ..asked("t_us", &[("pedal", "raw")])
        },
        profile: ONE,
        verdict: Verdict::Fail,
        seen: "separator blanks",
    }
}

fn time_of_day() -> Case {
    let mut text = "Uhrzeit;Spannung [V];Zustand\n".to_owned();
    for (k, v) in volts(&good(7), &[1.0])[0].iter().enumerate() {
        let (ms, at) = (k % 1000, 86_390 + k / 1000);
        let (hours, minutes, seconds) = (at / 3600 % 24, at / 60 % 60, at % 60);
        let value = if k % 4000 == 999 {
            "OL".to_owned()
        } else {
            comma(&format!("{v:.4}"))
        };
        writeln!(
            text,
            "{hours:02}:{minutes:02}:{seconds:02},{ms:03};{value};OK"
        )
        .unwrap();
    }
    Case {
        what: "a logger that writes the time of day, over midnight, words in a column, and some samples out of range",
        bytes: text.into(),
        asked: Asked {
            time_unit: Some(TimeUnit::Seconds),
            ..asked("Uhrzeit", &[("pedal", "Spannung")])
        },
        profile: ONE,
        verdict: Verdict::Pass,
        seen: "decimal commas",
    }
}

fn two_tracks() -> Case {
    let session = session(
        Part {
            rest: 0.10,
            full: 0.90,
            ..Part::GOOD
        },
        8,
    );
    let volts = volts(&session, &[1.0, 0.62]);
    let mut text = "Time (s),CH1 (V),CH2 (V)\n".to_owned();
    for (k, (a, b)) in volts[0].iter().zip(&volts[1]).enumerate() {
        writeln!(text, "{:.3},{a:.4},{b:.4}", k as f64 * 1e-3).unwrap();
    }
    Case {
        what: "two channels of a scope; the second track has not half the slope",
        bytes: text.into(),
        asked: asked("Time", &[("pedal_a", "CH1"), ("pedal_b", "CH2")]),
        profile: "pedal-hall-two-track",
        verdict: Verdict::Fail,
        seen: "",
    }
}

fn coarse_times() -> Case {
    let mut text = "s;V\n".to_owned();
    for (k, v) in volts(&good(9), &[1.0])[0].iter().enumerate() {
        writeln!(
            text,
            "{};{}",
            comma(&format!("{:.2}", (k / 10) as f64 * 0.01)),
            comma(&format!("{v:.4}"))
        )
        .unwrap();
    }
    Case {
        what: "times to a hundredth of a second, ten samples each; units alone for a heading",
        bytes: text.into(),
        asked: asked("1", &[("pedal", "2")]),
        profile: ONE,
        verdict: Verdict::Pass,
        seen: "evenly spaced",
    }
}

fn fast_scope() -> Case {
    let part = Part {
        rest: 0.30,
        ..Part::GOOD
    };
    let mut text = "%Time,ms\n% ,\nt (ms),u (mV)\n".to_owned();
    for (k, v) in volts(&session(part, 10), &[1.0])[0].iter().enumerate() {
        for n in 0..8 {
            writeln!(text, "{:.3},{:.1}", k as f64 + f64::from(n) / 8.0, v * 1e3).unwrap();
        }
    }
    Case {
        what: "eight thousand samples a second; it rests in the wrong place",
        bytes: text.into(),
        asked: asked("t", &[("pedal", "u")]),
        profile: ONE,
        verdict: Verdict::Fail,
        seen: "every 8th",
    }
}

fn recorded(
    samples: import::Imported,
    scale: Scale,
    sha256: String,
    tag: Option<&str>,
) -> Recorded {
    Recorded {
        t_us: samples.t_us,
        channels: samples.channels,
        codes: samples.codes,
        scale,
        rate_hz: samples.rate_hz,
        has_time: samples.has_time,
        left_out: samples.left_out,
        tag: tag.map(str::to_owned),
        from: ImportedFrom {
            file: "file.csv".into(),
            sha256,
        },
        note: None,
    }
}

#[test]
fn files_of_other_programs_come_to_their_right_verdict() {
    let dir = tempfile::tempdir().unwrap();
    let cases = [
        scope(),
        logger(),
        spreadsheet(),
        serial_log(),
        quoted(),
        noisy(),
        time_of_day(),
        two_tracks(),
        coarse_times(),
        fast_scope(),
    ];
    let mut wrong = Vec::new();
    for case in cases {
        let path = dir.path().join("file.csv");
        std::fs::write(&path, &case.bytes).unwrap();
        let source = import::read(&path).unwrap();
        let scale = Scale::new(10, 5000.0).unwrap();
        let samples = import::samples(&source.sheet, &case.asked, scale)
            .unwrap_or_else(|e| panic!("{}: {e}", case.what));
        let notes = samples.notes.join("; ");
        let recorded = recorded(samples, scale, source.sha256, None);
        let profile = profile::find(case.profile).unwrap();
        let (capture, found) = bench::labelled(recorded, Some(&profile));
        let rate = capture.meta.board.rate_hz;
        // Nobody can see in a file whether its plug was moved: it is said, and not made up.
        let shake = found
            .iter()
            .find(|found| found.step == Step::Shake)
            .unwrap();
        let note = capture.meta.note.as_deref().unwrap();
        assert!(shake.have == 0.0 && note.contains("plug and cable were not tested"));
        let mut passages = capture.passages.iter();
        assert!(
            passages.all(|passage| passage.step != Step::Shake),
            "{}",
            case.what
        );
        let assessment = bench::assess(&capture, Some(&profile)).unwrap();
        let mut all = assessment.findings.iter();
        let lost = all.find(|f| f.figure == FigureName::DropoutsCount).unwrap();
        assert!(
            lost.reason.contains("plug and cable were not tested"),
            "{}",
            lost.reason
        );
        let findings: Vec<_> = assessment
            .findings
            .iter()
            .filter(|f| f.outcome != measure::judge::Outcome::Pass)
            .map(|f| format!("{:?} {:?}", f.figure, f.reason))
            .collect();
        if assessment.verdict != Some(case.verdict)
            || !notes.contains(case.seen)
            || (rate - 1000.0).abs() > 2.0
        {
            wrong.push(format!(
                "{}: {:?}, {rate} Hz, told {notes}, found {found:?}, {findings:#?}",
                case.what, assessment.verdict
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// On the screen the file is a run: it ends with the verdict that `import` and `assess` come to, and its capture is on the disk.
#[test]
fn a_run_of_a_file_ends_with_the_verdict_of_its_capture() {
    let dir = tempfile::tempdir().unwrap();
    let case = noisy();
    let file = dir.path().join("file.csv");
    std::fs::write(&file, &case.bytes).unwrap();
    let scale = Scale::new(10, 5000.0).unwrap();
    let source = import::read(&file).unwrap();
    let samples = import::samples(&source.sheet, &case.asked, scale).unwrap();
    let taken = samples.t_us.len();
    let recorded = recorded(samples, scale, source.sha256, Some("T9"));
    let profile = profile::find(case.profile).map(Arc::new);
    let out = dir.path().join("taken.csv");
    let run = bench::start_imported(move || Ok(recorded), profile.clone(), out.clone());
    let (mut seen, mut last) = (0, None);
    for event in &run.events {
        match event {
            RunEvent::Samples(batch) => seen += batch.t_us.len(),
            RunEvent::Finished {
                assessment,
                capture,
            } => last = Some((assessment, capture)),
            RunEvent::Failed(why) => panic!("{why}"),
            _ => {}
        }
    }
    run.join();
    let (assessment, capture) = last.unwrap();
    let assessment = assessment.unwrap();
    assert_eq!(seen, taken);
    assert_eq!(capture, Some(out.clone()));
    assert_eq!(assessment.verdict, Some(case.verdict));
    let mut opened = pedalproof::capture::open(&out).unwrap();
    let again = bench::assess_file(&mut opened, &out, profile.as_deref()).unwrap();
    assert_eq!(
        serde_json::to_string(&again).unwrap(),
        serde_json::to_string(&*assessment).unwrap()
    );
    // A file that went meanwhile ends the run with why.
    let gone = bench::start_imported(|| Err("it is gone".to_owned()), None, out);
    assert!(matches!(gone.events.recv(), Ok(RunEvent::Failed(why)) if why == "it is gone"));
}
