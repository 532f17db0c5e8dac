//! The board firmware on a simulated `ATmega328P` and `ATtiny85`: through its real ADC readings and its two wires it
//! puts out what the twin predicts, to the bit; it stops on faults; and its sizes and cycles.
//!
//! The table of sizes and cycles: `cargo test --test suite firmware_core::sizes -- --nocapture`
#![cfg(target_os = "linux")]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // of known range, and a test

use super::support::avr;
use super::support::bench;
use super::support::bench::{Answers, Bench, Part, codes, size};
use super::support::blocks;
use pedalproof::constants::{Block, Build, formats, layout};
use pedalproof::twin::{State, Twin};
use rand::RngExt;
use std::fmt::Write as _;

const WAITING: u8 = 0;
const RUNNING: u8 = 1;
const STOPPED: u8 = 2;

/// Each step of the board against the twin's.
fn assert_same(part: Part, block: &Block, rows: &[Vec<u16>], answers: &[bench::Seen]) {
    assert_eq!(rows.len(), answers.len());
    let mut twin = Twin::new(block);
    for (n, (row, seen)) in rows.iter().zip(answers).enumerate() {
        let shown = twin.step(row);
        let expected = (
            shown.dac,
            shown.state as u8,
            shown.cause.map_or(0, |c| c as u8),
        );
        let got = (seen.dac, seen.state, seen.cause);
        assert_eq!(got, expected, "{part:?} step {n}, codes {row:?}");
    }
}

/// Runs rows of codes from power-up and compares every step.
fn compare(bench: &Bench, block: &Block, sequences: &[Vec<Vec<u16>>]) -> Answers {
    let mut script = String::new();
    for rows in sequences {
        script.push_str("reset por\n");
        for row in rows {
            codes(&mut script, bench.part, row);
            script.push_str("steps 1\n");
        }
    }
    script.push_str("stats\n");
    let answers = bench.run(Some(block), &script);
    let mut at = 0;
    for rows in sequences {
        assert_same(bench.part, block, rows, &answers.steps[at..at + rows.len()]);
        at += rows.len();
    }
    assert_eq!(at, answers.steps.len());
    assert_eq!(
        answers.stats[0]["faults"], 0,
        "rules of the two wires broken"
    );
    answers
}

/// Edges of codes and curves with each other, and random pairs between.
fn pairs(rng: &mut impl rand::Rng) -> Vec<Vec<u16>> {
    let ends = [
        0, 1, 19, 20, 21, 163, 164, 165, 499, 500, 501, 699, 700, 701, 859, 860, 861, 1022, 1023,
    ];
    let mut rows: Vec<Vec<u16>> = Vec::new();
    for a in ends {
        rows.extend(ends.map(|b| vec![a, b]));
    }
    rows.extend((0..3000).map(|_| vec![rng.random_range(0..1024), rng.random_range(0..1024)]));
    rows
}

#[test]
fn thousands_of_pairs_give_the_twins_bits() {
    let mut rng = blocks::rng(11);
    for part in Part::ALL {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let mut rows = vec![vec![164, 700]; 3];
        rows.extend(pairs(&mut rng));
        let answers = compare(&bench, &blocks::straight(), &[rows]);
        let moving = answers.steps.iter().filter(|seen| seen.dac > 0).count();
        assert!(moving > 1500, "{moving}");
        assert!(answers.steps.iter().any(|seen| seen.dac == 4095));
    }
}

#[test]
fn sequences_through_all_states_give_the_twins_bits() {
    let mut rng = blocks::rng(12);
    for part in Part::ALL {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let mut drawn = vec![blocks::fitted()];
        if part.inputs() == 3 {
            drawn.push(blocks::two_track());
        }
        while drawn.len() < 8 {
            let board = blocks::straight().numbers().board;
            let mut fields = blocks::random(&mut rng, board).numbers().clone();
            fields.watch = blocks::straight().numbers().watch; // the simulated supply is a good one
            if fields.inputs.len() <= part.inputs() {
                drawn.push(blocks::block(fields));
            }
        }
        let mut seen_states = [0; 3];
        for block in &drawn {
            let sequences: Vec<Vec<Vec<u16>>> = (0..3)
                .map(|_| {
                    let mut rows = blocks::handling(&mut rng, block, 150);
                    rows.iter_mut()
                        .flatten()
                        .for_each(|code| *code = (*code).min(1023));
                    rows
                })
                .collect();
            let answers = compare(&bench, block, &sequences);
            for seen in answers.steps {
                seen_states[usize::from(seen.state)] += 1;
            }
        }
        assert!(
            seen_states.iter().all(|n| *n > 100),
            "{part:?}: {seen_states:?}"
        );
    }
}

