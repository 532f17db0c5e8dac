//! From wiper travel to the voltage at the ADC pin: sensor, pull resistors, series resistor, load.
//!
//! Plain circuit theory: one node with conductances to supply and ground. Everything is a fraction of the supply.

/// What turns position into a voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sensor {
    /// A driven output, as of a hall sensor: a fraction of the supply through `output_ohm`.
    Source {
        /// Fraction of the supply at rest.
        rest_ratio: f64,
        /// Fraction of the supply fully operated.
        full_ratio: f64,
        /// Output resistance in ohms.
        output_ohm: f64,
    },
    /// A three-wire potentiometer between ground and supply.
    Potentiometer {
        /// Resistance of the whole track in ohms.
        track_ohm: f64,
        /// Resistance between the track's low end and ground in ohms.
        low_end_ohm: f64,
        /// Resistance between the track's high end and the supply in ohms.
        high_end_ohm: f64,
        /// Where on the track the wiper stands at rest, 0 at the low end.
        rest_at: f64,
        /// Where on the track the wiper stands fully operated.
        full_at: f64,
    },
    /// A track wired as a variable resistor from the signal to ground.
    Rheostat {
        /// Resistance of the whole track in ohms.
        track_ohm: f64,
        /// Resistance in series with the track in ohms (end resistance).
        end_ohm: f64,
        /// Where on the track the wiper stands at rest, 0 at the end of no resistance.
        rest_at: f64,
        /// Where on the track the wiper stands fully operated.
        full_at: f64,
    },
}

/// A sensor with the resistors around it. The pulls sit at the board's end of the signal wire, then `series_ohm`, then the
/// pin with `load_ohm` to ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Network {
    /// The sensor.
    pub sensor: Sensor,
    /// Pull-up to the supply in ohms.
    pub pull_up_ohm: Option<f64>,
    /// Pull-down to ground in ohms.
    pub pull_down_ohm: Option<f64>,
    /// Between the signal wire and the pin, in ohms.
    pub series_ohm: f64,
    /// From the pin to ground in ohms.
    pub load_ohm: Option<f64>,
}

impl Network {
    /// The sensor alone: no pulls, no load.
    #[must_use]
    pub fn bare(sensor: Sensor) -> Self {
        Self {
            sensor,
            pull_up_ohm: None,
            pull_down_ohm: None,
            series_ohm: 0.0,
            load_ohm: None,
        }
    }

    /// The reading as a fraction of the supply with the control at `travel` (0 rest, 1 full).
    ///
    /// A driven source goes on in a straight line outside 0 ..= 1; a wiper stays on its track.
    pub(super) fn ratio(&self, travel: f64) -> f64 {
        let up = self.pull_up_ohm.map_or(0.0, |ohm| 1.0 / ohm);
        let load = self
            .load_ohm
            .map_or(0.0, |ohm| 1.0 / (self.series_ohm + ohm));
        let down = self.pull_down_ohm.map_or(0.0, |ohm| 1.0 / ohm) + load;
        let node = match self.sensor {
            Sensor::Source {
                rest_ratio,
                full_ratio,
                output_ohm,
            } => {
                let driven = rest_ratio + travel * (full_ratio - rest_ratio);
                (driven + up * output_ohm) / (1.0 + (up + down) * output_ohm)
            }
            Sensor::Potentiometer {
                track_ohm,
                low_end_ohm,
                high_end_ohm,
                rest_at,
                full_at,
            } => {
                let place = on_track(travel, rest_at, full_at);
                let below = low_end_ohm + place * track_ohm;
                let above = high_end_ohm + (1.0 - place) * track_ohm;
                below * (1.0 + above * up) / (below + above + below * above * (up + down))
            }
            Sensor::Rheostat {
                track_ohm,
                end_ohm,
                rest_at,
                full_at,
            } => {
                let ohm = end_ohm + on_track(travel, rest_at, full_at) * track_ohm;
                ohm * up / (1.0 + ohm * (up + down))
            }
        };
        match self.load_ohm {
            Some(ohm) => node * ohm / (self.series_ohm + ohm),
            None => node,
        }
    }
}

fn on_track(travel: f64, rest_at: f64, full_at: f64) -> f64 {
    (rest_at + travel * (full_at - rest_at)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    const IDEAL: &str = include_str!(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../tests/reference/31-ideal-networks.json"
    ));

    fn network(inputs: &Value) -> Network {
        let ohm = |key: &str| inputs[key].as_f64();
        let sensor = if let Some(output_ohm) = ohm("output_ohm") {
            Sensor::Source {
                rest_ratio: ohm("low_ratio").unwrap(),
                full_ratio: ohm("high_ratio").unwrap(),
                output_ohm,
            }
        } else {
            Sensor::Potentiometer {
                track_ohm: ohm("track_ohm").unwrap(),
                low_end_ohm: 0.0,
                high_end_ohm: 0.0,
                rest_at: 0.0,
                full_at: 1.0,
            }
        };
        Network {
            sensor,
            pull_up_ohm: ohm("pull_up_ohm"),
            pull_down_ohm: ohm("pull_down_ohm"),
            series_ohm: ohm("series_ohm").unwrap_or(0.0),
            load_ohm: ohm("load_ohm"),
        }
    }

    #[test]
    fn every_good_reading_of_the_ideal_networks() {
        // Source: reference file 31, exact nodal analysis confirmed with ngspice.
        let file: Value = serde_json::from_str(IDEAL).unwrap();
        let travels = file["inputs"]["travel"].as_array().unwrap();
        let mut checked = 0;
        for (name, inputs) in file["inputs"]["networks"].as_object().unwrap() {
            let mut built = network(inputs);
            if name.starts_with("dial") {
                built.sensor = Sensor::Rheostat {
                    track_ohm: 10_000.0,
                    end_ohm: 0.0,
                    rest_at: 0.0,
                    full_at: 1.0,
                };
            }
            let good = file["expected"]["readings"][name]["none"]
                .as_array()
                .unwrap();
            for (travel, reading) in travels.iter().zip(good) {
                let got = built.ratio(travel.as_f64().unwrap());
                let want = reading["ratio"].as_f64().unwrap();
                assert!(
                    (got - want).abs() < 1e-9,
                    "{name} at {travel}: {got}, not {want}"
                );
                checked += 1;
            }
        }
        assert_eq!(checked, 45);
    }

    #[test]
    fn end_resistances_and_a_part_of_the_track() {
        // By hand: 1 k + 20 k + 2 k; at rest on 10 % of the track 3 k below of 23 k, at full on 90 % 19 k below.
        let lever = Network::bare(Sensor::Potentiometer {
            track_ohm: 20_000.0,
            low_end_ohm: 1_000.0,
            high_end_ohm: 2_000.0,
            rest_at: 0.1,
            full_at: 0.9,
        });
        assert!((lever.ratio(0.0) - 3.0 / 23.0).abs() < 1e-12);
        assert!((lever.ratio(1.0) - 19.0 / 23.0).abs() < 1e-12);
        // The wiper cannot leave its track: everything beyond the end reads as the end.
        assert!((lever.ratio(1.5) - 21.0 / 23.0).abs() < 1e-12);
    }
}
