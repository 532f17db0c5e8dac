//! The stop that needs no luck: with the fault **still there**, on the output and on the enable line behind its pump
//! (`tests/avr/bench_pump.h`: diodes, capacitors, load, each at the end of its tolerance that lets go latest).
#![cfg(target_os = "linux")]

use super::support::bench::{Bench, Part, Report, codes};
use super::support::blocks;
use pedalproof::constants::Block;
use rand::RngExt;
use std::fmt::Write as _;
use std::path::Path;

const RUNNING: u8 = 1;
const STOPPED: u8 = 2;
const WAITING: u8 = 0;

/// Nothing may leave the drive enabled longer, microseconds (the issue; the profiles ask for as much).
const LONGEST_ON_US: u64 = 50_000;

const BOARDS: [Part; 3] = [Part::Mega, Part::Tiny, Part::TinyAlone];

/// What the usual parts do, from outside.
fn told(of: &str) -> String {
    let path = super::support::avr::project().join("tests/reference/37-start-up-facts.json");
    let file: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    file["expected"][of].as_str().unwrap().to_owned()
}

/// The pedal alone, or with its dial.
fn block(part: Part) -> Block {
    let mut draft = blocks::guarded().numbers().clone();
    draft.inputs.truncate(part.inputs());
    blocks::block(draft)
}

/// Running, the pedal pressed: the drive is on.
fn pressed(part: Part) -> String {
    let mut script = "zero 100\n".to_owned();
    codes(&mut script, part, &[170, 100]);
    script.push_str("quiet 20\n");
    codes(&mut script, part, &[500, 100]);
    script.push_str("quiet 60\n");
    script
}

fn is_on(report: &Report) -> bool {
    report.enabled && report.out > 100
}

/// What happens, and what the board says of it: state and cause; `None` where it is past saying anything.
fn troubles(bench: &Bench) -> Vec<(String, Option<(u8, u8)>)> {
    let lost = bench.symbol("__stop_program");
    let long = "us 100000";
    let mut troubles = vec![
        (format!("deaf 1\n{long}"), Some((STOPPED, 10))),
        (format!("sda 1\n{long}"), Some((STOPPED, 10))),
        (format!("scl 1\n{long}"), Some((STOPPED, 10))),
        // Lost in an endless loop with the watchdog as it is; then the clock stops for good.
        (format!("jump {lost}\nus 20000\nfreeze 80000"), None),
        (format!("jump {lost}\n{long}"), None),
        ("freeze 100000".to_owned(), None),
        ("hold 100000".to_owned(), None),
        ("cycle 100".to_owned(), None),
        // The pin itself: the program cannot know.
        (format!("pin 0\n{long}"), Some((RUNNING, 0))),
        (format!("pin 1\n{long}"), Some((RUNNING, 0))),
        // A supply 12 % low and 12 % high.
        (format!("supply 4400\n{long}"), Some((STOPPED, 15))),
        (format!("supply 5600\n{long}"), Some((STOPPED, 15))),
    ];
    if bench.part.reads_back() {
        // The DAC answers and puts out something else: full output, what it was and no more.
        troubles.push((format!("stuck 4095\n{long}"), Some((STOPPED, 14))));
    }
    troubles
}

#[test]
fn nothing_leaves_the_drive_enabled() {
    for part in BOARDS {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let troubles = troubles(&bench);
        let mut script = pressed(part);
        for (trouble, _) in &troubles {
            let _ = writeln!(script, "begin\nmark\n{trouble}\nreport\nend");
        }
        script.push_str("report\n");
        let reports = bench.run(Some(&block(part)), &script).reports;
        let (whole, broken) = reports.split_last().unwrap();
        assert!(is_on(whole), "{part:?}: nothing wrong, and off: {whole:?}");
        for ((trouble, says), report) in troubles.iter().zip(broken) {
            let case = format!("{part:?} {trouble:?}: {report:?}");
            assert!(!is_on(report), "{case}");
            assert!(
                report.off_us.is_some_and(|us| us <= LONGEST_ON_US),
                "{case}"
            );
            if let Some(says) = says {
                assert_eq!((report.state, report.cause), *says, "{case}");
            }
        }
    }
}