/// The output of command 0. Stopped and waiting are code 0: a controller's own low-voltage check then is a second channel.
const ZERO: u16 = 100;
const OFF: u16 = 0;

/// Nothing may leave the drive enabled longer.
const LONGEST_ON_US: u64 = 50_000;

/// A script that has brought the board to a held position.
fn held(part: Part, pedal: u16, dial: u16) -> String {
    let mut script = format!("zero {ZERO}\n");
    codes(&mut script, part, &[170, dial]);
    script.push_str("quiet 5\n");
    codes(&mut script, part, &[pedal, dial]);
    script.push_str("quiet 60\n");
    script
}

/// Signal wires to ground and to the supply at 9 positions: the output never rises above what it was, is zero within the
/// persistence, and stays so when the fault goes away.
#[test]
fn a_broken_wire_never_raises_the_output_and_stops_it() {
    for part in Part::ALL {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        for (pedal, dial) in [170, 300, 850]
            .into_iter()
            .flat_map(|p| [690, 300, 25].map(|d| (p, d)))
        {
            let mut script = held(part, pedal, dial);
            let mut cases = Vec::new();
            for late_us in [0, 300, 700] {
                for (input, code) in [(0, 0), (0, 1023), (1, 0), (1, 1023)] {
                    let mut broken = [pedal, dial];
                    broken[input] = code;
                    cases.push(broken);
                    let _ = writeln!(script, "begin\nus {late_us}\nmark");
                    codes(&mut script, part, &broken);
                    script.push_str("quiet 60\nreport\nmark\n");
                    codes(&mut script, part, &[170, dial]);
                    script.push_str("quiet 200\nreport\nend\n");
                }
            }
            let answers = bench.run(Some(&blocks::guarded()), &script);
            assert_eq!(answers.reports.len(), cases.len() * 2);
            for (broken, reports) in cases.iter().zip(answers.reports.chunks_exact(2)) {
                let [fault, after] = [reports[0], reports[1]];
                let case = format!("{part:?} held at {pedal}, {dial}, then {broken:?}: {fault:?}");
                assert!(fault.peak <= fault.was.max(ZERO), "{case}");
                // The tenth bad sample stops: at most 10 ms and the rest of the step it happened in.
                assert!(fault.zero_us.is_some_and(|us| us <= 11_000), "{case}");
                assert!(
                    fault
                        .latch_us
                        .is_some_and(|us| (9_000..=11_000).contains(&us)),
                    "{case}"
                );
                assert_eq!((fault.state, fault.cause), (STOPPED, 8), "{case}");
                assert_eq!((after.peak, after.state), (OFF, STOPPED), "{case}");
                assert!(fault.off_us.is_some_and(|us| us <= 11_000), "{case}");
                assert!(
                    !after.enabled && !fault.enabled || fault.out == OFF,
                    "{case}"
                );
            }
        }
    }
}

/// A dropout shorter than the persistence neither stops the board nor raises its output.
#[test]
fn a_short_dropout_is_ridden_through() {
    for part in Part::ALL {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let mut script = held(part, 500, 100);
        script.push_str("mark\n");
        codes(&mut script, part, &[1023, 100]);
        script.push_str("quiet 9\n");
        codes(&mut script, part, &[500, 100]);
        script.push_str("quiet 20\nreport\n");
        codes(&mut script, part, &[1023, 100]);
        script.push_str("quiet 9\n");
        codes(&mut script, part, &[500, 100]);
        script.push_str("quiet 1\n");
        codes(&mut script, part, &[1023, 100]);
        script.push_str("quiet 1\nsteps 1\n");
        let answers = bench.run(Some(&blocks::guarded()), &script);
        let report = answers.reports[0];
        assert_eq!(
            (report.state, report.peak, report.dac),
            (RUNNING, report.was, report.was)
        );
        assert!(report.was > ZERO);
        // Nine bad, one good, two bad: ten too many.
        assert_eq!(
            (answers.steps[0].state, answers.steps[0].dac),
            (STOPPED, OFF)
        );
    }
}

