//! The fault campaign: every single fault of the wiring table, at travels and in states of a simulated board. A fault stops
//! the board for good before its output has risen, or the wiring table lists it beforehand as one that is missed.
//!
//! A part of it runs in every `cargo test`; the whole, with units at the corners of their tolerances, and the table of
//! `src/firmware/core/CAMPAIGN.md`: `cargo test --test suite avr_campaign:: -- --ignored --nocapture`
//! (`CAMPAIGN_WRITE=1` writes the table into that file).
#![cfg(target_os = "linux")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // of known range, and a test

use super::support::avr;
use super::support::bench::{self, Bench, Part, Report};
use super::support::blocks;
use super::support::campaign;
use super::support::campaign::cases::{self, BY_WINDOW, Case, Expect, Held};
use super::support::campaign::controls::{Setup, ZERO_DAC};
use super::support::campaign::table::Tally;
use super::support::campaign::{RUNNING, STOPPED};
use std::fmt::Write as _;

/// Which boards, on which parts.
fn setups() -> Vec<(Setup, &'static [Part])> {
    vec![
        (Setup::two_track_pedal(), &[Part::Mega]),
        (Setup::one_track_pedal(), &Part::ALL),
        (Setup::lever(), &Part::ALL),
        (Setup::bare_pedal(), &Part::ALL),
    ]
}

/// All cases of nominal units, or every fault at one place and state in `one_in`; with `corners`, running units at the corners as well.
fn run_setup<'a>(setup: &'a Setup, benches: &[Bench], one_in: usize, corners: bool) -> Tally<'a> {
    let mut tally = Tally::new(setup);
    for bench in benches {
        let rig = setup.nominal();
        for line in 0..setup.lines.len() {
            let all = cases::of_line(&rig, line, &Held::ALL, cases::OTHERS);
            let alike = all.chunk_by(|a, b| (a.held, &a.travels) == (b.held, &b.travels));
            let some: Vec<Case> = alike
                .skip(line % one_in)
                .step_by(one_in)
                .flatten()
                .cloned()
                .collect();
            tally.add(bench.part.mcu(), &some, &campaign::run(bench, &rig, &some));
        }
    }
    // The thresholds hold whatever the part is: the first one is enough for units at the corners.
    for line in 0..if corners { setup.lines.len() } else { 0 } {
        for unit in cases::extreme_units(setup, line) {
            let rig = setup.with_unit(line, &unit);
            let running = cases::of_line(&rig, line, &[Held::Running], cases::ONE_OTHER);
            let outcomes = campaign::run(&benches[0], &rig, &running);
            tally.add(benches[0].part.mcu(), &running, &outcomes);
        }
    }
    tally.hold_table(corners);
    tally
}

/// The campaign over all setups, each on a thread with its own boards: table, number of cases, surprises. `None` without the
/// tools.
fn run_all(one_in: usize, corners: bool) -> Option<(String, u32, Vec<String>)> {
    if !avr::tools_are_here() {
        return None;
    }
    let (mut table, mut count, mut surprises) = (String::new(), 0, Vec::new());
    std::thread::scope(|scope| {
        let runs: Vec<_> = setups()
            .into_iter()
            .map(|(setup, parts)| {
                scope.spawn(move || {
                    let benches: Vec<Bench> = parts
                        .iter()
                        .map(|part| Bench::build(*part, &[]).unwrap())
                        .collect();
                    let tally = run_setup(&setup, &benches, one_in, corners);
                    (tally.to_markdown(), tally.cases(), tally.surprises)
                })
            })
            .collect();
        for run in runs {
            let (rows, cases, found) = run.join().unwrap();
            table.push_str(&rows);
            count += cases;
            surprises.extend(found);
        }
    });
    let _ = writeln!(table, "{count} cases, {} surprises.", surprises.len());
    Some((table, count, surprises))
}

fn none(surprises: &[String]) {
    let shown: Vec<&str> = surprises.iter().take(12).map(String::as_str).collect();
    assert!(
        surprises.is_empty(),
        "{} surprises:\n{}",
        surprises.len(),
        shown.join("\n")
    );
}

/// Where the table stands, and what is around it.
const FILE: &str = "src/firmware/core/CAMPAIGN.md";
const BEGIN: &str = "<!-- table: written by tests/suite/firmware/avr_campaign.rs -->\n";
const END: &str = "<!-- end of table -->";

fn in_file() -> (String, [usize; 2]) {
    let text = std::fs::read_to_string(avr::project().join(FILE)).unwrap();
    let at = [
        text.find(BEGIN).unwrap() + BEGIN.len(),
        text.find(END).unwrap(),
    ];
    (text, at)
}

/// Headings, and of each fault its name and what the wiring table says.
fn foretold(table: &str) -> Vec<String> {
    let cut = |line: &str| line.splitn(4, '|').take(3).collect::<Vec<_>>().join("|");
    let lines = table.lines().filter(|line| line.starts_with(['#', '|']));
    lines.map(cut).collect()
}

