//! A control that was replaced or rewired: what it is from then on. Its evidence stays, and counts no more.

use super::add::AddError;
use super::types::{Control, Machine};
use crate::outlet;
use jiff::Timestamp;

/// What is other from a moment on; `None`: as it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    pub control: String,
    pub profile: Option<String>,
    pub tag: Option<String>,
    pub pins: Option<Vec<String>>,
    /// From when on recordings are of what it is now; `None`: they were all along.
    pub since: Option<Timestamp>,
}

impl Machine {
    /// Takes it in; gives the control as it is now.
    pub fn change(&mut self, changed: &Changed) -> Result<Control, AddError> {
        let names: Vec<_> = self.controls.iter().map(|c| c.name.clone()).collect();
        let mut controls = self.controls.iter_mut();
        let control = controls.find(|control| control.name == changed.control);
        let control = control.ok_or_else(|| AddError::NoControl {
            name: outlet::line(&changed.control).into_owned(),
            known: names.join(", "),
        })?;
        if let Some(profile) = &changed.profile {
            control.profile.clone_from(profile);
        }
        if let Some(tag) = &changed.tag {
            control.tag = Some(tag.clone());
        }
        if let Some(pins) = &changed.pins {
            control.pins.clone_from(pins);
        }
        if let Some(since) = changed.since {
            control.since = Some(since.to_string());
        }
        Ok(control.clone())
    }
}