/// The first thing that is written is code 0, whatever the block says; and nothing else until the start condition.
#[test]
fn zero_comes_first_and_the_pedal_must_be_at_rest() {
    for part in Part::ALL {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let mut script = String::from("mark\n");
        codes(&mut script, part, &[850, 25]);
        script.push_str("quiet 100\nreport\nmark\n");
        codes(&mut script, part, &[170, 25]);
        script.push_str("steps 2\n");
        codes(&mut script, part, &[171, 25]); // off rest again before three samples
        script.push_str("steps 1\n");
        codes(&mut script, part, &[169, 25]);
        script.push_str("steps 3\nreport\nstats\n");
        let answers = bench.run(Some(&blocks::guarded()), &script);
        assert_eq!(
            (answers.reports[0].peak, answers.reports[0].state),
            (OFF, WAITING)
        );
        assert!(!answers.reports[0].enabled);
        assert_eq!(answers.reports[1].peak, ZERO);
        let states: Vec<u8> = answers.steps.iter().map(|seen| seen.state).collect();
        assert_eq!(
            states,
            [WAITING, WAITING, WAITING, WAITING, WAITING, RUNNING]
        );
        let stats = &answers.stats[0];
        assert_eq!(stats["first_code"], 0);
        assert!(stats["first_us"] < 1000, "{} us", stats["first_us"]);
    }
}

/// No block, a damaged one, one of another board: code 0 and the cause, for good.
#[test]
fn a_bad_block_gives_zero() {
    for part in Part::ALL {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let mut script = String::from("zero 0\nmark\n");
        codes(&mut script, part, &[170, 300]);
        script.push_str("quiet 20\n");
        codes(&mut script, part, &[850, 300]);
        script.push_str("quiet 50\nreport\n");
        let mut flipped = layout::to_bytes(&blocks::guarded());
        flipped[30] ^= 4;
        let mut newer = layout::to_bytes(&blocks::guarded());
        newer[4] = 1; // and its check sum is not looked at
        let other = |change: fn(&mut pedalproof::constants::BlockFields)| {
            let mut draft = blocks::guarded().numbers().clone();
            change(&mut draft);
            formats::to_ihex(&Block::new(draft).unwrap())
        };
        let too_many = other(|draft| {
            let dial = draft.inputs[1].clone();
            draft.inputs.extend([dial.clone(), dial]);
        });
        for (image, cause) in [
            (None, 1),
            (Some(image_of(&newer)), 2),
            (Some(image_of(&flipped)), 4),
            (Some(too_many), 5),
            (Some(other(|draft| draft.board.adc_bits = 12)), 6),
            (Some(other(|draft| draft.board.rate_hz = 500)), 6),
        ] {
            let report = bench.run_image(image.as_deref(), &script).reports[0];
            assert_eq!(
                (report.peak, report.dac, report.state, report.cause),
                (0, 0, STOPPED, cause),
                "{part:?}"
            );
        }
    }
}

/// Any bytes as an EEPROM image.
fn image_of(bytes: &[u8]) -> String {
    let records: Vec<ihex::Record> = bytes
        .chunks(16)
        .enumerate()
        .map(|(n, value)| ihex::Record::Data {
            offset: (n * 16) as u16,
            value: value.to_vec(),
        })
        .chain([ihex::Record::EndOfFile])
        .collect();
    ihex::create_object_file_representation(&records).unwrap()
}

