//! The enable line on the drawing: pump, transistor, relay, and its contact in the motor controller's enable wire.

use super::pen::{Lie, PART, Pen};

/// How far above the enable line the relay's coil begins.
const ABOVE: f64 = 100.0;
/// The transistor's drain and source, and the coil above them.
const DRAIN: f64 = 1030.0;

/// From the part's right edge at the height `row` to the controller's left edge.
pub fn draw(pen: &mut Pen, row: f64, from: f64, to: f64) {
    pump(pen, row, from);
    relay(pen, row, to);
}

fn pump(pen: &mut Pen, row: f64, from: f64) {
    pen.wire(&[(from, row), (640.0, row)]);
    pen.resistor(640.0, row, Lie::Across, "100 \u{3a9}");
    pen.capacitor(700.0, row, Lie::Across, "470 nF");
    pen.joint(770.0, row);
    pen.wire(&[(760.0, row), (780.0, row)]);
    pen.diode(770.0, row, Lie::Down, "Schottky");
    pen.ground(770.0, row + PART);
    pen.diode(780.0, row, Lie::Across, "Schottky");
    pen.wire(&[(840.0, row), (DRAIN - 30.0, row)]);
    pen.capacitor(865.0, row, Lie::Down, "470 nF");
    pen.ground(865.0, row + PART);
    pen.joint(865.0, row);
    pen.down(935.0, row, "10 k\u{3a9}");
}

/// The transistor pulls the coil; the coil closes the contact; the diode takes the coil's current when it lets go.
fn relay(pen: &mut Pen, row: f64, to: f64) {
    let coil = row - ABOVE;
    let (drain, contact) = (coil + PART, DRAIN + 65.0);
    pen.mosfet(DRAIN, row);
    pen.text(DRAIN + 10.0, row + 4.0, "MOSFET", "start");
    pen.wire(&[(DRAIN, drain), (DRAIN, row - 10.0)]);
    pen.wire(&[(DRAIN, row + 10.0), (DRAIN, row + 30.0)]);
    pen.ground(DRAIN, row + 30.0);
    pen.resistor(DRAIN, coil, Lie::Down, "");
    pen.text(DRAIN + 10.0, coil + 20.0, "relay", "start");
    pen.wire(&[(DRAIN, coil), (DRAIN, coil - 15.0)]);
    pen.supply(DRAIN, coil - 15.0, "5 V, 100 nF");
    let diode = DRAIN - 75.0;
    pen.diode(diode, coil, Lie::Down, "1N4148");
    for y in [coil, drain] {
        pen.wire(&[(diode, y), (DRAIN, y)]);
        pen.joint(DRAIN, y);
    }
    pen.linked(
        (DRAIN + 6.0, coil + PART / 2.0),
        (contact - 5.0, coil + PART / 2.0),
    );
    pen.contact(contact, coil, PART);
    for (y, words) in [(coil, "enable"), (coil + PART, "enable, back")] {
        pen.wire(&[(contact, y), (to, y)]);
        pen.text(to + 8.0, y + 4.0, words, "start");
    }
    pen.text(to - 4.0, coil + PART + 16.0, "open at rest", "end");
}
