//! What `wiring` takes for every built-in profile and for a potentiometer with everything around it; asked for: 2 s at most, 0.2 s
//! typical. `cargo bench --bench wiring`; the times are those of one thread on the machine at hand.
#![allow(missing_docs, clippy::unwrap_used)]

use pedalproof::profile::{self, BUILT_IN, Profile};
use pedalproof::wiring::WiringReport;
use std::time::Instant;

/// A potentiometer behind a divider, with both ends, both pulls, a series resistor and a load: ten tolerances.
const MOST: &str = r#"{"format":"profile/1","name":"everything","kind":"lever","card":["rest"],"supply_mv":5000,"tracks":{"1":{
    "wiring":{"network":"three-wire","track_ohm":10000,"track_tolerance_pct":20,"end_low_ohm":470,"end_high_ohm":470,
        "pull_down_ohm":100000,"pull_up_ohm":220000,"divider_top_ohm":10000,"divider_bottom_ohm":15000,"series_ohm":1000,
        "load_ohm":1000000,"tolerance_pct":5,"reference_mv":3300,"supply_tolerance_pct":5},"limits":{}}},
    "start":{"zero_command_at":"rest"},"stop_within_ms":50}"#;

fn main() {
    let built_in = BUILT_IN
        .iter()
        .map(|(name, _)| (*name, profile::find(name).unwrap()));
    let most = ("everything", Profile::from_json(MOST).unwrap());
    println!("{:28} {:>10} {:>10}", "", "windows ms", "report ms");
    for (name, profile) in built_in.chain([most]) {
        let control = profile.control_wiring(10);
        let least = |work: &dyn Fn()| {
            let times = (0..5).map(|_| {
                let begun = Instant::now();
                work();
                begun.elapsed().as_secs_f64() * 1e3
            });
            times.fold(f64::INFINITY, f64::min)
        };
        let windows = least(&|| drop(control.windows().unwrap()));
        let report = least(&|| drop(WiringReport::of(&control).unwrap()));
        println!("{name:28} {windows:10.1} {report:10.1}");
    }
}