/// A stop outlasts every reset but the loss of power; a program that hung is a stop.
#[test]
fn only_power_ends_a_stop() {
    for part in Part::ALL {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let mut script = held(part, 500, 100);
        codes(&mut script, part, &[0, 100]);
        script.push_str("quiet 20\n");
        codes(&mut script, part, &[170, 100]);
        for cause in ["ext", "bor", "none", "wdt"] {
            let _ = writeln!(
                script,
                "begin\nmark\nreset {cause}\nquiet 50\nreport\nstats\nend"
            );
        }
        script.push_str("reset por\nquiet 1\nmark\nquiet 50\nreport\n");
        // Running, then a reset without a stop before it.
        codes(&mut script, part, &[500, 100]);
        script.push_str("quiet 50\nreport\n");
        for cause in ["ext", "wdt"] {
            let _ = writeln!(
                script,
                "begin\nreset {cause}\nmark\nquiet 50\nreport\nstats\nend"
            );
        }
        // Running, then lost in an endless loop.
        let lost = bench.symbol("__stop_program");
        let _ = writeln!(script, "mark\njump {lost}\nus 300000\nreport\nstats");
        let answers = bench.run(Some(&blocks::guarded()), &script);
        let state = |n: usize| (answers.reports[n].state, answers.reports[n].cause);
        for n in 0..4 {
            assert_eq!(state(n), (STOPPED, 8), "{part:?} {n}");
            assert_eq!(answers.reports[n].peak, OFF);
        }
        assert_eq!(state(4), (RUNNING, 0), "after a power cycle");
        assert!(answers.reports[5].dac > ZERO);
        // Once a new start, waiting: a bootloader then holds the output for over a second and the latch of a hang is lost.
        assert_eq!(state(6), (STOPPED, 12), "reset while running");
        assert_eq!(answers.reports[6].peak, OFF);
        assert_eq!(state(7), (STOPPED, 11), "the watchdog's reset");
        let hung = answers.reports[8];
        assert_eq!((hung.state, hung.cause), (STOPPED, 11), "{hung:?}");
        assert_eq!(hung.peak, OFF, "{hung:?}");
        assert!(hung.zero_us.is_some_and(|us| us < 50_000), "{hung:?}");
        assert_eq!(answers.stats.len(), 7);
        assert_eq!(answers.stats[6]["resets"], 1, "the watchdog's own");
        for stats in &answers.stats {
            assert_eq!(
                stats["first_code"], 0,
                "{part:?}: zero is the first code after every reset"
            );
            assert!(
                stats["first_us"] < 1000,
                "{part:?}: {} us",
                stats["first_us"]
            );
        }
    }
}

/// A DAC that does not answer or a shorted wire is a fault like any other, and the board tries to write zero for ever.
#[test]
fn a_lost_dac_stops_the_board() {
    for part in Part::ALL {
        let Some(bench) = Bench::build(part, &[]) else {
            return;
        };
        let mut script = held(part, 500, 100);
        for wire in ["deaf", "sda", "scl"] {
            let _ = write!(
                script,
                "begin\nmark\n{wire} 1\nquiet 60\nreport\n{wire} 0\nmark\nquiet 2\nreport\nquiet 50\nreport\nend\n\
                 begin\n{wire} 1\nquiet 5\n{wire} 0\nquiet 30\nreport\nend\n"
            );
        }
        let answers = bench.run(Some(&blocks::guarded()), &script);
        for reports in answers.reports.chunks_exact(4) {
            // With the fault still there: the output cannot be brought down, the enable line must let go.
            let during = reports[0];
            assert!(during.out > ZERO && during.state == STOPPED, "{during:?}");
            assert!(!during.enabled, "{during:?}");
            assert!(
                during.off_us.is_some_and(|us| us <= LONGEST_ON_US),
                "{part:?} {during:?}"
            );
            assert_eq!(
                (reports[1].state, reports[1].cause, reports[1].dac),
                (STOPPED, 10, OFF)
            );
            assert_eq!((reports[2].state, reports[2].peak), (STOPPED, OFF));
            assert!(!reports[2].enabled);
            assert_eq!(reports[3].state, RUNNING, "a short loss is ridden through");
            assert!(reports[3].dac > ZERO && reports[3].enabled);
        }
        assert_eq!(answers.reports.len(), 12);
    }
}

#[test]
fn the_led_tells_the_state() {
    let Some(bench) = Bench::build(Part::Mega, &[]) else {
        return;
    };
    let mut script = String::new();
    let watch = |script: &mut String, looks: usize, steps: usize| {
        for _ in 0..looks {
            let _ = writeln!(script, "quiet {steps}\nled");
        }
    };
    // Not at rest: on and off four times a second. At rest, the start condition not yet seen for long enough: slowly.
    codes(&mut script, Part::Mega, &[500, 100]);
    watch(&mut script, 32, 62);
    codes(&mut script, Part::Mega, &[170, 100]);
    watch(&mut script, 8, 250);
    watch(&mut script, 8, 250);
    codes(&mut script, Part::Mega, &[1023, 100]);
    watch(&mut script, 60, 250);
    let mut slow = blocks::guarded().numbers().clone();
    slow.start.samples = 2100;
    let led = bench.run(Some(&blocks::block(slow)), &script).led;
    let changes = |led: &[bool]| led.windows(2).filter(|pair| pair[0] != pair[1]).count();
    let (pressed, rest) = led.split_at(32);
    let (at_rest, rest) = rest.split_at(8);
    let (running, stopped) = rest.split_at(8);
    assert!((14..=17).contains(&changes(pressed)), "2 s: {pressed:?}");
    assert!((3..=4).contains(&changes(at_rest)), "2 s: {at_rest:?}");
    assert_eq!(running[2..], [true; 6], "{running:?}");
    // Between two pauses: eight flashes, the number of the cause.
    let shown: String = stopped
        .iter()
        .map(|on| if *on { '#' } else { '.' })
        .collect();
    assert!(shown.contains("....#.#.#.#.#.#.#.#......"), "{shown}");
}

