//! The build page of the board that drives a motor: parts, drawing, pins, fuses, flashing, first power-up, LED. From profiles and,
//! where there is one, a constants file.

mod drawing;
mod enable;
mod parts;
mod pen;

pub(super) use parts::scaled_ohms;

use super::SAFETY;
use crate::constants::Block;
use crate::profile::Profile;
use parts::{Control, Line, controls, list};
use std::fmt::Write as _;

/// What is built: the controls in the order of the pins.
pub struct Build<'a> {
    pub profiles: &'a [Profile],
    pub block: Option<&'a Block>,
}

/// The drawing of the whole board.
pub fn drawing(of: &Build<'_>) -> String {
    let names: Vec<&str> = of
        .profiles
        .iter()
        .map(|profile| profile.name.as_str())
        .collect();
    drawing::svg(
        &controls(of.profiles),
        &format!("Board that drives: {}", names.join(", ")),
    )
}

/// The page in Markdown. `firmware` is the program's file beside it, `drawing` the drawing's.
pub fn page(of: &Build<'_>, firmware: &str, drawing: &str) -> String {
    let controls = controls(of.profiles);
    let sections = [
        "# Build the board\n".to_owned(),
        format!("**{SAFETY}**\n"),
        "An evening's work: solder, flash, check with a meter, prove. The firmware was tried with faults made on purpose, on a simulated \
         AVR only and on no soldered board; it is no certified part.\n"
            .to_owned(),
        format!("![Drawing of the whole board]({drawing})\n"),
        part_list(&controls),
        pins(&controls),
        three_wires(&controls),
        flashing(firmware),
        checks(&controls, of.block),
        LED.to_owned(),
        WORTH.to_owned(),
    ];
    sections.join("\n")
}

