//! One drawing of the whole board: controls at the left, the part in the middle, DAC, pump, relay and controller at the right.

use super::enable;
use super::parts::{Control, Line, SERIES_OHM, ohms};
use super::pen::{Lie, PART, Pen};

/// Height of one signal wire's row.
const ROW: f64 = 170.0;
const WIDTH: f64 = 1270.0;
/// The part's frame.
const LEFT: f64 = 490.0;
const RIGHT: f64 = 620.0;
/// Left edge of the motor controller.
const CONTROLLER: f64 = 1130.0;
const TOP: f64 = 60.0;
/// Where the pull-ups of the DAC's wires begin.
const PULL_UPS: f64 = 50.0;
/// Least height, for what is at the right.
const LEAST: f64 = 760.0;

/// The board as SVG.
pub fn svg(controls: &[Control], title: &str) -> String {
    let mut pen = Pen::new();
    let rows: f64 = controls.iter().map(|control| ROW * count(control)).sum();
    let height = (rows + 120.0).max(LEAST);
    pen.frame(
        (LEFT, TOP),
        (RIGHT - LEFT, height - TOP - 60.0),
        "ATmega328P, 16 MHz, 5 V",
    );
    let mut y = TOP + 20.0;
    for control in controls {
        draw_control(&mut pen, control, y);
        y += ROW * count(control);
    }
    pen.text(LEFT + 10.0, height - 110.0, "5 V: 100 nF and", "start");
    pen.text(LEFT + 10.0, height - 94.0, "100 \u{b5}F to ground", "start");
    pen.text(LEFT + 10.0, height - 74.0, "AREF: its capacitor", "start");
    dac(&mut pen);
    controller(&mut pen);
    pin(&mut pen, ENABLE, "D7 enable");
    enable::draw(&mut pen, ENABLE, RIGHT, CONTROLLER);
    let words = [
        "While it runs D7 changes its level in every step. Anything else lets the relay go.",
        "Emergency stop and fuse belong into the motor's own supply, not here.",
    ];
    for (words, below) in words.into_iter().zip([100.0, 82.0]) {
        pen.text(660.0, height - below, words, "start");
    }
    pen.text(20.0, height - 14.0, "Every ground is one wire: board, DAC, controls, relay and motor controller. A 5 V sign is the board's 5 V.", "start");
    pen.finish(WIDTH, height, title)
}

#[allow(clippy::cast_precision_loss)] // a few wires
fn count(control: &Control) -> f64 {
    control.lines.len() as f64
}

fn draw_control(pen: &mut Pen, control: &Control, y: f64) {
    let height = ROW * count(control) - 40.0;
    pen.frame((20.0, y + 10.0), (120.0, height), "");
    pen.text(20.0, y + 4.0, &shortened(&control.name), "start");
    for (row, line) in (0_u8..).zip(&control.lines) {
        signal(pen, line, y + ROW * f64::from(row) + 75.0);
    }
    let bottom = y + 10.0 + height;
    pen.text(130.0, bottom - 8.0, "ground", "end");
    pen.wire(&[(140.0, bottom - 12.0), (160.0, bottom - 12.0)]);
    pen.ground(160.0, bottom - 12.0);
    if !control.two_wires {
        pen.text(130.0, y + 29.0, "5 V", "end");
        pen.wire(&[(140.0, y + 25.0), (160.0, y + 25.0)]);
        pen.supply(160.0, y + 25.0, "5 V");
        pen.text(130.0, y + 46.0, "100 nF at plug", "end");
    }
}

/// A name of a profile, as long as there is room for.
fn shortened(name: &str) -> String {
    const MOST: usize = 34;
    if name.chars().count() <= MOST {
        return name.to_owned();
    }
    let start: String = name.chars().take(MOST - 1).collect();
    format!("{}\u{2026}", start.trim_end())
}