/// Every kind of surprise is seen: a board that does right, and one thing wrong with it at a time.
#[test]
#[allow(clippy::too_many_lines)] // a list of wrongs
fn a_board_that_does_wrong_is_a_surprise() {
    let setup = Setup::one_track_pedal();
    let mut case =
        cases::of_line(&setup.nominal(), 0, &[Held::Running], cases::ONE_OTHER).remove(0);
    assert_eq!(
        (case.fault.as_str(), case.expect),
        ("supply wire open", BY_WINDOW)
    );
    let good = Report {
        was: 1000,
        peak: 1000,
        zero_us: Some(8000),
        latch_us: Some(8000),
        off_us: Some(8000),
        dac: 0,
        out: 0,
        enabled: false,
        state: STOPPED,
        cause: 8,
        writes: 12,
    };
    let rest = Report {
        was: 0,
        peak: 0,
        zero_us: Some(0),
        off_us: Some(0),
        ..good
    };
    let found = |case: &Case, is: Report, after: Report| {
        campaign::surprise(case, is, Some(after)).is_some()
    };
    assert!(!found(&case, good, rest));
    for wrong in [
        Report { peak: 1001, ..good },
        Report {
            zero_us: None,
            ..good
        },
        Report {
            latch_us: Some(9500),
            ..good
        },
        Report {
            state: RUNNING,
            ..good
        },
        Report { cause: 9, ..good },
        Report {
            off_us: None,
            ..good
        },
        Report {
            dac: ZERO_DAC,
            ..good
        },
    ] {
        assert!(found(&case, wrong, rest), "{wrong:?}");
    }
    assert!(found(&case, good, Report { state: 0, ..rest }));
    assert!(found(
        &case,
        good,
        Report {
            enabled: true,
            ..rest
        }
    ));
    assert!(found(
        &case,
        good,
        Report {
            peak: ZERO_DAC,
            ..rest
        }
    ));

    // A fault that is listed, as half of full output.
    case.expect = Expect::Listed {
        output: 0.5,
        safe: true,
    };
    let half = Report {
        was: 3000,
        peak: 3000,
        dac: 2050,
        out: 2050,
        enabled: true,
        state: RUNNING,
        cause: 0,
        ..good
    };
    assert!(!found(&case, half, rest));
    for wrong in [
        Report {
            state: STOPPED,
            ..half
        },
        Report { dac: 2300, ..half },
        Report { dac: 1800, ..half },
        Report { peak: 3300, ..half },
        Report {
            enabled: false,
            ..half
        },
    ] {
        assert!(found(&case, wrong, rest), "{wrong:?}");
    }
}

/// What the simulator leaves out of waiting changes nothing: the same answers, to the cycle, as gone through turn by turn.
#[test]
fn left_out_waiting_changes_no_bit_and_no_cycle() {
    for part in Part::ALL {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let mut script = "zero 100\n".to_owned();
        for (pedal, dial, us) in [
            (166, 600, 0),
            (480, 20, 333),
            (640, 300, 1717),
            (850, 25, 90_000),
        ] {
            let mut hold = |codes: [u16; 2], orders: &str| {
                bench::codes(&mut script, part, &codes);
                script.push_str(orders);
            };
            hold([166, dial], "reset por\nsteps 550\n");
            hold(
                [pedal, dial],
                &format!("steps 40\nus {us}\nlook\nsteps 7\n"),
            );
            hold(
                [0, dial],
                "begin\nmark\nquiet 60\nreport\nus 250\nlook\nend\n",
            );
            hold([pedal, 1023], "begin\nmark\nus 70000\nreport\nlook\nend\n");
            hold(
                [pedal, dial],
                "deaf 1\nus 5000\nlook\ndeaf 0\nsupply 4000\nsteps 30\nsupply 5000\njump 0\nus 20000\nlook\nstats\n",
            );
        }
        let block = blocks::guarded();
        let left_out = bench.run(Some(&block), &script);
        assert!(left_out.steps.iter().any(|seen| seen.state == RUNNING));
        assert!(left_out.steps.len() > 2000 && left_out.reports.len() == 8);
        assert_eq!(
            left_out,
            bench.turn_by_turn().run(Some(&block), &script),
            "{part:?}"
        );
    }
}

#[test]
fn a_part_of_the_campaign_shows_no_surprise() {
    let Some((table, count, surprises)) = run_all(24, false) else {
        return;
    };
    println!("{table}");
    none(&surprises);
    assert!(count > 2000, "{count} cases");
    let (text, [from, to]) = in_file();
    assert_eq!(
        foretold(&table),
        foretold(&text[from..to]),
        "{FILE} is behind: see the top of this test"
    );
}

#[test]
#[ignore = "some minutes: the whole campaign"]
fn the_campaign_shows_no_surprise() {
    let Some((table, count, surprises)) = run_all(1, true) else {
        return;
    };
    println!("{table}");
    none(&surprises);
    assert!(count > 5000, "{count} cases");
    let (text, [from, to]) = in_file();
    if std::env::var_os("CAMPAIGN_WRITE").is_some() {
        let written = format!("{}\n{table}\n{}", &text[..from], &text[to..]);
        std::fs::write(avr::project().join(FILE), written).unwrap();
    } else {
        assert_eq!(
            table.trim(),
            text[from..to].trim(),
            "{FILE} is behind: see the top of this test"
        );
    }
}