fn cell(text: &str) -> String {
    let plain = text.replace('|', "/");
    plain
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

fn part_list(controls: &[Control]) -> String {
    let mut text = "## Parts\n\n| n | what | where |\n| --- | --- | --- |\n".to_owned();
    for (n, what, place) in list(controls) {
        let _ = writeln!(text, "| {n} | {} | {} |", cell(&what), cell(&place));
    }
    text + "\nResistors of a quarter of a watt; 1 % where the fault limits rest on them, or the tolerance that the profile states.\n"
}

fn pins(controls: &[Control]) -> String {
    let mut text = "## Pins\n\n| pin | what |\n| --- | --- |\n".to_owned();
    for (control, line) in lines(controls) {
        let _ = writeln!(
            text,
            "| {} | {} of \"{}\" |",
            line.pin,
            line.name,
            cell(&control.name)
        );
    }
    text + "| A3 | read-back of the DAC's output |\n| A4, A5 | SDA, SCL of the DAC |\n| D7 | enable line, to the pump |\n\
            | D13 | status LED |\n| AREF | its capacitor, nothing else: any other voltage there is a short circuit |\n\
            \nThe order of A0, A1, A2 is that of the constants file: `pedalproof constants` takes its recordings in the order of the pins.\n"
}

fn lines(controls: &[Control]) -> impl Iterator<Item = (&Control, &Line)> {
    controls
        .iter()
        .flat_map(|control| control.lines.iter().map(move |line| (control, line)))
}

/// Two wires of a potentiometer where three would do.
fn three_wires(controls: &[Control]) -> String {
    if !controls.iter().any(|control| control.two_wires) {
        return String::new();
    }
    "## Two wires or three\n\nA potentiometer on two wires wears in its own way: the resistance of its contact adds to the track's, and \
     **a worn contact asks for more speed**, inside the valid range where no window can see it. On a track of 10 k\u{3a9} every 1 k\u{3a9} \
     of contact is 10 % of full command too much: a fifth more than asked at half travel, two fifths at a quarter. **Use three wires \
     wherever there is a third terminal**: then the contact carries no current, and wear only makes noise. `pedalproof wiring` shows both; \
     `pedalproof constants` says from which resistance it matters.\n"
        .to_owned()
}

fn flashing(firmware: &str) -> String {
    format!(
        "## Flash it\n\n**With an ISP programmer, not over a bootloader**: the usual ones hold the output for 1.3 to 1.4 s after a reset, \
         forget why the board was reset, and one never comes back from a watchdog's reset. In this order:\n\n\
         \x20   avrdude -p m328p -c YOUR_PROGRAMMER -U lfuse:w:0xFF:m -U hfuse:w:0xD9:m -U efuse:w:0xFC:m\n\
         \x20   avrdude -p m328p -c YOUR_PROGRAMMER -U flash:w:{firmware}:i -U eeprom:w:my_block.hex:i\n\n\
         The first line: crystal, no boot section, brown-out at 4.3 V. `my_block.hex` comes from `pedalproof constants --format ihex`. \
         `{firmware}` is the usual configuration: three inputs, 1000 steps a second, DAC address 0x60; anything else: \
         `make -C boards` (see README.md).\n\nA serial bootloader writes no EEPROM. Without a programmer the constants can only be compiled in \
         (`make -C boards BLOCK=../my_block.h`), and **the enable line is then the only thing that stops the drive during a reset**.\n"
    )
}

/// What is measured, in order, before a controller is connected.
fn checks(controls: &[Control], block: Option<&Block>) -> String {
    let mut steps = vec![
        "No power, meter on ohms: 5 V to ground above 100 \u{3a9}; every ground to every other below 1 \u{3a9}.".to_owned(),
        "No power: gate to ground 10 k\u{3a9}; DAC output to ground about 10 k\u{3a9}.".to_owned(),
        "Power, no chip flashed yet, controller not connected: 5 V between 4.75 and 5.25 V; the relay is off.".to_owned(),
    ];
    for (_, line) in lines(controls) {
        for (when, volts) in [("at rest", line.rest_v), ("fully operated", line.full_v)] {
            if let Some([low, high]) = volts {
                steps.push(format!(
                    "{} {when}: {low:.2} to {high:.2} V at {}.",
                    line.name, line.pin
                ));
            }
        }
        steps.push(format!(
            "Unplug {}: the voltage at {} must leave that range (0 V or 5 V, as its pull says).",
            line.name, line.pin
        ));
    }
    steps.push("Flash program and constants. LED: half a second on, half a second off; DAC output 0 V; relay off.".to_owned());
    let range = block.map(|block| {
        let (board, output) = (block.numbers().board, block.numbers().output);
        let volts = |code: u16| f64::from(code) / f64::from(1_u32 << board.dac_bits) * 5.0;
        (volts(output.zero_dac), volts(output.full_dac))
    });
    steps.push(match range {
        Some((zero, full)) => format!(
            "Let everything rest: LED on, relay on, DAC output {zero:.2} V. Press slowly: it follows, up to {full:.2} V (of 5.00 V)."
        ),
        None => "Let everything rest: LED on, relay on, DAC output at the constants file's zero. Press slowly: it follows (`pedalproof blend` says how far).".to_owned(),
    });
    steps.push("Hold it pressed and unplug the first signal wire: output 0 V and relay off at once, LED flashes 8 times. It stays so until the power is switched off and on.".to_owned());
    steps.push(
        "Hold it pressed and unplug SDA: the relay lets go although the output stands.".to_owned(),
    );
    steps.push(
        "Hold it pressed and touch reset: output 0 V, relay off, LED flashes 12 times.".to_owned(),
    );
    steps.push("Only now the controller, wheels off the ground, and `pedalproof prove` with and without `--faults`.".to_owned());
    let mut text = "## First power-up, with a meter, in this order\n\n".to_owned();
    for (n, step) in steps.iter().enumerate() {
        let _ = writeln!(text, "{}. {step}", n + 1);
    }
    text
}

const LED: &str = "## What the LED says

| LED | state |
| --- | --- |
| half a second on, half a second off | waiting for the pedal to be seen at zero |
| on and off four times a second | waiting: **the pedal is not at zero** (or a reading is bad). Let it go; if that does not help, its constants no longer fit |
| on | running |
| n short flashes, pause | stopped by cause n: 1 to 7 the constants, 8 an input outside its window, 9 the tracks disagree, 10 the DAC does not answer, 11 the program had hung or does not keep up, 12 a reset while it ran, 13 the DAC does not keep 0, 14 the DAC's output is not what was written, 15 the supply is off, 16 a bit of memory has changed |
";

const WORTH: &str = "## What this chain is worth

It takes the ideas of a monitored single channel (category 2 of ISO 13849-1) and of monitoring in levels as road vehicles have it (both
from memory), and **claims no performance level**. It does not see one sensor that is stuck inside its range, a welded relay, a
controller that ignores both its inputs, or **a loose contact between the enable pin and the controller: when it closes again, the drive
comes back at what the pedal asks for**. To add for that: a second track of another slope, a relay with a read-back contact or two in
series, a controller that wants the throttle released after its enable input came back, a contactor in the motor's supply, and always the
emergency stop that passes through none of this. A contact that is lost for
3 ms is no stop: the output holds meanwhile and does not rise; a loss as long as the constants' persistence stops the board for good.
";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::{BUILT_IN, find};

    /// Every resistor that a profile's wiring names is on the drawing and in the list of parts.
    #[test]
    fn what_the_fault_limits_rest_on_is_drawn_and_listed() {
        for (name, _) in BUILT_IN {
            let profiles = [find(name).unwrap()];
            let build = Build {
                profiles: &profiles,
                block: None,
            };
            let (svg, page) = (drawing(&build), page(&build, "blend.hex", "board.svg"));
            for part in profiles[0].tracks.values() {
                let Some(wiring) = part.wiring else { continue };
                let pulls = [
                    wiring.network.pull_up_ohm(),
                    wiring.pull_down_ohm,
                    wiring.divider.map(|of| of.bottom_ohm),
                ];
                for ohm in pulls.into_iter().flatten() {
                    let words = parts::ohms(ohm);
                    assert!(
                        svg.contains(&words) && page.contains(&words),
                        "{name}: {words}"
                    );
                }
            }
        }
    }

    /// By hand: 4700 -> 4.7 k, 100000 -> 100 k, 330 -> 330, 2.2e6 -> 2.2 M.
    #[test]
    fn values_read_as_on_a_drawing() {
        for (ohm, words) in [
            (4700.0, "4.7 kΩ"),
            (1e5, "100 kΩ"),
            (330.0, "330 Ω"),
            (2.2e6, "2.2 MΩ"),
        ] {
            assert_eq!(parts::ohms(ohm), words);
        }
    }

    #[test]
    fn a_name_of_a_profile_cannot_break_the_drawing() {
        assert_eq!(
            pen::escaped("<a & \"b\">\u{1b}"),
            "&lt;a &amp; &quot;b&quot;&gt; "
        );
    }
}
