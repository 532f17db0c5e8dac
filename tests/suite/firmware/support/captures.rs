//! Captures of simulated units on disk, for tests that run the program on them.

use pedalproof::capture::Capture;
use simulator::{SimUnit, Simulation, scenario};
use std::path::Path;

/// Seconds that hold one whole card of a ready unit.
pub const CARD_S: f64 = 46.0;

/// The built-in profile of a ready unit, by the name that a capture has for it.
pub fn profile_of(unit: &str) -> &'static str {
    match unit.split_once('-').unwrap().1 {
        "dial" => "rheostat dial with pull-up",
        "lever" => "shunting lever, three-wire",
        _ => "hall pedal, two tracks, half slope",
    }
}

/// A whole card of a unit, with its profile named.
pub fn taken(unit: &SimUnit, seed: u64) -> Capture {
    let run = Simulation::new(unit, seed).unwrap().run(CARD_S);
    let mut capture = pedalproof::bench::simulated_capture(&run, None);
    capture.meta.unit.profile = Some(profile_of(&unit.tag).to_owned());
    capture
}

/// A capture of a ready unit as `NAME.csv` in a folder.
pub fn write_unit(dir: &Path, unit: &str, seed: u64) -> String {
    let file = format!("{unit}.csv");
    write(&taken(&scenario(unit).unwrap(), seed), &dir.join(&file));
    file
}

/// A capture on disk.
pub fn write(capture: &Capture, csv: &Path) {
    pedalproof::bench::write_capture(capture, csv).unwrap();
}