/// The block compiled into flash gives the same as the block in the EEPROM, and is refused for the same reasons.
#[test]
fn a_block_in_flash_is_read_from_its_header() {
    let folder = tempfile::tempdir().unwrap();
    let build = |part: Part, name: &str, block: &Block| {
        let header = folder.path().join(name);
        std::fs::write(&header, formats::to_c_header(block, "in flash")).unwrap();
        Bench::build(part, &[("BLOCK", header.to_str().unwrap())])
    };
    let mut rows = vec![vec![164, 700]; 3];
    rows.extend([vec![400, 300], vec![860, 20], vec![512, 512]]);
    let mut other_board = blocks::straight().numbers().clone();
    other_board.board.rate_hz = 500;
    for part in Part::ALL {
        let mut script = String::new();
        for row in &rows {
            codes(&mut script, part, row);
            script.push_str("steps 1\n");
        }
        let Some(flash) = build(part, "block.h", &blocks::straight()) else {
            return;
        };
        // What lies in the EEPROM then counts for nothing.
        for in_eeprom in [None, Some(blocks::guarded())] {
            let answers = flash.run(in_eeprom.as_ref(), &script);
            assert_same(part, &blocks::straight(), &rows, &answers.steps);
            assert_eq!(answers.steps[4].dac, 4095);
        }
        let refused = build(part, "other.h", &Block::new(other_board.clone()).unwrap()).unwrap();
        for seen in refused.run(None, &script).steps {
            assert_eq!(
                (seen.dac, seen.state, seen.cause),
                (0, STOPPED, 6),
                "{part:?}"
            );
        }
    }
}

/// A pedal with a straight line and a dial with a curve of four pieces, both filtered.
fn usual() -> Block {
    let mut draft = blocks::draft(vec![
        blocks::factor(50, 1000, 100, 960, &[], 2),
        blocks::factor(
            50,
            1010,
            1000,
            90,
            &[(700, 9_000), (400, 18_000), (200, 26_000)],
            2,
        ),
    ]);
    draft.output.rise_q15 = 1;
    blocks::block(draft)
}

/// Two inputs with the longest curves that a core holds, the slowest filters, and limits: the slowest two-input step.
fn slowest() -> Block {
    let pedal: Vec<(u16, u16)> = (1..=7).map(|n| (100 + n * 100, n * 4000)).collect();
    let dial: Vec<(u16, u16)> = (1..=7).map(|n| (1000 - n * 110, n * 4000)).collect();
    let mut draft = blocks::draft(vec![
        blocks::factor(50, 1000, 100, 960, &pedal, 6),
        blocks::factor(50, 1010, 1000, 90, &dial, 6),
    ]);
    draft.output.rise_q15 = 1;
    let block = blocks::block(draft);
    assert_eq!(block.segments(), Build::default().segments);
    block
}

/// The same with a check track.
fn slowest_with_check() -> Block {
    let mut draft = slowest().numbers().clone();
    draft.inputs.push(blocks::check(20, 1000, 0, 0.5, 3, 600));
    blocks::block(draft)
}

