//! The streamer firmware, compiled and run on a simulated `ATmega328P`, read through a serial port: is what it
//! prints the stream of the contract, and do the numbers say what the pins saw?
//!
//! The lines are read by a small parser of the tests' own (`support/stream_lines.rs`), so that the format is checked
//! from outside and not by the program's decoder. Expected codes come from the injected millivolts: the simulated ADC
//! gives floor(mV x 1023 / vref) (its source, `avr_adc.c`), silicon mV x 1024 / vref.
#![cfg(target_os = "linux")]

use super::support::avr;
use super::support::avr::{AvrBoard, Firmware, Options, Pace, Power};
use super::support::stream_lines::{
    Line, complete_lines, parse, read_until_unplugged, samples, spacings,
};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::Read;
use std::time::{Duration, Instant};

/// A run of unpaced simulated time from boot to unplugging.
fn unpaced(seconds: u64, variables: &[(&'static str, &'static str)]) -> Options {
    Options {
        firmware: Firmware::Streamer(variables.to_vec()),
        pace: Pace::Unpaced,
        unplug_after: Some(Duration::from_secs(seconds)),
        ..Options::default()
    }
}

/// Piecewise-linear travel of a pedal with two tracks: rest, press in 0.3 s, hold, release, rest.
/// Pin 1 has half the voltage of pin 0.
const PEDAL: [(f64, f64); 6] = [
    (0.0, 800.0),
    (3000.0, 800.0),
    (3300.0, 4200.0),
    (7000.0, 4200.0),
    (7200.0, 800.0),
    (12_000.0, 800.0),
];

fn pedal_script() -> String {
    let mut script = String::from("# t_ms pin mV\n");
    for (t_ms, mv) in PEDAL {
        writeln!(script, "{t_ms} 0 {mv}\n{t_ms} 1 {}", mv / 2.0).unwrap();
    }
    script
}

fn pedal_mv(t_ms: f64) -> f64 {
    let leg = PEDAL
        .windows(2)
        .find(|leg| t_ms <= leg[1].0 || leg[1].0 >= 12_000.0)
        .expect("inside the script");
    let [(from_ms, from), (to_ms, to)] = [leg[0], leg[1]];
    from + (to - from) * (t_ms - from_ms) / (to_ms - from_ms)
}

fn code_of(mv: f64) -> f64 {
    (mv.round() * 1023.0 / 5000.0).floor()
}

#[test]
fn a_megabaud_run_is_whole_on_time_and_true() {
    let Some(board) = AvrBoard::start(&pedal_script(), &unpaced(12, &[])) else {
        return;
    };
    let bytes = read_until_unplugged(board.path());
    let lines = complete_lines(&bytes); // none bad, or this fails
    let samples = samples(&lines);
    assert!(samples.len() >= 11_990, "{} samples", samples.len());

    // Even spacing, and nothing missing.
    assert_eq!(samples[0].0, 1000);
    assert_eq!(
        spacings(&samples),
        BTreeMap::from([(1000, samples.len() - 1)])
    );

    // The first line is a header, and so is every 1001st.
    for (at, line) in lines.iter().enumerate() {
        let due = at % 1001 == 0;
        assert_eq!(matches!(line, Line::Header(_)), due, "line {at}: {line:?}");
    }
    let Line::Header(header) = &lines[0] else {
        panic!("no header")
    };
    let expected = [
        ("bits", "10"),
        ("cols", "t_us,pedal_a,pedal_b"),
        ("rate_hz", "1000"),
        ("vref_mv", "5000"),
    ];
    let got: Vec<_> = header
        .iter()
        .map(|(k, v)| (k.as_str(), v.as_str()))
        .collect();
    assert_eq!(got, expected);

    // By hand: 800 x 1023 / 5000 = 163.68, 4200 x 1023 / 5000 = 859.32, halves 81.84 and 429.66.
    assert_eq!(samples[100].1, [163, 81]);
    assert_eq!(samples[5000].1, [859, 429]);

    // The sampling instants as the simulator saw them. The first pin's is the timer tick, to the
    // instruction (a simulated event waits for the end of an instruction, up to 4 cycles); the second's
    // is 13 ADC clocks of 128 cycles and one interrupt later.
    let record = board.finish();
    let near_period = 15_992..=16_008;
    let [first, second] = record.pins.as_slice() else {
        panic!("{record:?}")
    };
    for pin in [first, second] {
        assert!(near_period.contains(&pin.gap_cycles.0), "{pin:?}");
        assert!(near_period.contains(&pin.gap_cycles.1), "{pin:?}");
    }
    assert_eq!((first.pin, first.after_tick_cycles), (0, (0, 0)));
    let one_conversion = 13 * 128..=13 * 128 + 128;
    assert_eq!(second.pin, 1);
    assert!(one_conversion.contains(&second.after_tick_cycles.0));
    assert!(one_conversion.contains(&second.after_tick_cycles.1));

    // Every code is the injected voltage of that pin's sampling instant. 0.1 mV allow for the instant
    // being known to the instruction only (17 mV/ms at most) and for the rounding to whole millivolts.
    let cycles_to_ms = |cycles: u64| f64::from(u32::try_from(cycles).unwrap()) / 16_000.0;
    let clock_zero_ms = cycles_to_ms(record.first_tick_cycle) - 1.0;
    for (t_us, codes) in &samples {
        let tick_ms = clock_zero_ms + f64::from(*t_us) / 1000.0;
        let later_ms = cycles_to_ms(second.after_tick_cycles.0);
        let truths = [pedal_mv(tick_ms), pedal_mv(tick_ms + later_ms) / 2.0];
        assert_eq!(codes.len(), truths.len());
        for (code, mv) in codes.iter().zip(truths) {
            let possible = code_of(mv - 0.1)..=code_of(mv + 0.1);
            assert!(
                possible.contains(&f64::from(*code)),
                "t {t_us} us: code {code}, {mv} mV"
            );
        }
    }
}

