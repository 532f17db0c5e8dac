//! `pedalproof wiring`.

use super::{Outcome, args, assess, print};
use crate::report::wiring_text;
use crate::wiring::WiringReport;
use anyhow::Context;

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
