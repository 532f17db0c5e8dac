//! Units as headings and options write them.

use std::str::FromStr;

/// The unit of a time column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TimeUnit {
    Seconds,
    Milliseconds,
    Microseconds,
}

impl TimeUnit {
    pub fn microseconds(self) -> f64 {
        match self {
            Self::Seconds => 1e6,
            Self::Milliseconds => 1e3,
            Self::Microseconds => 1.0,
        }
    }

    /// As a heading says it.
    pub(super) fn of(text: &str) -> Option<Self> {
        match text.to_lowercase().as_str() {
            "s" | "sec" | "secs" | "second" | "seconds" => Some(Self::Seconds),
            "ms" | "msec" | "millis" | "millisecond" | "milliseconds" => Some(Self::Milliseconds),
            // Both micro signs of Unicode.
            "us" | "usec" | "\u{b5}s" | "\u{3bc}s" | "micros" | "microsecond" | "microseconds" => {
                Some(Self::Microseconds)
            }
            _ => None,
        }
    }
}

impl FromStr for TimeUnit {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        Self::of(text).ok_or_else(|| "say s, ms or us".to_owned())
    }
}

/// The unit of a signal's column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SignalUnit {
    Volts,
    Millivolts,
    Codes,
}

impl SignalUnit {
    pub fn word(self) -> &'static str {
        match self {
            Self::Volts => "V",
            Self::Millivolts => "mV",
            Self::Codes => "code",
        }
    }

    /// As a heading says it. `mv` is millivolts in any case: nobody's pedal gives megavolts.
    pub(super) fn of(text: &str) -> Option<Self> {
        match text.to_lowercase().as_str() {
            "v" | "volt" | "volts" | "vdc" => Some(Self::Volts),
            "mv" | "millivolt" | "millivolts" => Some(Self::Millivolts),
            "code" | "codes" | "count" | "counts" | "lsb" | "raw" | "adc" => Some(Self::Codes),
            _ => None,
        }
    }
}

impl FromStr for SignalUnit {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        Self::of(text).ok_or_else(|| "say V, mV or code".to_owned())
    }
}

/// A heading without its unit, and the unit: `CH1 (mV)`, `Time [s]`, `U / V`, `t_us`, `time_ms`.
pub(super) fn parted(heading: &str) -> (&str, Option<&str>) {
    let heading = heading.trim();
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let Some((name, rest)) = heading.rsplit_once(open)
            && let Some(unit) = rest.trim_end().strip_suffix(close)
        {
            return (name.trim(), Some(unit.trim()));
        }
    }
    for mark in ['/', '_', ' '] {
        if let Some((name, unit)) = heading.rsplit_once(mark)
            && is_unit(unit.trim())
        {
            return (name.trim(), Some(unit.trim()));
        }
    }
    (heading, None)
}

/// Whether a text is nothing but a unit, in brackets or not.
pub(super) fn is_unit(text: &str) -> bool {
    let bare = bare(text);
    TimeUnit::of(bare).is_some() || SignalUnit::of(bare).is_some()
}

/// Units of other things, as a line of units may hold them.
const OTHERS: [&str; 16] = [
    "min", "ns", "kv", "uv", "\u{b5}v", "\u{3bc}v", "ma", "ohm", "kohm", "\u{3c9}", "k\u{3c9}",
    "%", "pct", "deg", "\u{b0}", "mm",
];

/// The same, of anything that is measured.
pub(super) fn is_any_unit(text: &str) -> bool {
    is_unit(text) || OTHERS.contains(&bare(text).to_lowercase().as_str())
}

pub(super) fn bare(text: &str) -> &str {
    let brackets: &[char] = &['(', ')', '[', ']', ' '];
    text.trim_matches(brackets)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_say_their_units() {
        for (heading, name, unit) in [
            ("Time (s)", "Time", Some("s")),
            ("CH1 [mV]", "CH1", Some("mV")),
            ("U / V", "U", Some("V")),
            ("t_us", "t", Some("us")),
            ("lever V", "lever", Some("V")),
            ("pedal_a", "pedal_a", None),
            ("", "", None),
        ] {
            assert_eq!(parted(heading), (name, unit), "{heading}");
        }
        assert!(is_unit("(V)") && is_unit("Second") && is_unit("[ms]") && !is_unit("CH1"));
        assert_eq!("mV".parse(), Ok(SignalUnit::Millivolts));
        assert!("A".parse::<SignalUnit>().is_err() && "h".parse::<TimeUnit>().is_err());
    }
}
