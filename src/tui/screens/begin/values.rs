//! The values of one control: what it is called, its track or its volts, the resistors at the board.

use crate::profile::{self, OtherParts, Profile};
use crate::tui::form::{Form, Row};
use crate::tui::host::NewControl;

const CALLED: &str = "called";
const STICKER: &str = "on its sticker";
const TRACK: &str = "track, ohm";
const END: &str = "end resistor, ohm";
const PULL_UP: &str = "pull-up, ohm";
const PULL_DOWN: &str = "pull-down, ohm";
const REST: &str = "volts let go";
const FULL: &str = "volts pressed";

/// A kind that was chosen, and what of it can be other.
#[derive(Debug, Clone)]
pub struct Values {
    pub profile: Profile,
    pub form: Form,
    /// What stood there at first, so that only what was changed is.
    before: Vec<String>,
}

impl Values {
    /// The form of a kind, called `name`; what a meter said stands in it already.
    pub fn new(profile: Profile, name: &str, metered: &OtherParts) -> Self {
        let mut rows = vec![
            Row::new(CALLED, name, "its name in this machine"),
            Row::new(STICKER, "", "the machine's and its name, if nothing else"),
        ];
        if let Some(stated) = profile.stated_parts() {
            let parts = stated.parts;
            let volts =
                |mv: Option<f64>| mv.map_or_else(String::new, |mv| format!("{:.2}", mv / 1000.0));
            if stated.has_track {
                rows.push(Row::new(
                    TRACK,
                    &number(parts.track_ohm),
                    "end to end, with a meter, nothing connected",
                ));
                rows.push(Row::new(END, &number(parts.end_low_ohm), "none"));
            } else {
                let place = "on its first signal wire";
                rows.push(Row::new(REST, &volts(parts.rest_mv), place));
                rows.push(Row::new(FULL, &volts(parts.full_mv), place));
            }
            if stated.has_pull_up {
                rows.push(Row::new(PULL_UP, &number(parts.pull_up_ohm), "none"));
            }
            rows.push(Row::new(PULL_DOWN, &number(parts.pull_down_ohm), "none"));
        }
        let before = rows.iter().map(|row| row.text.clone()).collect();
        for row in &mut rows {
            let metered = match row.label {
                TRACK => metered.track_ohm.map(|ohm| number(Some(ohm))),
                REST => metered.rest_mv.map(|mv| number(Some(mv / 1000.0))),
                FULL => metered.full_mv.map(|mv| number(Some(mv / 1000.0))),
                _ => None,
            };
            row.text = metered.unwrap_or_else(|| row.text.clone());
        }
        let at = if rows.len() > 2 { 2 } else { 0 };
        Self {
            profile,
            form: Form::new(rows, at),
            before,
        }
    }

    /// Whether it has a track, whose ohms nobody knows without a meter.
    pub fn asks(profile: &Profile) -> bool {
        profile
            .stated_parts()
            .is_some_and(|stated| stated.has_track)
    }

    /// The values that are other than the kind's; why one of them is none.
    fn parts(&self) -> Result<OtherParts, String> {
        let changed = |label: &str, value: fn(&str) -> Option<f64>, example: &str| {
            let rows = self.form.rows.iter().zip(&self.before);
            let mut rows = rows.filter(|(row, before)| row.label == label && row.text != **before);
            let Some((row, _)) = rows.next() else {
                return Ok(None);
            };
            let refused = || format!("{label}: {} is no value, e.g. {example}", row.text.trim());
            value(&row.text).map(Some).ok_or_else(refused)
        };
        let ohm = |label: &str| changed(label, profile::ohms, "5000 or 5k");
        let mv = |label: &str| changed(label, millivolts, "0.8");
        let track_ohm = ohm(TRACK)?;
        let few = |ohm| profile::too_few_ohms(ohm, self.profile.kind);
        if let Some(asked) = track_ohm.and_then(few) {
            return Err(asked);
        }
        Ok(OtherParts {
            track_ohm,
            track_tolerance_pct: None,
            end_low_ohm: ohm(END)?,
            pull_up_ohm: ohm(PULL_UP)?,
            pull_down_ohm: ohm(PULL_DOWN)?,
            rest_mv: mv(REST)?,
            full_mv: mv(FULL)?,
        })
    }

    /// The kind with these values.
    pub fn changed(&self) -> Result<Profile, String> {
        let parts = self.parts()?;
        if parts == OtherParts::default() {
            return Ok(self.profile.clone());
        }
        let name = format!("{}, {}", self.profile.name, parts.describe());
        let changed = self.profile.with_parts(&parts, &name);
        changed.map_err(|e| e.to_string())
    }

    /// The control as it stands there.
    pub fn control(&self) -> Result<NewControl, String> {
        let name = self.form.text(CALLED);
        let name = name.ok_or("What is it called in this machine? Type a name, e.g. pedal.")?;
        Ok(NewControl {
            name: name.to_owned(),
            tag: self.form.text(STICKER).map(str::to_owned),
            profile: self.changed()?,
        })
    }
}

/// Of volts that were typed.
fn millivolts(text: &str) -> Option<f64> {
    let volts = text.trim().replace(',', ".").parse::<f64>().ok();
    let mv = volts.map(|volts| volts * 1000.0);
    mv.filter(|mv| mv.is_finite() && *mv > 0.0)
}

fn number(value: Option<f64>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}