/// Worst step over a sweep of both inputs, every command that differs: (fewest, most, whole with drivers, stack).
fn measure(bench: &Bench, block: &Block) -> [i64; 4] {
    let mut script = String::new();
    let row = |pedal: u16, dial: u16| [pedal, dial, pedal / 2 + 3];
    codes(&mut script, bench.part, &row(100, 1000));
    script.push_str("quiet 5\nclear\n");
    let mut rng = blocks::rng(13);
    for _ in 0..40 {
        for _ in 0..10 {
            codes(
                &mut script,
                bench.part,
                &row(rng.random_range(90..980), rng.random_range(60..1005)),
            );
            script.push_str("quiet 1\n");
        }
        codes(&mut script, bench.part, &row(959, 91)); // the last piece of both curves, once the filters are there
        script.push_str("quiet 20\n");
    }
    // Through the last pieces of both curves; every fourth sample is bad, so the next one also has a suspicion to take off.
    for n in 0..400_u16 {
        codes(&mut script, bench.part, &row(860 + n % 100, 230 - n % 139));
        script.push_str("quiet 3\n");
        codes(&mut script, bench.part, &row(49, 91));
        script.push_str("quiet 1\n");
    }
    codes(&mut script, bench.part, &row(959, 91));
    script.push_str("steps 1\nstats\n");
    let answers = bench.run(Some(block), &script);
    assert_eq!(answers.steps[0].state, State::Running as u8);
    let stats = &answers.stats[0];
    let period = i64::from(bench.part.hz() / 1000);
    assert!(
        stats["whole_max"] < period,
        "a step does not fit its period"
    );
    assert!(
        stats["period_max"] <= period + 20 && stats["period_min"] >= period - 20,
        "{stats:?}"
    );
    ["core_min", "core_max", "whole_max", "stack"].map(|name| stats[name])
}

/// What is printed and held: sizes in bytes, the longest step in cycles without the drivers.
struct Sizes {
    part: Part,
    core: u32,
    flash: u32,
    ram: u32,
    stack: u32,
    usual: i64,
    slowest: i64,
    checked: Option<i64>,
    whole: i64,
}

fn sizes(part: Part) -> Option<Sizes> {
    let bench = Bench::build(part, &[])?;
    let core = size(&bench.built("load.o")).0 + size(&bench.built("step.o")).0;
    let (flash, ram) = size(&bench.built("blend.elf"));
    let [_, usual, _, _] = measure(&bench, &usual());
    let [_, slowest, whole, stack] = measure(&bench, &slowest());
    let checked = (part.inputs() == 3).then(|| measure(&bench, &slowest_with_check())[1]);
    Some(Sizes {
        part,
        core,
        flash,
        ram,
        stack: u32::try_from(stack).unwrap(),
        usual,
        slowest,
        checked,
        whole,
    })
}

#[test]
fn sizes_and_cycles_stay_in_their_bounds() {
    let mut table = String::from(
        "| part | core flash | whole flash | static RAM | stack | usual step | slowest step | slowest of three inputs | \
         slowest with drivers |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    let Some(measured) = Part::ALL.into_iter().map(sizes).collect::<Option<Vec<_>>>() else {
        return;
    };
    for is in &measured {
        let _ = writeln!(
            table,
            "| {} | {} B | {} B | {} B | {} B | {} cycles | {} cycles | {} | {} of {} cycles |",
            is.part.mcu(),
            is.core,
            is.flash,
            is.ram,
            is.stack,
            is.usual,
            is.slowest,
            is.checked
                .map_or("-".to_owned(), |cycles| format!("{cycles} cycles")),
            is.whole,
            is.part.hz() / 1000,
        );
    }
    println!("{table}");
    let compiler = std::process::Command::new("avr-gcc")
        .arg("-dumpversion")
        .output()
        .unwrap();
    let readme = std::fs::read_to_string(avr::project().join("src/firmware/README.md")).unwrap();
    if compiler.stdout.starts_with(b"5.4") {
        assert!(
            readme.contains(&table),
            "src/firmware/README.md is behind: put this table into it"
        );
    }
    for is in measured {
        let (flash, ram, usual, slowest) = match is.part {
            Part::Mega => (32_768, 2048, 1000, 1180),
            Part::Tiny | Part::TinyAlone => (8192, 512, 1910, 2080),
        };
        let of = is.part;
        assert!(
            is.core <= 3072,
            "{of:?}: the core takes {} B of flash",
            is.core
        );
        assert!(
            is.flash <= flash && is.ram + is.stack <= ram,
            "{of:?}: does not fit"
        );
        assert!(
            is.usual <= usual && is.slowest <= slowest,
            "{of:?}: {} and {} cycles",
            is.usual,
            is.slowest
        );
    }
}