/// Parts at the end of their tolerance that pumps least, a supply of 4.75 V: the gate (1.5 V at most, and 0.3 V for the coil's current)
/// stays on through every cycle.
#[test]
fn the_relay_is_held_without_a_gap() {
    for part in BOARDS {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let mut script = pressed(part) + "weak 1.8\nus 50000\nmark\n";
        for _ in 0..100 {
            script.push_str("us 137\nreport\n");
        }
        let reports = bench.run(Some(&block(part)), &script).reports;
        assert_eq!(reports.len(), 100);
        assert!(reports.iter().all(is_on), "{part:?}: {reports:?}");
    }
}

/// A program that is not done in time would stretch every time that the constants promise.
#[test]
fn a_board_that_does_not_keep_up_stops() {
    let Some(bench) = Bench::build(Part::Mega, &[("RATE_HZ", "5000")]) else {
        return;
    };
    let mut draft = blocks::guarded().numbers().clone();
    draft.inputs.truncate(Part::Mega.inputs());
    draft.board.rate_hz = 5000;
    let mut script = String::new();
    codes(&mut script, Part::Mega, &[170, 100]);
    script.push_str("us 500000\nreport\n");
    let report = bench.run(Some(&blocks::block(draft)), &script).reports[0];
    assert_eq!((report.state, report.cause), (STOPPED, 11), "{report:?}");
    assert!(!report.enabled && report.out == 0, "{report:?}");
}

/// The mark of a stop has a bit wrong, in its word or in its cause, and somebody presses reset: still a stop.
#[test]
fn a_damaged_mark_of_a_stop_is_a_stop() {
    const MARK: u32 = 0x0500;
    let Some(bench) = Bench::build(Part::Mega, &[]) else {
        return;
    };
    for (byte, says) in [(0, 10), (1, 10), (2, 12), (3, 12)] {
        let mut script = pressed(Part::Mega);
        script.push_str("deaf 1\nus 100000\nreport\ndeaf 0\n");
        let _ = writeln!(script, "flip {} 2\nreset ext", MARK + byte);
        codes(&mut script, Part::Mega, &[170, 100]);
        script.push_str("us 500000\nreport\n");
        let reports = bench.run(Some(&block(Part::Mega)), &script).reports;
        assert_eq!((reports[0].state, reports[0].cause), (STOPPED, 10));
        assert_eq!(
            (reports[1].state, reports[1].cause),
            (STOPPED, says),
            "{byte}"
        );
    }
}

/// A DAC that stands still is seen as soon as something else is asked for: the pedal is let go, and the output stays.
#[test]
fn an_output_that_does_not_follow_is_seen_when_the_pedal_moves() {
    for part in [Part::Mega, Part::TinyAlone] {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let mut script = pressed(part);
        script.push_str("mark\nstuck 1480\nus 100000\nreport\n");
        codes(&mut script, part, &[170, 100]);
        script.push_str("mark\nus 100000\nreport\n");
        let reports = bench.run(Some(&block(part)), &script).reports;
        let [held, let_go] = reports[..] else {
            panic!()
        };
        // Within 3 % of full scale of what is written: as far as the DAC itself may be off.
        assert!(held.dac.abs_diff(1480) < 130, "{held:?}");
        assert!(is_on(&held), "{held:?}");
        assert_eq!((let_go.state, let_go.cause), (STOPPED, 14), "{let_go:?}");
        assert!(let_go.out > 100 && !let_go.enabled, "{let_go:?}");
        // The fall takes its time; from where the two part, as always.
        assert!(
            let_go.off_us.is_some_and(|us| us <= LONGEST_ON_US),
            "{let_go:?}"
        );
    }
}

/// Within 8 % the supply is believed (10 % is the limit, and the reading is good to a code of 225).
#[test]
fn a_supply_a_little_off_is_believed() {
    let Some(bench) = Bench::build(Part::Mega, &[]) else {
        return;
    };
    let mut script = pressed(Part::Mega);
    for supply in [4600, 5400] {
        let _ = writeln!(script, "begin\nsupply {supply}\nquiet 50\nreport\nend");
    }
    for report in bench.run(Some(&block(Part::Mega)), &script).reports {
        assert_eq!(report.state, RUNNING, "{report:?}");
        assert!(report.enabled);
    }
}