#[test]
fn the_115200_baud_build_samples_at_400_hz() {
    let options = unpaced(5, &[("BAUD", "115200")]);
    let Some(board) = AvrBoard::start("0 0 5000\n0 1 2500\n", &options) else {
        return;
    };
    let lines = complete_lines(&read_until_unplugged(board.path()));
    let samples = samples(&lines);
    assert!(samples.len() >= 1990, "{} samples", samples.len());
    assert_eq!(
        spacings(&samples),
        BTreeMap::from([(2500, samples.len() - 1)])
    );
    let Line::Header(header) = &lines[0] else {
        panic!("no header")
    };
    assert_eq!(header["rate_hz"], "400");
    assert!(samples.iter().all(|(_, codes)| *codes == [1023, 511]));
}

#[test]
fn the_clock_wraps_at_two_to_the_32() {
    // 4 294 967 296 - 4 294 000 000 = 967 296 us after power-up.
    let options = unpaced(2, &[("T0_US", "4294000000UL")]);
    let Some(board) = AvrBoard::start("", &options) else {
        return;
    };
    let samples = samples(&complete_lines(&read_until_unplugged(board.path())));
    assert_eq!(samples[0].0, 4_294_001_000);
    assert_eq!(samples[966].0, 4_294_967_000);
    assert_eq!(samples[967].0, 704);
    assert_eq!(
        spacings(&samples),
        BTreeMap::from([(1000, samples.len() - 1)])
    );
}

#[test]
fn eight_channels_of_long_numbers_fit_in_a_millisecond() {
    let channels = "X(a,0) X(b,1) X(c,2) X(d,3) X(e,4) X(f,5) X(g,6) X(h,7)";
    let options = unpaced(3, &[("CHANNELS", channels), ("T0_US", "3999999999UL")]);
    let script: String = (0..8).fold(String::new(), |mut script, pin| {
        writeln!(script, "0 {pin} {}", 4900 + 10 * pin).unwrap();
        script
    });
    let Some(board) = AvrBoard::start(&script, &options) else {
        return;
    };
    let samples = samples(&complete_lines(&read_until_unplugged(board.path())));
    assert!(samples.len() >= 2990, "{} samples", samples.len());
    assert_eq!(
        spacings(&samples),
        BTreeMap::from([(1000, samples.len() - 1)])
    );
    // floor((4900 + 10 pin) x 1023 / 5000)
    let expected = [1002, 1004, 1006, 1008, 1010, 1012, 1014, 1016];
    assert!(samples.iter().all(|(_, codes)| *codes == expected));
}

#[test]
fn a_line_that_finds_no_room_is_missing_as_a_whole() {
    let options = unpaced(
        10,
        &[("BAUD", "115200"), ("RATE_HZ", "1000"), ("OVERRUN", "1")],
    );
    let Some(board) = AvrBoard::start("0 0 800\n0 1 400\n", &options) else {
        return;
    };
    let lines = complete_lines(&read_until_unplugged(board.path())); // no line is torn, or this fails
    let samples = samples(&lines);
    // 115200 baud carries some 600 of the 1000 lines.
    assert!(
        (5000..7000).contains(&samples.len()),
        "{} samples",
        samples.len()
    );
    let spacings = spacings(&samples);
    assert!(spacings.len() > 1, "nothing was dropped: {spacings:?}");
    assert!(
        spacings.keys().all(|us| us % 1000 == 0 && *us < 100_000),
        "{spacings:?}"
    );
    // Headers still come once a second of the board's clock, the first at boot.
    assert!(matches!(lines[0], Line::Header(_)));
    let headers = lines.len() - samples.len();
    assert!((9..=10).contains(&headers), "{headers} headers");
}