/// From a control's signal to its pin, with its pulls, its series resistor and its filter.
fn signal(pen: &mut Pen, line: &Line, y: f64) {
    pen.text(130.0, y + 4.0, &line.name, "end");
    let wiring = line.wiring;
    let mut x = 140.0;
    if let Some(divider) = wiring.and_then(|wiring| wiring.divider) {
        pen.wire(&[(x, y), (x + 30.0, y)]);
        pen.resistor(x + 30.0, y, Lie::Across, &ohms(divider.top_ohm));
        x += 30.0 + PART;
        pen.down(x + 20.0, y, &ohms(divider.bottom_ohm));
        pen.wire(&[(x, y), (x + 20.0, y)]);
        x += 20.0;
    }
    let node = 250.0_f64.max(x);
    pen.wire(&[(x, y), (node, y)]);
    if let Some(ohm) = wiring.and_then(|wiring| wiring.network.pull_up_ohm()) {
        pen.resistor(node, y - PART, Lie::Down, &ohms(ohm));
        pen.supply(node, y - PART, "5 V");
        pen.joint(node, y);
    }
    if let Some(ohm) = wiring.and_then(|wiring| wiring.pull_down_ohm) {
        pen.down(node, y, &ohms(ohm));
    }
    let series = wiring
        .and_then(|wiring| wiring.series_ohm)
        .unwrap_or(SERIES_OHM);
    pen.wire(&[(node, y), (320.0, y)]);
    pen.resistor(320.0, y, Lie::Across, &ohms(series));
    let filter = 320.0 + PART + 20.0;
    pen.wire(&[(320.0 + PART, y), (LEFT, y)]);
    pen.capacitor(filter, y, Lie::Down, &format!("{} nF", line.filter_nf()));
    pen.ground(filter, y + PART);
    pen.joint(filter, y);
    pen.text(LEFT + 8.0, y + 4.0, &line.pin, "start");
}

fn pin(pen: &mut Pen, y: f64, name: &str) {
    pen.text(RIGHT - 8.0, y + 4.0, name, "end");
}

/// Row of the enable line.
const ENABLE: f64 = 490.0;
/// Row of the DAC's output.
const OUT: f64 = 190.0;

/// The DAC, its two wires with their pull-ups, its output with the load, and the read-back.
fn dac(pen: &mut Pen) {
    let (sda, scl, back) = (170.0, 210.0, 330.0);
    pen.frame((780.0, 140.0), (110.0, 100.0), "12-bit DAC");
    pen.wire(&[(875.0, 140.0), (875.0, 90.0)]);
    pen.supply(875.0, 90.0, "5 V");
    pen.joint(875.0, 110.0);
    pen.capacitor(875.0, 110.0, Lie::Across, "100 nF");
    pen.ground(875.0 + PART, 110.0);
    pen.wire(&[(835.0, 240.0), (835.0, 255.0)]);
    pen.ground(835.0, 255.0);
    for (y, name, x) in [(sda, "A4 SDA", 650.0), (scl, "A5 SCL", 720.0)] {
        pin(pen, y, name);
        pen.wire(&[(RIGHT, y), (780.0, y)]);
        pen.resistor(x, PULL_UPS, Lie::Down, "4.7 k\u{3a9}");
        pen.wire(&[(x, PULL_UPS + PART), (x, y)]);
        pen.supply(x, PULL_UPS, "5 V");
        pen.joint(x, y);
        pen.text(788.0, y + 4.0, &name[3..], "start");
    }
    pen.text(882.0, OUT + 4.0, "OUT", "end");
    pen.resistor(890.0, OUT, Lie::Across, "100 \u{3a9}");
    pen.wire(&[(890.0 + PART, OUT), (CONTROLLER, OUT)]);
    pen.down(1030.0, OUT, "10 k\u{3a9}");
    pen.joint(970.0, OUT);
    pen.wire(&[(970.0, OUT), (970.0, back), (800.0, back)]);
    pen.resistor(740.0, back, Lie::Across, "10 k\u{3a9}");
    pen.wire(&[(740.0, back), (RIGHT, back)]);
    pin(pen, back, "A3 read-back");
    pin(pen, 380.0, "D13 LED");
}

/// The motor controller with its three wires' names.
fn controller(pen: &mut Pen) {
    pen.frame((CONTROLLER, 140.0), (120.0, 350.0), "motor controller");
    pen.text(CONTROLLER + 8.0, OUT + 4.0, "throttle", "start");
    pen.text(CONTROLLER + 8.0, 304.0, "ground", "start");
    pen.wire(&[(CONTROLLER, 300.0), (CONTROLLER - 25.0, 300.0)]);
    pen.ground(CONTROLLER - 25.0, 300.0);
}
