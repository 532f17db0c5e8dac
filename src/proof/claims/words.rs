//! A claim in words, for a person: `A0: lowest reading it believes` for `inputs[0].window.low`.

/// What a claim is about; one that is not known stays as it is. Inputs are named by the board's pins.
pub fn describe(claim: &str) -> String {
    let (input, part) = apart(claim);
    let pin = input.map_or(String::new(), |input| format!("A{input}: "));
    if let Some(fault) = wire_fault(&part) {
        return format!("{pin}stops when its {fault}");
    }
    let what = match part.as_str() {
        "inputs.window.low" => "lowest reading it believes",
        "inputs.window.high" => "highest reading it believes",
        "inputs.factor.rest_edge" => "where the command begins",
        "inputs.factor.full_edge" => "where the command is full",
        "inputs.factor.points" => "points of its curve",
        "inputs.factor.filter_shift" => "its filter",
        "inputs.check.gain" => "its slope against the other track",
        "inputs.check.offset" => "its offset against the other track",
        "inputs.check.band" => "how far the tracks may differ",
        "output.zero_dac" => "output at command zero",
        "output.full_dac" => "output at full command",
        "output.rise_q15" => "how fast the output rises",
        "output.fall_q15" => "how fast the output falls",
        "start.samples" => "how long it is at rest before it starts",
        "persistence" => "bad readings until it stops",
        "stops.tracks_joined" => "stops when the two tracks touch",
        "stops.dac_wire" => "stops when a wire to the DAC breaks",
        "stops.reset" | "stops.reset_while_pressed" => {
            "stays off after a reset while it is pressed"
        }
        "stops.power_dip" => "stays off after a short loss of power",
        "stops.enable" => "the enable line falls when it stops",
        _ => return claim.to_owned(),
    };
    pin + what
}

/// The fault of an input's wire that a claim is about: `A2's signal wire touches ground`; none of any other claim.
pub fn fault_words(claim: &str) -> Option<String> {
    let (input, part) = apart(claim);
    Some(format!("A{}'s {}", input?, wire_fault(&part)?))
}

/// The input that a claim names, and the claim without it.
fn apart(claim: &str) -> (Option<&str>, String) {
    let numbered = claim.split_once('[').and_then(|(of, rest)| {
        let (input, part) = rest.split_once("].")?;
        Some((Some(input), format!("{of}.{part}")))
    });
    numbered.unwrap_or_else(|| (None, claim.to_owned()))
}

fn wire_fault(part: &str) -> Option<&'static str> {
    match part {
        "stops.open" => Some("signal wire breaks"),
        "stops.ground" => Some("signal wire touches ground"),
        "stops.supply" => Some("signal wire touches the supply"),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every name of DESIGN 4.8.
    #[test]
    fn no_path_of_the_format_is_left_to_a_person() {
        let inputs = [
            "window.low",
            "window.high",
            "factor.rest_edge",
            "factor.full_edge",
            "factor.points",
            "factor.filter_shift",
        ];
        let checks = ["check.gain", "check.offset", "check.band"];
        let others = [
            "output.zero_dac",
            "output.full_dac",
            "output.rise_q15",
            "output.fall_q15",
            "start.samples",
            "persistence",
            "stops[2].open",
            "stops[2].ground",
            "stops[2].supply",
            "stops.tracks_joined",
            "stops.dac_wire",
            "stops.reset_while_pressed",
            "stops.power_dip",
            "stops.enable",
        ];
        let of_inputs = inputs
            .iter()
            .chain(&checks)
            .map(|part| format!("inputs[2].{part}"));
        for claim in of_inputs.chain(others.map(str::to_owned)) {
            let words = describe(&claim);
            assert!(
                words != claim && !words.contains(['[', '_', '.']),
                "{claim}: {words}"
            );
            assert_eq!(claim.contains("[2]"), words.starts_with("A2: "), "{claim}");
        }
        assert_eq!(describe("something.else"), "something.else");
        assert_eq!(
            describe("stops[2].open"),
            "A2: stops when its signal wire breaks"
        );
        let fault = fault_words("stops[2].ground");
        assert_eq!(fault.as_deref(), Some("A2's signal wire touches ground"));
        assert_eq!(fault_words("stops.dac_wire"), None);
    }
}
