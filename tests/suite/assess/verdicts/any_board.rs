//! The same voltages at any board: no verdict turns over, and a limit is told as it was applied.

use super::part::{Adc, CODE, Part, Session};
use measure::judge::{Outcome, Verdict};
use pedalproof::bench::assess;
use pedalproof::profile;

const BITS: [u32; 5] = [8, 10, 12, 14, 16];

fn verdict(session: &Session, bits: u32, vref_mv: f64) -> (Verdict, Vec<String>) {
    let profile = profile::find("pedal-hall-one-track").unwrap();
    let capture = session.capture(Adc::of(bits, vref_mv), None);
    let assessment = assess(&capture, Some(&profile)).unwrap();
    let open = assessment.findings.iter();
    let open = open.filter(|f| f.outcome != Outcome::Pass);
    let message = open.map(|f| format!("{} {}: {}", f.figure, f.outcome, f.reason));
    (assessment.verdict.unwrap(), message.collect())
}

#[test]
fn no_verdict_turns_over_between_boards() {
    let sticky = Part {
        rest_scatter: 12.0 * CODE,
        ..Part::GOOD
    };
    let noisy = Part {
        noise: 3.5 * CODE,
        ..Part::GOOD
    };
    // Rounding to eight bits adds to it, which is not the part's.
    let loud = Part {
        noise: 1.7 * CODE,
        ..Part::GOOD
    };
    for (name, part, right) in [
        ("good", Part::GOOD, Verdict::Pass),
        ("sticky", sticky, Verdict::Fail),
        ("noisy", noisy, Verdict::Fail),
        ("nearly noisy", loud, Verdict::Pass),
    ] {
        for seed in 0..3 {
            let session = Session::card(part, 100 + seed, 8, 12);
            for bits in BITS {
                for vref_mv in [5000.0, 3300.0] {
                    let (verdict, open) = verdict(&session, bits, vref_mv);
                    let message = format!("{name}, seed {seed}, {bits} bits: {verdict} {open:#?}");
                    if bits >= 10 {
                        assert_eq!(verdict, right, "{message}");
                    } else {
                        assert!(
                            verdict == right || verdict == Verdict::Undecided,
                            "{message}"
                        );
                        if verdict == Verdict::Undecided {
                            let board = "too coarse a board to tell";
                            assert!(open.iter().all(|f| f.contains(board)), "{message}");
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn the_finding_gives_the_limit_as_it_was_applied() {
    let profile = profile::find("pedal-hall-one-track").unwrap();
    let session = Session::card(Part::GOOD, 1, 6, 5);
    for (bits, max) in [(8, 0.5), (10, 2.0), (12, 8.0), (16, 128.0)] {
        let capture = session.capture(Adc::of(bits, 5000.0), None);
        let json = serde_json::to_value(assess(&capture, Some(&profile)).unwrap()).unwrap();
        let findings = json["findings"].as_array().unwrap();
        let of = |word| findings.iter().find(|f| f["figure"] == word).unwrap();
        assert_eq!(of("noise_rest_rms")["max"], max, "{bits}");
        assert_eq!(of("rest_ratio")["max"], 0.2, "a ratio is of any board");
        let reason = of("noise_rest_rms")["reason"].as_str().unwrap();
        assert_eq!(reason.contains("10 bits"), bits != 10, "{reason}");
    }
}