/// As delivered the DAC comes up with half of its supply (reference file 37): 0 is stored, once, and from then on it is there
/// when power comes. One that does not keep it: the board refuses to run.
#[test]
fn the_dac_is_made_to_wake_up_at_zero() {
    assert_eq!(told("dac_power_up_as_delivered"), "half of the supply");
    for part in BOARDS {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let mut script = "zero 100\n".to_owned();
        codes(&mut script, part, &[170, 100]);
        // Waits for the pedal after the memory was written; the second time nothing is left to be done.
        script.push_str("memory 2048 1\ncycle 500\nmark\nquiet 30\nreport\nstats\n");
        script.push_str("cycle 500\nmark\nquiet 30\nreport\nstats\n");
        script.push_str(
            "memory 2048 0\ncycle 500\nmark\nquiet 30\nreport\nquiet 300\nreport\nstats\n",
        );
        let answers = bench.run(Some(&block(part)), &script);
        let [first, second, refused, for_good] = answers.reports[..] else {
            panic!()
        };
        assert_eq!((first.state, second.state), (RUNNING, RUNNING), "{part:?}");
        assert!(!is_on(&first));
        assert_eq!(second.peak, 100, "nothing but the zero of the command");
        assert_eq!((refused.state, refused.cause), (STOPPED, 13), "{part:?}");
        assert!(!refused.enabled && !for_good.enabled && for_good.out == 0);
        let stores: Vec<i64> = answers.stats.iter().map(|stats| stats["stores"]).collect();
        assert_eq!(stores, [1, 1, 2], "once a start, and only where it must be");
        assert!(answers.stats.iter().all(|stats| stats["faults"] == 0));
    }
}

/// Bootloaders as packaged, where a reset begins: name, address.
const BOOTLOADERS: [(&str, u32); 2] = [
    ("optiboot/optiboot_atmega328.hex", 0x7E00),
    ("atmega/ATmegaBOOT_168_atmega328.hex", 0x7800),
];

/// The common bootloaders hold the output for over a second after a reset, clear the reset's cause, and one of them never
/// comes back from a watchdog's reset (reference file 37): the drive is off all the same, and the stop is remembered.
#[test]
fn a_bootloader_defeats_nothing() {
    let folder = Path::new("/usr/share/arduino/hardware/arduino/avr/bootloaders");
    if !super::support::avr::arduino_core_is_here() {
        return;
    }
    for (image, address) in BOOTLOADERS {
        let Some(bench) = Bench::build(Part::Mega, &[]) else {
            return;
        };
        let lost = bench.symbol("__stop_program");
        let image = folder.join(image);
        let bench = bench.with_boot(image.to_str().unwrap(), address);
        let mut script = String::new();
        codes(&mut script, Part::Mega, &[170, 100]);
        script.push_str("us 2500000\n");
        script.push_str(&pressed(Part::Mega));
        let _ = writeln!(
            script,
            "report\nbegin\nmark\nreset ext\nus 100000\nreport\nus 2400000\nreport"
        );
        codes(&mut script, Part::Mega, &[170, 100]);
        script.push_str("us 200000\n");
        codes(&mut script, Part::Mega, &[500, 100]);
        script.push_str("us 200000\nreport\nend\n");
        let _ = writeln!(
            script,
            "begin\nmark\njump {lost}\nus 100000\nreport\nus 2400000\nreport\nend"
        );
        let reports = bench.run(Some(&block(Part::Mega)), &script).reports;
        let [running, reset, later, again, hung, hung_later] = reports[..] else {
            panic!()
        };
        let case = image.display();
        assert!(is_on(&running), "{case}: {running:?}");
        if address == 0x7800 {
            let told = told("watchdog_reset_under_old_bootloader");
            assert_eq!(told, "endless resets, program not reached");
            assert!(
                hung_later.out > 100,
                "{case}: the program was reached? {hung_later:?}"
            );
        } else {
            // The cause of the watchdog's reset is gone: the mark alone tells of it.
            assert!(told("reset_cause_after_bootloader").starts_with("cleared"));
            assert_eq!(
                (hung_later.state, hung_later.cause),
                (STOPPED, 12),
                "{case}"
            );
        }
        // The DAC still holds what it had, while the bootloader waits: what counts is the enable line.
        assert!(
            reset.out > 100,
            "{case}: no bootloader was there? {reset:?}"
        );
        for report in [reset, later, again, hung, hung_later] {
            assert!(!report.enabled, "{case}: {report:?}");
        }
        for report in [reset, hung] {
            assert!(
                report.off_us.is_some_and(|us| us <= LONGEST_ON_US),
                "{case}: {report:?}"
            );
        }
        for report in [later, again] {
            assert_eq!(
                (report.state, report.cause, report.out),
                (STOPPED, 12, 0),
                "{case}"
            );
        }
    }
}