#[test]
fn settings_that_cannot_work_do_not_build() {
    if !avr::tools_are_here() {
        return;
    }
    let into = tempfile::tempdir().unwrap();
    for (variables, why) in [
        (
            &[("BAUD", "115200"), ("RATE_HZ", "1000")][..],
            "BAUD cannot carry",
        ),
        (&[("BAUD", "921600")], "BAUD cannot be made"),
        (&[("RATE_HZ", "300")], "must divide one million"),
        (&[("RATE_HZ", "10")], "too low"),
        (
            &[
                ("RATE_HZ", "2000"),
                ("CHANNELS", "X(a,0) X(b,1) X(c,2) X(d,3) X(e,4)"),
            ],
            "too high",
        ),
        (
            &[(
                "CHANNELS",
                "X(a,0) X(b,1) X(c,2) X(d,3) X(e,4) X(f,5) X(g,6) X(h,7) X(i,0)",
            )],
            "one to eight",
        ),
        (
            &[(
                "CHANNELS",
                "X(a_name_of_more_than_fifty_characters_is_too_long_for_it,0) X(another_name_of_more_than_fifty_characters_is_too_long,1)",
            )],
            "header_fits_in_a_line",
        ),
    ] {
        let words = avr::make("streamer", variables, into.path()).unwrap_err();
        assert!(words.contains(why), "{variables:?} said {words}");
    }
}

#[test]
fn injected_noise_is_what_the_script_says() {
    // 40 mV are 8.184 codes; rounding down to whole codes adds 1/12 to the variance and takes 1/2 from
    // the mean. Ten thousand independent samples: 5 sigma of the estimates are 0.41 and 0.29.
    let Some(board) = AvrBoard::start("0 0 2500\nnoise 0 40\n", &unpaced(10, &[])) else {
        return;
    };
    let codes: Vec<f64> = samples(&complete_lines(&read_until_unplugged(board.path())))
        .iter()
        .map(|(_, codes)| f64::from(codes[0]))
        .collect();
    #[allow(clippy::cast_precision_loss)] // about 10 000
    let n = codes.len() as f64;
    let mean = codes.iter().sum::<f64>() / n;
    let sd = (codes.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    assert!(
        (mean - (2500.0 * 1023.0 / 5000.0 - 0.5)).abs() < 0.41,
        "{mean}"
    );
    assert!(
        (sd - (8.184_f64.powi(2) + 1.0 / 12.0).sqrt()).abs() < 0.29,
        "{sd}"
    );
}

#[test]
fn a_late_listener_joins_a_running_board_and_unplugging_ends_the_stream() {
    let options = Options {
        power: Power::AtOnce,
        unplug_after: Some(Duration::from_secs(4)),
        ..Options::default()
    };
    let started = Instant::now();
    let Some(board) = AvrBoard::start("0 0 800\n", &options) else {
        return;
    };
    std::thread::sleep(Duration::from_millis(500));
    let bytes = read_until_unplugged(board.path());
    // Real time: never faster than the clock.
    assert!(started.elapsed() >= Duration::from_secs(4));

    // What lay in the pseudo-terminal before, then a jump, then the running stream with a header.
    let text = String::from_utf8(bytes).unwrap();
    let lines: Vec<Result<Line, String>> = text.lines().map(parse).collect();
    let good: Vec<Line> = lines.iter().flatten().cloned().collect();
    assert!(lines.len() - good.len() <= 3, "more than the seams is bad");
    let samples = samples(&good);
    let jumps = spacings(&samples).into_iter().filter(|(us, _)| *us != 1000);
    assert!(jumps.map(|(_, n)| n).sum::<usize>() <= 3);
    assert!(
        samples.last().unwrap().0 >= 3_990_000,
        "{:?}",
        samples.last()
    );
    let headers = good.len() - samples.len();
    assert!(headers >= 3, "{headers} headers");
}

#[test]
fn a_board_wired_to_reset_starts_again_at_every_opening() {
    let options = Options {
        pace: Pace::RealTime,
        reset_on_open: true,
        ..Options::default()
    };
    let Some(board) = AvrBoard::start("0 0 800\n", &options) else {
        return;
    };
    for _ in 0..2 {
        // Shared: a process that another test is starting holds our open files, and an exclusive lock with them, until
        // it runs its own program.
        let mut port = serialport::new(board.path(), 1_000_000)
            .exclusive(false)
            .timeout(Duration::from_secs(10))
            .open()
            .unwrap();
        let mut text = String::new();
        let mut chunk = [0; 512];
        let boot = loop {
            let count = port.read(&mut chunk).unwrap();
            text.push_str(std::str::from_utf8(&chunk[..count]).unwrap());
            if let Some(at) = text.find("# pedalproof 1 ")
                && text[at..].matches('\n').count() >= 300
            {
                break text[at..].to_owned();
            }
        };
        let lines = complete_lines(boot.as_bytes());
        assert_eq!(samples(&lines)[0].0, 1000);
    }
}
