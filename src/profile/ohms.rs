//! Ohms as a person types them.

use super::Kind;

/// Below so many ohms it is no track of a control: kilohms were meant.
const LEAST_TRACK_OHM: f64 = 100.0;

/// `5000`, `5k`, `4.7k`, `4k7`, `4,7 kohm`; `None` for what is no resistance.
pub fn ohms(text: &str) -> Option<f64> {
    let text = text.trim().to_ascii_lowercase().replace(',', ".");
    let bare = text
        .strip_suffix("ohms")
        .or_else(|| text.strip_suffix("ohm"));
    let bare = bare.unwrap_or(&text).trim_end();
    let ohm = match bare.split_once('k') {
        None => bare.parse::<f64>(),
        // By its exponent, so that 8.2k is 8200 and nothing beside it.
        Some((before, "")) => format!("{}e3", before.trim_end()).parse(),
        Some((before, after)) => format!("{before}.{after}e3").parse(),
    };
    ohm.ok().filter(|ohm| ohm.is_finite() && *ohm > 0.0)
}

/// The question to somebody who gave a track so few ohms that kilohms were meant.
pub fn too_few_ohms(track_ohm: f64, kind: Kind) -> Option<String> {
    let kilo = ohms(&format!("{track_ohm}k")).filter(|_| track_ohm < LEAST_TRACK_OHM)?;
    let noun = match kind {
        Kind::Pedal => "pedal",
        Kind::Dial => "dial",
        Kind::Lever => "lever",
    };
    Some(format!(
        "{track_ohm} ohm? A {noun} has 1000 to 100000. Type {kilo} for {track_ohm} kohm."
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kilohms_are_typed_in_many_ways() {
        for (typed, ohm) in [
            ("5000", 5000.0),
            ("5k", 5000.0),
            (" 5 K ", 5000.0),
            ("4.7k", 4700.0),
            ("4,7k", 4700.0),
            ("4k7", 4700.0),
            ("8k2", 8200.0),
            ("8.2 kohm", 8200.0),
            ("330 ohms", 330.0),
        ] {
            assert_eq!(ohms(typed), Some(ohm), "{typed}");
        }
        for typed in [
            "", "k", "ohm", "0", "-5k", "4.7k5", "4k7k", "5m", "inf", "4k-7",
        ] {
            assert_eq!(ohms(typed), None, "{typed}");
        }
    }

    #[test]
    fn so_few_that_kilohms_were_meant_are_asked_about() {
        assert_eq!(
            too_few_ohms(5.0, Kind::Dial).unwrap(),
            "5 ohm? A dial has 1000 to 100000. Type 5000 for 5 kohm."
        );
        assert!(
            too_few_ohms(4.7, Kind::Lever)
                .unwrap()
                .contains("Type 4700 for 4.7 kohm")
        );
        assert_eq!(too_few_ohms(100.0, Kind::Dial), None);
    }
}