/// A dip of the supply while the pedal is pressed: a start like any other. Nothing comes out before the pedal was at rest.
#[test]
fn after_a_dip_of_the_supply_the_pedal_must_be_at_rest() {
    for part in BOARDS {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let script = pressed(part) + "mark\ncycle 20\nus 400000\nreport\n";
        let report = bench.run(Some(&block(part)), &script).reports[0];
        assert_eq!(
            (report.state, report.out),
            (WAITING, 0),
            "{part:?} {report:?}"
        );
        assert!(!report.enabled);
        assert!(
            report.off_us.is_some_and(|us| us <= LONGEST_ON_US),
            "{report:?}"
        );
    }
}

/// Longest that a changed bit may drive with the pedal released (the issue).
const LONGEST_FLIPPED_US: u64 = 150_000;

/// Every `one_in`-th bit of the core's memory, from `first` on, with the pedal released: running, or just having been pressed.
/// How many, and how many of them stopped the board.
fn flip(part: Part, one_in: u32, first: u32) -> Option<(usize, usize)> {
    let bench = Bench::build(part, &[])?;
    let (core, bytes) = (bench.symbol("core") & 0xFFFF, bench.size_of("core"));
    let mut script = "brave 1\nzero 100\n".to_owned();
    codes(&mut script, part, &[170, 100]);
    script.push_str("quiet 50\n");
    let flips: Vec<(u32, u32)> = (first..bytes * 8)
        .step_by(one_in as usize)
        .map(|n| (core + n / 8, n % 8))
        .collect();
    for (address, bit) in &flips {
        let _ = writeln!(
            script,
            "begin\nflip {address} {bit}\nmark\nus 180000\nreport\nend"
        );
    }
    let reports = bench.run(Some(&block(part)), &script).reports;
    assert_eq!(reports.len(), flips.len());
    for ((address, bit), report) in flips.iter().zip(&reports) {
        let case = format!("{part:?} byte {}, bit {bit}: {report:?}", address - core);
        assert!(!is_on(report), "{case}");
        assert!(
            report.off_us.is_some_and(|us| us <= LONGEST_FLIPPED_US),
            "{case}"
        );
    }
    let stopped = reports
        .iter()
        .filter(|report| report.state == STOPPED)
        .count();
    Some((flips.len(), stopped))
}

#[test]
fn a_bit_that_changes_does_not_drive() {
    let mut rng = blocks::rng(21);
    for part in [Part::Mega, Part::Tiny] {
        let Some((tried, stopped)) = flip(part, 61, rng.random_range(0..61)) else {
            return;
        };
        println!("{part:?}: {tried} bits, {stopped} of them stopped the board");
        assert!(tried > 25 && stopped * 2 > tried, "{tried} {stopped}");
    }
}

#[test]
#[ignore = "some minutes: every bit; cargo test --test suite every_bit -- --ignored --nocapture"]
fn every_bit_that_changes_does_not_drive() {
    for part in [Part::Mega, Part::Tiny] {
        let Some((tried, stopped)) = flip(part, 1, 0) else {
            return;
        };
        println!("{part:?}: {tried} bits, {stopped} of them stopped the board");
    }
}
