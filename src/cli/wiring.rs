//! `pedalproof wiring` and `pedalproof profile`.

use super::{Outcome, args, assess, print};
use crate::profile;
use crate::report::{profile_text, wiring_text};
use crate::wiring::WiringReport;
use anyhow::Context;
use std::fmt::Write as _;

pub(super) fn run(wanted: &args::Wiring) -> anyhow::Result<Outcome> {
    let profile = assess::named(&wanted.profile)?;
    let wiring = profile.control_wiring(wanted.bits);
    let report = WiringReport::of(&wiring)
        .with_context(|| format!("the wiring of profile {}", wanted.profile))?;
    if wanted.json {
        print(&format!("{}\n", serde_json::to_string_pretty(&report)?))?;
    } else {
        print(&wiring_text::render(&report))?;
    }
    Ok(Outcome::Good)
}

pub(super) fn profile(wanted: &args::Profile) -> anyhow::Result<Outcome> {
    if wanted.schema {
        print(&profile::schema_json())?;
        return Ok(Outcome::Good);
    }
    let Some(name) = &wanted.profile else {
        let mut list = String::new();
        for short in profile::built_in_names() {
            let name = profile::find(short)
                .map(|profile| profile.name)
                .unwrap_or_default();
            let _ = writeln!(list, "{short:<26} {name}");
        }
        print(&list)?;
        return Ok(Outcome::Good);
    };
    print(&profile_text::render(&assess::named(name)?))?;
    Ok(Outcome::Good)
}
